//! What a rest voltage says of the charge, and how little it says for lithium.
//! Law: the tables of `physics::lfp` and `physics::lead_acid`, read backwards at the battery's temperature; what the
//! table and the meter may be wrong by is added as squares.
//! Promise: a higher rest voltage is never less charge, and the likely charge lies within its range.
//! Limit: a battery that has stood for hours; a fresh charge or load shifts it by tenths of a volt.

use physics::{lead_acid, lfp};
use quantity::{Celsius, Face, Volts};

use crate::chemistry::Chemistry;

const CELLS: f64 = 4.0;
/// Rest voltage of lead rises by this a kelvin, V: 0.2 mV a cell (from memory).
pub const LEAD_WARMS: f64 = 1.2e-3;
/// Temperature of the tables, °C.
const TABLE_AT: f64 = 25.0;

/// A charge with its honest range, shares from 0 to 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Charge {
    /// Likely.
    pub likely: f64,
    /// Least.
    pub low: f64,
    /// Most.
    pub high: f64,
}

/// How far the true table may lie below and above the one used, V.
fn spread(chemistry: Chemistry) -> (f64, f64) {
    match chemistry {
        // Whether it was charged or discharged last shifts a cell by 5 to 25 mV (a metering firm's note).
        Chemistry::Lithium => (0.1, 0.1),
        // Other makers' tables have it 0.1 to 0.3 V higher: the same voltage is less charge there.
        Chemistry::GlassMat => (0.25, 0.05),
        // The table and the acid's own law agree within 20 mV; the rest is standing time (estimate).
        Chemistry::Flooded => (0.05, 0.05),
    }
}

/// Rest voltage at a charge and a temperature.
pub fn voltage(chemistry: Chemistry, charge: f64, at: Celsius) -> f64 {
    let lead = |kind: lead_acid::Kind| kind.rest_voltage(charge).0 + LEAD_WARMS * (at.0 - TABLE_AT);
    match chemistry {
        Chemistry::Lithium => CELLS * lfp::open_circuit(charge, at).0,
        Chemistry::GlassMat => lead(lead_acid::Kind::GlassMat),
        Chemistry::Flooded => lead(lead_acid::Kind::Flooded),
    }
}

/// The charge at which the table has a voltage.
fn table(chemistry: Chemistry, rest: f64, at: Celsius) -> f64 {
    let lead = |kind: lead_acid::Kind| kind.charge(Volts(rest - LEAD_WARMS * (at.0 - TABLE_AT)));
    match chemistry {
        Chemistry::Lithium => {
            // The curve rises all the way: halve what is left forty times.
            let (mut low, mut high) = (0.0, 1.0);
            for _ in 0..40 {
                let middle = 0.5 * (low + high);
                if voltage(chemistry, middle, at) < rest { low = middle } else { high = middle }
            }
            0.5 * (low + high)
        }
        Chemistry::GlassMat => lead(lead_acid::Kind::GlassMat),
        Chemistry::Flooded => lead(lead_acid::Kind::Flooded),
    }
}

/// The charge that a rest voltage stands for, as read with an ordinary handheld meter.
pub fn charge(chemistry: Chemistry, rest: f64, at: Celsius) -> Charge {
    let meter = Face::volts().uncertainty(rest);
    let (below, above) = spread(chemistry);
    let off = |table: f64| libm::hypot(table, meter);
    Charge {
        likely: table(chemistry, rest, at),
        low: table(chemistry, rest - off(below), at),
        high: table(chemistry, rest + off(above), at),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: [Chemistry; 3] = [Chemistry::Lithium, Chemistry::GlassMat, Chemistry::Flooded];

    /// The classic table, from memory; Bode's polynomials give 12.665, 12.26 and 11.89 V, within 20 mV of it.
    #[test]
    fn textbook_flooded_voltages_are_their_charges_from_memory() {
        for (volts, expected) in [(12.65, 1.0), (12.45, 0.75), (12.24, 0.5), (12.06, 0.25), (11.89, 0.0)] {
            let found = charge(Chemistry::Flooded, volts, Celsius(25.0));
            assert!((found.likely - expected).abs() < 1e-9, "{volts} {found:?}");
        }
    }

    /// Four cells of the open LFP set: 13.1124 V is 50 %, and nobody can tell it better than to about a quarter (derived
    /// from 25 mV of hysteresis a cell).
    #[test]
    fn textbook_the_plateau_of_lithium_hides_a_quarter_derived() {
        let found = charge(Chemistry::Lithium, 4.0 * 3.2781, Celsius(25.0));
        assert!((found.likely - 0.5).abs() < 1e-6, "{found:?}");
        assert!(found.high - found.low > 0.45, "{found:?}");
    }

    #[test]
    fn law_a_higher_rest_voltage_is_never_less_charge() {
        for chemistry in ALL {
            for celsius in [-20.0, 0.0, 25.0, 45.0] {
                let mut last = Charge { likely: 0.0, low: 0.0, high: 0.0 };
                for step in 0..140 {
                    let now = charge(chemistry, 8.0 + 0.05 * f64::from(step), Celsius(celsius));
                    assert!(now.low <= now.likely && now.likely <= now.high, "{now:?}");
                    assert!(now.likely >= last.likely && now.low >= last.low && now.high >= last.high, "{now:?}");
                    last = now;
                }
            }
        }
    }

    #[test]
    fn law_a_warm_lead_battery_shows_more_for_the_same_charge() {
        let at = |celsius| charge(Chemistry::Flooded, 12.4, Celsius(celsius)).likely;
        assert!(at(-10.0) > at(25.0) && at(25.0) > at(40.0));
    }
}
