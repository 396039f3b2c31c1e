//! A lithium iron phosphate cell: what it shows at rest, and the constants of how far it sags under current (`sag`).
//! Source: open circuit and entropy from the open parameter set of a 2 Ah 18650 cell (FaradayInstitution/BPX,
//! `examples/lfp_18650_cell_BPX.json`, commit 9b73d69); constants of the sag fitted to porous-electrode models (PyBaMM) of
//! that set and of Prada 2013. Calendar aging: Naumann et al. (doi 10.1016/j.est.2018.01.019), as carried by an open
//! package.
//! Limit: no open measurement of sub-zero cranking pulses of 20 to 40 C is known. Not modeled: hysteresis, 5 to 25 mV.

use libm::{exp, pow};
use quantity::{AmpHours, Amps, Celsius, Ohms, Seconds, Volts};

use crate::sag::{ABSOLUTE, Exchange, GAS, REFERENCE, Sag};
use crate::table::interpolate;

/// Temperature of the tabulated open circuit, °C.
const TABLE_AT: f64 = 25.0;

/// Rest curve of a cell: charge; open-circuit voltage in V at 25 °C; its change with temperature in mV/K.
pub const REST: [(f64, f64, f64); 15] = [
    (0.0, 2.0000, -0.224),
    (0.05, 3.1365, -0.386),
    (0.10, 3.1882, -0.489),
    (0.20, 3.2296, -0.196),
    (0.30, 3.2674, -0.088),
    (0.40, 3.2750, -0.061),
    (0.50, 3.2781, -0.039),
    (0.60, 3.2864, -0.014),
    (0.70, 3.3057, 0.012),
    (0.80, 3.3181, 0.038),
    (0.90, 3.3218, 0.067),
    (0.95, 3.3227, 0.085),
    (0.98, 3.3235, 0.097),
    (0.99, 3.3340, 0.100),
    (1.0, 3.6500, 0.102),
];

/// Open-circuit voltage of a cell; the charge is a share from 0 to 1.
pub fn open_circuit(charge: f64, at: Celsius) -> Volts {
    let at_25 = interpolate(charge, REST.iter().map(|(charge, volts, _)| (*charge, *volts)));
    Volts(at_25) + entropy(charge) * (at.0 - TABLE_AT)
}

/// Change of the open-circuit voltage per kelvin.
pub fn entropy(charge: f64) -> Volts {
    Volts(1e-3 * interpolate(charge, REST.iter().map(|(charge, _, slope)| (*charge, *slope))))
}

/// The 2 Ah energy cell of the open parameter set: fillings and capacity from it, the rest fitted to its porous-electrode
/// model. At once 1.0 mV rms, 3.4 mV at most over 40 to −20 °C, 0.1 to 30 C, 15 to 98 % of charge; the sixth of six pulses
/// of 5 s starts within 6 mV down to −10 °C and 5 C. Too high where the electrolyte runs dry, in the cold. `docs/oracles.md` has the figures.
pub const ENERGY_CELL: Sag = Sag {
    capacity: AmpHours(2.0),
    ohmic: Ohms(1.399e-3),
    pore: Ohms(2.713e-3),
    conduction_energy: 14_120.0,
    exchange: [
        Exchange { current: Amps(1.099), energy: 52_550.0, empty: 0.0016, full: 0.8226 },
        Exchange { current: Amps(3.076), energy: 39_380.0, empty: 0.9504, full: 0.0875 },
    ],
    tail: Ohms(6.48e-3),
    tail_time: Seconds(14.1),
    lag: 24.2,
    lag_time: Seconds(4.18),
    lag_energy: 52_400.0,
};

/// A 2.3 Ah power cell, after the published set of Prada 2013: at once 0.4 mV rms, 1.7 mV at most over the same range; the
/// sixth pulse of 5 s starts within 6 mV at 10 C and 10 mV at 20 C; not for pulses of more than ten seconds. That set has no temperature law but that of the exchange
/// currents, so that it sags too little in the cold.
pub const POWER_CELL: Sag = Sag {
    capacity: AmpHours(2.3),
    ohmic: Ohms(0.9281e-3),
    pore: Ohms(0.2865e-3),
    conduction_energy: 900.0,
    exchange: [
        Exchange { current: Amps(1.472), energy: 35_120.0, empty: 0.0176, full: 0.8100 },
        Exchange { current: Amps(134.3), energy: 37_860.0, empty: 0.7035, full: 0.0038 },
    ],
    tail: Ohms(0.515e-3),
    tail_time: Seconds(0.70),
    lag: 13.35,
    lag_time: Seconds(31.2),
    lag_energy: 0.0,
};

