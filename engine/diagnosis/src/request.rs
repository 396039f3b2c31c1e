//! What is known of a job, as given: complaint, conditions, readings in order; read and checked in one go.

use machine::probe::name::BadProbe;
use machine::probe::{Question, SINCE, Sort};
use machine::{Fault, Instrument, Machine, Probe};
use quantity::{Celsius, Dimension, Expect, Ohms, ReadError, Reading};

use crate::complaint::{self, COMPLAINTS, Complaint};

/// What is known of a job.
#[derive(Clone, Debug, PartialEq)]
pub struct Request {
    /// Name of the complaint.
    pub complaint: Option<String>,
    /// Name and value of each reading, in order.
    pub readings: Vec<(String, String)>,
    /// Instruments at hand; nothing when all are.
    pub instruments: Option<Vec<String>>,
    /// Air temperature, if known.
    pub air: Option<Celsius>,
    /// A verdict needs this probability.
    pub confirm: f64,
}

impl Default for Request {
    fn default() -> Self {
        Self { complaint: None, readings: Vec::new(), instruments: None, air: None, confirm: 0.95 }
    }
}

/// The instruments that a probe may want, as `--instruments` names them.
pub const INSTRUMENTS: &[&str] = &["meter", "clamp", "lamp", "eyes", "jumper", "caliper", "owner"];

/// Something in a request that cannot be used.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum BadRequest {
    /// No such complaint.
    #[error("no complaint is called `{0}`")]
    Complaint(String),
    /// No such instrument.
    #[error("no instrument is called `{0}`")]
    Instrument(String),
    /// Not a probe of this machine.
    #[error("{0}")]
    Probe(BadProbe),
    /// A remedy of that name does not exist.
    #[error("no remedy is called `{0}`")]
    Remedy(String),
    /// A value that cannot be read.
    #[error("the value of `{name}`: {source}")]
    Value {
        /// The reading's name.
        name: String,
        /// What was wrong with it.
        source: ReadError,
    },
    /// A probability out of range.
    #[error("confirm wants a probability above 0.5 and below 1, found {0}")]
    Confirm(f64),
}

impl BadRequest {
    /// What would be allowed.
    pub fn allowed(&self) -> String {
        match self {
            Self::Complaint(_) => COMPLAINTS.iter().map(|known| known.name).collect::<Vec<_>>().join(", "),
            Self::Instrument(_) => INSTRUMENTS.join(", "),
            Self::Probe(_) => BadProbe::ALLOWED.to_owned(),
            Self::Remedy(_) => "try:VERB@PART with a verb that mends one of the part's faults".to_owned(),
            Self::Value { source, .. } => source.allowed.clone(),
            Self::Confirm(_) => "above 0.5 and below 1".to_owned(),
        }
    }

    /// What to do next.
    pub fn hint(&self) -> Option<String> {
        match self {
            Self::Value { source, .. } => source.hint.clone(),
            Self::Probe(BadProbe::Unknown(unknown)) if !unknown.near.is_empty() => {
                Some(format!("did you mean `{}`?", unknown.near.join("`, `")))
            }
            _ => None,
        }
    }
}

/// One entry of a job, read.
#[derive(Clone, Debug, PartialEq)]
pub enum Entry {
    /// A probe and what it showed.
    Took(Probe, Reading),
    /// A probe that could not be taken.
    Skipped(Probe),
    /// What happened since it last worked, by index of [`SINCE`].
    Since(usize),
    /// A remedy tried: verb, part's name, whether it fixed the machine.
    Tried {
        /// The remedy's verb.
        verb: String,
        /// The part's name.
        part: String,
        /// Whether it fixed the machine.
        fixed: bool,
    },
    /// `safe:battery-off`: the battery's negative lead is lifted, so that nothing runs any more.
    MadeSafe,
    /// Whether the repair has held up since.
    HeldUp(bool),
    /// A check of the meter itself, and what it showed.
    Checked(MeterCheck, Reading),
}

/// A check of the meter itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MeterCheck {
    /// `meter:leads`: both tips held together, ohms.
    Leads,
    /// `meter:battery`: a battery that is known, volts.
    Battery,
    /// `meter:amps`: a load that is known, amperes.
    Amps,
}

/// What is known of the ammeter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Ammeter {
    /// Nothing: its zero does not count yet.
    Untried,
    /// It has shown a current.
    Shows,
    /// It shows nothing where a current flows.
    Dead,
}

/// A known load draws more than this.
const KNOWN_LOAD: f64 = 0.05;
/// An ammeter's number up to this is its zero.
pub(crate) const AMMETER_ZERO: f64 = 1e-3;

