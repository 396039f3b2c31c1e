//! From an SI number to the text a meter or a data sheet would print.
//! Three significant digits unless asked otherwise, with the prefix that keeps one to three digits before
//! the point. Promise: never `-0.00`; what is shown can be read back. Limit: rounds half as Rust's `{:e}` does.

use crate::Dimension;
use crate::unit::RPM;

/// The value (SI; °C for a temperature) with its unit, to three significant digits: `12.9 V`, `180 mΩ`.
pub fn show(value_si: f64, dimension: Dimension) -> String {
    show_with(value_si, dimension, 3)
}

/// As [`show`], to as many significant digits as asked (1 to 15).
pub fn show_with(value_si: f64, dimension: Dimension, digits: usize) -> String {
    let digits = digits.clamp(1, 15);
    let like = |value, unit| fixed(value, unit, digits);
    match dimension {
        Dimension::Voltage => engineering(value_si, "V", -9, 6, digits),
        Dimension::Current => engineering(value_si, "A", -12, 3, digits),
        Dimension::Resistance => engineering(value_si, "Ω", -9, 9, digits),
        Dimension::Conductance => engineering(value_si, "S", -9, 3, digits),
        Dimension::Power => engineering(value_si, "W", -9, 6, digits),
        Dimension::Energy => engineering(value_si, "J", -9, 6, digits),
        Dimension::Charge => engineering(value_si / 3600.0, "Ah", -6, 0, digits),
        Dimension::Length => engineering(value_si, "m", -9, 3, digits),
        Dimension::Capacitance => engineering(value_si, "F", -12, 0, digits),
        Dimension::Inductance => engineering(value_si, "H", -9, 0, digits),
        Dimension::Frequency => engineering(value_si, "Hz", 0, 6, digits),
        Dimension::Temperature => thermometer(value_si, digits),
        Dimension::TemperatureDifference => like(value_si, "K"),
        Dimension::Area if value_si.abs() < 0.01 => like(value_si * 1e6, "mm²"),
        Dimension::Area => like(value_si, "m²"),
        Dimension::Time => clock(value_si, digits),
        Dimension::Force => engineering(value_si, "N", 0, 3, digits),
        Dimension::Torque => like(value_si, "N·m"),
        Dimension::MotorConstant => like(value_si, "V·s/rad"),
        Dimension::Drag => like(value_si, "N·m·s/rad"),
        Dimension::Inertia => like(value_si, "kg·m²"),
        Dimension::Speed => like(value_si / RPM, "rpm"),
        Dimension::AngularAcceleration => like(value_si, "rad/s²"),
        Dimension::Angle => like(value_si.to_degrees(), "°"),
        Dimension::Ratio => like(value_si, ""),
    }
}

/// A rounded number: its digits without point, and the power of ten of the first.
struct Rounded {
    negative: bool,
    digits: String,
    exponent: i32,
}

/// `None` for zero and for what is not a finite number.
fn round(value: f64, digits: usize) -> Option<Rounded> {
    if value == 0.0 || !value.is_finite() {
        return None;
    }
    let text = format!("{:.*e}", digits - 1, value.abs());
    let (mantissa, exponent) = text.split_once('e')?;
    Some(Rounded { negative: value < 0.0, digits: mantissa.replace('.', ""), exponent: exponent.parse().ok()? })
}

impl Rounded {
    /// The digits with the point where the power of ten says, after taking `shift` powers away.
    fn place(&self, shift: i32) -> String {
        let sign = if self.negative { "-" } else { "" };
        let before = self.exponent - shift + 1;
        let count = self.digits.len();
        match usize::try_from(before) {
            Ok(before) if before >= count => {
                format!("{sign}{}{}", self.digits, "0".repeat(before - count))
            }
            Ok(before) if before > 0 => format!("{sign}{}.{}", &self.digits[..before], &self.digits[before..]),
            _ => format!("{sign}0.{}{}", "0".repeat(before.unsigned_abs() as usize), self.digits),
        }
    }

    fn scientific(&self) -> String {
        let sign = if self.negative { "-" } else { "" };
        let (first, others) = self.digits.split_at(1);
        let point = if others.is_empty() { "" } else { "." };
        format!("{sign}{first}{point}{others}e{}", self.exponent)
    }
}

fn with_unit(number: &str, unit: &str) -> String {
    match unit {
        "" => number.to_owned(),
        "°" => format!("{number}°"),
        unit => format!("{number} {unit}"),
    }
}

/// Zero and the numbers that are none.
fn unrounded(value: f64, unit: &str) -> String {
    let number = match value {
        nan if nan.is_nan() => "no number",
        infinite if infinite == f64::INFINITY => "∞",
        infinite if infinite == f64::NEG_INFINITY => "-∞",
        _ => "0",
    };
    with_unit(number, unit)
}

/// With the prefix of a power of ten from `least` to `most` (multiples of three).
fn engineering(value: f64, unit: &str, least: i32, most: i32, digits: usize) -> String {
    let Some(rounded) = round(value, digits) else {
        return unrounded(value, unit);
    };
    let power = rounded.exponent.div_euclid(3) * 3;
    if power < least || power > most + 3 {
        return with_unit(&rounded.scientific(), unit);
    }
    let power = power.min(most);
    let prefix = match power {
        -12 => "p",
        -9 => "n",
        -6 => "µ",
        -3 => "m",
        3 => "k",
        6 => "M",
        9 => "G",
        _ => "",
    };
    with_unit(&rounded.place(power), &format!("{prefix}{unit}"))
}

