//! `which`: the sheet that a machine is wired like, from a reading or two.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;
use diagnosis::which::{Telling, Which as Answer};
use serde_json::json;

use super::Ending;
use super::failure::Failure;
use super::findings::usable;
use super::print::{Page, WIDTH, wrapped};
use super::say;
use crate::shop::advice::Asked;
use crate::shop::sheets;
use crate::shop::which::{Compared, compare};
use crate::shop::words;

/// Say which of several sheets a machine is wired like
///
/// Give the sheets that it may be and what was read so far; the machine may
/// have any fault. Each sheet's odds are those of the readings on it, and the
/// probes that would tell the most for their minutes are listed with what each
/// sheet would show. Exits with 1 while no sheet has odds of 95 %.
#[derive(Debug, Args)]
#[command(after_long_help = EXAMPLES)]
pub struct Which {
    /// The sheets, two or more
    #[arg(required = true, num_args = 2..)]
    sheets: Vec<PathBuf>,
    /// A probe with its value (repeatable, in any order)
    #[arg(long = "reading", value_name = "NAME=VALUE")]
    readings: Vec<String>,
    /// What the owner says, as in nothing-happens
    #[arg(long, value_name = "NAME")]
    complaint: Option<String>,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

const EXAMPLES: &str = "\
Examples:
  probewright new trail-bike-feed-switched --name fed --unasked
  probewright new trail-bike-ground-switched --name grounded --unasked
  probewright which fed.toml grounded.toml
  probewright which fed.toml grounded.toml \\
    --reading 'volts@on:starter-relay.coil-a,battery.minus=0 V'";

/// Probes that are shown.
const SHOWN: usize = 3;

impl Which {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        let asked = Asked { readings: self.readings.clone(), complaint: self.complaint.clone(), ..Asked::default() };
        let mut sheets = Vec::new();
        for path in &self.sheets {
            let sheet = sheets::open(path).map_err(|error| Failure::opening(path, error))?;
            let text = sheet.text.clone();
            let machine = usable(sheet, page)?;
            sheets.push((machine.sheet.id.clone(), machine, text));
        }
        let compared = compare(sheets, &asked).map_err(|refused| {
            let (sheet, refusal) = *refused;
            let failure = Failure::from(refusal);
            Failure::new(failure.kind, format!("{sheet}: {}", failure.source))
                .hint("a reading has to have the same name on every sheet")
        })?;
        if self.json {
            page.json(&told(&compared))?;
        } else {
            print(&compared, page)?;
        }
        let settled = compared.answer.odds.iter().any(|odds| *odds >= 0.95);
        Ok(if settled { Ending::Done } else { Ending::No })
    }
}

fn print(compared: &Compared, page: &mut Page) -> Result<(), Failure> {
    let Answer { odds, next } = &compared.answer;
    for (sheet, odds) in compared.desks.iter().zip(odds) {
        say::labeled(page, &crate::shop::words::odds(*odds), &format!("{}: {}", sheet.0, sheet.1.machine.sheet.title))?;
    }
    if odds.iter().any(|odds| *odds >= 0.95) {
        return Ok(());
    }
    say::heading(page, if next.is_empty() { "No probe tells them apart" } else { "What would tell" })?;
    for telling in next.iter().take(SHOWN) {
        let desk = &compared.desks[0].1;
        let probe = &desk.probes()[telling.columns[0]];
        let minutes = words::minutes(telling.minutes);
        writeln!(page.out(), "  {}", wrapped(&format!("{}, {minutes}", probe.title), WIDTH - 2))?;
        say::labeled(page, "name", &probe.name)?;
        if !probe.caution.is_empty() {
            say::labeled(page, "mind", &probe.caution)?;
        }
        for ((name, _), text) in compared.desks.iter().zip(shows(compared, telling)) {
            say::labeled(page, "shows", &format!("{text} ({name})"))?;
        }
    }
    Ok(())
}

/// What each sheet would show, in words.
fn shows(compared: &Compared, telling: &Telling) -> Vec<String> {
    let desk = &compared.desks[0].1;
    let probe = &desk.probes()[telling.columns[0]];
    let words = probe.words();
    let word = |value: f64| words.get(value as usize).copied().unwrap_or("nothing");
    telling
        .shows
        .iter()
        .map(|[middle, low, high]| match words {
            [] if probe.display(*low) == probe.display(*high) => probe.display(*middle),
            [] => {
                format!("mostly {}, from {} to {}", probe.display(*middle), probe.display(*low), probe.display(*high))
            }
            _ => word(*middle).to_owned(),
        })
        .collect()
}

fn told(compared: &Compared) -> serde_json::Value {
    let probe = |telling: &Telling| &compared.desks[0].1.probes()[telling.columns[0]];
    let sheets = compared.desks.iter().zip(&compared.answer.odds);
    json!({
        "sheets": sheets.map(|((name, _), odds)| json!({ "sheet": name, "probability": odds })).collect::<Vec<_>>(),
        "next": compared.answer.next.iter().take(SHOWN).map(|telling| json!({
            "probe": probe(telling).name,
            "title": probe(telling).title,
            "minutes": telling.minutes,
            "bits": telling.bits,
            "shows": shows(compared, telling),
        })).collect::<Vec<_>>(),
    })
}
