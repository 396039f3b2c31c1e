//! A type for each unit that crosses a public edge, and the products a 12 V circuit needs.
//! Ohm's law and power are the compiler's business here: `Volts / Ohms` is `Amps`, `Volts + Amps` is an error.
//! Promise: the number inside is in the unit of the type's name; `read` and `Display` agree with [`show`](crate::show()).
//! Limits: no automatic conversion, no dimension algebra; a product that is missing is one line to add.

use crate::{Dimension, ReadError, read, show_with};
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

macro_rules! quantity {
    ($(#[$doc:meta] $name:ident, $dimension:ident, $si:expr;)*) => {$(
        #[$doc]
        #[derive(Clone, Copy, PartialEq, PartialOrd, Debug, Default)]
        pub struct $name(pub f64);

        impl $name {
            /// The kind of quantity.
            pub const DIMENSION: Dimension = Dimension::$dimension;
            /// Size of this unit in SI (for a temperature, in °C).
            const SI: f64 = $si;

            /// Reads a text with its unit; see [`read`].
            pub fn read(text: &str) -> Result<Self, ReadError> {
                read(text, Self::DIMENSION).map(Self::from_si)
            }

            /// From the number that [`read`] returns.
            pub fn from_si(value: f64) -> Self {
                Self(value / Self::SI)
            }

            /// The number that [`read`] would return for this quantity.
            pub fn si(self) -> f64 {
                self.0 * Self::SI
            }

            /// The size without the sign.
            pub fn abs(self) -> Self {
                Self(self.0.abs())
            }

            /// The smaller of two.
            pub fn min(self, other: Self) -> Self {
                Self(self.0.min(other.0))
            }

            /// The larger of two.
            pub fn max(self, other: Self) -> Self {
                Self(self.0.max(other.0))
            }

            /// Neither infinite nor "not a number".
            pub fn is_finite(self) -> bool {
                self.0.is_finite()
            }
        }

        /// Three significant digits, or as many as `{:.4}` asks for.
        impl std::fmt::Display for $name {
            fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                out.write_str(&show_with(self.si(), Self::DIMENSION, out.precision().unwrap_or(3)))
            }
        }

        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }

        impl Mul<$name> for f64 {
            type Output = $name;
            fn mul(self, quantity: $name) -> $name {
                $name(self * quantity.0)
            }
        }

        impl Div<f64> for $name {
            type Output = Self;
            fn div(self, divisor: f64) -> Self {
                Self(self.0 / divisor)
            }
        }

        impl Div for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 {
                self.0 / other.0
            }
        }

        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(-self.0)
            }
        }

        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }

        impl AddAssign for $name {
            fn add_assign(&mut self, other: Self) {
                self.0 += other.0;
            }
        }

        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }

        impl SubAssign for $name {
            fn sub_assign(&mut self, other: Self) {
                self.0 -= other.0;
            }
        }

        impl std::iter::Sum for $name {
            fn sum<I: Iterator<Item = Self>>(parts: I) -> Self {
                parts.fold(Self(0.0), Add::add)
            }
        }
    )*};
}

quantity! {
    /// Voltage in V.
    Volts, Voltage, 1.0;
    /// Current in A.
    Amps, Current, 1.0;
    /// Resistance in Ω.
    Ohms, Resistance, 1.0;
    /// Conductance in S.
    Siemens, Conductance, 1.0;
    /// Power in W.
    Watts, Power, 1.0;
    /// Energy in J.
    Joules, Energy, 1.0;
    /// Charge in Ah (3600 C).
    AmpHours, Charge, 3600.0;
    /// Temperature in °C. Sums and differences are plain numbers of degrees; see [`Kelvins`] for a difference.
    Celsius, Temperature, 1.0;
    /// Difference between two temperatures, in K.
    Kelvins, TemperatureDifference, 1.0;
    /// Length in m.
    Meters, Length, 1.0;
    /// Area in m².
    SquareMeters, Area, 1.0;
    /// Time in s.
    Seconds, Time, 1.0;
    /// Force in N.
    Newtons, Force, 1.0;
    /// Torque in N·m.
    NewtonMeters, Torque, 1.0;
    /// Motor constant in V·s/rad (the same number as N·m/A).
    VoltSecondsPerRadian, MotorConstant, 1.0;
    /// Drag in N·m·s/rad.
    NewtonMeterSecondsPerRadian, Drag, 1.0;
    /// Moment of inertia in kg·m².
    KilogramSquareMeters, Inertia, 1.0;
    /// Capacitance in F.
    Farads, Capacitance, 1.0;
    /// Inductance in H.
    Henries, Inductance, 1.0;
    /// Frequency in Hz.
    Hertz, Frequency, 1.0;
    /// Speed of rotation in rad/s.
    RadiansPerSecond, Speed, 1.0;
    /// Angular acceleration in rad/s².
    RadiansPerSecondSquared, AngularAcceleration, 1.0;
    /// Angle in rad.
    Radians, Angle, 1.0;
    /// A bare number.
    Ratio, Ratio, 1.0;
}

