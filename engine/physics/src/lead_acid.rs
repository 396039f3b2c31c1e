//! A lead-acid battery at rest: what its acid says, and what charge a voltage stands for.
//! Law: each electrode's potential is a polynomial in log₁₀ of the acid's molality (Bode 1977, as carried by the published
//! set of Sulzer 2019). Rest voltages by charge: the classic tables of flooded and of glass-mat batteries (handbook
//! table `from memory`, agreeing with Bode within 20 mV; glass mat from one published chart, others run 0.1 to 0.3 V
//! higher). Cold cranking: SAE J537 and EN 50342-1, whose scope leaves motorcycles out.
//! Limit: a battery that has stood for hours; a fresh charge or load shifts it by some tenths of a volt.

use libm::{log10, pow};
use quantity::{AmpHours, Amps, Celsius, Ohms, Seconds, Volts};

use crate::sag::{Exchange, Sag};
use crate::table::interpolate;

/// A cell of a glass-mat battery of 17 Ah, after the published set of Sulzer 2019, fitted to its porous-electrode model
/// (PyBaMM; 21.7 °C, full, 0.1 to 15 C): 3.4 mV rms over six cells in bursts of 5 to 30 s with their rests, 26 mV at most
/// after 30 s at 10 C. That set knows no temperature: conduction 12 kJ/mol as sulfuric acid of this strength (`from
/// memory`), diffusion 20 and exchange 50 kJ/mol (estimate).
pub const CELL: Sag = Sag {
    capacity: AmpHours(17.0),
    ohmic: Ohms(0.2923e-3),
    pore: Ohms(0.1940e-3),
    conduction_energy: 12_000.0,
    exchange: [
        Exchange { current: Amps(12_810.0), energy: 50_000.0, empty: 0.5, full: 0.5 },
        Exchange { current: Amps(17.76), energy: 50_000.0, empty: 0.5, full: 0.5 },
    ],
    tail: Ohms(0.0196e-3),
    tail_time: Seconds(3.99),
    lag: 0.924,
    lag_time: Seconds(198.0),
    lag_energy: 20_000.0,
};

/// Change of a cell's open-circuit voltage near full, mV/K (`from memory`).
pub const ENTROPY: f64 = 0.2;

/// Charge, rest voltage of a 12 V battery. The glass mat's chart says only "below 11.6 V" of the empty end: 11.5 V is an
/// estimate.
const FLOODED: [(f64, f64); 5] = [(0.0, 11.89), (0.25, 12.06), (0.5, 12.24), (0.75, 12.45), (1.0, 12.65)];
const GLASS_MAT: [(f64, f64); 5] = [(0.0, 11.5), (0.2, 11.7), (0.5, 12.1), (0.7, 12.3), (1.0, 12.7)];

/// Charge, volts of a cell at 25 °C, mV/K.
const fn by_cell(rows: [(f64, f64); 5]) -> [(f64, f64, f64); 5] {
    let mut cells = [(0.0, 0.0, ENTROPY); 5];
    let mut at = 0;
    while at < rows.len() {
        cells[at] = (rows[at].0, rows[at].1 / CELLS, ENTROPY);
        at += 1;
    }
    cells
}

/// Cells of a 12 V battery.
pub const CELLS: f64 = 6.0;

/// Voltage of a cell by the molality of its acid, mol/kg. Range: 1 to 7.
pub fn cell_by_molality(molality: f64) -> Volts {
    let log = log10(molality);
    let polynomial = |terms: [f64; 5]| terms.into_iter().rev().fold(0.0, |sum, term| sum * log + term);
    let positive = polynomial([1.628, 0.074, 0.033, 0.043, 0.022]);
    let negative = polynomial([-0.294, -0.074, -0.030, -0.031, -0.012]);
    Volts(positive - negative)
}

/// Molality of an acid by its share of mass.
pub fn molality(acid: f64) -> f64 {
    /// Molar mass of sulfuric acid, kg/mol.
    const MOLAR_MASS: f64 = 0.098_078;
    acid / (1.0 - acid) / MOLAR_MASS
}

/// How the acid is held.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Free acid.
    Flooded,
    /// Acid in a glass mat.
    GlassMat,
}

