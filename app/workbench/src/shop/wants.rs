//! What a job waits for next, and how what is typed there becomes an entry.
//! Idea: terminal and pages ask the same questions in the same order and take the same answers.
//! Promise: a function of the job's entries and the advice for them; what cannot be read is refused and keeps nothing.

use diagnosis::advice::{Advice, Check, Pending, Step, Stop, Verdict};
use diagnosis::complaint::COMPLAINTS;
use diagnosis::request;
use journal::{Entry, Job};
use machine::{Fault, Machine};
use quantity::{Dimension, Expect, Reading};

use super::advice::{self, reading};
use super::bill;
use super::refusal::{Place, Reason, Refusal};
use super::settings::{self, Settings};
use super::words;

/// What a job waits for.
#[derive(Clone, Copy, Debug)]
pub enum Wants<'a> {
    /// What the owner says.
    Complaint,
    /// What happened since it last worked.
    Since,
    /// The air's temperature.
    Air,
    /// The meter's own check: both tips held together.
    Leads,
    /// The ammeter's own check: a load that is known.
    Ammeter,
    /// A probe or a remedy that tests.
    Probe(&'a Step),
    /// The verdict's remedy.
    Remedy(&'a Verdict),
    /// The owner's word: what comes next takes the bill beyond what was agreed.
    Limit(Beyond<'a>),
    /// A reading of the repair check.
    RepairCheck(&'a Check),
    /// Whether the repair has held up, what it has to hold, and whether it has done so before.
    HeldUp { verdict: &'a Verdict, pending: Pending, again: bool },
    /// The repair check is not passed: a reading once more, or that the fault is still there.
    NotPassed(&'a Verdict),
    /// Nothing: the cause is proven.
    Proven(&'a Verdict),
    /// Nothing that would be worth it.
    Stopped(Stop),
}

/// What would take the bill beyond the owner's limit.
#[derive(Clone, Copy, Debug)]
pub struct Beyond<'a> {
    /// What would be done.
    pub title: &'a str,
    /// What the bill would come to.
    pub comes_to: f64,
    /// What was agreed.
    pub limit: f64,
    /// Of both.
    pub currency: &'a str,
}

/// The question for the owner's limit.
pub const LIMIT: &str = "limit";

/// What is asked before anything is advised; nothing when all of it is known.
pub fn opening(job: &Job, meter: bool) -> Option<Wants<'static>> {
    if job.complaint().is_none() {
        Some(Wants::Complaint)
    } else if job.reading("ask:since").is_none() {
        Some(Wants::Since)
    } else if job.air().is_none() {
        Some(Wants::Air)
    } else if meter && job.reading("meter:leads").is_none() {
        Some(Wants::Leads)
    } else {
        None
    }
}

/// What follows from the advice; of the next steps the one that was taken, 0 the best.
pub fn follows<'a>(job: &Job, advice: &'a Advice, taken: usize) -> Wants<'a> {
    let is_fixed = |verdict: &Verdict| job.reading(&verdict.remedy) == Some("fixed");
    if let Some(verdict) = advice.verdict.as_ref().filter(|verdict| verdict.settled || is_fixed(verdict)) {
        return match (verdict.proven, is_fixed(verdict)) {
            (true, _) => Wants::Proven(verdict),
            (false, true) => repair_check(job, verdict),
            (false, false) => Wants::Remedy(verdict),
        };
    }
    if let Some(stop) = advice.stop {
        return Wants::Stopped(stop);
    }
    match advice.next.get(taken).or(advice.next.last()) {
        Some(step) if step.probe == "meter:amps" => Wants::Ammeter,
        Some(step) => Wants::Probe(step),
        None => Wants::Stopped(Stop::NotWorthMore),
    }
}

fn repair_check<'a>(job: &Job, verdict: &'a Verdict) -> Wants<'a> {
    let after = job.after_repair();
    let missing = verdict.proof.iter().find(|check| !after.iter().any(|(name, _)| *name == check.probe));
    match (missing, verdict.pending) {
        (Some(check), _) => Wants::RepairCheck(check),
        (None, Some(pending)) if verdict.shown => {
            Wants::HeldUp { verdict, pending, again: job.reading("ask:held-up") == Some("yes") }
        }
        (None, _) => Wants::NotPassed(verdict),
    }
}

impl Wants<'_> {
    /// The name under which what is typed is kept; empty where it is not a reading.
    pub fn name(&self) -> &str {
        match self {
            Self::Complaint | Self::Air | Self::Proven(_) | Self::Stopped(_) => "",
            Self::Since => "ask:since",
            Self::Limit(_) => LIMIT,
            Self::Leads => "meter:leads",
            Self::Ammeter => "meter:amps",
            Self::Probe(step) => &step.probe,
            Self::Remedy(verdict) | Self::NotPassed(verdict) => &verdict.remedy,
            Self::RepairCheck(check) => &check.probe,
            Self::HeldUp { .. } => "ask:held-up",
        }
    }
}

