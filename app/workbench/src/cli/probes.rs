//! `probes`: everything that could be measured or observed on a machine.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;
use diagnosis::advice::Band;
use machine::{Machine, Probe};

use super::Ending;
use super::failure::Failure;
use super::findings::usable;
use super::print::{DIM, Page, WIDTH, wrapped};
use super::say;
use crate::shop::advice::desk;
use crate::shop::probes::{Listed, displayed_band, listed, place};
use crate::shop::{sheets, words};

/// List the probes that a machine's wiring suggests
///
/// Each with its name, where it goes, minutes and what healthy machines show;
/// grouped by operating state and by the place that must be opened for it. Any
/// other pair of points can be read too (see `read`).
#[derive(Debug, Args)]
#[command(after_long_help = EXAMPLES)]
pub struct Probes {
    /// The sheet; `-` reads standard input
    sheet: PathBuf,
    /// Print a JSON array
    #[arg(long)]
    json: bool,
}

const EXAMPLES: &str = "\
Examples:
  probewright probes curlew.toml
  probewright probes curlew.toml --json";

impl Probes {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        let sheet = sheets::open(&self.sheet).map_err(|error| Failure::opening(&self.sheet, error))?;
        let text = sheet.text.clone();
        let desk = desk(usable(sheet, page)?, &text);
        let all: Vec<(&Probe, Band)> = listed(&desk, None).collect();
        if self.json {
            let forms: Vec<Listed<'_>> =
                all.iter().map(|(probe, band)| Listed::new(&desk.machine, probe, band)).collect();
            page.json(&forms)?;
        } else {
            print(&desk.machine, all, page)?;
        }
        Ok(Ending::Done)
    }
}

fn print(machine: &Machine, mut all: Vec<(&Probe, Band)>, page: &mut Page) -> Result<(), Failure> {
    // Groups in the order in which the wiring first suggests a probe of them.
    let mut states: Vec<&str> = Vec::new();
    for (probe, _) in &all {
        if !states.contains(&probe.state.as_str()) {
            states.push(&probe.state);
        }
    }
    let access = |place: Option<usize>| place.map_or(0.0, |place| machine.sheet.places[place].access_minutes);
    let rank = |probe: &Probe| states.iter().position(|state| *state == probe.state);
    all.sort_by(|(left, _), (right, _)| {
        let (here, there) = (place(machine, left), place(machine, right));
        rank(left).cmp(&rank(right)).then(access(here).total_cmp(&access(there))).then(here.cmp(&there))
    });
    let mut state = None;
    let mut at = None;
    for (probe, band) in &all {
        if state != Some(&probe.state) {
            state = Some(&probe.state);
            at = None;
            say::heading(page, &heading(machine, probe))?;
        }
        let here = place(machine, probe);
        if at != Some(here) {
            at = Some(here);
            let title = match here {
                Some(here) => {
                    let place = &machine.sheet.places[here];
                    format!("{}, {}", place.title, words::minutes(place.access_minutes))
                }
                None => "open to all".to_owned(),
            };
            writeln!(page.out(), "  {DIM}{title}{DIM:#}")?;
        }
        let title = wrapped(&probe.title, WIDTH - 6).replace('\n', "\n    ");
        writeln!(page.out(), "    {title}")?;
        writeln!(page.out(), "      {}", wrapped(&line(probe, band), WIDTH - 6).replace('\n', "\n      "))?;
    }
    Ok(())
}

fn heading(machine: &Machine, probe: &Probe) -> String {
    if probe.state.is_empty() {
        return "By telephone".to_owned();
    }
    let title = machine.state(&probe.state).map_or_else(|_| String::new(), |state| state.title);
    let title = if title == probe.state || title.is_empty() { String::new() } else { format!(", {title}") };
    let setup = if probe.setup.is_empty() { String::new() } else { format!(" ({})", probe.setup.join("; ")) };
    format!("{}{title}{setup}", probe.state)
}

/// Name, minutes and what a healthy machine shows.
fn line(probe: &Probe, band: &Band) -> String {
    let minutes = words::minutes(probe.minutes);
    if matches!(band, Band::Expected(text) if text.contains(' ')) {
        return format!("{}  {minutes}", probe.name);
    }
    format!("{}  {minutes}, healthy {}", probe.name, displayed_band(probe, band))
}
