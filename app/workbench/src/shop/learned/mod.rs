//! What the journal's jobs have taught: read anew for each job, shown beside what the sheet says, switched off by one word.
//! Law: `diagnosis::learned`. A verdict counts in full when its job was closed as proven and stays so; one that was closed
//! without a proof by its odds, half at most; one that is open, in which the remedy told last changed nothing, or which
//! none of the faults explained, not at all. How bad a fault was counts only where it was proven.
//! Promise: a job starts from what was known when it was begun, whatever is learned while it is worked; the table of
//! readings is the same with either.

mod clock;
mod verdict;

use std::cell::OnceCell;
use std::collections::BTreeMap;
use std::collections::btree_map::Entry::{Occupied, Vacant};

use diagnosis::learned::{self as engine, Act, Learned, Start, Usual, learn, pace, starts, usual};
use journal::{Job, Journal, JournalError};
use machine::Machine;
use serde::Serialize;

/// What names the odds to be used, beside `--odds`.
pub const VARIABLE: &str = "PROBEWRIGHT_ODDS";
/// Jobs that are looked at.
const MOST: usize = 5000;

/// What the quarters of a severity are called.
pub const QUARTERS: [&str; 4] = ["slight", "medium", "marked", "bad"];

/// Whose odds are used.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, clap::ValueEnum)]
pub enum Odds {
    /// The sheet's and the trade's, whatever the journal says.
    Sheet,
    /// Bent by what the journal's proven verdicts have taught.
    #[default]
    Learned,
}

impl Odds {
    /// As the environment says, where nothing else does.
    pub fn of_environment() -> Self {
        let sheet = std::env::var_os(VARIABLE).is_some_and(|whose| whose == "sheet");
        if sheet { Self::Sheet } else { Self::Learned }
    }
}

/// What was learned for a machine.
#[derive(Clone, Debug, Default)]
pub struct Lessons {
    /// Jobs of this model that have taught something of its odds.
    pub own: usize,
    /// Jobs of other models.
    pub others: usize,
    /// Things that were timed.
    pub timed: usize,
    /// What they have taught: faults in the order of the sheet, none where no verdict did.
    pub learned: engine::Lessons,
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
    /// Things that were timed by the clock.
    pub timed: usize,
}

impl From<&Lessons> for OddsUsed {
    fn from(lessons: &Lessons) -> Self {
        let Lessons { own, others, timed, .. } = *lessons;
        Self { from: "learned", jobs_of_model: own, jobs_of_others: others, timed }
    }
}

/// A fault's odds in the JSON form.
#[derive(Debug, Serialize)]
pub struct Shown<'a> {
    /// `part:mode`.
    pub fault: &'a str,
    /// In words.
    pub title: &'a str,
    /// Share of jobs as the sheet, the trade and the circuit have it.
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

/// How bad a fault usually is, in the JSON form.
#[derive(Debug, Serialize)]
pub struct ShownSeverity<'a> {
    /// Kind of part and mode.
    pub class: &'a str,
    /// Share of each quarter of its range, the slightest first.
    pub shares: [f64; 4],
    /// Proven verdicts behind it.
    pub verdicts: f64,
}

impl<'a> From<&'a Usual> for ShownSeverity<'a> {
    fn from(usual: &'a Usual) -> Self {
        Self { class: &usual.class, shares: usual.shares, verdicts: usual.verdicts }
    }
}

/// How long something takes, in the JSON form.
#[derive(Debug, Serialize)]
pub struct ShownPace<'a> {
    /// What is done; empty for what has no time of its own.
    pub act: &'a str,
    /// By what the catalogue's minutes are multiplied.
    pub factor: f64,
    /// Its range: four cases of five.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Times behind it.
    pub times: usize,
}

impl<'a> From<&'a Act> for ShownPace<'a> {
    fn from(act: &'a Act) -> Self {
        Self { act: &act.act, factor: act.factor, low: act.low, high: act.high, times: act.times }
    }
}

impl Lessons {
    /// Whether anything was taught.
    pub fn taught(&self) -> bool {
        self.own + self.others + self.timed > 0
    }

    /// In a sentence, for whatever uses them.
    pub fn said(&self) -> String {
        let odds = (self.own + self.others > 0).then(|| {
            format!("odds learned from {} of this model's jobs and {} of others in the journal", self.own, self.others)
        });
        let minutes = (self.timed > 0).then(|| format!("minutes from {} times by the clock", self.timed));
        let said: Vec<String> = odds.into_iter().chain(minutes).collect();
        format!("{} (--odds sheet: the sheet's own)", said.join("; "))
    }

    /// How bad the faults of this machine usually are, what it has no fault of left out.
    pub fn severities(&self) -> Vec<&Usual> {
        let has = |usual: &&Usual| self.learned.faults.iter().any(|fault| fault.start.class == usual.class);
        self.learned.severities.iter().filter(has).collect()
    }

