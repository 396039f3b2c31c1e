//! What is planted: a fault by its odds at any severity, and what the owner then says.
//! Promise: a case is a function of sheet and settings. A fault that its owner would not notice is never planted, unless
//! somebody asks for it and says what the owner says.
//! Limit: one fault at a time; the air is drawn evenly from what people work in.

use diagnosis::complaint::{self, COMES_AND_GOES, COMPLAINTS, Complaint};
use diagnosis::planted::Planted;
use diagnosis::trial::{Chance, Planting};
use machine::Fault;
use quantity::Celsius;
use serde::{Deserialize, Serialize};

use super::super::advice;
use super::super::changes::Changes;
use super::super::refusal::{Place, Reason, Refusal, listed};
use super::super::stand::{Request, Stand};

/// What a case is drawn from.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Settings {
    /// What is not given follows from this.
    pub seed: u64,
    /// `part:mode` or `part:mode=severity`; drawn by the odds where it is left out.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub fault: Option<String>,
    /// What the owner says; with a fault given it is taken as said.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub complaint: Option<String>,
    /// Air temperature.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub air: Option<String>,
}

/// What was planted, and what the owner says.
#[derive(Clone, Debug)]
pub struct Case {
    /// What everything is drawn from.
    pub seed: u64,
    /// The fault.
    pub fault: Fault,
    /// Its severity in SI; 0 where it has none.
    pub severity: f64,
    /// What the owner says.
    pub complaint: &'static Complaint,
    /// Air temperature.
    pub air: Celsius,
    /// Whether it is there at one look and away at the next.
    pub comes_and_goes: bool,
}

/// Tries at a fault that its owner notices and that makes him say what was asked for.
const TRIES: usize = 400;
/// Coldest and warmest air that is drawn (estimate).
const AIR: (f64, f64) = (0.0, 30.0);
/// Air in which a machine that fails only on cold mornings starts (estimate).
const MILD: Celsius = Celsius(5.0);

impl Case {
    /// Draws a case.
    ///
    /// # Errors
    /// When the machine has no such fault, or nobody would say so of it.
    pub(super) fn draw(stand: &Stand, settings: &Settings) -> Result<Self, Refusal> {
        let mut chance = Chance::of(settings.seed, "practice");
        let drawn = Celsius(chance.between(AIR.0, AIR.1).round());
        let air = settings.air.as_deref().map_or(Ok(drawn), advice::air)?;
        let said = settings.complaint.as_deref().map(known).transpose()?;
        let comes_and_goes = said.is_some_and(|said| said.name == COMES_AND_GOES);
        let case = |fault: &Fault, severity, complaint| Self {
            seed: settings.seed,
            fault: fault.clone(),
            severity,
            complaint,
            air,
            comes_and_goes,
        };
        if let Some(text) = &settings.fault {
            let (name, severity) = stand.planted(text)?;
            let fault = stand.fault(name)?;
            if comes_and_goes && !fault.comes_and_goes {
                return Err(stays(fault));
            }
            let computed = told(stand, fault, severity, air)?;
            let complaint = said.or(computed).ok_or_else(|| unnoticed(text))?;
            return Ok(case(fault, severity, complaint));
        }
        let faults = stand.machine.faults();
        let mut odds: Vec<f64> =
            faults.iter().map(|fault| if comes_and_goes && !fault.comes_and_goes { 0.0 } else { fault.odds }).collect();
        for _ in 0..TRIES {
            let Some(index) = chance.by_weight(&odds) else { break };
            let fault = &faults[index];
            let severity = fault.severity_at(chance.even());
            let computed = told(stand, fault, severity, air)?;
            match (computed, said) {
                (Some(_), Some(said)) if comes_and_goes => return Ok(case(fault, severity, said)),
                (Some(computed), Some(said)) if computed.name == said.name => return Ok(case(fault, severity, said)),
                (Some(computed), None) => return Ok(case(fault, severity, computed)),
                // Another severity may do; with each failure that is less likely.
                _ => odds[index] *= 0.5,
            }
        }
        Err(nobody_says(said))
    }

    /// The machine as it was brought, as changes of its sheet.
    pub fn changes(&self) -> Changes {
        Changes { faults: vec![self.planted()], air: Some(format!("{} C", self.air.0)), ..Changes::default() }
    }

