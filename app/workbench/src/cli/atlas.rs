//! `atlas`: the table of readings, what each fault shows on each probe.

use std::cmp::Reverse;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::Instant;

use clap::Args;
use diagnosis::Desk;
use machine::Probe;
use quantity::{Dimension, show};

use super::Ending;
use super::failure::Failure;
use super::findings::usable;
use super::print::{BOLD, DIM, Page, WIDTH, wrapped};
use crate::shop::probes::displayed_band;
use crate::shop::readings::{Spread, Told, as_healthy, bits, columns, middle, spreads};
use crate::shop::{sheets, tables};

/// Show the table of readings: what each fault would show on each probe
///
/// Every fault is tried at many severities, batteries and temperatures, each a
/// what-if case. With --probe, the faults and what they show there; without,
/// how large the table is and which probes split the faults most.
#[derive(Debug, Args)]
#[command(after_long_help = EXAMPLES)]
pub struct Atlas {
    /// The sheet; `-` reads standard input
    sheet: PathBuf,
    /// Show what each fault shows on this probe (repeatable)
    #[arg(long = "probe", value_name = "NAME")]
    probes: Vec<String>,
    /// What-if cases for each fault; 256 when left out, fewer for a large sheet
    #[arg(long, value_name = "NUMBER", value_parser = clap::value_parser!(u32).range(1..=4096))]
    worlds: Option<u32>,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

const EXAMPLES: &str = "\
Examples:
  probewright atlas curlew.toml
  probewright atlas curlew.toml --probe volts@held:starter.plus,battery.minus
  probewright atlas curlew.toml --probe listen@held:starter-relay \\
    --probe watch@held:headlamp --worlds 64
  probewright atlas curlew.toml --json";

/// Probes side by side, and columns of each.
const BESIDE: usize = 3;
const CELL: usize = 14;

impl Atlas {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        let sheet = sheets::open(&self.sheet).map_err(|error| Failure::opening(&self.sheet, error))?;
        let text = sheet.text.clone();
        let machine = usable(sheet, page)?;
        let worlds = self.worlds.map_or_else(|| tables::full(&machine), |worlds| worlds as usize);
        let file = tables::file(&text, worlds);
        let kept = file.as_deref().is_some_and(Path::exists);
        let begun = Instant::now();
        let mut table = tables::table(&machine, &text, worlds);
        let took = begun.elapsed().as_secs_f64();
        let chosen = columns(&machine, &mut table, &self.probes)?;
        let desk = Desk::new(machine, table);
        if self.json {
            let all: Vec<usize> = (0..desk.probes().len()).collect();
            page.json(&Told::new(&desk, if chosen.is_empty() { &all } else { &chosen }))?;
        } else if chosen.is_empty() {
            let from = if kept { "read from the cache" } else { "computed" };
            writeln!(page.out(), "{BOLD}{}{BOLD:#}", wrapped(&desk.machine.sheet.title, WIDTH))?;
            summary(&desk, &format!("{from} in {}", show(took, Dimension::Time)), file.as_deref(), page)?;
        } else {
            for some in chosen.chunks(BESIDE) {
                readings(&desk, some, page)?;
            }
        }
        Ok(Ending::Done)
    }
}

fn summary(desk: &Desk, time: &str, file: Option<&Path>, page: &mut Page) -> Result<(), Failure> {
    const MOST: usize = 12;
    let table = desk.atlas();
    let (suspects, each) = (table.cast.suspects.len(), table.cast.worlds_each);
    let out = page.out();
    let size = format!(
        "{} what-if cases ({suspects} suspects, {each} each), {} probes; {time}",
        table.cast.len(),
        table.probes.len()
    );
    writeln!(out, "{}", wrapped(&size, WIDTH))?;
    if let Some(file) = file {
        writeln!(out, "{DIM}{}{DIM:#}", wrapped(&format!("kept in {}", file.display()), WIDTH))?;
    }
    writeln!(out, "\n{BOLD}Probes that split the suspects most, before anything is known{BOLD:#}")?;
    let mut best: Vec<(f64, &Probe)> =
        table.probes.iter().enumerate().map(|(column, probe)| (bits(table, column), probe)).collect();
    best.sort_by(|left, right| right.0.total_cmp(&left.0).then_with(|| left.1.name.cmp(&right.1.name)));
    for (bits, probe) in best.iter().take(MOST) {
        writeln!(out, "  {bits:4.2} bit  {}", wrapped(&probe.name, WIDTH - 12))?;
    }
    Ok(())
}

