//! What the journal's jobs have taught about odds: read anew each time, shown beside the starting odds, switched off by
//! one word.
//! Law: `diagnosis::learned`. A job counts in full when it was closed as proven and stays so; one that was closed on a
//! verdict without a proof by its odds, half at most; one that is open, in which the remedy told last changed nothing, or
//! which none of the faults explained, not at all.
//! Promise: the table of readings is the same with either; only the weights of its suspects differ.

use std::collections::BTreeMap;

use diagnosis::Desk;
use diagnosis::learned::{self, Learned, Start, Taught};
use journal::{Entry, Job, Journal, JournalError};
use machine::Machine;
use serde::Serialize;

/// What names the odds to be used, beside `--odds`.
pub const VARIABLE: &str = "PROBEWRIGHT_ODDS";
/// Jobs that are looked at.
const MOST: usize = 5000;

/// Whose odds are used.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, clap::ValueEnum)]
pub enum Odds {
    /// The sheet's and the trade's, whatever the journal says.
    Sheet,
    /// Bent by what the journal's proven verdicts have taught.
    #[default]
    Learned,
}

/// What was learned for a machine.
#[derive(Clone, Debug)]
pub struct Lessons {
    /// Jobs of this model that have taught something.
    pub own: usize,
    /// Jobs of other models.
    pub others: usize,
    /// The faults, in the order of the sheet.
    pub faults: Vec<Learned>,
}

/// Which odds an answer started from, in the JSON form.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct OddsUsed {
    /// `learned`.
    pub from: &'static str,
    /// Jobs of this model that have taught something.
    pub jobs_of_model: usize,
    /// Jobs of other models.
    pub jobs_of_others: usize,
}

impl From<&Lessons> for OddsUsed {
    fn from(lessons: &Lessons) -> Self {
        Self { from: "learned", jobs_of_model: lessons.own, jobs_of_others: lessons.others }
    }
}

/// A fault's odds in the JSON form.
#[derive(Debug, Serialize)]
pub struct Shown<'a> {
    /// `part:mode`.
    pub fault: &'a str,
    /// In words.
    pub title: &'a str,
    /// Share of all faults as the sheet and the trade have it.
    pub start: f64,
    /// Share after what was taught.
    pub learned: f64,
    /// Its range: nine cases of ten.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Verdicts of this model.
    pub verdicts: f64,
    /// Verdicts of other models on this kind and mode.
    pub verdicts_of_kind: f64,
}

impl<'a> From<&'a Learned> for Shown<'a> {
    fn from(learned: &'a Learned) -> Self {
        Self {
            fault: &learned.start.fault,
            title: &learned.start.title,
            start: learned.start.share,
            learned: learned.share,
            low: learned.low,
            high: learned.high,
            verdicts: learned.own,
            verdicts_of_kind: learned.others,
        }
    }
}

impl Lessons {
    /// Whether anything was taught.
    pub fn taught(&self) -> bool {
        self.own + self.others > 0
    }

    /// In a sentence, for whatever uses them.
    pub fn said(&self) -> String {
        format!(
            "odds learned from {} of this model's jobs and {} of others in the journal (--odds sheet: the sheet's own)",
            self.own, self.others
        )
    }

    /// Gives a desk these odds: the healthy machine keeps its own, the faults together theirs.
    pub fn apply(&self, desk: &mut Desk) {
        let suspects = &desk.atlas().cast.suspects;
        let all: f64 = suspects.iter().skip(1).map(|suspect| suspect.odds).sum();
        let share = |name: &str| self.faults.iter().find(|fault| fault.start.fault == name).map(|fault| fault.share);
        let odds: Vec<f64> =
            suspects.iter().map(|suspect| share(&suspect.name).map_or(suspect.odds, |share| all * share)).collect();
        desk.set_odds(&odds);
    }
}

/// What the journal has taught for a machine.
///
/// # Errors
/// When the journal cannot be read.
pub fn lessons(journal: &Journal, machine: &Machine) -> Result<Lessons, JournalError> {
    let model = machine.sheet.id.as_str();
    let now = jiff::Timestamp::now().as_second() as f64;
    let mut models = BTreeMap::from([(model.to_owned(), learned::starts(machine))]);
    let mut taught = Vec::new();
    for brief in journal.jobs(None, MOST)? {
        // What was never told teaches nothing, and need not be read.
        if brief.told.is_empty() {
            continue;
        }
        let job = journal.job(&brief.id)?;
        if !models.contains_key(&job.machine) {
            let sheet = machine::sheet::read(&journal.sheet(job.sheet())?.unwrap_or_default()).sheet;
            models.insert(
                job.machine.clone(),
                sheet.map(|sheet| learned::starts(&Machine::new(sheet))).unwrap_or_default(),
            );
        }
        let starts = models.get(&job.machine).map_or(&[][..], Vec::as_slice);
        taught.extend(lesson(&job, starts, now));
    }
    let own = taught.iter().filter(|taught| taught.model == model).count();
    // What a job taught are probabilities by the way they are made.
    let faults = learned::learn(model, &models, &taught).unwrap_or_default();
    Ok(Lessons { own, others: taught.len() - own, faults })
}

/// What a job teaches: its last verdict, shared among the faults that the readings could not tell apart by their
/// starting odds.
fn lesson(job: &Job, starts: &[Start], now: f64) -> Option<Taught> {
    let standing = job.standing();
    let (place, told, probability) = standing.iter().enumerate().rev().find_map(|(place, kept)| match &kept.entry {
        Entry::Told { faults, probability, .. } => Some((place, faults, *probability)),
        _ => None,
    })?;
    let after = || {
        standing[place..].iter().filter_map(|kept| match &kept.entry {
            Entry::Reading { probe, value } => Some((probe.as_str(), value.as_str())),
            _ => None,
        })
    };
    let in_vain = after().any(|(probe, value)| probe.starts_with("try:") && value == "same");
    let came_back = after().any(|(probe, value)| probe == "ask:held-up" && value == "no");
    if in_vain || came_back {
        return None;
    }
    let proven = job.closed()?;
    let share = |name: &String| starts.iter().find(|start| start.fault == *name).map_or(0.0, |start| start.share);
    let all: f64 = told.iter().map(share).sum();
    let sure = if proven { 1.0 } else { probability.clamp(0.0, 1.0) };
    let odds: Vec<(String, f64)> = told.iter().map(|name| (name.clone(), sure * share(name) / all)).collect();
    let at = standing[place].at.parse::<jiff::Timestamp>().ok()?.as_second() as f64;
    let years = (now - at).max(0.0) / (365.25 * 86_400.0);
    (all > 0.0).then(|| Taught { model: job.machine.clone(), odds, proven, years })
}
