//! A meter's display: how many digits it shows, and how far the true value may be from them.
//! Law: the lowest range that holds the value; accuracy ±(a · |value| + n counts), one count being the
//! range's last digit. Source: handheld meters' public manuals, as marked beside each default.
//! Promise: above the highest range it says `OL`; never `-0.00`.
//! Not modelled: temperature and aging of the meter, what it draws from the circuit, lead resistance.

use crate::Dimension;

/// One function of a meter (volts, amps, ohms): its digits, ranges and accuracy.
#[derive(Clone, PartialEq, Debug)]
pub struct Face {
    /// Counts of the display: 6000 shows 0 to 5999 without the point.
    pub counts: u32,
    /// The share of the reading that it may be wrong by (0.005 is 0.5 %).
    pub accuracy_ratio: f64,
    /// The counts of the last digit that it may be wrong by beside that.
    pub accuracy_counts: f64,
    /// Full scales in SI, ascending: `6.0` is a range that shows 0.000 to 5.999.
    pub ranges: Vec<f64>,
    /// Size above which it shows `OL` whatever the ranges hold, in SI; infinite for none.
    pub limit: f64,
}

impl Face {
    /// DC volts of a 6000-count handheld meter, ±(0.5 % + 2): typical, from memory.
    pub fn volts() -> Face {
        Face::new(0.005, 2.0, &[6.0, 60.0, 600.0])
    }

    /// DC millivolts of the same meter, a position of its own on most dials, ±(0.5 % + 2): typical, from memory.
    pub fn millivolts() -> Face {
        Face::new(0.005, 2.0, &[0.6])
    }

    /// AC volts of the same meter, ±(1.0 % + 3): typical, from memory.
    pub fn ac_volts() -> Face {
        Face::new(0.01, 3.0, &[6.0, 60.0, 600.0])
    }

    /// DC amps through the 10 A jack, ±(1.0 % + 3): typical, from memory; `OL` above 10 A, as the fuse opens.
    pub fn amps() -> Face {
        Face { limit: 10.0, ..Face::new(0.01, 3.0, &[6.0, 60.0]) }
    }

    /// Resistance, ±(0.8 % + 2) with a lowest step of 0.1 Ω: a 3½-digit handheld meter's public manual.
    pub fn ohms() -> Face {
        Face::new(0.008, 2.0, &[6e2, 6e3, 6e4, 6e5, 6e6, 6e7])
    }

    /// Diode test, which shows volts up to 3 V, ±(1.0 % + 3): typical, from memory.
    pub fn diode() -> Face {
        Face { limit: 3.0, ..Face::new(0.01, 3.0, &[6.0]) }
    }

    /// DC current of a clamp, ±(2 % + 3): typical, from memory.
    pub fn clamp() -> Face {
        Face::new(0.02, 3.0, &[60.0, 600.0])
    }

    /// The default face for a kind of quantity, if a handheld meter has a position for it. Currents are read
    /// in line (see [`Face::amps`]); a clamp is [`Face::clamp`].
    pub fn handheld(dimension: Dimension) -> Option<Face> {
        match dimension {
            Dimension::Voltage => Some(Face::volts()),
            Dimension::Current => Some(Face::amps()),
            Dimension::Resistance => Some(Face::ohms()),
            _ => None,
        }
    }

    fn new(accuracy_ratio: f64, accuracy_counts: f64, ranges: &[f64]) -> Face {
        Face { counts: 6000, accuracy_ratio, accuracy_counts, ranges: ranges.to_vec(), limit: f64::INFINITY }
    }

    /// What the display shows of a value (SI) with its unit: `12.63 V`, `45.2 mV`, `OL`.
    pub fn show(&self, value: f64, dimension: Dimension) -> String {
        let Some(full) = self.range(value) else {
            return "OL".to_owned();
        };
        let (power, prefix) = prefix(full);
        let unit = size_of_one(power);
        let step = self.step_of(full) / unit;
        let decimals = (0..9).find(|&decimals| step * size_of_one(decimals) >= 0.999).unwrap_or(9);
        let shown = round(value / unit / step) * step;
        let shown = if shown == 0.0 { 0.0 } else { shown };
        format!("{shown:.*} {prefix}{}", decimals as usize, dimension.symbol())
    }

    /// One count at this value (SI): the last digit of the range that holds it, of the highest beyond.
    pub fn step(&self, value: f64) -> f64 {
        let highest = self.ranges.last().copied().unwrap_or(0.0);
        self.step_of(self.range(value).unwrap_or(highest))
    }

    /// How far from the value (SI) the true one may be: accuracy's share of it plus its counts.
    pub fn uncertainty(&self, value: f64) -> f64 {
        self.accuracy_ratio * value.abs() + self.accuracy_counts * self.step(value)
    }

    /// Whether the display says `OL`.
    pub fn overloads(&self, value: f64) -> bool {
        self.range(value).is_none()
    }

    /// The value as the display rounds it (SI), or `None` for `OL`.
    pub fn rounded(&self, value: f64) -> Option<f64> {
        let step = self.step_of(self.range(value)?);
        Some(round(value / step) * step)
    }

