//! A lithium iron phosphate cell: what it shows at rest, and how far it sags under current, by charge and temperature.
//! Law: V = OCV(s, T) − I·R₀·e^{(Eᵣ/R)(1/T − 1/T₀)} − (2RT/F)·asinh(I/(2·I₀·e^{−(Eᵢ/R)(1/T − 1/T₀)})): an ohmic part and
//! the transfer of charge at the electrodes, each with its own temperature law.
//! Source: open circuit and entropy from the open parameter set of a 2 Ah 18650 cell (BPX example, commit 9b73d69); the
//! four constants of the sag were fitted to a porous-electrode model of it over 25 to −20 °C and 0.1 to 30 C: 30 mV rms a
//! cell, 60 mV at most. Calendar aging: Naumann et al. (doi 10.1016/j.est.2018.01.019), as carried by an open package.
//! Limit: no open measurement of sub-zero cranking pulses of 20 to 40 C is known. Not modelled: hysteresis, 5 to 25 mV.

use libm::{asinh, exp, pow};
use quantity::{AmpHours, Amps, Celsius, Ohms, Seconds, Volts};

use crate::table::interpolate;

const GAS: f64 = 8.314_462_618;
const FARADAY: f64 = 96_485.332_12;
const ABSOLUTE: f64 = 273.15;
const REFERENCE: f64 = 298.15;
/// Temperature of the tabulated open circuit, °C.
const TABLE_AT: f64 = 25.0;

/// Charge; open-circuit voltage in V at 25 °C; its change with temperature in mV/K.
const REST: [(f64, f64, f64); 15] = [
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

/// How a cell sags: constants at 25 °C with their activation energies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sag {
    /// Capacity of the cell that the constants belong to.
    pub capacity: AmpHours,
    /// Ohmic resistance.
    pub ohmic: Ohms,
    /// Its activation energy, J/mol.
    pub ohmic_energy: f64,
    /// Exchange current of both electrodes together.
    pub exchange: Amps,
    /// Its activation energy, J/mol.
    pub exchange_energy: f64,
}

/// The 2 Ah energy cell of the open parameter set.
pub const ENERGY_CELL: Sag = Sag {
    capacity: AmpHours(2.0),
    ohmic: Ohms(10.43e-3),
    ohmic_energy: 10_320.0,
    exchange: Amps(0.234),
    exchange_energy: 77_300.0,
};

/// A 2.3 Ah power cell, after the published set of Prada 2013 (12 mV rms, 29 mV at most against the porous-electrode
/// model); that set has no temperature law but that of the exchange currents, so that it sags too little in the cold.
pub const POWER_CELL: Sag = Sag {
    capacity: AmpHours(2.3),
    ohmic: Ohms(2.135e-3),
    ohmic_energy: 7_060.0,
    exchange: Amps(0.677),
    exchange_energy: 44_190.0,
};

impl Sag {
    /// The same cell in another size: current and capacity go together.
    pub fn scaled(self, capacity: AmpHours) -> Self {
        let larger = capacity.0 / self.capacity.0;
        Self { capacity, ohmic: self.ohmic / larger, exchange: self.exchange * larger, ..self }
    }

    /// Voltage lost at a current at once, before anything has diffused.
    pub fn drop(&self, current: Amps, at: Celsius) -> Volts {
        let kelvin = at.0 + ABSOLUTE;
        let colder = (1.0 / kelvin - 1.0 / REFERENCE) / GAS;
        let ohmic = self.ohmic.0 * exp(self.ohmic_energy * colder);
        let exchange = self.exchange.0 * exp(-self.exchange_energy * colder);
        Volts(current.0 * ohmic + 2.0 * GAS * kelvin / FARADAY * asinh(current.0 / (2.0 * exchange)))
    }

    /// What a meter would call the internal resistance, from one load: it falls with the load.
    pub fn apparent_resistance(&self, load: Amps, at: Celsius) -> Ohms {
        Ohms(self.drop(load, at).0 / load.0)
    }
}

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

    /// First instant of a pulse against the porous-electrode model (PyBaMM), within what the reduced form was fitted to.
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
            let found = open_circuit(0.9, at) - ENERGY_CELL.drop(Amps(amps), at);
            check(found.0, volts, 0.060);
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
            check(3.3142 - POWER_CELL.drop(Amps(amps), Celsius(celsius)).0, volts, 0.029);
        }
    }

    #[test]
    fn textbook_a_small_load_overstates_the_resistance_derived() {
        let milliohms = |amps| POWER_CELL.apparent_resistance(Amps(amps), Celsius(25.0)).0 * 1e3;
        for (amps, expected) in [(0.23, 42.0), (2.3, 32.0), (23.0, 10.0), (46.0, 6.9)] {
            check(milliohms(amps) / expected, 1.0, 0.08);
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

    #[test]
    fn law_colder_and_more_current_never_sag_less() {
        let mut last = 0.0;
        for celsius in [40.0, 20.0, 0.0, -10.0, -20.0] {
            let drop = ENERGY_CELL.drop(Amps(10.0), Celsius(celsius)).0;
            assert!(drop > last);
            last = drop;
        }
        assert!(ENERGY_CELL.drop(Amps(20.0), Celsius(0.0)).0 > ENERGY_CELL.drop(Amps(10.0), Celsius(0.0)).0);
    }

    #[test]
    fn law_a_larger_cell_sags_as_much_at_the_same_share_of_its_capacity() {
        let double = POWER_CELL.scaled(AmpHours(4.6));
        let at = Celsius(-5.0);
        check(double.drop(Amps(46.0), at).0, POWER_CELL.drop(Amps(23.0), at).0, 1e-12);
    }
}
