//! How far a cell sags under current: at once, within seconds, and as its surfaces run ahead of its depths.
//! Law: at once I·R + Σ over both electrodes of (2RT/F)·[asinh(I/2I₀) + ln(1 + I·R_pore/(2RT/F))]: conduction, Butler and
//! Volmer's kinetics, and a current that crowds at the mouth of the pores, which doubles the Tafel slope (Newman & Tobias
//! 1962). I₀ = k·√(x(1−x)) with x the filling of the electrode. Each part has an Arrhenius law. Then a tail (one
//! resistance with a time constant: the electrolyte), and a lag: the share of charge by which the surfaces are emptier than
//! the whole, one exponential for a diffusion that goes with the root of time.
//! Range: bursts of seconds with rests; constants and what they reach stand beside each cell (`lfp`, `lead_acid`).
//! Not modeled: hysteresis, gassing, a current held until the cell is empty.

use libm::{exp, log, sqrt};
use quantity::{AmpHours, Amps, Celsius, Ohms, Seconds, Volts};

/// Gas constant, J/(mol·K).
pub const GAS: f64 = 8.314_462_618;
/// Faraday constant, C/mol.
pub const FARADAY: f64 = 96_485.332_12;
/// 0 °C in kelvins.
pub const ABSOLUTE: f64 = 273.15;
/// Temperature that constants belong to, kelvins.
pub const REFERENCE: f64 = 298.15;

/// One electrode's exchange of charge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Exchange {
    /// Exchange current at 25 °C before the filling: half of it flows at a filling of one half.
    pub current: Amps,
    /// Activation energy, J/mol.
    pub energy: f64,
    /// Filling of the electrode when the cell is empty, from 0 to 1.
    pub empty: f64,
    /// Filling of the electrode when the cell is full.
    pub full: f64,
}

/// Constants of one cell at 25 °C.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sag {
    /// Capacity of the cell that the constants belong to.
    pub capacity: AmpHours,
    /// Resistance of what simply conducts.
    pub ohmic: Ohms,
    /// Resistance of the pores of one electrode.
    pub pore: Ohms,
    /// Activation energy of both, J/mol.
    pub conduction_energy: f64,
    /// Negative and positive electrode.
    pub exchange: [Exchange; 2],
    /// Resistance behind the tail.
    pub tail: Ohms,
    /// Time constant of the tail.
    pub tail_time: Seconds,
    /// How many times faster than the whole the surfaces empty at first.
    pub lag: f64,
    /// Time constant of the lag at 25 °C.
    pub lag_time: Seconds,
    /// Its activation energy, J/mol.
    pub lag_energy: f64,
}

/// The laws of a cell at one temperature and charge of its surfaces.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Warm {
    /// 2RT/F, volts.
    pub thermal: f64,
    /// How many times longer than at 25 °C the lag takes.
    pub slower: f64,
    ohmic: f64,
    pore: f64,
    twice_exchange: [f64; 2],
}

impl Sag {
    /// The same cell in another size: current and capacity go together.
    pub fn scaled(self, capacity: AmpHours) -> Self {
        let larger = capacity.0 / self.capacity.0;
        let exchange = self.exchange.map(|one| Exchange { current: one.current * larger, ..one });
        let (ohmic, pore, tail) = (self.ohmic / larger, self.pore / larger, self.tail / larger);
        Self { capacity, ohmic, pore, exchange, tail, ..self }
    }

    /// The laws at a temperature and a charge.
    pub fn warm(&self, charge: f64, at: Celsius) -> Warm {
        let kelvin = at.0 + ABSOLUTE;
        let colder = (1.0 / kelvin - 1.0 / REFERENCE) / GAS;
        let worse = exp(self.conduction_energy * colder);
        let twice_exchange = self.exchange.map(|one| {
            let filling = one.empty + charge.clamp(0.0, 1.0) * (one.full - one.empty);
            2.0 * one.current.0 * exp(-one.energy * colder) * sqrt(filling * (1.0 - filling))
        });
        let thermal = 2.0 * GAS * kelvin / FARADAY;
        let slower = exp(self.lag_energy * colder);
        Warm { thermal, slower, ohmic: self.ohmic.0 * worse, pore: self.pore.0 * worse, twice_exchange }
    }

