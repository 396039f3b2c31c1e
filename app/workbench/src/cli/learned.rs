//! `learned`: what the journal's verdicts have taught about a machine's odds.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;
use journal::Place;
use serde::Serialize;

use super::Ending;
use super::failure::Failure;
use super::history::machine_and_text;
use super::print::{BOLD, DIM, Page, WIDTH, wrapped};
use crate::shop::journals;
use crate::shop::learned::{Lessons, Shown, lessons};
use crate::shop::words::odds;

/// Show what the journal's proven verdicts have taught about a machine's odds
///
/// Beside the starting odds, which are the sheet's and the trade's, stand the
/// odds after what was proven on this model, and on the same kinds of parts of
/// others, with the range that holds them in nine cases of ten. A job counts
/// in full when its repair check was passed and it stays closed; an unproven
/// verdict counts half at most; what no fault explained is not counted. The
/// starting odds weigh as much as twenty verdicts; after three years a verdict
/// counts half.
#[derive(Debug, Args)]
#[command(after_long_help = EXAMPLES)]
pub struct Learned {
    /// The machine's sheet, or its name in the journal
    #[arg(value_name = "MACHINE|SHEET")]
    machine: PathBuf,
    /// The journal, a file or postgres://USER@HOST/DATABASE; your own when left out
    #[arg(long, value_name = "PLACE", env = journals::VARIABLE, hide_env_values = true)]
    journal: Option<Place>,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

const EXAMPLES: &str = "\
Examples:
  probewright learned curlew.toml
  probewright learned curlew --journal bench.db --json

`work` and `advise --journal` start from these odds and say so; `--odds sheet`,
or PROBEWRIGHT_ODDS=sheet for good, goes back to the sheet's own.";

/// Faults of the list in text; JSON has all.
const MOST: usize = 25;

#[derive(Serialize)]
struct Told<'a> {
    machine: &'a str,
    jobs_of_model: usize,
    jobs_of_others: usize,
    range: f64,
    faults: Vec<Shown<'a>>,
}

impl Learned {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        let journal = journals::open(self.journal.as_ref())?;
        let (machine, _) = machine_and_text(&self.machine, &journal, page)?;
        let Lessons { own, others, mut faults } = lessons(&journal, &machine)?;
        faults.sort_by(|left, right| right.share.total_cmp(&left.share));
        if self.json {
            let (machine, range) = (machine.sheet.id.as_str(), diagnosis::learned::RANGE);
            let faults = faults.iter().map(Shown::from).collect();
            page.json(&Told { machine, jobs_of_model: own, jobs_of_others: others, range, faults })?;
            return Ok(Ending::Done);
        }
        let out = page.out();
        let title = format!("{}: learned from {own} of its jobs and {others} of others", machine.sheet.title);
        writeln!(out, "{BOLD}{}{BOLD:#}", wrapped(&title, WIDTH))?;
        if own + others == 0 {
            writeln!(out, "Nothing was taught yet; the odds are the sheet's and the trade's.")?;
        }
        writeln!(out, "{DIM}{:>6} {:>8} {:>15}  {:>8}{DIM:#}", "start", "learned", "nine of ten", "verdicts")?;
        for fault in faults.iter().take(MOST) {
            let range = format!("{} to {}", odds(fault.low), odds(fault.high));
            let verdicts = if fault.own > 0.0 { format!("{:.1}", fault.own) } else { "–".to_owned() };
            let line = format!(
                "{:>6} {:>8} {range:>15}  {verdicts:>8}  {}",
                odds(fault.start.share),
                odds(fault.share),
                fault.start.fault
            );
            writeln!(out, "{line}")?;
        }
        Ok(Ending::Done)
    }
}
