//! The report of one job: what the owner said, what was measured and found, what was done, and what proves it.
//! Idea: it is computed once, here, and written by three hands: `job_html`, `job_text`, `job_pdf`.
//! Promise: a function of the job's entries, its pictures and the sheet that it was begun with; what the technician was
//! told stands as it was told, whatever today's engine or today's sheet would say. Times are the bench's own.
//! Limit: what the sheet of the job does not know any more is printed by its name, without a band.

use diagnosis::Desk;
use diagnosis::advice::{Advice, Verdict};
use journal::{Entry, Job, Journal, JournalError, Kept};
use machine::{Fault, Machine};
use serde::Serialize;

use super::job_costs::{Costs, costs};
use super::job_figure::{Drawn, drawn};
use super::job_line::{Line, Row, Teller, capital};
use super::job_photo::{Photos, photos};
use crate::shop::learned::{self, Lessons, Odds};
use crate::shop::machines::{Known, Ready};
use crate::shop::settings::{Heading, Settings};
use crate::shop::{advice, bill, words};

/// The report of one job.
#[derive(Clone, Debug, Serialize)]
pub struct JobReport {
    /// What stands over and under it.
    pub heading: Heading,
    /// The job's name.
    pub job: String,
    /// The machine's title.
    pub machine: String,
    /// First day, and the last where it is another.
    pub dates: String,
    /// How the job stands, in a sentence.
    pub state: String,
    /// Whether the cause is proven.
    pub proven: bool,
    /// What the owner said and how things were.
    pub about: Vec<Row>,
    /// What was read, tried and remarked before the repair that held, in order.
    pub readings: Vec<Line>,
    /// The reading that the verdict rests on, or several that it rests on together, in a sentence; empty where no cause is
    /// known.
    pub rests_on: String,
    /// The cause in plain words, one line an alternative; empty where none is known.
    pub cause: Vec<String>,
    /// How sure it is; empty once it is proven.
    pub odds: String,
    /// Suspects with their odds, where no cause is found yet.
    pub suspects: Vec<Row>,
    /// The schematic with the fault laid on it.
    pub drawn: Option<Drawn>,
    /// What mends it; empty where no cause is known.
    pub remedy: String,
    /// Whether that was done and the machine worked then.
    pub repaired: bool,
    /// What to mind at the remedy; empty when nothing.
    pub remedy_mind: String,
    /// Parts that it takes.
    pub parts: Vec<String>,
    /// What the repaired machine has shown.
    pub proof: Vec<Line>,
    /// What it still has to show, each a line.
    pub proof_wanted: Vec<String>,
    /// What to watch from now on.
    pub watch: Vec<String>,
    /// Minutes and money, and where they are from.
    pub costs: Costs,
    /// Pictures that were taken.
    pub photos: Photos,
    /// What computed it from what.
    pub made: String,
}

/// A job and what its report is computed from.
pub struct Gathered {
    /// The job.
    pub job: Job,
    /// The text of the sheet that it was begun with.
    pub sheet: String,
    /// Its pictures.
    pub photos: Photos,
    /// The workshop's settings.
    pub settings: Settings,
    /// What the jobs before it have taught.
    pub lessons: Lessons,
}

/// Takes a job, its sheet and its pictures out of a journal, with the lessons that it started from.
///
/// # Errors
/// When there is no such job, or the journal cannot be read.
pub fn gather(journal: &Journal, settings: &Settings, id: &str, odds: Odds) -> Result<Gathered, JournalError> {
    let job = journal.job(id)?;
    let sheet = journal.sheet(job.sheet())?.unwrap_or_default();
    let photos = photos(journal, &job)?;
    let lessons = match Known::read(&job.machine, sheet.clone()).ready {
        Some(ready) => learned::of_job(odds, journal, &ready.machine, &job)?,
        None => Lessons::default(),
    };
    Ok(Gathered { job, sheet, photos, settings: settings.clone(), lessons })
}

impl Gathered {
    /// The report, with a desk of its own.
    pub fn report(&self) -> JobReport {
        let known = Known::read(&self.job.machine, self.sheet.clone());
        match &known.ready {
            Some(ready) => {
                let mut desk = advice::desk(ready.machine.clone(), &self.sheet);
                // As a job is worked: with what a part bought in vain costs.
                desk.price(|fault| bill::in_vain(&ready.machine, &self.settings, fault));
                self.report_with(Some((ready, &mut desk)))
            }
            None => self.report_with(None),
        }
    }