/// A request, read.
#[derive(Clone, Debug)]
pub(crate) struct Known {
    pub(crate) complaint: Option<&'static Complaint>,
    pub(crate) entries: Vec<Entry>,
}

impl Known {
    /// What is known of the ammeter: its last check, or that it has shown a current since.
    pub(crate) fn ammeter(&self) -> Ammeter {
        let said = |entry: &Entry| match entry {
            Entry::Checked(MeterCheck::Amps, Reading::Number(amps)) if amps.abs() < KNOWN_LOAD => Some(Ammeter::Dead),
            Entry::Checked(MeterCheck::Amps, Reading::Number(_) | Reading::Word(_)) => Some(Ammeter::Shows),
            Entry::Took(probe, reading) if is_ammeter(probe) && !is_zero(reading) => Some(Ammeter::Shows),
            _ => None,
        };
        self.entries.iter().rev().find_map(said).unwrap_or(Ammeter::Untried)
    }

    /// What the leads have shown with both tips held together, ohms.
    fn leads(&self) -> Option<f64> {
        /// More than this is a bad contact of the tips.
        const MOST: f64 = 2.0;
        let shown = |entry: &Entry| match entry {
            Entry::Checked(MeterCheck::Leads, Reading::Number(ohms)) if (0.0..MOST).contains(ohms) => Some(*ohms),
            _ => None,
        };
        self.entries.iter().rev().find_map(shown)
    }

    /// A reading as the machine's own meter would have shown it: of ohms, with that meter's leads in place of those that
    /// were measured.
    pub(crate) fn with_leads(&self, leads: Ohms, probe: &Probe, reading: &Reading) -> Reading {
        match (probe.sort, reading, self.leads()) {
            (Sort::Meter(Instrument::Ohms, _), Reading::Number(ohms), Some(measured)) => {
                Reading::Number(ohms - measured + leads.0)
            }
            _ => reading.clone(),
        }
    }

    /// Whether a reading counts: an ammeter's zero does not before the ammeter has shown a current.
    pub(crate) fn counts(&self, probe: &Probe, reading: &Reading) -> bool {
        !(is_ammeter(probe) && is_zero(reading)) || self.ammeter() == Ammeter::Shows
    }

    /// Whether a remedy, by its name, has been tried.
    pub(crate) fn tried(&self, name: &str) -> bool {
        self.times_tried(name) > 0
    }

    /// How often a remedy, by its name, has been tried.
    pub(crate) fn times_tried(&self, name: &str) -> usize {
        let is =
            |entry: &&Entry| matches!(entry, Entry::Tried { verb, part, .. } if name == format!("try:{verb}@{part}"));
        self.entries.iter().filter(is).count()
    }

    /// Whether a remedy, by its name, has fixed the machine.
    pub(crate) fn fixed_by(&self, name: &str) -> bool {
        let is = |entry: &Entry| matches!(entry, Entry::Tried { verb, part, fixed: true } if name == format!("try:{verb}@{part}"));
        self.entries.iter().any(is)
    }

    /// Whether an entry says that the repair as it is now has held up; what was said of one that came back does not count.
    pub(crate) fn holds_up(&self, index: usize) -> bool {
        self.entries[index] == Entry::HeldUp(true) && after_repair(&self.entries[..index])
    }
}

impl Request {
    /// Reads and checks everything; the first thing that cannot be used is named.
    pub(crate) fn read(&self, machine: &Machine, faults: &[Fault]) -> Result<Known, BadRequest> {
        if !(self.confirm > 0.5 && self.confirm < 1.0) {
            return Err(BadRequest::Confirm(self.confirm));
        }
        let complaint = match &self.complaint {
            Some(name) => Some(complaint::find(name.trim()).ok_or_else(|| BadRequest::Complaint(name.clone()))?),
            None => None,
        };
        for instrument in self.instruments.iter().flatten() {
            if !INSTRUMENTS.contains(&instrument.trim()) {
                return Err(BadRequest::Instrument(instrument.clone()));
            }
        }
        let entries = self.readings.iter().map(|(name, value)| entry(machine, faults, name.trim(), value));
        let mut entries: Vec<Entry> = entries.collect::<Result<_, _>>()?;
        // A comeback reopens the job: what seemed to have fixed the machine has not.
        if let Some(comeback) = entries.iter().rposition(|entry| *entry == Entry::HeldUp(false)) {
            for entry in &mut entries[..comeback] {
                if let Entry::Tried { fixed, .. } = entry {
                    *fixed = false;
                }
            }
        }
        Ok(Known { complaint, entries })
    }

