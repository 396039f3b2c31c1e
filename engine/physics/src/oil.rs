//! Engine oil in the cold: how thick it is at a temperature.
//! Law: log₁₀ log₁₀(ν + 0.7) = A − B·log₁₀ T, ν in mm²/s, T in K (Walther; ASTM D341, `from memory`), through two known
//! points. Promise: falls with temperature. Range: between about −30 and 150 °C for an oil that is not near its pour
//! point. Not modelled: shear thinning, which makes a multigrade oil thinner in a bearing, and gelling.

use libm::{log10, pow};
use quantity::Celsius;

const ABSOLUTE: f64 = 273.15;

/// An oil by its kinematic viscosity at two temperatures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Oil {
    intercept: f64,
    slope: f64,
}

impl Oil {
    /// From the two figures of a data sheet, mm²/s (cSt) at 40 °C and at 100 °C; nothing unless the second is the smaller
    /// and both are above 1 mm²/s.
    pub fn from_data_sheet(at_40: f64, at_100: f64) -> Option<Self> {
        if !(at_100 > 1.0 && at_40 > at_100 && at_40.is_finite()) {
            return None;
        }
        let double_log = |viscosity: f64| log10(log10(viscosity + 0.7));
        let (cool, hot) = (log10(40.0 + ABSOLUTE), log10(100.0 + ABSOLUTE));
        let slope = (double_log(at_40) - double_log(at_100)) / (hot - cool);
        Some(Self { intercept: double_log(at_40) + slope * cool, slope })
    }

    /// Kinematic viscosity, mm²/s.
    pub fn viscosity(&self, at: Celsius) -> f64 {
        pow(10.0, pow(10.0, self.intercept - self.slope * log10(at.0 + ABSOLUTE))) - 0.7
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check;

    #[test]
    fn textbook_walther_through_two_points_derived() {
        let oil = Oil::from_data_sheet(95.0, 14.0).unwrap();
        for (celsius, expected) in
            [(40.0, 95.0), (100.0, 14.0), (25.0, 197.0), (0.0, 980.0), (-10.0, 2228.0), (-20.0, 5795.0)]
        {
            check(oil.viscosity(Celsius(celsius)) / expected, 1.0, 0.01);
        }
    }

    #[test]
    fn law_an_oil_that_thickens_with_heat_is_none() {
        assert_eq!(Oil::from_data_sheet(14.0, 95.0), None);
        assert_eq!(Oil::from_data_sheet(f64::NAN, 14.0), None);
        assert_eq!(Oil::from_data_sheet(14.0, 0.2), None);
    }
}