    /// The report, with the machine of its sheet and a desk; without them only what the entries say.
    pub fn report_with(&self, bench: Option<(&Ready, &mut Desk)>) -> JobReport {
        let Some((ready, desk)) = bench else { return self.bare() };
        desk.learn(&self.lessons.learned);
        // Entries that the sheet cannot place leave the report without advice, not without readings.
        let advice = desk.advise(&self.job.request(None)).ok();
        let keystone = self.keystone(desk, advice.as_ref());
        let found = Found::new(&self.job, ready, advice.as_ref());
        let mut report = self.bare();
        let mut teller = Teller::new(&self.job, ready, desk, found.verdict.as_ref());
        let lines = teller.lines();
        let (before, after) = split(lines, found.repaired_at);
        report.machine = ready.machine.sheet.title.clone();
        report.state = found.state();
        report.proven = found.proven;
        report.costs = costs(&self.job, ready, &self.settings);
        report.cause = found.cause.clone();
        report.odds = found.odds();
        report.suspects = found.suspects();
        report.remedy = found.remedy();
        report.repaired = found.repaired_at.is_some();
        report.remedy_mind = found.fault().map(|fault| fault.remedy.caution.clone()).unwrap_or_default();
        report.parts = found.parts(&ready.machine);
        report.proof_wanted = found.wanted(&ready.machine, &after);
        report.watch = found.watch();
        let keystone = keystone.filter(|_| !found.cause.is_empty());
        let rests_on = keystone.and_then(|name| before.iter().rev().find(|line| line.name == name));
        report.rests_on = if found.cause.is_empty() { String::new() } else { rests(rests_on, &before) };
        report.drawn =
            found.fault().and_then(|fault| drawn(ready, &self.job, fault, rests_on.map(|line| line.name.as_str())));
        (report.readings, report.proof) = (before, after);
        report
    }

    /// The reading that the verdict rests on, as it stood when the repair began: what was read after it shows a healthy
    /// machine.
    fn keystone(&self, desk: &mut Desk, now: Option<&Advice>) -> Option<String> {
        let Some(repaired) = repaired_at(&self.job) else { return now?.keystone.clone() };
        let mut then = self.job.clone();
        then.entries.retain(|kept| kept.number < repaired);
        desk.advise(&then.request(None)).ok()?.keystone
    }

    /// What can be said without a machine.
    fn bare(&self) -> JobReport {
        let job = &self.job;
        let (first, last) = (job.entries.first(), job.entries.last());
        let day = |kept: Option<&Kept>| kept.map(|kept| words::when(&kept.at).0).unwrap_or_default();
        let (first, last) = (day(first), day(last));
        let state = match job.closed() {
            Some(true) => "Proven.",
            Some(false) => "Closed without a proven cause.",
            None => "The job is open.",
        };
        JobReport {
            heading: self.settings.workshop.clone(),
            job: job.id.clone(),
            machine: job.machine.clone(),
            dates: if first == last { first } else { format!("{first} to {last}") },
            state: state.to_owned(),
            proven: job.closed() == Some(true),
            about: about(job),
            readings: Line::by_name(job),
            rests_on: String::new(),
            cause: Vec::new(),
            odds: String::new(),
            suspects: Vec::new(),
            drawn: None,
            remedy: String::new(),
            repaired: false,
            remedy_mind: String::new(),
            parts: Vec::new(),
            proof: Vec::new(),
            proof_wanted: Vec::new(),
            watch: Vec::new(),
            costs: Costs::default(),
            photos: self.photos.clone(),
            made: made(job),
        }
    }
}

/// What the owner said, and how things were.
fn about(job: &Job) -> Vec<Row> {
    let said = |text: Option<&str>| text.filter(|text| *text != "skip").map(str::to_owned);
    let rows = [
        ("The owner says", said(job.complaint()).map(|complaint| words::complaint(&complaint).to_owned())),
        ("Since it last worked", said(job.reading("ask:since")).map(|value| words::since(&value).to_owned())),
        ("Air", said(job.air())),
        ("Measured with", job.request(None).instruments.map(|all| all.join(", "))),
    ];
    rows.into_iter().filter_map(|(label, text)| Some((label.to_owned(), text?))).collect()
}