    /// What was timed, the oftenest first.
    pub fn times(&self) -> Vec<&Act> {
        let pace = &self.learned.pace;
        let mut all: Vec<&Act> = pace.acts.iter().collect();
        all.sort_by(|left, right| right.times.cmp(&left.times).then(left.act.cmp(&right.act)));
        all.into_iter().chain(&pace.any).collect()
    }
}

/// An act of the clock in words.
pub fn act_in_words(act: &str) -> String {
    match act.split_once(':') {
        _ if act.is_empty() => "anything else".to_owned(),
        Some(("try", verb)) => format!("remedy: {verb}"),
        Some(("open", place)) => format!("open: {place}"),
        _ if act == clock::SEVERAL => "several, entered together".to_owned(),
        _ => act.to_owned(),
    }
}

/// What was taught before a job was begun; nothing by the sheet's own odds.
///
/// # Errors
/// When the journal cannot be read.
pub fn of_job(odds: Odds, journal: &Journal, machine: &Machine, job: &Job) -> Result<Lessons, JournalError> {
    match odds {
        Odds::Sheet => Ok(Lessons::default()),
        Odds::Learned => lessons(journal, machine, job.entries.first().map(|opened| opened.at.as_str())),
    }
}

/// A model whose jobs teach.
struct Model {
    machine: Machine,
    starts: OnceCell<Vec<Start>>,
}

impl Model {
    fn of(machine: Machine) -> Self {
        Self { machine, starts: OnceCell::new() }
    }

    /// Its faults with their shares of jobs; computed from the circuit, so only where they are asked for.
    fn starts(&self) -> &[Start] {
        self.starts.get_or_init(|| starts(&self.machine))
    }
}

/// What a machine starts from: its faults, nothing taught.
pub fn untaught(machine: &Machine) -> Vec<Learned> {
    let id = machine.sheet.id.clone();
    // No lesson, so none that is no probability.
    learn(&id, &BTreeMap::from([(id.clone(), starts(machine))]), &[]).unwrap_or_default()
}

/// What the journal has taught for a machine, by what was entered before a time; by all of it where none is named.
///
/// # Errors
/// When the journal cannot be read.
pub fn lessons(journal: &Journal, machine: &Machine, before: Option<&str>) -> Result<Lessons, JournalError> {
    let id = machine.sheet.id.as_str();
    let until = before.and_then(seconds).unwrap_or_else(|| jiff::Timestamp::now().as_millisecond() as f64 / 1e3);
    let mut models = BTreeMap::from([(id.to_owned(), Some(Model::of(machine.clone())))]);
    let (mut taught, mut found, mut timed) = (Vec::new(), Vec::new(), Vec::new());
    for (place, brief) in journal.jobs(None, MOST)?.iter().enumerate() {
        // What was never told teaches no odds, and need not be read for them.
        if brief.told.is_empty() && place >= clock::JOBS {
            continue;
        }
        let mut job = journal.job(&brief.id)?;
        if before.is_some() {
            job.entries.retain(|kept| seconds(&kept.at).is_some_and(|at| at < until));
        }
        // Of a job that was begun later nothing is left, not even its sheet.
        if job.entries.is_empty() {
            continue;
        }
        let model = match models.entry(job.machine.clone()) {
            Occupied(known) => known.into_mut(),
            Vacant(place) => place.insert(model(journal, &job)?),
        };
        let Some(model) = model else { continue };
        if place < clock::JOBS {
            timed.extend(clock::timed(&model.machine, &job));
        }
        if let Some((lesson, severities)) = verdict::lesson(&job, || model.starts(), until) {
            taught.push(lesson);
            found.extend(severities);
        }
    }
    let own = taught.iter().filter(|taught| taught.model == id).count();
    let faults = if taught.is_empty() {
        Vec::new()
    } else {
        let teaches = |name: &str| name == id || taught.iter().any(|taught| taught.model == name);
        let models = models.into_iter().filter_map(|(name, model)| Some((name, model?)));
        let starts = models.filter(|(name, _)| teaches(name)).map(|(name, model)| (name, model.starts().to_vec()));
        // What a job taught are probabilities by the way they are made.
        learn(id, &starts.collect(), &taught).unwrap_or_default()
    };
    let learned = engine::Lessons { faults, severities: usual(&found), pace: pace(&timed) };
    Ok(Lessons { own, others: taught.len() - own, timed: timed.len(), learned })
}

/// The model of a job, by the sheet with which it was begun; nothing where that cannot be used.
fn model(journal: &Journal, job: &Job) -> Result<Option<Model>, JournalError> {
    let sheet = machine::sheet::read(&journal.sheet(job.sheet())?.unwrap_or_default()).sheet;
    Ok(sheet.map(Machine::new).map(Model::of))
}

/// Seconds since 1970 of a time as the journal keeps it.
fn seconds(at: &str) -> Option<f64> {
    at.parse::<jiff::Timestamp>().ok().map(|at| at.as_millisecond() as f64 / 1e3)
}
