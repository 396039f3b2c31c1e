//! A machine with planted faults that answers probes as a person at the machine would: for cases, trials and practice.
//! Idea: the answer is solved with the instrument in the circuit, rounded to what the display shows, and given as the
//! text that would be typed. A remedy that mends something and leaves nothing to be noticed answers `fixed`.
//! Promise: the machine is never one of the desk's what-if cases: its severity is the planter's, its shared values
//! are those of the sheet unless the planter gives others.
//! Not modeled here: noise of the meter beyond its last digit and slips of a tip (see [`crate::trial`]), a battery
//! that tires from being cranked.

use circuit::Unsolvable;
use machine::probe::Sort;
use machine::{Edit, Fault, Machine, Observer, Probe, Program, Seen, Signs};
use quantity::Celsius;

use crate::advice::{Advice, Stop, Verdict};
use crate::complaint::{COMPLAINTS, weight};
use crate::desk::Desk;
use crate::request::{BadRequest, Entry, Request, entry, part_name};

/// A machine with planted faults.
#[derive(Clone, Debug)]
pub struct Planted {
    air: Option<Celsius>,
    /// What differs from the sheet beside the faults.
    base: Vec<Edit>,
    /// An intermittent fault that is away at the moment.
    pub(crate) away: bool,
    /// What is still wrong, with its severity.
    left: Vec<(Fault, f64)>,
    faults: Vec<Fault>,
    nominal: Signs,
    observer: Observer,
}

/// Why a planted machine gives no answer.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Unanswered {
    /// Not a probe or remedy of this machine.
    #[error(transparent)]
    Asked(#[from] BadRequest),
    /// The machine with these faults has no operating point.
    #[error(transparent)]
    Unsolvable(#[from] Unsolvable),
}

/// A complaint that fits by less, beyond what the machine did before, is none.
const HARDLY: f64 = 0.25;

impl Planted {
    /// Plants faults, each at a severity in SI (ignored where the fault has none).
    ///
    /// # Errors
    /// When even the healthy machine has no operating point.
    pub fn new(machine: &Machine, faults: &[(Fault, f64)], air: Option<Celsius>) -> Result<Self, Unsolvable> {
        Self::with(machine, faults, Vec::new(), air)
    }

    /// Plants faults in a machine that differs from its sheet: its battery's charge, its oil, its friction.
    ///
    /// # Errors
    /// When even the machine without faults has no operating point.
    pub fn with(
        machine: &Machine,
        faults: &[(Fault, f64)],
        base: Vec<Edit>,
        air: Option<Celsius>,
    ) -> Result<Self, Unsolvable> {
        let mut planted = Self {
            air,
            base,
            away: false,
            left: Vec::new(),
            faults: machine.faults(),
            nominal: Signs::default(),
            observer: Observer::new(),
        };
        planted.nominal = planted.signs(machine)?;
        planted.left = faults.to_vec();
        Ok(planted)
    }

    /// Names of what is still wrong.
    pub fn left(&self) -> impl Iterator<Item = &str> {
        self.left.iter().map(|(fault, _)| fault.name.as_str())
    }

    /// What is still wrong.
    pub(crate) fn faults_left(&self) -> impl Iterator<Item = &Fault> {
        self.left.iter().map(|(fault, _)| fault)
    }

    /// The complaint that fits best what the machine does; nothing when its owner would notice nothing.
    ///
    /// # Errors
    /// When the machine has no operating point.
    pub fn complaint(&mut self, machine: &Machine) -> Result<Option<&'static str>, Unsolvable> {
        let signs = self.signs(machine)?;
        // Nobody comes for what the machine did before it had its faults, nor for what hardly fits.
        let mut best = (None, HARDLY);
        for known in COMPLAINTS {
            let fits = weight(known.name, &signs, &self.nominal) - weight(known.name, &self.nominal, &self.nominal);
            // Of what fits alike the first is said; a machine that starts as it should is no complaint.
            let shows = known.name != "nothing-happens" || self.nominal.spins;
            if fits > best.1 && shows {
                best = (Some(known.name), fits);
            }
        }
        Ok(best.0)
    }

    /// What a person would type as the answer to a probe or a remedy.
    ///
    /// # Errors
    /// When the name is no probe or remedy of this machine, or the machine has no operating point.
    pub fn answer(&mut self, machine: &Machine, name: &str) -> Result<String, Unanswered> {
        if name.starts_with("try:") {
            return self.mend(machine, name);
        }
        match entry(machine, &self.faults, name, "skip")? {
            Entry::Skipped(probe) => Ok(typed(&probe, self.look(machine, &probe)?)),
            _ => Ok("ok".to_owned()),
        }
    }

    fn mend(&mut self, machine: &Machine, name: &str) -> Result<String, Unanswered> {
        let Entry::Tried { verb, part, .. } = entry(machine, &self.faults, name, "same")? else {
            return Err(BadRequest::Remedy(name.to_owned()).into());
        };
        let mended = self.remove(machine, &verb, &part);
        Ok(if mended && self.complaint(machine)?.is_none() { "fixed" } else { "same" }.to_owned())
    }

    /// Does a remedy; whether it removed anything.
    pub(crate) fn remove(&mut self, machine: &Machine, verb: &str, part: &str) -> bool {
        let before = self.left.len();
        self.left.retain(|(fault, _)| fault.remedy.verb != verb || part_name(machine, fault) != part);
        self.left.len() < before
    }

    /// Minutes of a remedy, access apart.
    fn minutes_of(&self, machine: &Machine, name: &str) -> f64 {
        let is = |fault: &&Fault| format!("try:{}@{}", fault.remedy.verb, part_name(machine, fault)) == name;
        self.faults.iter().find(is).map_or(0.0, |fault| fault.remedy.minutes)
    }

    fn edits(&self) -> Vec<Edit> {
        let present = self.left.iter().filter(|_| !self.away);
        let faults = present.flat_map(|(fault, severity)| fault.edits(*severity));
        self.base.iter().copied().chain(faults).collect()
    }

    /// What a probe shows, exactly.
    pub(crate) fn look(&mut self, machine: &Machine, probe: &Probe) -> Result<Seen, Unsolvable> {
        let probes = std::slice::from_ref(probe);
        let mut seen = [Seen::Nothing];
        let edits = self.edits();
        self.observer.observe(machine, &Program::new(machine, probes), probes, &edits, self.air, &mut seen)?;
        Ok(seen[0])
    }

    /// What the machine makes its owner say.
    pub(crate) fn signs(&mut self, machine: &Machine) -> Result<Signs, Unsolvable> {
        let edits = self.edits();
        self.observer.observe(machine, &Program::new(machine, &[]), &[], &edits, self.air, &mut [])?;
        Ok(self.observer.signs())
    }
}