fn made(job: &Job) -> String {
    let opened = job.entries.iter().find_map(|kept| match &kept.entry {
        Entry::Opened { engine, sheet, .. } => Some((engine.as_str(), sheet.as_str())),
        _ => None,
    });
    let (engine, sheet) = opened.unwrap_or_default();
    let now = env!("CARGO_PKG_VERSION");
    let again = if engine == now { String::new() } else { format!("; bands computed again by engine {now}") };
    format!("Engine {engine}, sheet {sheet}, as the technician was told{again}.")
}

/// What was read before the repair that held, and after it.
fn split(lines: Vec<Line>, repaired_at: Option<u64>) -> (Vec<Line>, Vec<Line>) {
    let (before, mut after): (Vec<Line>, Vec<Line>) =
        lines.into_iter().partition(|line| repaired_at.is_none_or(|at| line.entry <= at));
    // After the repair it is not the same reading any more.
    after.iter_mut().for_each(|line| line.again = false);
    (before, after)
}

/// What was found: as it was told where it was told.
struct Found<'a> {
    ready: &'a Ready,
    advice: Option<&'a Advice>,
    /// The verdict of the same faults, where today's advice has it.
    verdict: Option<Verdict>,
    faults: Vec<String>,
    cause: Vec<String>,
    probability: f64,
    proven: bool,
    closed: Option<bool>,
    /// Number of the entry that says that the remedy has worked.
    repaired_at: Option<u64>,
}

impl<'a> Found<'a> {
    fn new(job: &Job, ready: &'a Ready, advice: Option<&'a Advice>) -> Self {
        let repaired_at = repaired_at(job);
        let now = advice.and_then(|advice| advice.verdict.as_ref()).filter(|verdict| verdict.settled);
        let told = told(job);
        let (faults, probability, proven) = match (&told, now) {
            (Some(told), _) => told.clone(),
            (None, Some(verdict)) => (verdict.faults.clone(), verdict.probability, verdict.proven),
            (None, None) => (Vec::new(), 0.0, false),
        };
        let verdict = advice.and_then(|advice| advice.verdict.clone()).filter(|verdict| verdict.faults == faults);
        let title = |name: &String| {
            let known = ready.faults.iter().find(|fault| fault.name == *name);
            known.map_or_else(|| name.clone(), |fault| capital(&fault.title))
        };
        let together = |names: &Vec<String>| names.iter().map(title).collect::<Vec<_>>().join(", and with it: ");
        let cause = match &verdict {
            Some(verdict) => verdict.any_of.iter().map(together).collect(),
            None => faults.iter().map(title).collect(),
        };
        let proven = proven || job.closed() == Some(true);
        Self { ready, advice, verdict, faults, cause, probability, proven, closed: job.closed(), repaired_at }
    }