/// Without prefix; as a power of ten where plain digits would be mostly zeros. From 1000 up to a million
/// every digit before the point is kept, as on a tachometer.
fn fixed(value: f64, unit: &str, digits: usize) -> String {
    let Some(rounded) = round(value, digits) else {
        return unrounded(value, unit);
    };
    match rounded.exponent {
        exponent if !(-3..6).contains(&exponent) => with_unit(&rounded.scientific(), unit),
        exponent if exponent >= digits as i32 => with_unit(&format!("{value:.0}"), unit),
        _ => with_unit(&rounded.place(0), unit),
    }
}

/// One decimal, as on a thermometer, unless more digits are asked for; none from 100 °C on.
fn thermometer(value: f64, digits: usize) -> String {
    if !value.is_finite() || value.abs() >= 1e6 {
        return fixed(value, "°C", digits);
    }
    let decimals = digits.saturating_sub(if value.abs() < 99.95 { 2 } else { 3 });
    let text = format!("{value:.decimals$}");
    let is_zero = !text.contains(|letter| matches!(letter, '1'..='9'));
    with_unit(if is_zero { text.trim_start_matches('-') } else { &text }, "°C")
}

/// Seconds, minutes, hours or days, whichever a person would say, without idle zeros: `90 s`, `2 min`.
fn clock(value: f64, digits: usize) -> String {
    let size = value.abs();
    let (number, unit) = match size {
        _ if size < 60.0 || (size > 60.0 && size < 120.0) => {
            return without_idle_zeros(&engineering(value, "s", -9, 0, digits));
        }
        _ if size < 3600.0 || (size > 3600.0 && size < 7200.0) => (value / 60.0, "min"),
        _ if size < 172_800.0 => (value / 3600.0, "h"),
        _ => (value / 86_400.0, "d"),
    };
    without_idle_zeros(&fixed(number, unit, digits))
}

fn without_idle_zeros(text: &str) -> String {
    match text.split_once(' ') {
        Some((number, unit)) if number.contains('.') && !number.contains('e') => {
            format!("{} {unit}", number.trim_end_matches('0').trim_end_matches('.'))
        }
        _ => text.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(dimension: Dimension, pairs: &[(f64, &str)]) {
        for &(value, shown) in pairs {
            assert_eq!(show(value, dimension), shown, "{value:e} as {dimension:?}");
        }
    }

    #[test]
    fn law_three_digits_with_the_prefix_of_the_trade() {
        use Dimension::*;
        check(Voltage, &[(12.9, "12.9 V"), (0.9999, "1.00 V"), (-0.0452, "-45.2 mV"), (999.6, "1.00 kV")]);
        check(Voltage, &[(0.0, "0 V"), (-0.0, "0 V"), (1e-15, "1.00e-15 V"), (f64::NAN, "no number V")]);
        check(Resistance, &[(0.18, "180 mΩ"), (4700.0, "4.70 kΩ"), (1e6, "1.00 MΩ"), (8e-4, "800 µΩ")]);
        check(Current, &[(5e-9, "5.00 nA"), (120.0, "120 A"), (1e6, "1000 kA"), (f64::INFINITY, "∞ A")]);
        check(Charge, &[(8280.0, "2.30 Ah"), (360.0, "100 mAh")]);
        check(Temperature, &[(-5.0, "-5.0 °C"), (20.0, "20.0 °C"), (250.0, "250 °C"), (-0.01, "0.0 °C")]);
        check(Length, &[(0.45, "450 mm"), (1.2, "1.20 m")]);
        check(Area, &[(1.33e-5, "13.3 mm²")]);
        check(MotorConstant, &[(0.011, "0.0110 V·s/rad")]);
        check(Drag, &[(2e-4, "2.00e-4 N·m·s/rad")]);
        check(Speed, &[(300.0 * std::f64::consts::PI, "9000 rpm"), (RPM * 312.4, "312 rpm")]);
        check(Angle, &[(std::f64::consts::PI / 6.0, "30.0°")]);
        check(Ratio, &[(0.35, "0.350")]);
    }

    #[test]
    fn law_times_are_said_as_people_say_them() {
        let said = [(1.5, "1.5 s"), (90.0, "90 s"), (60.0, "1 min"), (120.0, "2 min"), (5400.0, "90 min")];
        check(Dimension::Time, &said);
        let said = [
            (3600.0, "1 h"),
            (9000.0, "2.5 h"),
            (86_400.0 * 9.0, "9 d"),
            (129_600.0, "36 h"),
            (0.25, "250 ms"),
            (0.0, "0 s"),
        ];
        check(Dimension::Time, &said);
    }

    #[test]
    fn law_more_digits_when_asked() {
        assert_eq!(show_with(12.632, Dimension::Voltage, 4), "12.63 V");
        assert_eq!(format!("{:.5}", crate::Ohms(0.010007)), "10.007 mΩ");
    }
}
