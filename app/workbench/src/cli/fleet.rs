//! `fleet`: will they start?

use std::io::Write;
use std::path::PathBuf;

use clap::Args;
use indicatif::{ProgressBar, ProgressStyle};
use journal::Place;
use machine::Machine;

use super::Ending;
use super::failure::{Failure, Kind};
use super::findings::usable;
use super::print::{BOLD, DIM, Page, WIDTH};
use super::say;
use crate::shop::fleet::{self, Asked, Board, ENOUGH, Known, Row, Wanted};
use crate::shop::machines::Machines;
use crate::shop::settings::{self, Settings};
use crate::shop::words::odds;
use crate::shop::{folders, history, journals, sheets};

/// Tell which machines will start on cold mornings, and what to do the evening before
///
/// For each morning's temperature the odds that each machine starts: battery,
/// wiring, motor, drive and engine are solved in time, burst after burst, over
/// what nobody knows exactly. What is known is taken from the journal: the last
/// rest voltage and what the machine has drawn since, volts and amperes while
/// cranking, a charge or a new battery that was entered. Below 95 % it says
/// what keeps the machine from starting, what to do tonight and which part that
/// wants. Odds are those of a healthy machine in tune with fresh fuel.
#[derive(Debug, Args)]
#[command(after_long_help = EXAMPLES)]
pub struct Fleet {
    /// Sheets of the machines; those of the workbench when left out
    #[arg(value_name = "SHEET")]
    sheets: Vec<PathBuf>,
    /// A morning's temperature, with a name if you like: -8C, Saturday=-8C; may be repeated
    #[arg(long, value_name = "[NAME=]TEMPERATURE", allow_hyphen_values = true)]
    morning: Vec<String>,
    /// A table of mornings, a line each: date, temperature; `-` is standard input
    #[arg(long, value_name = "FILE", conflicts_with = "morning")]
    forecast: Option<PathBuf>,
    /// Odds that are enough
    #[arg(long, value_name = "ODDS", default_value = "95 %")]
    enough: String,
    /// The journal, a file or postgres://USER@HOST/DATABASE; your own when left out
    #[arg(long, value_name = "PLACE", env = journals::VARIABLE, hide_env_values = true)]
    journal: Option<Place>,
    /// The folder of the workbench's sheets; your own when left out
    #[arg(long, value_name = "FOLDER", conflicts_with = "sheets")]
    machines: Option<PathBuf>,
    /// Settings with prices and shelf; your own when left out
    #[arg(long, value_name = "FILE", env = settings::VARIABLE, hide_env_values = true)]
    settings: Option<PathBuf>,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

const EXAMPLES: &str = "\
Examples:
  probewright fleet machines/*.toml --morning Saturday=-8C --morning Sunday=-3C
  probewright fleet --forecast frost.csv
  probewright fleet curlew.toml --morning=-12C --json

A table is a line a morning, between name and temperature a comma, a semicolon
or a tab:
  2026-12-05,-8.5
  2026-12-06,-3";

impl Fleet {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        let mornings = self.mornings()?;
        let enough = quantity::read_loosely(&self.enough, quantity::Dimension::Ratio)
            .ok()
            .filter(|enough| (0.0..1.0).contains(enough))
            .ok_or_else(|| {
                let said = format!("--enough {}: odds below 100 % are wanted", self.enough);
                Failure::new(Kind::Usage, said).hint(format!("as in --enough \"{:.0} %\"", 100.0 * ENOUGH))
            })?;
        let (settings, _) = Settings::open(self.settings.as_deref())?;
        let journal = journals::open(self.journal.as_ref())?;
        let today = history::today();
        let machines = self.the_machines(page)?;
        let known: Vec<Known> =
            machines.iter().map(|machine| fleet::known(&journal, machine, today)).collect::<Result<_, _>>()?;
        let all: Vec<(&Machine, &Known)> = machines.iter().zip(&known).collect();
        let bar = bar(all.len());
        let wanted = Wanted { mornings: &mornings, enough, settings: &settings };
        let board = fleet::board(&all, &wanted, &|done| bar.set_position(done as u64));
        bar.finish_and_clear();
        if self.json {
            page.json(&board)?;
        } else {
            print(&board, page)?;
        }
        let good = board
            .machines
            .iter()
            .all(|row| row.refused.is_none() && row.mornings.iter().all(|told| told.odds >= enough));
        Ok(if good { Ending::Done } else { Ending::No })
    }

    fn mornings(&self) -> Result<Vec<Asked>, Failure> {
        let wrong = |error: fleet::NoForecast, from: &str| {
            Failure::new(Kind::Usage, format!("{from}: {error}"))
                .hint("a morning is written -8C or Saturday=-8C, a line of a table `2026-12-05,-8.5`")
        };
        if let Some(path) = &self.forecast {
            let text = sheets::text(path).map_err(|error| Failure::opening(path, error))?;
            return fleet::read(&text).map_err(|error| wrong(error, &path.display().to_string()));
        }
        if self.morning.is_empty() {
            return Ok(fleet::usual());
        }
        self.morning
            .iter()
            .map(|text| fleet::typed(text).map_err(|error| wrong(error, &format!("--morning {text}"))))
            .collect()
    }

    fn the_machines(&self, page: &mut Page) -> Result<Vec<Machine>, Failure> {
        let mut paths = self.sheets.clone();
        if paths.is_empty() {
            let own = || folders::data().map(|folder| folder.join("machines"));
            let folder = match &self.machines {
                Some(folder) => folder.clone(),
                None => own().map_err(|_| Failure::new(Kind::NoInput, "no home folder to look for machines in"))?,
            };
            let known = Machines::new(folder.clone());
            paths = known.names().into_iter().map(|name| folder.join(format!("{name}.toml"))).collect();
            if paths.is_empty() {
                let failure = Failure::new(Kind::NoInput, format!("no sheet is in {}", folder.display()));
                return Err(
                    failure.hint("give sheets by name, or take the demo machines in the workbench: probewright serve")
                );
            }
        }
        paths
            .iter()
            .map(|path| usable(sheets::open(path).map_err(|error| Failure::opening(path, error))?, page))
            .collect()
    }
}

/// How far it is, on standard error, when that is a terminal.
fn bar(machines: usize) -> ProgressBar {
    const LOOK: &str = "{bar:40} {pos} of {len} machines";
    let looks = ProgressStyle::with_template(LOOK).unwrap_or_else(|_| ProgressStyle::default_bar());
    ProgressBar::new(machines as u64).with_style(looks)
}

/// Columns of a machine's name, and of a morning.
const NAME: usize = 14;
const MORNING: usize = 11;

fn print(board: &Board, page: &mut Page) -> Result<(), Failure> {
    writeln!(page.out(), "{BOLD}Will they start?{BOLD:#}\n")?;
    // As many mornings beside each other as the page holds.
    for (index, some) in (0..board.mornings.len()).collect::<Vec<_>>().chunks((WIDTH - NAME) / MORNING).enumerate() {
        if index > 0 {
            writeln!(page.out())?;
        }
        table(board, some, page)?;
    }
    for row in &board.machines {
        machine(row, board, page)?;
    }
    Ok(())
}

fn table(board: &Board, some: &[usize], page: &mut Page) -> Result<(), Failure> {
    let heads: String = some.iter().map(|index| format!("{:>MORNING$}", short(&board.mornings[*index].name))).collect();
    writeln!(page.out(), "{DIM}{:NAME$}{heads}{DIM:#}", "")?;
    if some.iter().any(|index| !board.mornings[*index].name.contains('°')) {
        let airs: String =
            some.iter().map(|index| format!("{:>MORNING$}", format!("{} °C", board.mornings[*index].air_c))).collect();
        writeln!(page.out(), "{DIM}{:NAME$}{airs}{DIM:#}", "")?;
    }
    for row in &board.machines {
        let cells: String = match &row.refused {
            Some(_) => "  cannot be told".to_owned(),
            None => some.iter().map(|index| format!("{:>MORNING$}", odds(row.mornings[*index].odds))).collect(),
        };
        let low = row.mornings.iter().any(|told| told.odds < board.enough);
        let mark = if low { "*" } else { "" };
        writeln!(page.out(), "{:<NAME$}{cells}", format!("{}{mark}", short(&row.machine)))?;
    }
    Ok(())
}

fn short(name: &str) -> String {
    name.chars().take(MORNING - 1).collect()
}

fn machine(row: &Row, board: &Board, page: &mut Page) -> Result<(), Failure> {
    let low: Vec<_> = board.mornings.iter().zip(&row.mornings).filter(|(_, told)| told.odds < board.enough).collect();
    if low.is_empty() && row.refused.is_none() && row.watch.is_empty() && row.open_job.is_none() {
        return Ok(());
    }
    say::heading(page, &row.title)?;
    if let Some(refused) = &row.refused {
        say::labeled(page, "mind", refused)?;
    }
    if let Some(job) = &row.open_job {
        say::labeled(page, "mind", &format!("job {job} is open: the odds are those of a healthy machine"))?;
    }
    for (index, known) in row.knows.iter().enumerate() {
        say::labeled(page, if index == 0 { "knows" } else { "" }, known)?;
    }
    if !row.not_read.is_empty() {
        say::labeled(page, "not read", &format!("{}: what is usual is taken", row.not_read.join("; ")))?;
    }
    for (asked, told) in low {
        let limit = told.limit.as_deref().unwrap_or("");
        say::labeled(page, &short(&asked.name), &format!("{}: {limit}", odds(told.odds)))?;
        if told.tonight.is_empty() {
            say::labeled(
                page,
                "tonight",
                "nothing here brings it up: kick it where there is a kick lever, or leave it at home",
            )?;
        }
        for (index, tonight) in told.tonight.iter().enumerate() {
            say::labeled(
                page,
                if index == 0 { "tonight" } else { "or" },
                &format!("{}: {}", tonight.title, odds(tonight.odds)),
            )?;
        }
    }
    for caution in row.cautions() {
        say::labeled(page, "caution", caution)?;
    }
    for part in &row.buy {
        say::labeled(page, "buy", &part.in_words())?;
    }
    for watch in &row.watch {
        say::labeled(page, "watch", watch)?;
    }
    Ok(())
}
