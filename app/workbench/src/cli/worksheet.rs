//! The worksheets' commands: one for each worksheet of the calculator, its arguments from the worksheet's description.
//! A worksheet that is added there is one more line in the list at the foot and in the list of commands.

use std::io::{self, Write};
use std::path::PathBuf;

use calculator::{Answer, Cell, Entry, Fallback, Input, Origin, Refused, Sheet, Table, Want, Worksheet};
use clap::{Arg, ArgAction, ArgMatches, Command, value_parser};
use machine::Machine;
use serde_json::{Map, Value, json};

use super::Ending;
use super::failure::{Failure, Kind};
use super::findings::machine_of;
use super::print::{BOLD, DIM, Page, WIDTH, wrapped};
use super::say;
use crate::shop::plot;
use crate::shop::written;

/// A worksheet with its arguments as written.
#[derive(Debug)]
struct Written {
    name: &'static str,
    sheet: Option<PathBuf>,
    inputs: Vec<(&'static str, Vec<String>)>,
    plot: Option<PathBuf>,
    json: bool,
}

impl Written {
    /// The command with the arguments that the worksheet describes.
    fn command(command: Command, name: &str) -> Command {
        let Some(worksheet) = calculator::find(name) else { return command };
        let mut command = command
            .about(worksheet.title)
            .long_about(format!("{}\n\n{}", worksheet.title, worksheet.about))
            .after_long_help(examples(worksheet));
        if worksheet.sheet != Sheet::Unused {
            let help = match worksheet.sheet {
                Sheet::Needed => "The machine's sheet; `-` reads standard input",
                _ => "A machine's sheet: what is left out below is then the machine's own",
            };
            let sheet = Arg::new("SHEET").help(help).value_parser(value_parser!(PathBuf));
            command = command.arg(sheet.required(worksheet.sheet == Sheet::Needed));
        }
        for input in worksheet.inputs {
            command = command.arg(argument(input));
        }
        let plot = Arg::new("plot").long("plot").value_name("FILE").value_parser(value_parser!(PathBuf));
        command
            .arg(plot.help("Draw the plot into this SVG file"))
            .arg(Arg::new("json").long("json").action(ArgAction::SetTrue).help("Print JSON"))
    }

    fn of(name: &'static str, matches: &ArgMatches) -> Self {
        let inputs = calculator::find(name).map_or(&[][..], |worksheet| worksheet.inputs);
        let texts = |input: &Input| {
            let written = matches.get_many::<String>(input.name);
            (input.name, written.map_or_else(Vec::new, |texts| texts.cloned().collect()))
        };
        Self {
            name,
            sheet: matches.try_get_one::<PathBuf>("SHEET").ok().flatten().cloned(),
            inputs: inputs.iter().map(texts).collect(),
            plot: matches.get_one::<PathBuf>("plot").cloned(),
            json: matches.get_flag("json"),
        }
    }

    fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        let Some(worksheet) = calculator::find(self.name) else {
            return Err(Failure::new(Kind::Internal, format!("no worksheet is called `{}`", self.name)));
        };
        let machine = self.sheet.as_ref().map(|path| machine_of(path, page)).transpose()?;
        let written = |name: &str| {
            let found = self.inputs.iter().find(|(known, _)| *known == name);
            found.map_or_else(Vec::new, |(_, texts)| texts.clone())
        };
        let (entries, answer) = worksheet.answer(machine.as_ref(), written).map_err(refusal)?;
        if let Some(path) = &self.plot {
            let Some(drawn) = &answer.plot else {
                return Err(Failure::new(Kind::Usage, "--plot: there is nothing to draw for these inputs"));
            };
            let text = plot::svg(drawn).map_err(|error| Failure::new(Kind::Internal, error))?;
            written::keep(path, &text).map_err(|error| {
                Failure::new(Kind::CannotCreate, format!("{} cannot be written: {error}", path.display()))
            })?;
        }
        let about = machine.as_ref().map(|machine| machine.sheet.title.as_str());
        if self.json {
            page.json(&form(worksheet, machine.as_ref().map(|machine| machine.sheet.id.as_str()), &entries, &answer))?;
        } else {
            print(worksheet, about, &entries, &answer, page)?;
            if let Some(path) = &self.plot {
                page.remark(&format!("the plot is in {}", path.display()));
            }
        }
        Ok(Ending::Done)
    }
}

