//! Advice for a job: what a person or a request gives as text, looked up; the answer in its JSON form.
//! Promise: the same readings in any order of live states give the same bytes; what cannot be used is refused by name,
//! with what would be allowed.

use diagnosis::advice::{Advice, Check, Step, Verdict};
use diagnosis::complaint::COMPLAINTS;
use diagnosis::request::{self, BadRequest, INSTRUMENTS};
use diagnosis::{Desk, Request};
use machine::{Fault, Machine};
use quantity::{Celsius, Dimension};
use serde::Serialize;

use super::probes::BandForm;
use super::refusal::{Place, Reason, Refusal, did_you_mean};
use super::stand::Stand;
use super::tables;

/// What is known of a job, as given.
#[derive(Clone, Debug, Default)]
pub struct Asked {
    /// Name of the complaint, `nothing-happens` or `nothing happens`.
    pub complaint: Option<String>,
    /// `NAME=VALUE`, in order.
    pub readings: Vec<String>,
    /// Instruments at hand; nothing when all are.
    pub instruments: Option<Vec<String>>,
    /// Air temperature.
    pub air: Option<String>,
    /// Probability that a verdict needs.
    pub confirm: Option<String>,
}

/// A desk with the machine's full table of readings.
pub fn desk(machine: Machine, sheet: &str) -> Desk {
    let table = tables::table(&machine, sheet, tables::full(&machine));
    Desk::new(machine, table)
}

impl Asked {
    /// Everything looked up in a machine.
    ///
    /// # Errors
    /// At the first thing that the machine does not have, or value that cannot be read.
    pub fn request(&self, machine: &Machine) -> Result<Request, Refusal> {
        let mut request = Request { instruments: self.instruments.clone(), ..Request::default() };
        if let Some(text) = &self.complaint {
            request.complaint = Some(complaint(text)?);
        }
        let mut instruments = self.instruments.iter().flatten();
        if let Some(name) = instruments.find(|name| !INSTRUMENTS.contains(&name.trim())) {
            return Err(refused(&BadRequest::Instrument(name.clone()), Place::Instruments, name));
        }
        if let Some(text) = &self.air {
            request.air = Some(air(text)?);
        }
        if let Some(text) = &self.confirm {
            let unread = |error| Refusal::unread(error, Place::Confirm, "");
            request.confirm = quantity::read_loosely(text, Dimension::Ratio).map_err(unread)?;
            if !(request.confirm > 0.5 && request.confirm < 1.0) {
                return Err(refused(&BadRequest::Confirm(request.confirm), Place::Confirm, text));
            }
        }
        let faults = machine.faults();
        for text in &self.readings {
            let (name, value) = text.split_once('=').ok_or_else(|| {
                let message = format!("`{text}` gives no value");
                Refusal::new(Reason::Form, Place::Reading, message, text, "NAME=VALUE")
                    .with_hint("write it as in `volts@rest:battery.plus,battery.minus=12.6 V`")
            })?;
            let (name, value) = (name.trim(), value.trim());
            reading(machine, &faults, name, value)?;
            request.readings.push((name.to_owned(), value.to_owned()));
        }
        Ok(request)
    }
}

/// Looks up a probe, remedy or answer and reads its value.
///
/// # Errors
/// When the machine has none of that name, or the value is not of its kind.
pub fn reading(machine: &Machine, faults: &[Fault], name: &str, value: &str) -> Result<request::Entry, Refusal> {
    request::entry(machine, faults, name, value).map_err(|error| match &error {
        BadRequest::Probe(bad) => Refusal { place: Place::Reading, ..Stand::new(machine.clone()).no_probe(name, bad) },
        BadRequest::Remedy(_) => {
            let of = name.split_once('@').map_or("", |(_, part)| part);
            let remedies = faults.iter().map(|fault| (request::part_name(machine, fault), &fault.remedy.verb));
            let mut near: Vec<String> =
                remedies.filter(|(part, _)| *part == of).map(|(part, verb)| format!("try:{verb}@{part}")).collect();
            near.sort();
            near.dedup();
            Refusal { hint: did_you_mean(&near), ..refused(&error, Place::Reading, name) }
        }
        _ => refused(&error, Place::Reading, value),
    })
}

