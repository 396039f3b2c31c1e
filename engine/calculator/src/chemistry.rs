//! What the chemistry of a starting battery settles when nobody says more: its cells ([`physics::pack`]), what a rest
//! voltage says of it, charge to start with, efficiency of charging. The last two are `from memory` or estimates.
//! Promise: the words are those of a machine's sheet, in its order, so that an index means the same in both.
//! Limit: typical values of small starting batteries; the maker's data sheet knows better.

use libm::pow;
use physics::pack::{self, Guess, Pack};
use quantity::{AmpHours, Celsius, Face, Volts};

/// What is in a battery.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Chemistry {
    /// Lithium iron phosphate, four cells.
    Lithium,
    /// Acid in a glass mat.
    GlassMat,
    /// Free acid.
    Flooded,
}

impl Chemistry {
    /// The words of a sheet, in its order.
    pub const WORDS: &'static [&'static str] = &["lfp-4s", "agm", "flooded"];

    /// By the index of its word.
    pub fn of(index: f64) -> Self {
        match index as usize {
            0 => Self::Lithium,
            1 => Self::GlassMat,
            _ => Self::Flooded,
        }
    }

    /// In the technician's words.
    pub fn title(self) -> &'static str {
        match self {
            Self::Lithium => "lithium (LFP)",
            Self::GlassMat => "glass mat (AGM)",
            Self::Flooded => "flooded lead-acid",
        }
    }

    /// Its cells, as those of a starting battery are taken to be.
    pub fn cells(self) -> pack::Chemistry {
        match self {
            Self::Lithium => pack::Chemistry::LfpPower,
            Self::GlassMat => pack::Chemistry::GlassMat,
            Self::Flooded => pack::Chemistry::Flooded,
        }
    }

    /// A new pack of it; what rest voltages say does not depend on its size.
    pub fn pack(self) -> Pack {
        Pack::new(self.cells(), AmpHours(1.0))
    }

    /// The charge that a rest voltage stands for, as read with an ordinary handheld meter.
    pub fn charge(self, rest: f64, at: Celsius) -> Guess {
        self.pack().charge_from_rest(Volts(rest), Volts(Face::volts().uncertainty(rest)), at)
    }

    /// Rest voltage at a charge and a temperature.
    pub fn rest_voltage(self, charge: f64, at: Celsius) -> Volts {
        let pack = self.pack();
        pack.open_circuit(&pack.rested(charge, at))
    }

    /// Charge below which it will hardly start an engine (estimate).
    pub fn least_to_start(self) -> f64 {
        match self {
            Self::Lithium => 0.2,
            Self::GlassMat | Self::Flooded => 0.5,
        }
    }

    /// Share of the charge put in that comes out again (from memory: lithium 0.99, lead 0.85 to 0.95).
    pub fn efficiency(self) -> f64 {
        match self {
            Self::Lithium => 0.99,
            Self::GlassMat => 0.95,
            Self::Flooded => 0.85,
        }
    }

    /// Least and most factor by which the inner resistance grows from one temperature to another: of lithium what two
    /// published sets give, a power and an energy cell; of lead a third either way of its cell's energies (estimate).
    pub fn colder(self, from: Celsius, to: Celsius) -> (f64, f64) {
        let factor = |cells: pack::Chemistry| cells.colder(to) / cells.colder(from);
        let (one, other) = match self {
            Self::Lithium => (factor(pack::Chemistry::LfpPower), factor(pack::Chemistry::LfpEnergy)),
            lead => (pow(factor(lead.cells()), 2.0 / 3.0), pow(factor(lead.cells()), 4.0 / 3.0)),
        };
        (one.min(other), one.max(other))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::own::tests::school;

    /// First instant of a pulse, computed with a porous-electrode model (PyBaMM): the power cell of Prada 2013 at 20 C has
    /// 1.29 times its resistance of 25 °C at 0 °C, the energy cell of the BPX example at 5 C 1.52 times.
    #[test]
    fn textbook_cold_factors_span_what_two_open_sets_give() {
        let (low, high) = Chemistry::Lithium.colder(Celsius(25.0), Celsius(0.0));
        assert!(low > 1.25 && low < high && (high - 1.52).abs() < 0.05, "{low} to {high}");
        for chemistry in [Chemistry::Lithium, Chemistry::GlassMat, Chemistry::Flooded] {
            let (low, high) = chemistry.colder(Celsius(20.0), Celsius(-18.0));
            assert!(1.0 < low && low < high, "{low} to {high}");
            let (low, high) = chemistry.colder(Celsius(20.0), Celsius(40.0));
            assert!(low < high && high < 1.0, "{low} to {high}");
        }
    }

    /// Four cells of the open set: 13.1124 V is 50 %, and nobody can tell it better than to about a quarter (derived from
    /// 25 mV of hysteresis a cell).
    #[test]
    fn textbook_the_plateau_of_lithium_hides_a_quarter_derived() {
        let found = Chemistry::Lithium.charge(4.0 * 3.2781, Celsius(25.0));
        assert!((found.likely - 0.5).abs() < 0.01, "{found:?}");
        assert!(found.low < 0.35 && found.high > 0.65, "{found:?}");
    }

    #[test]
    fn law_a_higher_rest_voltage_is_never_less_charge() {
        for chemistry in [Chemistry::Lithium, Chemistry::GlassMat, Chemistry::Flooded] {
            for celsius in [-20.0, 0.0, 25.0, 45.0] {
                let guesses = (0..140).map(|step| chemistry.charge(8.0 + 0.05 * f64::from(step), Celsius(celsius)));
                let guesses: Vec<Guess> = guesses.collect();
                assert!(guesses.is_sorted_by(|one, next| one.likely <= next.likely && one.low <= next.low));
                assert!(guesses.iter().all(|guess| guess.low <= guess.likely && guess.likely <= guess.high));
            }
        }
    }

    #[test]
    fn law_the_words_are_the_sheets_own() {
        for (id, title) in
            [("curlew", "lithium (LFP)"), ("dunlin", "glass mat (AGM)"), ("dabchick", "flooded lead-acid")]
        {
            let index = crate::own::of_battery(&school(id), "chemistry").unwrap();
            assert_eq!(Chemistry::of(index).title(), title, "{id}");
        }
    }
}