/// What a job says of a machine that is only cold: the plan of bursts, without plot and working.
pub(super) fn cold_plan(page: &mut Page, machine: &Machine, air: &str) -> Result<(), Failure> {
    let Some(worksheet) = calculator::find("cold") else { return Ok(()) };
    let written = |name: &str| if name == "air" { vec![air.to_owned()] } else { Vec::new() };
    let (_, answer) = worksheet.answer(Some(machine), written).map_err(refusal)?;
    say::heading(page, &format!("{} at {air}", worksheet.title))?;
    writeln!(page.out(), "{}", wrapped(&answer.headline, WIDTH))?;
    for table in &answer.tables {
        say::heading(page, &table.title)?;
        rows(page, table)?;
    }
    section(page, "What to do", answer.advice.iter().map(String::as_str))?;
    section(page, "Mind", answer.cautions.iter().copied())
}

fn examples(worksheet: &Worksheet) -> String {
    let lines = worksheet.examples.iter().map(|example| format!("  probewright {} {example}", worksheet.name));
    format!("Examples:\n{}", lines.collect::<Vec<_>>().join("\n"))
}

fn argument(input: &'static Input) -> Arg {
    let (value, within) = match input.want {
        Want::Quantity(dimension, low, high) => {
            let [low, high] = [low, high].map(|limit| quantity::show(limit, dimension));
            (dimension.name().to_uppercase().replace(' ', "_"), format!(" From {low} to {high}."))
        }
        Want::Ratio(low, high) => ("NUMBER".to_owned(), format!(" From {low} to {high}.")),
        Want::Choice(words) => (words.join("|"), String::new()),
        Want::Changes => ("PART.FIELD=VALUE".to_owned(), " Repeatable.".to_owned()),
    };
    let usual = match input.fallback {
        Fallback::Required | Fallback::Absent => String::new(),
        Fallback::Text(text) => format!(" [usual: {text}]"),
        Fallback::OfMachine(_, text) => format!(" [the machine's; else: {text}]"),
    };
    let short = input.doc.trim_end_matches('.');
    Arg::new(input.name)
        .long(input.name)
        .value_name(value)
        .help(format!("{short}{usual}"))
        .long_help(format!("{}{within}{usual}", input.doc))
        .allow_hyphen_values(true)
        .action(if input.want == Want::Changes { ArgAction::Append } else { ArgAction::Set })
}

fn refusal(refused: Refused) -> Failure {
    let kind = if matches!(refused, Refused::Lacks { .. } | Refused::Unfollowed) { Kind::BadData } else { Kind::Usage };
    let hint = refused.hint();
    let about = if refused.input().is_some() { format!("--{refused}") } else { refused.to_string() };
    let failure = Failure::new(kind, about);
    match hint {
        Some(hint) => failure.hint(hint),
        None => failure,
    }
}