    /// Full scale of the lowest range that holds the value.
    fn range(&self, value: f64) -> Option<f64> {
        let within = value.abs() <= self.limit;
        let holds = |full: &f64| round(value.abs() / self.step_of(*full)) < f64::from(self.counts);
        self.ranges.iter().copied().find(|full| within && holds(full))
    }

    fn step_of(&self, full: f64) -> f64 {
        full / f64::from(self.counts)
    }
}

fn round(number: f64) -> f64 {
    libm::round(number)
}

/// The prefix a range is labeled with, and its power of ten.
fn prefix(full: f64) -> (i32, &'static str) {
    [(6, "M"), (3, "k"), (0, ""), (-3, "m")]
        .into_iter()
        .find(|&(power, _)| full >= size_of_one(power))
        .unwrap_or((-6, "µ"))
}

fn size_of_one(power: i32) -> f64 {
    libm::pow(10.0, f64::from(power))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Amps, Ohms, Volts};
    use proptest::prelude::*;

    fn check(face: Face, dimension: Dimension, pairs: &[(f64, &str)]) {
        for &(value, shown) in pairs {
            assert_eq!(face.show(value, dimension), shown, "{value}");
        }
    }

    #[test]
    fn law_the_lowest_range_that_holds_the_value_is_shown() {
        let volts = [
            (12.632, "12.63 V"),
            (0.18, "0.180 V"),
            (-0.0004, "0.000 V"),
            (5.9994, "5.999 V"),
            (5.9996, "6.00 V"),
            (-12.6, "-12.60 V"),
            (230.0, "230.0 V"),
            (599.96, "OL"),
            (f64::NAN, "OL"),
        ];
        check(Face::volts(), Dimension::Voltage, &volts);
        let millivolts = [(0.0452, "45.2 mV"), (-0.00004, "0.0 mV"), (0.6, "OL")];
        check(Face::millivolts(), Dimension::Voltage, &millivolts);
        let ohms = [(0.14, "0.1 Ω"), (4.1, "4.1 Ω"), (4700.0, "4.700 kΩ"), (2.2e6, "2.200 MΩ"), (1e8, "OL")];
        check(Face::ohms(), Dimension::Resistance, &ohms);
        check(Face::amps(), Dimension::Current, &[(0.005, "0.005 A"), (9.5, "9.50 A"), (10.5, "OL")]);
        check(Face::clamp(), Dimension::Current, &[(-42.0, "-42.00 A"), (120.0, "120.0 A")]);
    }

    #[test]
    fn textbook_ohms_cannot_tell_ten_milliohms_from_none_derived() {
        // ±(0.8 % + 2 counts of 0.1 Ω), as in a handheld meter's public manual.
        let band = Face::ohms().uncertainty(0.010);
        assert!((band - 0.2001).abs() < 5e-5, "{band}");
        assert_eq!(Face::ohms().show(0.010, Dimension::Resistance), "0.0 Ω");
    }

    #[test]
    fn textbook_drop_test_reads_ten_milliohms_to_seven_hundredths_derived() {
        // 10 mΩ at 100 A on ±(0.5 % + 2 counts of 1 mV): 1.000 ± 0.007 V, so 10.00 ± 0.07 mΩ.
        let drop: Volts = Amps(100.0) * Ohms(0.010);
        let band = Face::volts().uncertainty(drop.0);
        assert!((band - 0.007).abs() < 1e-9, "{band}");
        let band = Volts(band) / Amps(100.0);
        assert!((band.0 - 0.07e-3).abs() < 1e-9, "{band}");
        let times_better = Face::ohms().uncertainty(0.010) / band.0;
        assert!((times_better - 2900.0).abs() < 50.0, "{times_better}");
    }

    #[test]
    fn law_each_default_face_has_the_accuracy_it_states() {
        let near = |found: f64, expected: f64| assert!((found - expected).abs() < 1e-9, "{found}");
        near(Face::clamp().uncertainty(100.0), 2.0 + 0.3);
        near(Face::amps().uncertainty(-2.0), 0.02 + 0.003);
        near(Face::ac_volts().uncertainty(30.0), 0.3 + 0.03);
        near(Face::millivolts().uncertainty(0.1), 0.0005 + 0.0002);
        assert_eq!(Face::diode().show(0.55, Dimension::Voltage), "0.550 V");
        assert!(Face::diode().overloads(3.1) && !Face::diode().overloads(2.9));
        assert_eq!(Face::handheld(Dimension::Resistance), Some(Face::ohms()));
        assert_eq!(Face::handheld(Dimension::Torque), None);
    }

    proptest! {
        #[test]
        fn law_what_the_face_shows_is_within_half_a_count(value in -599.9..599.9f64) {
            let face = Face::volts();
            let shown = crate::read(&face.show(value, Dimension::Voltage), Dimension::Voltage).unwrap();
            prop_assert!((shown - value).abs() <= 0.5001 * face.step(value));
            prop_assert!((shown - face.rounded(value).unwrap()).abs() < 1e-9);
            prop_assert!(face.uncertainty(value) >= 2.0 * face.step(value));
        }
    }
}
