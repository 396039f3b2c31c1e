//! What charge a resting voltage stands for, and how little that says about lithium iron phosphate.
//! Law: the rest curve read backward, at both ends of what history and tables leave open. Range: hours without load.
//! Promise: low ≤ likely ≤ high. Limit: all cells live.

use libm::hypot;
use quantity::{Celsius, Volts};

use super::{Chemistry, Pack};

/// A charge with the range that is honest, shares from 0 to 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Guess {
    /// As low as it may be.
    pub low: f64,
    /// Best guess.
    pub likely: f64,
    /// As high as it may be.
    pub high: f64,
}

impl Pack {
    /// Charge from the voltage at rest, as read with a meter that may be off by so much. Lithium iron phosphate: history
    /// moves a cell by 5 to 25 mV (published hysteresis), so that the plateau says little. Flooded: 20 mV between table and
    /// Bode, the rest is standing time (estimate). Glass mat: other charts run 0.1 to 0.3 V higher, so that the same voltage
    /// is less charge there. Table and meter are added as squares.
    pub fn charge_from_rest(&self, rest: Volts, meter: Volts, at: Celsius) -> Guess {
        let (below, above) = match self.chemistry {
            Chemistry::LfpPower | Chemistry::LfpEnergy => (0.1, 0.1),
            Chemistry::Flooded => (0.05, 0.05),
            Chemistry::GlassMat => (0.25, 0.05),
        };
        let off = |table: f64| hypot(table, meter.0);
        let charge = |volts: f64| self.charge_at(volts, at);
        Guess { low: charge(rest.0 - off(below)), likely: charge(rest.0), high: charge(rest.0 + off(above)) }
    }

    /// Charge at which the posts show a voltage, by halving: the curve rises.
    fn charge_at(&self, volts: f64, at: Celsius) -> f64 {
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..40 {
            let middle = 0.5 * (low + high);
            if self.open_circuit(&self.rested(middle, at)).0 < volts { low = middle } else { high = middle }
        }
        0.5 * (low + high)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check;
    use quantity::AmpHours;

    #[test]
    fn law_a_resting_voltage_gives_its_charge_back_with_an_honest_range() {
        for chemistry in [Chemistry::LfpPower, Chemistry::LfpEnergy, Chemistry::Flooded, Chemistry::GlassMat] {
            let pack = Pack::new(chemistry, AmpHours(5.0));
            for (charge, celsius) in [(0.1, -10.0), (0.35, 20.0), (0.6, 30.0), (0.93, 0.0)] {
                let at = Celsius(celsius);
                let guess = pack.charge_from_rest(pack.open_circuit(&pack.rested(charge, at)), Volts(0.0), at);
                check(guess.likely, charge, 1e-6);
                assert!(guess.low < charge && charge < guess.high);
            }
        }
    }

    /// The plateau: 40 to 90 % within 0.19 V, history 0.1 V.
    #[test]
    fn law_lithium_iron_phosphate_hides_a_quarter_of_its_charge_either_way() {
        let width = |chemistry, volts| {
            let guess = Pack::new(chemistry, AmpHours(5.0)).charge_from_rest(Volts(volts), Volts(0.0), Celsius(25.0));
            guess.high - guess.low
        };
        for volts in [13.05, 13.1, 13.15, 13.2] {
            assert!((0.3..0.7).contains(&width(Chemistry::LfpPower, volts)), "{volts}");
        }
        assert!(width(Chemistry::Flooded, 12.4) < 0.15);
    }
}