/// The answer in its JSON form: figures by name, tables as lists of rows.
fn form(worksheet: &Worksheet, sheet: Option<&str>, entries: &[Entry], answer: &Answer) -> Value {
    let mut form = Map::new();
    form.insert("worksheet".into(), worksheet.name.into());
    form.insert("sheet".into(), json!(sheet));
    let inputs = worksheet.inputs.iter().zip(entries).filter(|(_, entry)| entry.origin != Origin::Absent);
    let inputs: Map<String, Value> = inputs
        .map(|(input, entry)| {
            let value = match input.want {
                Want::Choice(_) => json!(entry.text),
                Want::Changes => json!(entry.changes),
                Want::Quantity(..) | Want::Ratio(..) => json!(entry.number),
            };
            let origin = match entry.origin {
                Origin::Written => "written",
                Origin::Machine => "machine",
                Origin::Usual | Origin::Absent => "usual",
            };
            (input.name.to_owned(), json!({ "value": value, "text": entry.text, "from": origin }))
        })
        .collect();
    form.insert("inputs".into(), inputs.into());
    form.insert("headline".into(), answer.headline.as_str().into());
    for figure in &answer.figures {
        form.insert(figure.name.into(), bare(&figure.value));
    }
    for table in &answer.tables {
        let rows: Vec<Value> = table
            .rows
            .iter()
            .map(|row| {
                table
                    .columns
                    .iter()
                    .zip(row)
                    .map(|(column, cell)| (column.name.to_owned(), bare(cell)))
                    .collect::<Map<_, _>>()
                    .into()
            })
            .collect();
        form.insert(table.name.into(), rows.into());
    }
    form.insert("working".into(), json!(answer.working));
    form.insert("advice".into(), json!(answer.advice));
    form.insert("cautions".into(), json!(answer.cautions));
    form.insert("sources".into(), json!(answer.sources));
    if let Some(plot) = &answer.plot {
        let curves: Vec<Value> =
            plot.curves.iter().map(|curve| json!({ "title": curve.title, "points": curve.points })).collect();
        let limits: Vec<Value> =
            plot.limits.iter().map(|limit| json!({ "title": limit.title, "at": limit.at })).collect();
        let plot =
            json!({ "title": plot.title, "x": plot.x.title, "y": plot.y.title, "curves": curves, "limits": limits });
        form.insert("plot".into(), plot);
    }
    form.into()
}

fn bare(cell: &Cell) -> Value {
    match cell {
        Cell::Number(number, _) => json!(number),
        Cell::Text(text) => json!(text),
        Cell::None => Value::Null,
    }
}

fn print(
    worksheet: &Worksheet,
    about: Option<&str>,
    entries: &[Entry],
    answer: &Answer,
    page: &mut Page,
) -> Result<(), Failure> {
    let title = about.map_or_else(|| worksheet.title.to_owned(), |about| format!("{}: {about}", worksheet.title));
    writeln!(page.out(), "{BOLD}{}{BOLD:#}", wrapped(&title, WIDTH))?;
    writeln!(page.out(), "{}", wrapped(&answer.headline, WIDTH))?;
    if !answer.figures.is_empty() {
        say::heading(page, "Answer")?;
        let rows = answer.figures.iter().map(|figure| (figure.title.clone(), figure.value.text()));
        lines(page, &rows.collect::<Vec<_>>())?;
    }
    for table in &answer.tables {
        say::heading(page, &table.title)?;
        rows(page, table)?;
    }
    if let Some(drawn) = &answer.plot {
        say::heading(page, &drawn.title)?;
        write!(page.out(), "{}", plot::dots(drawn))?;
        writeln!(page.out(), "  {}", wrapped(&plot::legend(drawn), WIDTH - 2).replace('\n', "\n  "))?;
    }
    section(page, "What to do", answer.advice.iter().map(String::as_str))?;
    section(page, "Mind", answer.cautions.iter().copied())?;
    section(page, "Working", answer.working.iter().map(String::as_str))?;
    say::heading(page, "Inputs")?;
    let used = worksheet.inputs.iter().zip(entries).filter(|(_, entry)| entry.origin != Origin::Absent);
    let used = used.map(|(input, entry)| {
        let origin = match entry.origin {
            Origin::Machine => " (the machine's)",
            Origin::Usual => " (usual)",
            Origin::Written | Origin::Absent => "",
        };
        (input.name.to_owned(), format!("{}{origin}", entry.text))
    });
    lines(page, &used.collect::<Vec<_>>())?;
    section(page, "Sources", answer.sources.iter().copied())
}

/// Names and values under each other.
fn lines(page: &mut Page, rows: &[(String, String)]) -> io::Result<()> {
    let width = rows.iter().map(|(name, _)| name.chars().count()).max().unwrap_or(0).min(46);
    for (name, value) in rows {
        let line = wrapped(&format!("{name:width$}  {value}"), WIDTH - 2);
        // The gap between the columns is of blanks that are not to be broken at.
        let line = if line.contains('\n') { line } else { format!("{name:width$}  {value}") };
        writeln!(page.out(), "  {}", line.replace('\n', "\n  "))?;
    }
    Ok(())
}