/// The faults that a few probes tell from a healthy machine, and what they show there.
fn readings(desk: &Desk, chosen: &[usize], page: &mut Page) -> Result<(), Failure> {
    let out = page.out();
    let mut shown = Vec::new();
    for (place, column) in chosen.iter().enumerate() {
        let probe = &desk.probes()[*column];
        let number = if chosen.len() > 1 { format!("[{}] ", place + 1) } else { String::new() };
        writeln!(out, "{BOLD}{}{BOLD:#}", wrapped(&format!("{number}{}", probe.name), WIDTH))?;
        writeln!(out, "  {}", wrapped(&probe.title, WIDTH - 2))?;
        let band = desk.band(*column, None);
        writeln!(out, "  healthy {}", displayed_band(probe, &band))?;
        shown.push((probe, band, spreads(desk.atlas(), *column)));
    }
    let suspects = &desk.atlas().cast.suspects;
    let differs = |suspect: usize| shown.iter().any(|(_, band, all)| !as_healthy(&all[suspect], band));
    let mut rows: Vec<usize> = (1..suspects.len()).filter(|suspect| differs(*suspect)).collect();
    if let [(_, _, all)] = shown.as_slice() {
        let order = |suspect: usize| (all[suspect].word, all[suspect].median.unwrap_or(f64::INFINITY));
        rows.sort_by(|left, right| {
            let (left, right) = (order(*left), order(*right));
            Reverse(left.0).cmp(&Reverse(right.0)).then(left.1.total_cmp(&right.1))
        });
    }
    let heads: String = match chosen.len() {
        1 => ["5 %", "median", "95 %"].iter().map(|head| format!("{head:>CELL$}")).collect(),
        many => (1..=many).map(|number| format!("{:>CELL$}", format!("[{number}]"))).collect(),
    };
    let name = WIDTH - CELL * if chosen.len() == 1 { BESIDE } else { chosen.len() };
    writeln!(out, "\n{DIM}{:<name$}{heads}{DIM:#}", "fault")?;
    for suspect in &rows {
        let cells: String = match shown.as_slice() {
            [(probe, _, all)] => in_full(probe, &all[*suspect]).iter().map(|cell| format!("{cell:>CELL$}")).collect(),
            several => {
                several.iter().map(|(probe, _, all)| format!("{:>CELL$}", middle(probe, &all[*suspect]))).collect()
            }
        };
        // A name that is too long for its column has a line of its own.
        let fault = &suspects[*suspect].name;
        if fault.chars().count() >= name {
            writeln!(out, "{fault}")?;
            writeln!(out, "{:name$}{cells}", "")?;
        } else {
            writeln!(out, "{fault:<name$}{cells}")?;
        }
    }
    let alike = suspects.len() - 1 - rows.len();
    writeln!(out, "{DIM}{alike} other faults show what a healthy machine shows{DIM:#}\n")?;
    Ok(())
}

fn in_full(probe: &Probe, spread: &Spread<'_>) -> [String; 3] {
    let number = |value: Option<f64>| value.map_or_else(String::new, |value| probe.display(value));
    match (spread.word, spread.share, spread.over) {
        (Some(word), share, _) => {
            [String::new(), word.to_owned(), share.map_or_else(String::new, |share| format!("{:.0} %", share * 100.0))]
        }
        (_, _, Some(over)) if over >= 0.995 => [String::new(), "OL".to_owned(), String::new()],
        (_, _, Some(over)) if over >= 0.5 => [number(spread.low), "OL".to_owned(), "OL".to_owned()],
        (_, _, Some(over)) if over >= 0.05 => [number(spread.low), number(spread.median), "OL".to_owned()],
        _ => [number(spread.low), number(spread.median), number(spread.high)],
    }
}