/// What was typed as an entry, and what is to be said about it at once.
///
/// # Errors
/// When it cannot be read there.
pub fn take(
    machine: &Machine,
    faults: &[Fault],
    wants: &Wants<'_>,
    typed: &str,
) -> Result<(Entry, Option<&'static str>), Refusal> {
    let typed = typed.trim();
    match wants {
        Wants::Complaint => complaint(typed),
        Wants::Air => {
            if typed != "skip" {
                advice::air(typed)?;
            }
            Ok((Entry::Air { value: typed.to_owned() }, None))
        }
        Wants::Leads => {
            let remark = match quantity_of(typed, Dimension::Resistance)? {
                Reading::Number(ohms) if (-0.05..=0.5).contains(&ohms) => None,
                Reading::Skip => None,
                _ => Some("These leads cannot be trusted: try other leads or sockets, then read again."),
            };
            Ok((entry_of(wants.name(), typed), remark))
        }
        Wants::Ammeter => {
            let remark = match quantity_of(typed, Dimension::Current)? {
                Reading::Number(amps) if amps.abs() < 0.05 => {
                    Some("This meter shows no current: mend its fuse or its lead before its zero is believed.")
                }
                _ => None,
            };
            Ok((entry_of(wants.name(), typed), remark))
        }
        _ => named(machine, faults, wants.name(), typed).map(|entry| (entry, None)),
    }
}

/// A reading of any name; `NAME=VALUE` gives the name itself.
///
/// # Errors
/// When the machine has no such probe or remedy, or the value is not of its kind.
pub fn named(machine: &Machine, faults: &[Fault], name: &str, typed: &str) -> Result<Entry, Refusal> {
    let (name, value) = match typed.split_once('=') {
        Some((other, value)) if other.contains('@') || other.contains(':') => (other.trim(), value.trim()),
        _ => (name, typed.trim()),
    };
    reading(machine, faults, name, value)?;
    Ok(entry_of(name, value))
}

/// The owner's limit as an entry: an amount as in `120` or `127,50`.
///
/// # Errors
/// When it is no amount, or nothing has a price.
pub fn limit(settings: &Settings, typed: &str) -> Result<Entry, Refusal> {
    let Some(money) = &settings.money else {
        let refusal = Refusal::new(
            Reason::Value,
            Place::Request,
            "nothing has a price here".to_owned(),
            typed,
            "prices in the settings",
        );
        return Err(refusal.with_hint("`probewright settings --example` prints a file to begin with"));
    };
    let typed = typed.trim();
    let bare = typed.trim_start_matches(money.currency.as_str()).trim_end_matches(money.currency.as_str());
    let amount = settings::money(bare).ok_or_else(|| {
        Refusal::new(
            Reason::Value,
            Place::Reading,
            format!("`{typed}` is no amount of money"),
            typed,
            "an amount, as in 120 or 127.50",
        )
    })?;
    Ok(Entry::Limit { amount, currency: money.currency.clone() })
}

/// The same question, unless what it would cost goes beyond the owner's limit: then that is asked first.
pub fn within<'a>(
    machine: &Machine,
    faults: &[Fault],
    settings: &'a Settings,
    job: &Job,
    wants: Wants<'a>,
) -> Wants<'a> {
    let (Some(money), Some(limit)) = (&settings.money, job.limit()) else { return wants };
    let (name, title, minutes) = match &wants {
        Wants::Probe(step) => (step.probe.as_str(), step.title.as_str(), Some(step.minutes)),
        Wants::Remedy(verdict) => (verdict.remedy.as_str(), verdict.remedy_title.as_str(), None),
        _ => return wants,
    };
    let next = name.starts_with("try:").then_some((name, "fixed"));
    let bill = bill::bill(machine, faults, settings, job.readings().chain(next));
    let probing = if next.is_none() { minutes.unwrap_or(0.0) / 60.0 * money.hour } else { 0.0 };
    let comes_to = bill.total.unwrap_or(0.0) + probing;
    if comes_to <= limit { wants } else { Wants::Limit(Beyond { title, comes_to, limit, currency: &money.currency }) }
}

/// A complaint by number or name.
fn complaint(typed: &str) -> Result<(Entry, Option<&'static str>), Refusal> {
    let by_number = typed.parse::<usize>().ok().and_then(|number| COMPLAINTS.get(number.checked_sub(1)?));
    let value = match by_number {
        Some(complaint) => complaint.name.to_owned(),
        None if typed == "skip" => typed.to_owned(),
        None => advice::complaint(typed)?,
    };
    let known = COMPLAINTS.iter().find(|known| known.name == value);
    let computed = known.is_none_or(|known| known.computed);
    let remark = "This one cannot be computed from the wiring yet: it is kept, and weighs nothing.";
    Ok((Entry::Complaint { value }, (!computed).then_some(remark)))
}

/// What is to be said about the latest entry of a job at once; nothing where it speaks for itself.
pub fn remark(machine: &Machine, faults: &[Fault], job: &Job) -> Option<&'static str> {
    let (name, value) = job.latest_reading()?;
    let wants = match name {
        "meter:leads" => Wants::Leads,
        "meter:amps" => Wants::Ammeter,
        _ => return None,
    };
    take(machine, faults, &wants, value).ok()?.1
}

/// What was just read beside what a healthy machine shows, in a sentence; nothing where there is nothing to compare.
pub fn compared(machine: &Machine, faults: &[Fault], step: &Step, value: &str) -> Option<String> {
    let band = step.band.as_ref()?;
    let request::Entry::Took(probe, reading) = request::entry(machine, faults, &step.probe, value).ok()? else {
        return None;
    };
    Some(words::compared(&probe, &reading, band))
}

fn quantity_of(typed: &str, dimension: Dimension) -> Result<Reading, Refusal> {
    Reading::read(typed, Expect::Quantity(dimension)).map_err(|error| Refusal::unread(error, Place::Reading, ""))
}

fn entry_of(name: &str, value: &str) -> Entry {
    Entry::Reading { probe: name.to_owned(), value: value.to_owned() }
}