    fn fault(&self) -> Option<&'a Fault> {
        let name = self.faults.first()?;
        self.ready.faults.iter().find(|fault| fault.name == *name)
    }

    fn pending(&self) -> Option<String> {
        self.verdict
            .as_ref()
            .filter(|_| !self.proven)
            .and_then(|verdict| verdict.pending)
            .map(|pending| pending.to_string())
    }

    fn state(&self) -> String {
        let shown = self.verdict.as_ref().is_some_and(|verdict| verdict.shown);
        let text = match (self.proven, self.cause.is_empty(), self.repaired_at.is_some()) {
            (true, ..) => "Proven: repaired, and the repair check is passed.",
            (false, false, true) if shown && self.pending().is_some() => {
                "Repaired; the repair check is passed, the proof is still to come."
            }
            (false, false, true) => "Repaired; the repair check is not passed yet, so the cause is not proven.",
            (false, false, false) => "Found, not repaired yet: not proven.",
            (false, true, _) => match (self.closed, self.advice.and_then(|advice| advice.stop)) {
                (_, Some(stop)) => words::stop(stop),
                (Some(_), None) => "Closed without a proven cause.",
                (None, None) => "The job is open: the cause is not found yet.",
            },
        };
        text.to_owned()
    }

    fn odds(&self) -> String {
        match self.proven || self.cause.is_empty() {
            true => String::new(),
            false => format!("Not proven: likely, {}.", words::odds(self.probability)),
        }
    }

    fn suspects(&self) -> Vec<Row> {
        const MOST: usize = 4;
        let Some(advice) = self.advice.filter(|_| self.cause.is_empty()) else { return Vec::new() };
        let leaders = advice.suspects.iter().filter(|suspect| suspect.probability >= 0.01).take(MOST);
        leaders.map(|suspect| (words::odds(suspect.probability), suspect.title.clone())).collect()
    }

    fn remedy(&self) -> String {
        let title = match (&self.verdict, self.fault()) {
            (Some(verdict), _) => verdict.remedy_title.clone(),
            (None, Some(fault)) => fault.remedy.title.clone(),
            (None, None) => return String::new(),
        };
        capital(&title)
    }

    fn parts(&self, machine: &Machine) -> Vec<String> {
        let taken = self.fault().filter(|fault| matches!(fault.remedy.verb.as_str(), "replace" | "renew" | "fit"));
        let part = taken.and_then(|fault| fault.part).map(|part| &machine.sheet.parts[part]);
        part.map(|part| capital(&part.title)).into_iter().collect()
    }

    /// What the repair check still wants.
    fn wanted(&self, machine: &Machine, after: &[Line]) -> Vec<String> {
        let Some(verdict) = self.verdict.as_ref().filter(|_| !self.proven) else { return Vec::new() };
        let taken = |name: &str| after.iter().any(|line| line.name == name);
        let checks = verdict.proof.iter().filter(|check| !taken(&check.probe));
        checks
            .map(|check| capital(&words::check_line(machine, check)))
            .chain(self.pending().map(|text| capital(&text)))
            .collect()
    }

    fn watch(&self) -> Vec<String> {
        let mut watch = Vec::new();
        if self.cause.is_empty() {
            return watch;
        }
        if self.fault().is_some_and(|fault| fault.consequence) {
            watch.push(
                "This seldom comes by itself: watch whether it comes again, and then look for the cause behind it."
                    .to_owned(),
            );
        }
        if let Some(pending) = self.pending() {
            watch.push(format!("It counts as proven after {pending}."));
        }
        match self.proven {
            true => watch
                .push("If the complaint comes back, say so: the job is gone on with from these readings.".to_owned()),
            false => watch.extend(self.others()),
        }
        watch
    }

    /// What else it may be.
    fn others(&self) -> Option<String> {
        let other = |suspect: &&diagnosis::advice::SuspectShare| {
            !self.faults.contains(&suspect.fault) && suspect.probability >= 0.02
        };
        let others = self.advice?.suspects.iter().filter(other).take(3);
        let others: Vec<String> =
            others.map(|suspect| format!("{} ({})", suspect.title, words::odds(suspect.probability))).collect();
        (!others.is_empty()).then(|| format!("It could also be: {}.", others.join("; ")))
    }
}

/// What a verdict rests on: one reading, or those that no healthy machine shows.
fn rests(one: Option<&Line>, lines: &[Line]) -> String {
    const MOST: usize = 3;
    if let Some(line) = one {
        return format!("The reading this rests on: {}.", line.sentence());
    }
    let out: Vec<String> = lines.iter().filter(|line| line.out && !line.again).map(Line::sentence).take(MOST).collect();
    if out.is_empty() {
        String::new()
    } else {
        format!("No reading carries this alone. It rests on: {}.", out.join("; "))
    }
}

/// The entry since which the machine is repaired: the latest remedy that worked, as long as nothing has said since that
/// the fault is still there.
fn repaired_at(job: &Job) -> Option<u64> {
    job.standing().into_iter().fold(None, |repaired, kept| match &kept.entry {
        Entry::Reading { probe, value } if probe.starts_with("try:") => {
            if value == "fixed" {
                Some(kept.number)
            } else {
                repaired.filter(|_| value == "skip")
            }
        }
        Entry::Reading { probe, value } if probe == "ask:held-up" && value == "no" => None,
        _ => repaired,
    })
}

/// What the technician was told last, unless a remedy has failed since.
fn told(job: &Job) -> Option<(Vec<String>, f64, bool)> {
    job.standing().into_iter().fold(None, |told, kept| match &kept.entry {
        Entry::Told { faults, probability, proven, .. } => Some((faults.clone(), *probability, *proven)),
        Entry::Reading { probe, value } if probe.starts_with("try:") && value == "same" => None,
        Entry::Reading { probe, value } if probe == "ask:held-up" && value == "no" => None,
        _ => told,
    })
}
