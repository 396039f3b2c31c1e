//! Remedies: what they cost, whether they mend, and what the mended machine must show.
//! Promise: a remedy mends the fault that wants it and no other; the repair check is the desk's own, read on the machine.

use diagnosis::advice::Check;
use diagnosis::proof::within;
use diagnosis::request::{Entry, entry};
use diagnosis::trial::{Price, Trial};
use machine::Machine;

use super::super::advice;
use super::super::refusal::{Place, Reason, Refusal, did_you_mean, listed};
use super::{Act, Practice, Told, cure_name, line};

/// A remedy and what it takes.
#[derive(Clone, Debug, PartialEq)]
pub struct Cure {
    /// `VERB@PART`.
    pub name: String,
    /// In words: "replace the motor cable".
    pub title: String,
    /// Attended minutes of work, access and the try apart.
    pub minutes: f64,
    /// Minutes until it is done, waiting included.
    pub elapsed: f64,
    /// What to mind; empty when nothing.
    pub caution: String,
    /// Where it is done.
    pub place: Option<usize>,
}

/// A remedy that was done.
#[derive(Clone, Debug)]
pub struct Mended {
    /// Which.
    pub cure: Cure,
    /// Whether the machine is mended.
    pub fixed: bool,
    /// Whether a new fuse has blown at once.
    pub blew_again: bool,
    /// What it cost.
    pub price: Price,
}

/// One reading of the repair check.
#[derive(Clone, Debug)]
pub struct Checked {
    /// What was asked for.
    pub check: Check,
    /// What the machine showed.
    pub shown: String,
    /// Whether that is what it must show.
    pub passed: bool,
}

/// All remedies of a machine, in the order of its faults.
pub fn cures(machine: &Machine) -> Vec<Cure> {
    let mut cures: Vec<Cure> = Vec::new();
    for fault in machine.faults() {
        let name = cure_name(machine, &fault);
        if cures.iter().all(|known| known.name != name) {
            cures.push(Cure {
                name,
                title: fault.remedy.title.clone(),
                minutes: fault.remedy.minutes,
                elapsed: fault.remedy.elapsed,
                caution: fault.remedy.caution.clone(),
                place: fault.part.and_then(|part| machine.sheet.parts[part].place),
            });
        }
    }
    cures
}

/// The remedy of that name: `VERB@PART`, with or without `try:`, or a part that has only one.
fn find(machine: &Machine, text: &str) -> Result<Cure, Refusal> {
    let name = text.trim().trim_start_matches("try:");
    let all = cures(machine);
    if let Some(cure) = all.iter().find(|cure| cure.name == name) {
        return Ok(cure.clone());
    }
    let part = name.split_once('@').map_or(name, |(_, part)| part);
    let of_part: Vec<&Cure> =
        all.iter().filter(|cure| cure.name.split_once('@').is_some_and(|(_, of)| of == part)).collect();
    if let ([only], false) = (of_part.as_slice(), name.contains('@')) {
        return Ok((*only).clone());
    }
    let message = match of_part.is_empty() {
        false if !name.contains('@') => format!("several remedies are for `{part}`; one has to be named"),
        _ => format!("no remedy is called `{}`", super::super::refusal::shortened(name)),
    };
    let names = |cures: &[&Cure]| cures.iter().map(|cure| cure.name.clone()).collect::<Vec<_>>();
    if of_part.is_empty() {
        let known: Vec<&str> = all.iter().map(|cure| cure.name.as_str()).collect();
        let near = line::near(name, known.iter().copied());
        let refusal = Refusal::new(Reason::Name, Place::Request, message, name, listed(known));
        return Err(Refusal { hint: did_you_mean(&near), ..refusal });
    }
    let near = names(&of_part);
    let refusal = Refusal::new(Reason::Name, Place::Request, message, name, listed(near.iter().map(String::as_str)));
    Err(Refusal { hint: did_you_mean(&near), ..refusal })
}

impl Practice {
    /// Does a remedy and tries to start.
    pub(super) fn mend(&mut self, name: &str) -> Result<Mended, Refusal> {
        let cure = find(&self.stand.machine, name)?;
        let price = self.purse.split_of_remedy(cure.minutes, cure.place);
        self.purse.pay_remedy(cure.minutes, cure.place);
        self.minutes.remedies += price.own;
        self.minutes.access += price.access;
        self.minutes.setup += price.lift;
        let fixed = cure_name(&self.stand.machine, &self.case.fault) == cure.name;
        let part = cure.name.split_once('@').map_or("", |(_, part)| part);
        let blew_again = !fixed && self.blown.iter().any(|fuse| fuse == part);
        if fixed {
            self.faulty = false;
            // A fuse that the fault has blown is replaced along with it.
            self.blown.clear();
        }
        let word = if fixed { "fixed" } else { "same" }.to_owned();
        self.note(Some(format!("try:{}", cure.name)), Some(word.clone()), Some(word), price.minutes());
        Ok(Mended { cure, fixed, blew_again, price })
    }

    /// Reads all that the mended machine must show.
    ///
    /// # Errors
    /// When the machine is not mended, or the desk cannot use what was read.
    pub fn repair_check(&mut self, bench: &mut Trial) -> Result<Vec<Checked>, Refusal> {
        let advice = advice::advise(bench.desk(), &self.request(self.notes.len()))?;
        let checks = advice.verdict.map(|verdict| verdict.proof).unwrap_or_default();
        let faults = self.machine().faults();
        let mut checked = Vec::new();
        for check in checks {
            let Told::Shown(shown) = self.act(Act::Check { name: check.probe.clone() })? else { continue };
            let typed = self.notes.last().and_then(|noted| noted.typed.clone()).unwrap_or_default();
            let passed = match entry(self.machine(), &faults, &check.probe, &typed) {
                Ok(Entry::Took(_, reading)) => within(&check.band, &reading),
                _ => false,
            };
            checked.push(Checked { check, shown: shown.read.display, passed });
        }
        Ok(checked)
    }

    /// Whether what mends a fault mends what was planted.
    pub(super) fn is_mended_alike(&self, fault: &str) -> bool {
        let cure = |fault: &machine::Fault| cure_name(self.machine(), fault);
        self.stand.fault(fault).is_ok_and(|known| cure(known) == cure(&self.case.fault))
    }
}
