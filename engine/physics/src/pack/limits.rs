//! What a pack takes and loses beside cranking: the most it may be charged with, what a regulator should hold, and how it
//! runs down while it stands.
//! Source: beside each figure. Promise: never a negative limit. Limit: no gassing, no equalizing.

use libm::{exp, exp2};
use quantity::{Amps, Celsius, Seconds, Volts};

use super::{Chemistry, Held, Pack};

/// Thirty days.
const MONTH: f64 = 30.0 * 86_400.0;

impl Chemistry {
    /// Share that it loses by itself in thirty days at 25 °C (`from memory`: lithium iron phosphate and glass mat 1 to 3 %,
    /// flooded 3 to 6 %).
    pub fn monthly_loss(self) -> f64 {
        if self == Self::Flooded { 0.045 } else { 0.02 }
    }
}

impl Pack {
    /// The most it may be charged with. Lithium iron phosphate: nothing below 0 °C, where lithium plates, 0.2 C below 10 °C
    /// (published limits of such cells), 1 C above and nothing above 45 °C (estimate). Lead-acid: what is missing in an
    /// hour (ampere-hour rule, `common practice, no source`), 0.3 C at most (estimate); cold forbids nothing.
    pub fn charge_limit(&self, held: &Held) -> Amps {
        let share = if self.chemistry.is_lfp() {
            match held.temperature.0 {
                celsius if celsius < 0.0 => 0.0,
                celsius if celsius < 10.0 => 0.2,
                celsius if celsius <= 45.0 => 1.0,
                _ => 0.0,
            }
        } else {
            (1.0 - held.charge).clamp(0.0, 0.3)
        };
        Amps(share * self.capacity().0)
    }

    /// What a regulator should hold: lithium iron phosphate 14.4 V, at most 14.6 (3.65 V a cell); lead-acid 14.5 V at 25 °C,
    /// 24 mV less for each kelvin more (`from memory`: 14.4 to 14.8 V, 18 to 30 mV).
    pub fn charge_voltage(&self, at: Celsius) -> Volts {
        if self.chemistry.is_lfp() { Volts(14.4) } else { Volts(14.5 - 0.024 * (at.0 - 25.0)) }
    }

    /// Charge lost by itself in a time, twice as fast for each 10 K more (`common practice, no source`). What a guarding
    /// board draws, 0.05 to 1 mA, comes on top: `drain`.
    pub fn self_discharge(&self, at: Celsius, drain: Amps, standing: Seconds) -> f64 {
        let own = self.chemistry.monthly_loss() / MONTH * exp2((at.0 - 25.0) / 10.0);
        standing.0 * (own + drain.0 / (3600.0 * self.capacity().0))
    }

    /// What it holds after standing without another load in air that stays as it is.
    pub fn standing(&self, held: &Held, air: Celsius, drain: Amps, standing: Seconds) -> Held {
        let fades = |time: f64| exp(-standing.0 / time);
        let slower = self.cell.warm(held.charge, air).slower;
        let above = held.temperature.0 - air.0;
        Held {
            charge: (held.charge - self.self_discharge(air, drain, standing)).max(0.0),
            temperature: Celsius(air.0 + above * fades(self.heat_capacity / self.cooling)),
            lag: held.lag * fades(self.cell.lag_time.0 * slower),
            tail: held.tail * fades(self.cell.tail_time.0),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check;
    use quantity::AmpHours;

    #[test]
    fn law_no_lithium_is_charged_below_zero() {
        for chemistry in [Chemistry::LfpPower, Chemistry::LfpEnergy] {
            let pack = Pack::new(chemistry, AmpHours(5.0));
            let limit = |celsius| pack.charge_limit(&pack.rested(0.5, Celsius(celsius))).0;
            assert_eq!([limit(-0.1), limit(0.0), limit(9.9), limit(10.0), limit(50.0)], [0.0, 1.0, 1.0, 5.0, 0.0]);
        }
        let acid = Pack::new(Chemistry::GlassMat, AmpHours(10.0));
        let limit = |charge| acid.charge_limit(&acid.rested(charge, Celsius(-20.0))).0;
        check(limit(0.9), 1.0, 1e-9);
        assert_eq!((limit(0.2), limit(1.0)), (3.0, 0.0));
    }

    #[test]
    fn law_standing_warm_and_a_drain_cost_charge() {
        let pack = Pack::new(Chemistry::Flooded, AmpHours(12.0));
        let month = |celsius, amps| pack.self_discharge(Celsius(celsius), Amps(amps), Seconds(MONTH));
        check(month(25.0, 0.0), 0.045, 1e-12);
        check(month(35.0, 0.0) / month(15.0, 0.0), 4.0, 1e-9);
        check(month(25.0, 1e-3) - month(25.0, 0.0), 0.72 / 12.0, 1e-9);
        check(pack.charge_voltage(Celsius(5.0)).0, 14.98, 1e-9);
    }
}