/// Growth of the resistance by standing: 1 when new. Range: 0 to 60 °C, charge 0 to 1.
pub fn aged(standing: Seconds, charge: f64, at: Celsius) -> f64 {
    /// Rate at 25 °C, per second; activation energy, J/mol; and the two constants of the charge.
    const RATE: f64 = 3.4194e-10;
    const ENERGY: f64 = 71_827.0;
    const CUBIC: f64 = -3.3903;
    const EVEN: f64 = 1.5604;
    let rate = RATE * exp(-ENERGY / GAS * (1.0 / (at.0 + ABSOLUTE) - 1.0 / REFERENCE));
    1.0 + standing.0 * rate * (CUBIC * pow(charge - 0.5, 3.0) + EVEN)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check;

    #[test]
    fn textbook_open_circuit_and_entropy_of_the_bpx_lfp_example() {
        for (charge, volts, slope) in [(0.2, 3.2296, -0.196), (0.5, 3.2781, -0.039), (0.9, 3.3218, 0.067)] {
            check(open_circuit(charge, Celsius(25.0)).0, volts, 1e-9);
            check(entropy(charge).0 * 1e3, slope, 1e-9);
        }
        check(entropy(0.1).0 * 1e3, -0.489, 1e-9);
        // Four in series, between the points of the table as well.
        check(4.0 * open_circuit(0.4, Celsius(25.0)).0, 13.10, 0.005);
    }

    #[test]
    fn law_the_plateau_hides_the_charge() {
        let pack = |charge: f64| 4.0 * open_circuit(charge, Celsius(25.0)).0;
        check(pack(0.9) - pack(0.4), 0.19, 0.005);
    }

    /// First instants of pulses of the porous-electrode models (PyBaMM 26.6.2, 40 points an electrode), at 90 % of charge.
    #[test]
    fn textbook_first_instant_of_a_pulse_of_the_bpx_lfp_example() {
        for (amps, celsius, volts) in [
            (4.0, 25.0, 3.1185),
            (4.0, 0.0, 2.9625),
            (4.0, -10.0, 2.8950),
            (10.0, 25.0, 2.9978),
            (10.0, 0.0, 2.8299),
            (10.0, -10.0, 2.7561),
        ] {
            let at = Celsius(celsius);
            let found = open_circuit(0.9, at) - ENERGY_CELL.drop(Amps(amps), 0.9, at);
            check(found.0, volts, 0.003);
        }
    }

    #[test]
    fn textbook_first_instant_of_a_pulse_of_prada_2013() {
        // That set's own open circuit, which does not change with temperature.
        for (amps, celsius, volts) in [
            (23.0, 25.0, 3.0806),
            (23.0, 0.0, 2.9996),
            (23.0, -10.0, 2.9573),
            (46.0, 25.0, 2.9971),
            (46.0, 0.0, 2.9047),
            (46.0, -10.0, 2.8619),
        ] {
            check(3.3142 - POWER_CELL.drop(Amps(amps), 0.9, Celsius(celsius)).0, volts, 0.002);
        }
    }

    #[test]
    fn textbook_a_small_load_overstates_the_resistance_derived() {
        let milliohms = |amps| POWER_CELL.apparent_resistance(Amps(amps), 0.9, Celsius(25.0)).0 * 1e3;
        for (amps, expected) in [(0.23, 42.0), (2.3, 32.0), (23.0, 10.0), (46.0, 6.9)] {
            check(milliohms(amps) / expected, 1.0, 0.03);
        }
    }

    #[test]
    fn textbook_calendar_resistance_of_naumann() {
        let year = Seconds(365.0 * 86_400.0);
        check(aged(year, 0.5, Celsius(25.0)), 1.0168, 1e-4);
        for (years, celsius, charge, expected) in [
            (1.0, 25.0, 1.0, 1.0123),
            (1.0, 40.0, 0.5, 1.0674),
            (1.0, 60.0, 1.0, 1.2573),
            (3.0, 40.0, 1.0, 1.1473),
            (3.0, 60.0, 0.5, 2.0596),
        ] {
            check(aged(year * years, charge, Celsius(celsius)) / expected, 1.0, 5e-4);
        }
    }
}