    /// `part:mode` with its severity in SI where it has one.
    pub fn planted(&self) -> String {
        match self.fault.dimension {
            Some(_) => format!("{}={}", self.fault.name, self.severity),
            None => self.fault.name.clone(),
        }
    }

    /// The severity in words; nothing where it has none.
    pub fn severity_shown(&self) -> Option<String> {
        self.fault.dimension.map(|dimension| quantity::show(self.severity, dimension))
    }

    /// The same case for the technicians of a trial.
    pub(super) fn planting(&self) -> Planting {
        Planting::as_written(self.seed, vec![(self.fault.clone(), self.severity)], self.air, self.complaint.name)
    }

    /// Whether the machine can be started, so that it can be measured running.
    pub(super) fn starts(&self) -> bool {
        match self.complaint.name {
            "goes-flat" | "not-charging" => true,
            name => name == complaint::COLD_ONLY && self.air >= MILD,
        }
    }

    /// Fuses that the fault has blown before the machine came, those of breakers that reset by themselves apart.
    pub(super) fn blown(&self, stand: &mut Stand) -> Result<Vec<String>, Refusal> {
        let mut changes = self.changes();
        let tried: Vec<String> =
            stand.machine.state_names().into_iter().filter(|name| name == "on" || name == "held").collect();
        // A fuse that opens with the button held is open before it, too: then all is looked at once more.
        loop {
            let before = changes.open.len();
            for state in &tried {
                let request = Request { state: Some(state.clone()), changes: changes.clone(), ..Request::default() };
                let solved = stand.solve(&request)?;
                let fuses = solved.half.fuses.0.iter().filter(|(_, whole)| *whole == "blown");
                let blown: Vec<String> = fuses.map(|(name, _)| (*name).to_owned()).collect();
                for name in blown {
                    if !changes.open.contains(&name) && stays_open(stand, &name) {
                        changes.open.push(name);
                    }
                }
            }
            if changes.open.len() == before {
                return Ok(changes.open);
            }
        }
    }
}

fn stays_open(stand: &Stand, fuse: &str) -> bool {
    let Ok(index) = stand.machine.part(fuse) else { return true };
    let part = &stand.machine.sheet.parts[index];
    part.kind.word(&part.values, "resets") != Some("by-itself")
}

/// What the machine with this fault makes its owner say, if anything.
fn told(stand: &Stand, fault: &Fault, severity: f64, air: Celsius) -> Result<Option<&'static Complaint>, Refusal> {
    let machine = &stand.machine;
    let planted = Planted::new(machine, &[(fault.clone(), severity)], Some(air));
    let said = planted.and_then(|mut planted| planted.complaint(machine));
    let said = said.map_err(|error| Refusal::unsolvable(error, machine))?;
    Ok(said.and_then(complaint::find))
}

/// The complaint of that name, if it can be computed.
fn known(text: &str) -> Result<&'static Complaint, Refusal> {
    let found = complaint::find(&advice::complaint(text)?);
    found.filter(|found| found.computed).ok_or_else(|| {
        let message = format!("`{}` cannot be computed from the wiring yet", text.trim());
        let computed = COMPLAINTS.iter().filter(|known| known.computed).map(|known| known.name);
        Refusal::new(Reason::Value, Place::Complaint, message, text, listed(computed))
    })
}

fn stays(fault: &Fault) -> Refusal {
    let message = format!("`{}` does not come and go", fault.name);
    Refusal::new(Reason::Value, Place::Fault, message, &fault.name, "loose joints, bad contacts, plugs, chafed wires")
}

fn unnoticed(text: &str) -> Refusal {
    let message = format!("nobody would notice `{text}` on this machine today");
    let allowed = "a fault, and a severity, that its owner notices";
    Refusal::new(Reason::Value, Place::Fault, message, text, allowed)
        .with_hint("make it worse (`PART:MODE=SEVERITY`), or say with `--complaint` what the owner says")
}

fn nobody_says(said: Option<&Complaint>) -> Refusal {
    match said {
        Some(said) => {
            let message = format!("no fault of this machine makes its owner say `{}` today", said.name);
            Refusal::new(Reason::Value, Place::Complaint, message, said.name, "a complaint that this machine can have")
                .with_hint("leave the complaint out, or try another air temperature")
        }
        None => {
            let message = "this machine has no fault that its owner would notice".to_owned();
            Refusal::new(Reason::Value, Place::Request, message, "", "a sheet with the states `on` and `held`")
        }
    }
}