/// Advice for a request.
///
/// # Errors
/// When the request names something that does not exist.
pub fn advise(desk: &mut Desk, request: &Request) -> Result<Advice, Refusal> {
    desk.advise(request).map_err(|error| refused(&error, Place::Request, ""))
}

/// The air temperature of that text.
///
/// # Errors
/// When it is none.
pub fn air(text: &str) -> Result<Celsius, Refusal> {
    let degrees = quantity::read_loosely(text, Dimension::Temperature);
    degrees.map(Celsius).map_err(|error| Refusal::unread(error, Place::Air, ""))
}

/// The complaint of that name, `nothing-happens` or `nothing happens`.
///
/// # Errors
/// When there is none.
pub fn complaint(text: &str) -> Result<String, Refusal> {
    let name = text.trim().to_lowercase().replace([' ', '_'], "-");
    if COMPLAINTS.iter().any(|known| known.name == name) {
        return Ok(name);
    }
    let words: Vec<&str> = name.split('-').filter(|word| word.len() > 2).collect();
    let alike = |known: &str| words.iter().any(|word| known.contains(word.get(..word.len().min(4)).unwrap_or(word)));
    let near: Vec<String> =
        COMPLAINTS.iter().map(|known| known.name).filter(|known| alike(known)).take(3).map(str::to_owned).collect();
    let refusal = refused(&BadRequest::Complaint(text.to_owned()), Place::Complaint, text);
    Err(Refusal { hint: did_you_mean(&near), ..refusal })
}

fn refused(error: &BadRequest, place: Place, found: &str) -> Refusal {
    let reason = match error {
        BadRequest::Complaint(_) | BadRequest::Instrument(_) | BadRequest::Probe(_) | BadRequest::Remedy(_) => {
            Reason::Name
        }
        BadRequest::Value { .. } | BadRequest::Confirm(_) => Reason::Value,
    };
    let refusal = Refusal::new(reason, place, error.to_string(), found, error.allowed());
    Refusal { hint: error.hint(), ..refusal }
}

/// The answer of `advise`.
#[derive(Clone, Debug, Serialize)]
pub struct Advised<'a> {
    /// Likeliest first.
    pub suspects: Vec<Suspected<'a>>,
    /// Probability that no fault of the catalogue is the cause.
    pub unexplained: f64,
    /// Best first.
    pub next: Vec<Proposed<'a>>,
    /// Why nothing more is advised.
    pub stop: Option<&'static str>,
    /// The verdict, when it is reached.
    pub verdict: Option<Reached<'a>>,
    /// The reading that the verdict rests on.
    pub keystone: Option<&'a str>,
    /// Readings that the leader has to call wild.
    pub outliers: &'a [String],
    /// Each reading's part.
    pub reasons: Vec<Weighed<'a>>,
}

/// A suspect and its probability.
#[derive(Clone, Debug, Serialize)]
pub struct Suspected<'a> {
    /// `part:mode`, or `healthy`.
    pub fault: &'a str,
    /// In words.
    pub title: &'a str,
    /// Probability.
    pub probability: f64,
}

/// Something that could be done next.
#[derive(Clone, Debug, Serialize)]
pub struct Proposed<'a> {
    /// Name of the probe or remedy.
    pub probe: &'a str,
    /// In words.
    pub title: &'a str,
    /// Attended minutes, unpaid access included.
    pub minutes: f64,
    /// Minutes until the answer is there.
    pub elapsed: f64,
    /// Hands that it takes at once, those at the controls included.
    pub hands: u8,
    /// What ranks it.
    pub value_per_minute: f64,
    /// What a healthy machine shows; nothing for a remedy.
    pub band: Option<BandForm>,
    /// What each outcome would mean.
    pub outcomes: Vec<Foreseen<'a>>,
    /// What to mind; empty when nothing.
    pub caution: &'a str,
    /// To be measured a second time.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub again: bool,
}

