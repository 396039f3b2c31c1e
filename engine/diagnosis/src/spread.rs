//! How far readings lie from what a world shows: the meter's accuracy, and what clean contacts and probe tips differ by.
//! Law: σ² = (accuracy/2)² + (spread of the point)². Source: docs/oracles.md for why the spread belongs into σ; the
//! spreads themselves are estimates.

use libm::sqrt;
use machine::probe::Sort;
use machine::{Instrument, Probe};
use quantity::{Dimension, Face};

/// Standard deviation of a reading about what a world shows: half the meter's accuracy, and the spread that clean
/// contacts and probe tips have among themselves.
pub fn sigma(probe: &Probe, value: f64) -> f64 {
    Spread::of(probe).at(value)
}

/// The spread of one probe's readings, ready to be asked often.
pub(crate) struct Spread {
    face: Option<Face>,
    floor: f64,
    share: f64,
}

impl Spread {
    pub(crate) fn of(probe: &Probe) -> Self {
        let Sort::Meter(instrument, _) = probe.sort else { return Self { face: None, floor: 0.02e-3, share: 0.05 } };
        let loaded = probe.state.starts_with("held") || probe.state == "pull-in";
        let (floor, share) = match instrument.dimension() {
            Dimension::Voltage if loaded => (0.012, 0.015),
            Dimension::Voltage => (0.006, 0.006),
            Dimension::Resistance => (0.04, 0.03),
            _ if instrument == Instrument::Clamp => (0.5, 0.03),
            _ => (0.2e-3, 0.05),
        };
        Self { face: probe.face.clone(), floor, share }
    }

    pub(crate) fn at(&self, value: f64) -> f64 {
        if !value.is_finite() {
            return f64::INFINITY;
        }
        let (meter, point) = self.parts(value);
        sqrt(meter * meter + point * point)
    }

    /// The two parts of it: what the meter adds at each reading, and how far this point lies from others of its sort.
    pub(crate) fn parts(&self, value: f64) -> (f64, f64) {
        let meter = self.face.as_ref().map_or(0.0, |face| 0.5 * face.uncertainty(value));
        (meter, self.floor + self.share * value.abs())
    }
}