/// `a * b = c` gives `b * a = c`, `c / a = b` and `c / b = a`; `scale` is the size of one `a * b` in units of `c`.
macro_rules! product {
    ($($a:ident * $b:ident = $c:ident, $scale:expr;)*) => {$(
        impl Mul<$b> for $a {
            type Output = $c;
            fn mul(self, other: $b) -> $c {
                $c(self.0 * other.0 * $scale)
            }
        }

        impl Mul<$a> for $b {
            type Output = $c;
            fn mul(self, other: $a) -> $c {
                $c(self.0 * other.0 * $scale)
            }
        }

        impl Div<$a> for $c {
            type Output = $b;
            fn div(self, other: $a) -> $b {
                $b(self.0 / (other.0 * $scale))
            }
        }

        impl Div<$b> for $c {
            type Output = $a;
            fn div(self, other: $b) -> $a {
                $a(self.0 / (other.0 * $scale))
            }
        }
    )*};
}

product! {
    Amps * Ohms = Volts, 1.0;
    Volts * Siemens = Amps, 1.0;
    Volts * Amps = Watts, 1.0;
    Watts * Seconds = Joules, 1.0;
    Amps * Seconds = AmpHours, 1.0 / 3600.0;
    Volts * AmpHours = Joules, 3600.0;
    VoltSecondsPerRadian * RadiansPerSecond = Volts, 1.0;
    VoltSecondsPerRadian * Amps = NewtonMeters, 1.0;
    NewtonMeterSecondsPerRadian * RadiansPerSecond = NewtonMeters, 1.0;
    KilogramSquareMeters * RadiansPerSecondSquared = NewtonMeters, 1.0;
    NewtonMeters * RadiansPerSecond = Watts, 1.0;
    RadiansPerSecondSquared * Seconds = RadiansPerSecond, 1.0;
    RadiansPerSecond * Seconds = Radians, 1.0;
    Farads * Ohms = Seconds, 1.0;
}

impl Mul for Meters {
    type Output = SquareMeters;
    fn mul(self, other: Meters) -> SquareMeters {
        SquareMeters(self.0 * other.0)
    }
}

impl Ohms {
    /// The conductance of this resistance.
    pub fn conductance(self) -> Siemens {
        Siemens(1.0 / self.0)
    }

    /// Both resistances side by side; zero if either is zero.
    pub fn beside(self, other: Ohms) -> Ohms {
        match self.0 + other.0 {
            0.0 => Ohms(0.0),
            both => Ohms(self.0 / both * other.0),
        }
    }
}

impl RadiansPerSecond {
    /// From revolutions per minute.
    pub fn from_rpm(rpm: f64) -> RadiansPerSecond {
        RadiansPerSecond(rpm * crate::unit::RPM)
    }

    /// In revolutions per minute.
    pub fn rpm(self) -> f64 {
        self.0 / crate::unit::RPM
    }
}

impl Celsius {
    /// Absolute temperature in K.
    pub fn kelvin(self) -> f64 {
        self.0 + 273.15
    }

    /// How much warmer this is than the other.
    pub fn above(self, other: Celsius) -> Kelvins {
        Kelvins(self.0 - other.0)
    }

