//! Contacts and coils: what a pressed spot resists, how hot it gets, and when a warm relay still pulls in.
//! Law: constriction of one plastic spot, R = (ρ/2)·√(π·H/F); the hottest place of a contact follows its voltage,
//! T² = T₀² + V²/(4·L). Source: R. Holm, Electric Contacts, 4th ed. 1967 (`from memory`). A relay pulls in at a current, so
//! that its voltage grows with the copper's resistance. Not modelled: films, bounce, more spots than one.

use std::f64::consts::PI;

use libm::sqrt;
use quantity::conductor::COPPER_COEFFICIENT;
use quantity::{Celsius, Ohms, Volts};

/// Lorenz number of metals, V²/K².
const LORENZ: f64 = 2.45e-8;
const ABSOLUTE: f64 = 273.15;

/// Constriction resistance of one spot: resistivity in Ω·m, hardness in Pa, force in N.
pub fn constriction(resistivity: f64, hardness: f64, force: f64) -> Ohms {
    Ohms(0.5 * resistivity * sqrt(PI * hardness / force))
}

/// Temperature of the hottest place of a contact that drops a voltage.
pub fn hottest(drop: Volts, around: Celsius) -> Celsius {
    let around = around.0 + ABSOLUTE;
    Celsius(sqrt(around * around + drop.0 * drop.0 / (4.0 * LORENZ)) - ABSOLUTE)
}

/// Voltage that takes a contact to a temperature: to that of softening or of melting.
pub fn voltage_to(reach: Celsius, around: Celsius) -> Volts {
    let (reach, around) = (reach.0 + ABSOLUTE, around.0 + ABSOLUTE);
    Volts(sqrt(4.0 * LORENZ * (reach * reach - around * around)))
}

/// Voltage at which a relay pulls in, or drops out, with its coil at a temperature.
pub fn pull_in(at_20: Volts, coil: Celsius) -> Volts {
    at_20 * (1.0 + COPPER_COEFFICIENT * (coil.0 - 20.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check;

    #[test]
    fn textbook_holm_constriction_derived() {
        for (force, milliohms) in [(1.0, 0.439), (10.0, 0.1387), (100.0, 0.0439), (1000.0, 0.0139)] {
            check(constriction(1.75e-8, 0.8e9, force).0 * 1e3 / milliohms, 1.0, 0.01);
        }
    }

    #[test]
    fn textbook_holm_melting_voltages_from_memory() {
        let room = Celsius(293.0 - ABSOLUTE);
        for (melts, by_law, in_table) in [(1357.8, 0.415, 0.43), (1234.9, 0.376, 0.37)] {
            let volts = voltage_to(Celsius(melts - ABSOLUTE), room).0;
            check(volts, by_law, 5e-4);
            check(volts / in_table, 1.0, 0.05);
        }
        check(hottest(Volts(0.12), room).0, 210.0, 1.0);
        check(hottest(Volts(0.09), room).0, 138.0, 1.0);
    }

    #[test]
    fn textbook_a_warm_coil_wants_more_volts_derived() {
        check(pull_in(Volts(7.0), Celsius(80.0)).0, 8.65, 0.01);
        check(pull_in(Volts(7.0), Celsius(-20.0)).0, 5.90, 0.01);
    }
}