    /// Whether an instrument is at hand.
    pub(crate) fn has(&self, instrument: &str) -> bool {
        // Eyes, ears and the owner are always there.
        matches!(instrument, "eyes" | "owner")
            || self.instruments.as_ref().is_none_or(|all| all.iter().any(|known| known.trim() == instrument))
    }
}

/// Reads one reading of a job, or says what is wrong with it.
///
/// # Errors
/// When the name is no probe or remedy of this machine, or the value is not of its kind.
pub fn entry(machine: &Machine, faults: &[Fault], name: &str, value: &str) -> Result<Entry, BadRequest> {
    let bad_value = |source| BadRequest::Value { name: name.to_owned(), source };
    let words = |all: &[&str]| Expect::Words(all.iter().map(|word| (*word).to_owned()).collect());
    if name == "safe:battery-off" {
        Reading::read(value, words(&["off", "ok"])).map_err(bad_value)?;
        return Ok(Entry::MadeSafe);
    }
    if name == "ask:held-up" {
        let reading = Reading::read(value, words(&["yes", "no"])).map_err(bad_value)?;
        return Ok(Entry::HeldUp(reading == Reading::Word("yes".to_owned())));
    }
    if let Some((check, dimension)) = meter_check(name) {
        let expect = Expect::QuantityOrWords(dimension, vec!["ok".to_owned()]);
        return Ok(Entry::Checked(check, Reading::read(value, expect).map_err(bad_value)?));
    }
    if let Some(remedy) = name.strip_prefix("try:") {
        let known = remedy.split_once('@').filter(|(verb, part)| {
            faults.iter().any(|fault| fault.remedy.verb == *verb && part_name(machine, fault) == *part)
        });
        let (verb, part) = known.ok_or_else(|| BadRequest::Remedy(name.to_owned()))?;
        let reading = Reading::read(value, words(&["fixed", "same"])).map_err(bad_value)?;
        let fixed = reading == Reading::Word("fixed".to_owned());
        return Ok(Entry::Tried { verb: verb.to_owned(), part: part.to_owned(), fixed });
    }
    let probe = machine.probe(name).map_err(BadRequest::Probe)?;
    let expect = if probe.words().is_empty() {
        Expect::Quantity(probe.dimension())
    } else if probe.dimension() == Dimension::Ratio {
        words(probe.words())
    } else {
        // A test lamp: a word, or the volts across it.
        Expect::QuantityOrWords(probe.dimension(), probe.words().iter().map(|word| (*word).to_owned()).collect())
    };
    let reading = Reading::read(value, expect).map_err(bad_value)?;
    Ok(match (probe.sort, reading) {
        (_, Reading::Skip) => Entry::Skipped(probe),
        (Sort::Ask(Question::Since), Reading::Word(word)) => {
            Entry::Since(SINCE.iter().position(|known| *known == word).unwrap_or(0))
        }
        (_, Reading::Number(volts)) if !probe.words().is_empty() => {
            let word = machine::meter::lamp_word(volts).to_owned();
            Entry::Took(probe, Reading::Word(word))
        }
        (_, reading) => Entry::Took(probe, reading),
    })
}

/// The check of that name, and what it reads.
fn meter_check(name: &str) -> Option<(MeterCheck, Dimension)> {
    match name {
        "meter:leads" => Some((MeterCheck::Leads, Dimension::Resistance)),
        "meter:battery" => Some((MeterCheck::Battery, Dimension::Voltage)),
        "meter:amps" => Some((MeterCheck::Amps, Dimension::Current)),
        _ => None,
    }
}

pub(crate) fn is_ammeter(probe: &Probe) -> bool {
    matches!(probe.sort, Sort::Meter(Instrument::Amps, _))
}

fn is_zero(reading: &Reading) -> bool {
    matches!(reading, Reading::Number(amps) if amps.abs() <= AMMETER_ZERO)
}

/// The name of a fault's part, or the fault's own name when it has none.
pub fn part_name<'a>(machine: &'a Machine, fault: &'a Fault) -> &'a str {
    fault.part.map_or(fault.name.as_str(), |part| machine.sheet.parts[part].name.name.as_str())
}

/// Whether the machine has been mended by then: what is read afterwards is proof, not evidence.
pub(crate) fn after_repair(before: &[Entry]) -> bool {
    before.iter().any(|entry| matches!(entry, Entry::Tried { fixed: true, .. }))
}
