//! Probes and their healthy bands, as listed: the JSON form, and how a band looks on the instrument's own display.
//! Promise: the bands are those that advice is given with; ids are unique and `read` takes every one of them.

use diagnosis::Desk;
use diagnosis::advice::Band;
use machine::{Machine, Probe};
use quantity::Celsius;
use serde::Serialize;

/// One probe of the list.
#[derive(Clone, Debug, Serialize)]
pub struct Listed<'a> {
    /// Its name.
    pub id: &'a str,
    /// In the technician's words.
    pub title: &'a str,
    /// What is needed at hand.
    pub instrument: &'static str,
    /// What is done with it: `volts`, `ohms`, `listen` …
    pub mode: &'a str,
    /// Point of the red lead.
    pub red: Option<&'a str>,
    /// Point of the black lead.
    pub black: Option<&'a str>,
    /// Operating state.
    pub state: &'a str,
    /// How to get into the state.
    pub setup: &'a [String],
    /// The place that is the most work to get at; nothing when all is open.
    pub place: Option<&'a str>,
    /// Attended minutes, access apart.
    pub minutes: f64,
    /// What to mind.
    pub hazard: Option<String>,
    /// What healthy machines show.
    pub band: BandForm,
}

/// A band in its JSON form.
#[derive(Clone, Debug, Serialize)]
#[serde(untagged)]
pub enum BandForm {
    /// Between two numbers, in SI.
    Between {
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
        /// Unit of both.
        unit: &'static str,
    },
    /// A word, or `OL`.
    Expected {
        /// The word.
        expected: String,
    },
}

impl From<&Band> for BandForm {
    fn from(band: &Band) -> Self {
        match band {
            Band::Between { low, high, unit } => Self::Between { low: *low, high: *high, unit },
            Band::Expected(word) => Self::Expected { expected: word.clone() },
        }
    }
}

/// The probes that the wiring suggests, each with its column in the table of readings and its band.
pub fn listed(desk: &Desk, air: Option<Celsius>) -> impl Iterator<Item = (&Probe, Band)> {
    desk.probes().iter().enumerate().map(move |(column, probe)| (probe, desk.band(column, air)))
}

impl<'a> Listed<'a> {
    /// The form of a probe with its band.
    pub fn new(machine: &'a Machine, probe: &'a Probe, band: &Band) -> Self {
        let point = |name: &'a str| (!name.is_empty()).then_some(name);
        let hazard = hazard(machine, probe);
        Self {
            id: &probe.name,
            title: &probe.title,
            instrument: probe.instrument(),
            mode: probe.name.split(['@', ':']).next().unwrap_or_default(),
            red: point(&probe.red),
            black: point(&probe.black),
            state: &probe.state,
            setup: &probe.setup,
            place: place(machine, probe).map(|place| machine.sheet.places[place].name.name.as_str()),
            minutes: probe.minutes,
            hazard: (!hazard.is_empty()).then_some(hazard),
            band: band.into(),
        }
    }
}

/// The place of a probe that is the most work to get at.
pub fn place(machine: &Machine, probe: &Probe) -> Option<usize> {
    let access = |place: &usize| machine.sheet.places[*place].access_minutes;
    probe.places.iter().copied().max_by(|left, right| access(left).total_cmp(&access(right)))
}

/// What to mind at a probe and at the places that it needs; empty when nothing.
pub fn hazard(machine: &Machine, probe: &Probe) -> String {
    let mut notes: Vec<&str> = vec![probe.caution.as_str()];
    for place in &probe.places {
        let note = machine.sheet.places[*place].caution.as_str();
        if !notes.contains(&note) {
            notes.push(note);
        }
    }
    notes.retain(|note| !note.is_empty());
    notes.join("; ")
}

/// A band as the instrument shows it, short: `12.91..13.40 V`, `<35.0 mV` on either side of nothing, a word.
pub fn displayed_band(probe: &Probe, band: &Band) -> String {
    match band {
        Band::Expected(word) => word.clone(),
        Band::Between { low, high, .. } if *low < 0.0 && *high > 0.0 => {
            format!("<{}", probe.display(low.abs().max(*high)))
        }
        Band::Between { low, high, .. } => {
            let (low, high) = (probe.display(*low), probe.display(*high));
            match (low.split_once(' '), high.split_once(' ')) {
                (Some((number, unit)), Some((_, other))) if unit == other => format!("{number}..{high}"),
                _ => format!("{low}..{high}"),
            }
        }
    }
}