/// One outcome and what it would mean.
#[derive(Clone, Debug, Serialize)]
pub struct Foreseen<'a> {
    /// What would be seen.
    pub when: &'a str,
    /// Whom it would point at.
    pub means: &'a str,
    /// How likely it is now.
    pub probability: f64,
}

/// The verdict.
#[derive(Clone, Debug, Serialize)]
pub struct Reached<'a> {
    /// Likeliest first.
    pub faults: &'a [String],
    /// Faults present together, one list an alternative.
    pub any_of: &'a [Vec<String>],
    /// Whether the remedy and its proof have passed.
    pub proven: bool,
    /// Name of the remedy.
    pub remedy: &'a str,
    /// What the machine must show when reassembled.
    pub proof: Vec<MustShow<'a>>,
    /// Probability of the faults together.
    pub probability: f64,
    /// The remedy in words.
    pub title: &'a str,
    /// What to mind while doing it; empty when nothing.
    pub caution: &'a str,
    /// Whether a cause behind it is still to be found.
    pub consequence: bool,
    /// Whether it can be acted on; else what is next should be measured before.
    pub settled: bool,
    /// What cannot be seen today and has to hold before the cause is proven.
    pub pending: Option<String>,
}

/// Something that the repaired machine must show.
#[derive(Clone, Debug, Serialize)]
pub struct MustShow<'a> {
    /// Name of the probe.
    pub probe: &'a str,
    /// In words.
    pub title: &'a str,
    /// What it must show.
    pub band: BandForm,
    /// A start that must be refused.
    pub refusal: bool,
}

/// One reading's part.
#[derive(Clone, Debug, Serialize)]
pub struct Weighed<'a> {
    /// Name and value.
    pub reading: &'a str,
    /// In words.
    pub text: &'a str,
    /// Bits by which it raises the leader.
    pub weight: f64,
}

impl<'a> From<&'a Advice> for Advised<'a> {
    fn from(advice: &'a Advice) -> Self {
        let suspects = advice.suspects.iter().map(|suspect| Suspected {
            fault: &suspect.fault,
            title: &suspect.title,
            probability: suspect.probability,
        });
        let reasons = advice.reasons.iter().map(|reason| Weighed {
            reading: &reason.reading,
            text: &reason.text,
            weight: reason.weight,
        });
        Self {
            suspects: suspects.collect(),
            unexplained: advice.unexplained,
            next: advice.next.iter().map(Proposed::from).collect(),
            stop: advice.stop.map(diagnosis::Stop::name),
            verdict: advice.verdict.as_ref().map(Reached::from),
            keystone: advice.keystone.as_deref(),
            outliers: &advice.outliers,
            reasons: reasons.collect(),
        }
    }
}

impl<'a> From<&'a Step> for Proposed<'a> {
    fn from(step: &'a Step) -> Self {
        let outcomes = step.outcomes.iter().map(|outcome| Foreseen {
            when: &outcome.when,
            means: &outcome.means,
            probability: outcome.probability,
        });
        Self {
            probe: &step.probe,
            title: &step.title,
            minutes: step.minutes,
            elapsed: step.elapsed,
            hands: step.hands,
            value_per_minute: step.value_per_minute,
            band: step.band.as_ref().map(BandForm::from),
            outcomes: outcomes.collect(),
            caution: &step.caution,
            again: step.again,
        }
    }
}

impl<'a> From<&'a Verdict> for Reached<'a> {
    fn from(verdict: &'a Verdict) -> Self {
        let must_show = |check: &'a Check| MustShow {
            probe: &check.probe,
            title: &check.title,
            band: BandForm::from(&check.band),
            refusal: check.refusal,
        };
        Self {
            faults: &verdict.faults,
            any_of: &verdict.any_of,
            proven: verdict.proven,
            remedy: &verdict.remedy,
            proof: verdict.proof.iter().map(must_show).collect(),
            probability: verdict.probability,
            title: &verdict.remedy_title,
            caution: &verdict.caution,
            consequence: verdict.consequence,
            settled: verdict.settled,
            pending: verdict.pending.map(|pending| pending.to_string()),
        }
    }
}
