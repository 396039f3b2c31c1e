//! `learned`: what the journal's jobs have taught about a machine.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;
use diagnosis::learned as engine;
use journal::Place;
use serde::Serialize;

use super::Ending;
use super::failure::Failure;
use super::history::machine_and_text;
use super::print::{BOLD, DIM, Page, WIDTH, wrapped};
use super::say;
use crate::shop::journals;
use crate::shop::learned::{Lessons, QUARTERS, Shown, ShownPace, ShownSeverity, act_in_words, lessons, untaught};
use crate::shop::words::odds;

/// Show what the journal's jobs have taught about a machine
///
/// Beside the share of jobs that each fault starts from, by the sheet, the
/// trade and how often an owner would notice it, stands its share after what
/// was proven on this model, and on the same kinds of parts of others, with the
/// range that holds it in nine cases of ten. A job counts in full when its
/// repair check was passed and it stays closed; an unproven verdict counts half
/// at most; what no fault explained is not counted. The starting odds weigh as
/// much as twenty verdicts; after three years a verdict counts half.
///
/// Below stand how bad the faults were that were proven, by quarters of what
/// is possible, and how long things took by the clock, as a factor on the
/// catalogue's minutes: the times between entries, pauses reckoned with.
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

`work`, `serve` and `advise --journal` start from these and say so; `--odds sheet`,
or PROBEWRIGHT_ODDS=sheet for good, goes back to the sheet's own.";

/// Faults of the list in text; JSON has all.
const MOST: usize = 25;

/// Acts of the list of minutes in text.
const ACTS: usize = 12;

#[derive(Serialize)]
struct Told<'a> {
    machine: &'a str,
    jobs_of_model: usize,
    jobs_of_others: usize,
    range: f64,
    faults: Vec<Shown<'a>>,
    severities: Vec<ShownSeverity<'a>>,
    timed: usize,
    minutes: Vec<ShownPace<'a>>,
}

impl Learned {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        let journal = journals::open(self.journal.as_ref())?;
        let (machine, _) = machine_and_text(&self.machine, &journal, page)?;
        let mut lessons = lessons(&journal, &machine, None)?;
        if lessons.learned.faults.is_empty() {
            lessons.learned.faults = untaught(&machine);
        }
        let mut faults: Vec<_> = lessons.learned.faults.iter().collect();
        faults.sort_by(|left, right| right.share.total_cmp(&left.share));
        if self.json {
            page.json(&Told {
                machine: &machine.sheet.id,
                jobs_of_model: lessons.own,
                jobs_of_others: lessons.others,
                range: diagnosis::learned::RANGE,
                faults: faults.into_iter().map(Shown::from).collect(),
                severities: lessons.severities().into_iter().map(ShownSeverity::from).collect(),
                timed: lessons.timed,
                minutes: lessons.times().into_iter().map(ShownPace::from).collect(),
            })?;
            return Ok(Ending::Done);
        }
        let Lessons { own, others, .. } = lessons;
        let title = format!("{}: learned from {own} of its jobs and {others} of others", machine.sheet.title);
        writeln!(page.out(), "{BOLD}{}{BOLD:#}", wrapped(&title, WIDTH))?;
        if own + others == 0 {
            writeln!(page.out(), "No verdict has taught anything yet; the odds are the sheet's and the trade's.")?;
        }
        faults.truncate(MOST);
        print_odds(page, &faults)?;
        print_severities(page, &lessons)?;
        print_minutes(page, &lessons)
    }
}

fn print_odds(page: &mut Page, faults: &[&engine::Learned]) -> Result<(), Failure> {
    let out = page.out();
    writeln!(out, "{DIM}{:>6} {:>8} {:>15}  {:>8}{DIM:#}", "start", "learned", "nine of ten", "verdicts")?;
    for fault in faults {
        let range = format!("{} to {}", odds(fault.low), odds(fault.high));
        let verdicts = if fault.own > 0.0 { format!("{:.1}", fault.own) } else { "–".to_owned() };
        let (start, learned, name) = (odds(fault.start.share), odds(fault.share), &fault.start.fault);
        writeln!(out, "{start:>6} {learned:>8} {range:>15}  {verdicts:>8}  {name}")?;
    }
    Ok(())
}

fn print_severities(page: &mut Page, lessons: &Lessons) -> Result<(), Failure> {
    let severities = lessons.severities();
    if severities.is_empty() {
        return Ok(());
    }
    say::heading(page, "How bad it was when it was proven (25 % each before)")?;
    let [slight, medium, marked, bad] = QUARTERS;
    let out = page.out();
    writeln!(out, "{DIM}{slight:>6} {medium:>8} {marked:>8} {bad:>6}  {:>8}{DIM:#}", "verdicts")?;
    for usual in severities {
        let [slight, medium, marked, bad] = usual.shares.map(odds);
        writeln!(out, "{slight:>6} {medium:>8} {marked:>8} {bad:>6}  {:>8.1}  {}", usual.verdicts, usual.class)?;
    }
    Ok(())
}

fn print_minutes(page: &mut Page, lessons: &Lessons) -> Result<Ending, Failure> {
    if lessons.timed > 0 {
        say::heading(page, "How long it took by the clock, over the catalogue's minutes")?;
        let out = page.out();
        writeln!(out, "{DIM}{:>6} {:>15}  {:>5}{DIM:#}", "factor", "four of five", "times")?;
        let acts = lessons.times();
        let kept = acts.len().saturating_sub(1).min(ACTS);
        for act in acts[..kept].iter().chain(acts.last()) {
            let range = format!("{:.2} to {:.2}", act.low, act.high);
            writeln!(out, "{:>6.2} {range:>15}  {:>5}  {}", act.factor, act.times, act_in_words(&act.act))?;
        }
    }
    Ok(Ending::Done)
}