    /// This temperature raised (or lowered) by a difference.
    pub fn warmed_by(self, difference: Kelvins) -> Celsius {
        Celsius(self.0 + difference.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn textbook_ohms_law_four_ways() {
        assert_eq!(Amps(2.0) * Ohms(6.0), Volts(12.0));
        assert_eq!(Volts(12.0) / Ohms(6.0), Amps(2.0));
        assert_eq!(Volts(12.0) / Amps(2.0), Ohms(6.0));
        assert_eq!(Volts(12.0) * Amps(2.0), Watts(24.0));
        assert_eq!(Ohms(10.0).beside(Ohms(10.0)), Ohms(5.0));
        assert_eq!(Ohms(0.0).beside(Ohms(0.0)), Ohms(0.0));
    }

    #[test]
    fn law_ampere_hours_carry_their_size() {
        let charge = AmpHours::read("2300 mAh").unwrap();
        assert!((charge.0 - 2.3).abs() < 1e-12);
        assert!(((Amps(2.3) * Seconds(3600.0)).0 - 2.3).abs() < 1e-12);
        assert!(((charge / Amps(0.046)).0 - 180_000.0).abs() < 1e-6); // 50 h
        assert!(((Volts(12.0) * charge).0 - 12.0 * 2.3 * 3600.0).abs() < 1e-6);
        assert_eq!(charge.to_string(), "2.30 Ah");
    }

    #[test]
    fn law_motor_power_in_is_heat_plus_power_out() {
        let (constant, current, speed) = (VoltSecondsPerRadian(0.011), Amps(80.0), RadiansPerSecond::from_rpm(6000.0));
        let electrical: Watts = constant * speed * current;
        let mechanical: Watts = constant * current * speed;
        assert!((electrical - mechanical).abs() < Watts(1e-9));
        assert!((speed.rpm() - 6000.0).abs() < 1e-9);
    }

    /// A pound is 0.45359237 kg by definition, and 9.80665 m/s² the standard's fall.
    #[test]
    fn textbook_a_pound_of_force_in_newtons() {
        assert!((Newtons::read("1 lbf").unwrap().0 - 4.448_221_615).abs() < 1e-9);
        assert_eq!(Newtons::read("1.5 kN").unwrap().to_string(), "1.50 kN");
        assert!(Newtons::read("2 N m").unwrap_err().to_string().contains("is a torque"));
    }

    #[test]
    fn law_reading_names_the_wanted_kind() {
        assert_eq!(Ohms::read("180 mohm"), Ok(Ohms(0.18)));
        assert_eq!(Celsius::read("-5 °C").map(Celsius::kelvin), Ok(268.15));
        assert!(SquareMeters::read("6 mm").unwrap_err().to_string().contains("is a length"));
    }

    #[test]
    fn textbook_torque_from_constant_drag_and_inertia() {
        assert_eq!(NewtonMeterSecondsPerRadian(2e-4) * RadiansPerSecond(500.0), NewtonMeters(0.1));
        assert_eq!(KilogramSquareMeters(0.5) * RadiansPerSecondSquared(4.0), NewtonMeters(2.0));
        assert_eq!(NewtonMeters(2.0) / KilogramSquareMeters(0.5), RadiansPerSecondSquared(4.0));
        assert_eq!(RadiansPerSecondSquared(4.0) * Seconds(3.0), RadiansPerSecond(12.0));
        assert_eq!(NewtonMeters(2.0) * RadiansPerSecond(3.0), Watts(6.0));
        assert_eq!(RadiansPerSecond(3.0) * Seconds(2.0), Radians(6.0));
    }

    #[test]
    fn textbook_time_constant_charge_and_section() {
        assert_eq!(Farads(1e-3) * Ohms(1000.0), Seconds(1.0));
        assert_eq!(Volts(10.0) * Ohms(4.0).conductance(), Amps(2.5));
        assert_eq!(Watts(6.0) * Seconds(2.0), Joules(12.0));
        assert_eq!(Meters(2.0) * Meters(3.0), SquareMeters(6.0));
    }

    #[test]
    fn law_sums_and_signs() {
        let mut voltage = Volts(12.0);
        voltage -= Volts(0.5);
        voltage += Volts(0.25);
        assert_eq!(-voltage, Volts(-11.75));
        assert_eq!((-voltage).abs(), Volts(11.75).max(Volts(1.0)).min(Volts(12.0)));
        assert_eq!([Volts(1.0), Volts(2.0)].into_iter().sum::<Volts>(), Volts(4.0) - Volts(1.0));
        assert_eq!(Volts(6.0) / Volts(12.0), 0.5);
        assert_eq!(2.0 * Volts(6.0) / 4.0, Volts(3.0));
        let warm = Celsius(-5.0).warmed_by(Kelvins(25.0));
        assert_eq!((warm, warm.above(Celsius(15.0))), (Celsius(20.0), Kelvins(5.0)));
    }
}
