//! The small words of every worksheet: figures, cells and quantities as text.

use quantity::{Dimension, show};

use crate::answer::{Axis, Cell, Column, Curve, Figure, Limit, Plot, Unit};

/// A figure of a dimension, SI.
pub fn figure(name: &'static str, title: &str, si: f64, dimension: Dimension) -> Figure {
    Figure { name, title: title.to_owned(), value: of(si, dimension) }
}

/// A figure in one of the units that `quantity` does not know.
pub fn figure_in(name: &'static str, title: &str, number: f64, unit: Unit) -> Figure {
    let value = if number.is_finite() { Cell::Number(number, unit) } else { Cell::None };
    Figure { name, title: title.to_owned(), value }
}

/// A word for an answer.
pub fn word(name: &'static str, title: &str, text: impl Into<String>) -> Figure {
    Figure { name, title: title.to_owned(), value: Cell::Text(text.into()) }
}

/// A cell of a dimension, SI; none where there is no finite number.
pub fn of(si: f64, dimension: Dimension) -> Cell {
    if si.is_finite() { Cell::of(si, dimension) } else { Cell::None }
}

/// A cell with a text.
pub fn text(text: impl Into<String>) -> Cell {
    Cell::Text(text.into())
}

/// A column.
pub const fn column(name: &'static str, title: &'static str) -> Column {
    Column { name, title }
}

/// A plot of one curve.
pub fn plot(title: &str, x: &str, y: &str, curve: &str, points: Vec<(f64, f64)>, limits: &[(&str, f64)]) -> Plot {
    Plot {
        title: title.to_owned(),
        x: Axis { title: x.to_owned() },
        y: Axis { title: y.to_owned() },
        curves: vec![Curve { title: curve.to_owned(), points }],
        limits: limits.iter().map(|(title, at)| Limit { title: (*title).to_owned(), at: *at }).collect(),
    }
}

/// Evenly spaced places from one to another, both ends among them.
pub fn steps(from: f64, to: f64, count: u32) -> impl Iterator<Item = f64> {
    (0..=count).map(move |step| from + (to - from) * f64::from(step) / f64::from(count))
}

/// Volts as text.
pub fn volts(si: f64) -> String {
    show(si, Dimension::Voltage)
}

/// Volts of a battery as text: to the hundredth, as a meter shows them.
pub fn meter_volts(si: f64) -> String {
    Cell::Number(si, Unit::MeterVolts).text()
}

/// Amperes as text.
pub fn amps(si: f64) -> String {
    show(si, Dimension::Current)
}

/// Ohms as text.
pub fn ohms(si: f64) -> String {
    show(si, Dimension::Resistance)
}

/// A number rounded to three digits: an estimate that would look exact otherwise.
pub fn rounded(number: f64) -> f64 {
    if number == 0.0 || !number.is_finite() {
        return number;
    }
    let step = libm::pow(10.0, libm::floor(libm::log10(number.abs())) - 2.0);
    libm::round(number / step) * step
}

/// A bare number as text, three digits.
pub fn plain(number: f64) -> String {
    show(number, Dimension::Ratio)
}