impl Kind {
    fn rest(self) -> &'static [(f64, f64)] {
        match self {
            Self::Flooded => &FLOODED,
            Self::GlassMat => &GLASS_MAT,
        }
    }

    /// The same for a cell, with its change with temperature: charge, volts at 25 °C, mV/K.
    pub fn cell_curve(self) -> &'static [(f64, f64, f64)] {
        const BY_CELL: [[(f64, f64, f64); 5]; 2] = [by_cell(FLOODED), by_cell(GLASS_MAT)];
        &BY_CELL[self as usize]
    }

    /// Rest voltage of a 12 V battery at a charge, a share from 0 to 1.
    pub fn rest_voltage(self, charge: f64) -> Volts {
        Volts(interpolate(charge, self.rest().iter().copied()))
    }

    /// Charge that a rest voltage stands for, from 0 to 1.
    pub fn charge(self, rest: Volts) -> f64 {
        interpolate(rest.0, self.rest().iter().map(|(charge, volts)| (*volts, *charge)))
    }
}

/// Time to empty at a current (Peukert): capacity as rated over `rated_over`. Not valid at cranking rates.
pub fn time_to_empty(capacity: AmpHours, rated_over: Seconds, exponent: f64, current: Amps) -> Seconds {
    let rated_hours = rated_over.0 / 3600.0;
    Seconds(rated_over.0 * pow(capacity.0 / (current.0 * rated_hours), exponent))
}

/// A standard test of cold cranking: the rated current is held, and the voltage must stay above this.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ColdCrankTest {
    /// Name of the standard.
    pub standard: &'static str,
    /// Temperature of the battery.
    pub at: Celsius,
    /// When the voltage is read.
    pub after: Seconds,
    /// Least voltage.
    pub least: Volts,
}

/// Tests of cold cranking, as transcribed on a battery maker's page.
pub const COLD_CRANK_TESTS: [ColdCrankTest; 2] = [
    ColdCrankTest { standard: "SAE J537", at: Celsius(-18.0), after: Seconds(30.0), least: Volts(7.2) },
    ColdCrankTest { standard: "EN 50342-1", at: Celsius(-18.0), after: Seconds(10.0), least: Volts(7.5) },
];

impl ColdCrankTest {
    /// The most that a battery which passes may have as internal resistance, from a rest voltage.
    pub fn most_resistance(&self, rest: Volts, rated: Amps) -> Ohms {
        (rest - self.least) / rated
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check;

    #[test]
    fn textbook_bode_1977() {
        let expected = [11.532, 11.847, 12.101, 12.327, 12.538, 12.736, 12.924];
        for (molality, volts) in (1..).zip(expected) {
            check(CELLS * cell_by_molality(f64::from(molality)).0, volts, 1e-3);
        }
    }

    #[test]
    fn textbook_the_handbook_table_from_memory_agrees_with_bode() {
        for (charge, acid) in [(1.0, 0.356), (0.75, 0.308), (0.5, 0.265), (0.25, 0.220), (0.0, 0.174)] {
            check(CELLS * cell_by_molality(molality(acid)).0, Kind::Flooded.rest_voltage(charge).0, 0.02);
        }
    }

    #[test]
    fn law_a_rest_voltage_tells_its_charge_back() {
        for kind in [Kind::Flooded, Kind::GlassMat] {
            for charge in [0.0, 0.1, 0.37, 0.5, 0.8, 1.0] {
                check(kind.charge(kind.rest_voltage(charge)), charge, 1e-9);
            }
            assert_eq!((kind.charge(Volts(9.0)), kind.charge(Volts(14.0))), (0.0, 1.0));
        }
    }

    #[test]
    fn textbook_peukert() {
        let hours = |capacity, exponent, amps| {
            time_to_empty(AmpHours(capacity), Seconds(20.0 * 3600.0), exponent, Amps(amps)).0 / 3600.0
        };
        check(hours(120.0, 1.4, 120.0), 0.302, 2e-3); // an example on a public page
        check(hours(100.0, 1.2, 10.0), 8.71, 5e-3); // derived
    }

    #[test]
    fn textbook_resistance_that_sae_j537_allows_derived() {
        for (rated, milliohms) in [(100.0, 54.0), (180.0, 30.0), (230.0, 23.5)] {
            check(COLD_CRANK_TESTS[0].most_resistance(Volts(12.6), Amps(rated)).0 * 1e3, milliohms, 0.05);
        }
    }
}