    /// Voltage lost at a current at once, before anything has diffused.
    pub fn drop(&self, current: Amps, charge: f64, at: Celsius) -> Volts {
        self.warm(charge, at).drop(current)
    }

    /// What a meter would call the internal resistance, from one load: it falls with the load.
    pub fn apparent_resistance(&self, load: Amps, charge: f64, at: Celsius) -> Ohms {
        Ohms(self.drop(load, charge, at).0 / load.0)
    }
}

impl Warm {
    /// Voltage lost at a current at once; odd in the current.
    pub fn drop(&self, current: Amps) -> Volts {
        let amps = current.0.abs();
        // asinh x = ln(x + √(x² + 1)), so that all the logarithms become one: this runs at each step of a crank.
        let [one, other] = self.twice_exchange.map(|twice| amps / twice + sqrt(amps * amps / (twice * twice) + 1.0));
        let crowded = 1.0 + amps * self.pore / self.thermal;
        let transfer = log(one * other * crowded * crowded);
        Volts((amps * self.ohmic + self.thermal * transfer).copysign(current.0))
    }

    /// Slope of [`Warm::drop`].
    pub fn slope(&self, around: Amps) -> Ohms {
        let amps = around.0.abs();
        let transfer: f64 = self.twice_exchange.iter().map(|twice| 1.0 / sqrt(amps * amps + twice * twice)).sum();
        Ohms(self.ohmic + self.thermal * transfer + 2.0 * self.pore / (1.0 + amps * self.pore / self.thermal))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{check, lead_acid, lfp};

    const CELLS: [Sag; 3] = [lfp::POWER_CELL, lfp::ENERGY_CELL, lead_acid::CELL];

    #[test]
    fn textbook_butler_volmer_and_a_crowded_pore_term_by_term() {
        let Sag { ohmic, pore, conduction_energy, exchange, .. } = lfp::ENERGY_CELL;
        let (kelvin, charge) = (263.15, 0.4);
        let colder = |energy: f64| f64::exp(energy / 8.314_462_618 * (1.0 / kelvin - 1.0 / 298.15));
        let thermal = 2.0 * 8.314_462_618 * kelvin / 96_485.332;
        for amps in [1e-3_f64, 0.5, 6.0, 40.0] {
            let conducted = amps * ohmic.0 * colder(conduction_energy);
            let crowded = 2.0 * (amps * pore.0 * colder(conduction_energy) / thermal).ln_1p();
            let transfer = exchange.map(|one| {
                let filling: f64 = one.empty + charge * (one.full - one.empty);
                (amps * colder(one.energy) / (2.0 * one.current.0 * (filling * (1.0 - filling)).sqrt())).asinh()
            });
            let expected = conducted + thermal * (crowded + transfer[0] + transfer[1]);
            check(lfp::ENERGY_CELL.drop(Amps(amps), charge, Celsius(-10.0)).0 / expected, 1.0, 1e-8);
        }
    }

    #[test]
    fn law_the_slope_is_what_a_little_more_current_costs() {
        for cell in CELLS {
            for amps in [-40.0, -1.0, 0.3, 7.0, 100.0] {
                let warm = cell.warm(0.7, Celsius(-7.0));
                let step = 1e-4;
                let cost = (warm.drop(Amps(amps + step)) - warm.drop(Amps(amps - step))).0 / (2.0 * step);
                check(warm.slope(Amps(amps)).0 / cost, 1.0, 1e-5);
            }
        }
    }

    #[test]
    fn law_colder_and_more_current_never_sag_less() {
        for cell in CELLS {
            let mut last = 0.0;
            for celsius in [40.0, 20.0, 0.0, -10.0, -20.0] {
                let warm = cell.warm(0.8, Celsius(celsius));
                let drop = warm.drop(Amps(10.0)).0;
                assert!(drop > last && warm.drop(Amps(20.0)).0 > drop);
                assert_eq!(warm.drop(Amps(-10.0)).0, -drop);
                last = drop;
            }
        }
    }

    #[test]
    fn law_a_larger_cell_sags_as_much_at_the_same_share_of_its_capacity() {
        for cell in CELLS {
            let double = cell.scaled(cell.capacity * 2.0);
            let at = Celsius(-5.0);
            check(double.drop(Amps(46.0), 0.6, at).0, cell.drop(Amps(23.0), 0.6, at).0, 1e-12);
        }
    }
}