/// What is seen, as it would be typed.
pub(crate) fn typed(probe: &Probe, seen: Seen) -> String {
    let number = |value: f64| probe.display(value);
    match seen {
        Seen::Number(value) => number(value),
        Seen::Range(low, high) => format!("{}..{}", number(low), number(high)),
        Seen::Over => "OL".to_owned(),
        Seen::Word(word) => probe.words().get(usize::from(word)).copied().unwrap_or("skip").to_owned(),
        // The owner remembers nothing; a probe that says nothing is left out.
        Seen::Nothing if matches!(probe.sort, Sort::Ask(_)) => "nothing".to_owned(),
        Seen::Nothing => "skip".to_owned(),
    }
}

/// One thing done in a job.
#[derive(Clone, Debug, PartialEq)]
pub struct Done {
    /// Name of the probe or remedy.
    pub name: String,
    /// What was typed.
    pub value: String,
    /// Attended minutes, unpaid access included.
    pub minutes: f64,
}

/// A job worked to its end.
#[derive(Clone, Debug)]
pub struct Worked {
    /// Everything done until the machine was mended, in order.
    pub steps: Vec<Done>,
    /// The first verdict given, and after how many steps.
    pub verdict: Option<(Verdict, usize)>,
    /// What the repair check asked for, and the answers.
    pub checked: Vec<(String, String)>,
    /// The verdict after the repair check.
    pub end: Option<Verdict>,
    /// Why the desk stopped, if it did.
    pub stop: Option<Stop>,
    /// The last advice.
    pub last: Advice,
}

impl Worked {
    /// Attended minutes until the machine was mended.
    pub fn minutes(&self) -> f64 {
        self.steps.iter().map(|done| done.minutes).sum()
    }
}

/// Works a job as the desk advises: probes, remedies and the repair check, at most that many steps before the check.
/// `cannot` says which probes cannot be taken; they are answered with `skip`.
///
/// # Errors
/// When the desk refuses an answer or the planted machine has none.
pub fn work(
    desk: &mut Desk,
    planted: &mut Planted,
    mut request: Request,
    most: usize,
    cannot: impl Fn(&str) -> bool,
) -> Result<Worked, Unanswered> {
    let machine = desk.machine.clone();
    let mut steps: Vec<Done> = Vec::new();
    let mut verdict = None;
    loop {
        let advice = desk.advise(&request)?;
        let mut worked = Worked { steps, verdict, checked: Vec::new(), end: None, stop: advice.stop, last: advice };
        let settled = worked.last.verdict.as_ref().filter(|verdict| verdict.settled);
        if let (None, Some(reached)) = (&worked.verdict, settled) {
            worked.verdict = Some((reached.clone(), worked.steps.len()));
        }
        let (name, minutes) = match (settled, worked.last.next.first()) {
            (Some(reached), _) => (reached.remedy.clone(), planted.minutes_of(&machine, &reached.remedy)),
            (None, Some(step)) => (step.probe.clone(), step.minutes),
            (None, None) => return Ok(worked),
        };
        // A remedy may be botched once.
        let tried = worked.steps.iter().filter(|done| done.name == name).count();
        let tried_twice = name.starts_with("try:") && tried >= 2;
        if worked.stop.is_some() || worked.steps.len() >= most || tried_twice {
            return Ok(worked);
        }
        let value = if cannot(&name) { "skip".to_owned() } else { planted.answer(&machine, &name)? };
        request.readings.push((name.clone(), value.clone()));
        let fixed = name.starts_with("try:") && value == "fixed";
        worked.steps.push(Done { name, value, minutes });
        if fixed {
            return check(desk, planted, request, worked);
        }
        (steps, verdict) = (worked.steps, worked.verdict);
    }
}

/// The repair check: every reading that the mended machine must show.
fn check(
    desk: &mut Desk,
    planted: &mut Planted,
    mut request: Request,
    mut worked: Worked,
) -> Result<Worked, Unanswered> {
    let machine = desk.machine.clone();
    let advice = desk.advise(&request)?;
    if let (None, Some(reached)) = (&worked.verdict, &advice.verdict) {
        worked.verdict = Some((reached.clone(), worked.steps.len()));
    }
    for check in advice.verdict.iter().flat_map(|verdict| &verdict.proof) {
        worked.checked.push((check.probe.clone(), planted.answer(&machine, &check.probe)?));
    }
    request.readings.extend(worked.checked.iter().cloned());
    worked.last = desk.advise(&request)?;
    worked.stop = worked.last.stop;
    worked.end = worked.last.verdict.clone();
    Ok(worked)
}
