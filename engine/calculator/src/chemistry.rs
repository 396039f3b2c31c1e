//! What the chemistry of a starting battery settles when nobody says more: self-discharge, charge to start with,
//! efficiency of charging, inner resistance of a new one. All `from memory` or estimates, as said at each.
//! Promise: the words are those of a machine's sheet, in its order, so that an index means the same in both.
//! Limit: typical values of small starting batteries; the maker's data sheet knows better.

use libm::exp;
use quantity::Celsius;

/// Gas constant, J/(mol·K).
const GAS: f64 = 8.314_462_618;

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

    /// Share that it loses in thirty days at 25 °C standing alone (from memory: lithium and glass mat 1 to 3 %, flooded
    /// 3 to 6 %; a management board takes more).
    pub fn self_discharge(self) -> f64 {
        match self {
            Self::Lithium | Self::GlassMat => 0.02,
            Self::Flooded => 0.045,
        }
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

    /// Inner resistance of a new one at cranking current and 20 °C, Ω, by its capacity in Ah (estimates: 35 mΩ at 2.3 Ah
    /// of lithium; 150 and 240 mΩ·Ah of lead, as machines' sheets have it).
    pub fn new_resistance(self, ampere_hours: f64) -> f64 {
        let ohm_ampere_hours = match self {
            Self::Lithium => 35e-3 * 2.3,
            Self::GlassMat => 0.15,
            Self::Flooded => 0.24,
        };
        ohm_ampere_hours / ampere_hours
    }

    /// Least and most factor by which the inner resistance grows from one temperature to another (estimates of the
    /// activation energy: lithium 20 to 35 kJ/mol at cranking currents, lead 10 to 20).
    pub fn colder(self, from: Celsius, to: Celsius) -> (f64, f64) {
        let (least, most) = match self {
            Self::Lithium => (20e3, 35e3),
            Self::GlassMat | Self::Flooded => (10e3, 20e3),
        };
        let colder = 1.0 / to.kelvin() - 1.0 / from.kelvin();
        let (low, high) = (exp(least / GAS * colder), exp(most / GAS * colder));
        (low.min(high), low.max(high))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::own::tests::school;

    /// Pure Arrhenius, derived: 20 kJ/mol is 2.09, 2.92 and 4.20 from 25 °C to 0, −10 and −20; 35 kJ/mol 3.64, 6.54, 12.3.
    #[test]
    fn textbook_arrhenius_factors_derived() {
        for (celsius, least, most) in [(0.0, 2.09, 3.64), (-10.0, 2.92, 6.54), (-20.0, 4.20, 12.3)] {
            let (low, high) = Chemistry::Lithium.colder(Celsius(25.0), Celsius(celsius));
            assert!((low / least - 1.0).abs() < 5e-3 && (high / most - 1.0).abs() < 5e-3, "{low} {high}");
        }
        let (low, high) = Chemistry::Flooded.colder(Celsius(20.0), Celsius(40.0));
        assert!(low < high && high < 1.0);
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
