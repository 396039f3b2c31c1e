//! A starter's copper and magnets when they get warm or cold.
//! Law: the motor constant follows the magnets, K(T) = K₂₀·(1 + α·(T − 20 °C)); a stalled winding heats without losing
//! any: t = k²/J²·ln((β + T₂)/(β + T₁)), k and β as in [`quantity::conductor`] (IEC 60364-5-54).
//! Source: magnets' coefficients from makers' temperature pages; insulation classes as transcribed from IEC 60085.
//! Not modelled: heat that flows into iron and case within the stall (see the two-node model of a crank).

use quantity::conductor::{COPPER_BETA, heating_constant};
use quantity::{Celsius, Seconds, VoltSecondsPerRadian};

/// What the field magnets are made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Magnet {
    /// Hard ferrite: stronger in the cold, but easier to demagnetize there.
    Ferrite,
    /// Neodymium.
    Neodymium,
}

impl Magnet {
    /// Change of the flux per kelvin, of its value at 20 °C.
    pub fn coefficient(self) -> f64 {
        match self {
            Self::Ferrite => -0.002,
            Self::Neodymium => -0.001,
        }
    }
}

/// Motor constant at a temperature of the magnets.
pub fn motor_constant(at_20: VoltSecondsPerRadian, magnet: Magnet, at: Celsius) -> VoltSecondsPerRadian {
    at_20 * (1.0 + magnet.coefficient() * (at.0 - 20.0))
}

/// Insulation classes and the temperature that each withstands (IEC 60085, as transcribed on public pages).
pub const INSULATION: [(&str, Celsius); 6] = [
    ("Y", Celsius(90.0)),
    ("A", Celsius(105.0)),
    ("E", Celsius(120.0)),
    ("B", Celsius(130.0)),
    ("F", Celsius(155.0)),
    ("H", Celsius(180.0)),
];

/// How long a stalled winding takes from one temperature to another, at a current density in A/mm², losing no heat.
pub fn stall_time(amps_per_square_mm: f64, from: Celsius, to: Celsius) -> Seconds {
    let constant = heating_constant(from, to) * 1e-6 / amps_per_square_mm;
    Seconds(constant * constant)
}

/// The temperature of a winding whose resistance has grown by a factor since it was at a known temperature.
pub fn by_resistance(known: Celsius, grown: f64) -> Celsius {
    Celsius(grown * (COPPER_BETA + known.0) - COPPER_BETA)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check;

    #[test]
    fn textbook_ferrite_gains_in_the_cold_derived() {
        let constant = |celsius| motor_constant(VoltSecondsPerRadian(1.0), Magnet::Ferrite, Celsius(celsius)).0;
        check(constant(100.0), 0.840, 1e-12);
        check(constant(-10.0), 1.060, 1e-12);
    }

    #[test]
    fn textbook_stall_to_class_f_by_the_constant_of_iec_60364_5_54() {
        // The standard's factor 226 is rounded from 225.67, so that the times are 0.3 % short.
        for (density, from, seconds) in
            [(40.0, 25.0, 12.96), (60.0, 25.0, 5.76), (30.0, 25.0, 23.05), (40.0, 80.0, 6.83)]
        {
            check(stall_time(density, Celsius(from), Celsius(155.0)).0 / seconds, 1.0, 0.005);
        }
    }

    #[test]
    fn law_resistance_tells_the_temperature_back() {
        let grown = (COPPER_BETA + 155.0) / (COPPER_BETA + 25.0);
        check(by_resistance(Celsius(25.0), grown).0, 155.0, 1e-9);
    }
}