fn section<'a>(page: &mut Page, title: &str, texts: impl Iterator<Item = &'a str>) -> Result<(), Failure> {
    let mut first = true;
    for text in texts {
        if first {
            say::heading(page, title)?;
            first = false;
        }
        writeln!(page.out(), "  {}", wrapped(text, WIDTH - 2).replace('\n', "\n  "))?;
    }
    Ok(())
}

/// A table as wide as it has to be, text at the left and numbers at the right of their columns.
fn rows(page: &mut Page, table: &Table) -> io::Result<()> {
    let cells: Vec<Vec<String>> = table.rows.iter().map(|row| row.iter().map(Cell::text).collect()).collect();
    let is_text = |column: usize| table.rows.iter().any(|row| matches!(row.get(column), Some(Cell::Text(_))));
    let width = |column: usize| {
        let of = cells.iter().filter_map(|row| row.get(column)).map(|cell| cell.chars().count()).max().unwrap_or(0);
        of.max(table.columns[column].title.chars().count())
    };
    let mut widths: Vec<usize> = (0..table.columns.len()).map(width).collect();
    // Words give way where numbers cannot: the widest column of text is broken into lines, then the next.
    while widths.iter().sum::<usize>() + 2 * widths.len() > WIDTH {
        let texts = (0..widths.len()).filter(|column| is_text(*column) && widths[*column] > LEAST_TEXT);
        let Some(widest) = texts.max_by_key(|column| widths[*column]) else { break };
        widths[widest] -= 1;
    }
    let line = |texts: &[&str]| {
        let broken: Vec<Vec<String>> = texts
            .iter()
            .enumerate()
            .map(|(column, text)| match is_text(column) {
                true => wrapped(text, widths[column]).lines().map(str::to_owned).collect(),
                false => vec![(*text).to_owned()],
            })
            .collect();
        let high = broken.iter().map(Vec::len).max().unwrap_or(1);
        let rows = (0..high).map(|row| {
            let cells = broken.iter().enumerate().map(|(column, lines)| {
                let (text, width) = (lines.get(row).map_or("", String::as_str), widths[column]);
                if is_text(column) { format!("{text:<width$}") } else { format!("{text:>width$}") }
            });
            format!("  {}", cells.collect::<Vec<_>>().join("  ").trim_end())
        });
        rows.collect::<Vec<_>>().join("\n")
    };
    let heads: Vec<&str> = table.columns.iter().map(|column| column.title).collect();
    writeln!(page.out(), "{DIM}{}{DIM:#}", line(&heads))?;
    for row in &cells {
        writeln!(page.out(), "{}", line(&row.iter().map(String::as_str).collect::<Vec<_>>()))?;
    }
    Ok(())
}

/// Letters that a column of text has at least.
const LEAST_TEXT: usize = 9;

/// Makes the type of a worksheet's command, as the list of commands wants it.
macro_rules! worksheets {
    ($($command:ident is $name:literal),+ $(,)?) => {
        $(
            #[derive(Debug)]
            pub struct $command(Written);

            impl clap::Args for $command {
                fn augment_args(command: Command) -> Command {
                    Written::command(command, $name)
                }

                fn augment_args_for_update(command: Command) -> Command {
                    Written::command(command, $name)
                }
            }

            impl clap::FromArgMatches for $command {
                fn from_arg_matches(matches: &ArgMatches) -> Result<Self, clap::Error> {
                    Ok(Self(Written::of($name, matches)))
                }

                fn update_from_arg_matches(&mut self, matches: &ArgMatches) -> Result<(), clap::Error> {
                    self.0 = Written::of($name, matches);
                    Ok(())
                }
            }

            impl $command {
                /// Runs the command.
                pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
                    self.0.run(page)
                }
            }
        )+
    };
}

worksheets! {
    Cold is "cold",
    Drop is "drop",
    Crank is "crank",
    Drain is "drain",
    Charge is "charge",
    Wear is "wear",
    Battery is "battery",
    Shunt is "shunt",
    WhatIf is "what-if",
}
