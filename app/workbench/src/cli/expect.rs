//! `expect`: the pocket card of healthy bands.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;
use diagnosis::Desk;
use quantity::Celsius;
use serde::Serialize;

use super::Ending;
use super::failure::Failure;
use super::findings::usable;
use super::print::{BOLD, DIM, Page, WIDTH, columns, wrapped};
use crate::shop::advice::{air, desk};
use crate::shop::card::{Group, Line, lines};
use crate::shop::sheets;

/// Print the pocket card: what a healthy machine shows at each point
///
/// In the order in which the current flows: battery, main path, control,
/// ground. Numbers are as the instrument rounds them, and hold for 95 of 100
/// healthy machines.
#[derive(Debug, Args)]
#[command(after_long_help = EXAMPLES)]
pub struct Expect {
    /// The sheet; `-` reads standard input
    sheet: PathBuf,
    /// Air temperature, as in -5C; any when left out
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    air: Option<String>,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

const EXAMPLES: &str = "\
Examples:
  probewright expect curlew.toml
  probewright expect curlew.toml --air -5C
  probewright --color never expect curlew.toml | lp";

/// The card in its JSON form.
#[derive(Serialize)]
struct Card<'a> {
    sheet: &'a str,
    title: &'a str,
    /// Where the black lead stays for the points.
    black: &'a str,
    air_c: Option<f64>,
    lines: &'a [Line<'a>],
}

impl Expect {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        let sheet = sheets::open(&self.sheet).map_err(|error| Failure::opening(&self.sheet, error))?;
        let text = sheet.text.clone();
        let machine = usable(sheet, page)?;
        let air = self.air.as_deref().map(air).transpose()?;
        let desk = desk(machine, &text);
        let lines = lines(&desk, air);
        if self.json {
            let machine = &desk.machine;
            page.json(&Card {
                sheet: &machine.sheet.id,
                title: &machine.sheet.title,
                black: machine.node_name(machine.reference()),
                air_c: air.map(|air| air.0),
                lines: &lines,
            })?;
        } else {
            print(&desk, air, &lines, page)?;
        }
        Ok(Ending::Done)
    }
}

/// Columns of a point's name, and of each state beside it.
const POINT: usize = 30;
const STATE: usize = 16;

fn print(desk: &Desk, air: Option<Celsius>, lines: &[Line<'_>], page: &mut Page) -> Result<(), Failure> {
    let machine = &desk.machine;
    let out = page.out();
    let air = air.map_or_else(String::new, |air| format!(", air {air}"));
    writeln!(out, "{BOLD}{}{BOLD:#}", wrapped(&format!("{}: healthy{air}", machine.sheet.title), WIDTH))?;
    let mut states: Vec<&str> = Vec::new();
    for line in lines {
        if states.contains(&line.state) {
            continue;
        }
        states.push(line.state);
        let state = machine.state(line.state).map_or_else(|_| String::new(), |state| state.title);
        writeln!(out, "{DIM}{}{DIM:#}", wrapped(&format!("{}: {state}", line.state), WIDTH))?;
    }
    writeln!(out, "{DIM}<0.050 V: no further from nothing than that, either way{DIM:#}")?;
    let beside: Vec<&str> = states
        .iter()
        .copied()
        .filter(|state| lines.iter().any(|line| is_point(line) && line.state == *state))
        .collect();
    let beside: Vec<&str> = ["rest", "on", "held"].into_iter().filter(|state| beside.contains(state)).collect();
    let black = format!("volts, black on {}", machine.node_name(machine.reference()));
    let heads: String = beside.iter().map(|state| format!("{state:>STATE$}")).collect();
    for group in Group::ALL {
        let of_group: Vec<&Line<'_>> = lines.iter().filter(|line| line.group == group).collect();
        if of_group.is_empty() {
            continue;
        }
        writeln!(out, "\n{BOLD}{}{BOLD:#}", group.title())?;
        let mut points: Vec<&str> = Vec::new();
        for point in of_group.iter().filter(|line| beside.contains(&line.state)).filter_map(|line| line.point) {
            if !points.contains(&point) {
                points.push(point);
            }
        }
        if !points.is_empty() {
            writeln!(out, "{DIM}{black:<POINT$}{heads}{DIM:#}")?;
        }
        for point in points {
            let shown = |state: &&str| {
                let line = of_group.iter().find(|line| line.point == Some(point) && line.state == *state);
                format!("{:>STATE$}", line.map_or("", |line| line.display.as_str()))
            };
            let cells: String = beside.iter().map(shown).collect();
            writeln!(out, "{:<POINT$}{cells}", format!("  {point}"))?;
        }
        for state in &states {
            let others = of_group.iter().filter(|line| line.state == *state && !is_point(line));
            let rows: Vec<(String, String)> = others.map(|line| (short(line.probe), line.display.clone())).collect();
            if !rows.is_empty() {
                writeln!(out, "{DIM}{state}{DIM:#}")?;
                write!(out, "{}", columns(&rows))?;
            }
        }
    }
    Ok(())
}

fn is_point(line: &Line<'_>) -> bool {
    line.point.is_some() && matches!(line.state, "rest" | "on" | "held")
}

/// A probe's name without its state, and the part once where both leads are on it: `ohms starter.plus,minus`.
fn short(probe: &str) -> String {
    let (mode, rest) = probe.split_once('@').unwrap_or(("", probe));
    let of = rest.split_once(':').map_or(rest, |(_, of)| of);
    let both = of.split_once(',').and_then(|(red, black)| {
        let (part, terminal) = black.split_once('.')?;
        (red.split_once('.')?.0 == part).then(|| format!("{red},{terminal}"))
    });
    format!("{mode} {}", both.as_deref().unwrap_or(of))
}
