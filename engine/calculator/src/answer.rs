//! What a worksheet answers: figures with units, tables, the working, what to do, what to mind, a plot's numbers.
//! Promise: a number is kept once, in the unit in which it is printed, so that text and JSON cannot differ.

use quantity::{Dimension, show};

/// The answer of a worksheet.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Answer {
    /// The answer in one sentence.
    pub headline: String,
    /// Its figures, the most wanted first.
    pub figures: Vec<Figure>,
    /// Rows where one figure is not enough.
    pub tables: Vec<Table>,
    /// How it came about, step by step, the numbers put in.
    pub working: Vec<String>,
    /// What to do with it.
    pub advice: Vec<String>,
    /// What can hurt someone or something while doing it.
    pub cautions: Vec<&'static str>,
    /// Where the equations and limits are from.
    pub sources: Vec<&'static str>,
    /// A curve worth seeing.
    pub plot: Option<Plot>,
}

/// One number of an answer, or one word.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// Its name for programs, the unit at the end where one is needed: `drop_v`, `days`.
    pub name: &'static str,
    /// Its name for people.
    pub title: String,
    /// What it is.
    pub value: Cell,
}

/// A number with its unit, or a word.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    /// A number, in that unit.
    Number(f64, Unit),
    /// A word or a sentence.
    Text(String),
    /// There is none: the case does not arise.
    None,
}

/// The unit in which a number is printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// That of `quantity` for this kind, and SI as a bare number.
    Of(Dimension),
    /// Revolutions a minute.
    Rpm,
    /// Ampere-hours.
    AmpereHours,
    /// Hours.
    Hours,
    /// Days.
    Days,
    /// Years.
    Years,
    /// Hundredths of the whole.
    Percent,
    /// How many.
    Count,
    /// Volts to the hundredth, as a meter shows a battery's.
    MeterVolts,
}

impl Unit {
    /// The unit's sign behind a bare number; empty for a count or a ratio.
    pub fn sign(self) -> &'static str {
        match self {
            Self::Of(dimension) => dimension.symbol(),
            Self::Rpm => "rpm",
            Self::AmpereHours => "Ah",
            Self::Hours => "h",
            Self::Days => "days",
            Self::Years => "years",
            Self::Percent => "%",
            Self::Count => "",
            Self::MeterVolts => "V",
        }
    }
}

impl Cell {
    /// A number in the unit of its dimension.
    pub fn of(si: f64, dimension: Dimension) -> Self {
        Self::Number(si, Unit::Of(dimension))
    }

    /// As printed: three significant digits with the unit.
    pub fn text(&self) -> String {
        match self {
            Self::Number(number, Unit::Of(dimension)) => show(*number, *dimension),
            Self::Number(number, Unit::Count) => format!("{number:.0}"),
            Self::Number(number, Unit::MeterVolts) => format!("{number:.2} V"),
            Self::Number(number, Unit::Percent) if number.abs() >= 9.995 => format!("{number:.1} %"),
            Self::Number(number, Unit::Percent) if number.abs() >= 0.005 => format!("{number:.2} %"),
            Self::Number(number, unit) => format!("{} {}", show(*number, Dimension::Ratio), unit.sign()),
            Self::Text(text) => text.clone(),
            Self::None => "–".to_owned(),
        }
    }
}

/// Rows of figures under common headings.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    /// Its name for programs.
    pub name: &'static str,
    /// Its name for people.
    pub title: String,
    /// Its columns.
    pub columns: Vec<Column>,
    /// A cell a column each.
    pub rows: Vec<Vec<Cell>>,
}

/// A column of a table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Column {
    /// Its name for programs, the unit at the end where one is needed.
    pub name: &'static str,
    /// Its heading.
    pub title: &'static str,
}

/// The numbers of a plot.
#[derive(Clone, Debug, PartialEq)]
pub struct Plot {
    /// What it shows.
    pub title: String,
    /// Sideways.
    pub x: Axis,
    /// Upwards.
    pub y: Axis,
    /// At least one, each with at least two points in rising x.
    pub curves: Vec<Curve>,
    /// Levels that mean something.
    pub limits: Vec<Limit>,
}

/// An axis of a plot: what, in which unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Axis {
    /// What is along it, the unit in brackets.
    pub title: String,
}

/// A line of a plot.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    /// What it is.
    pub title: String,
    /// Its points in the units of the axes.
    pub points: Vec<(f64, f64)>,
}

/// A level in a plot that means something.
#[derive(Clone, Debug, PartialEq)]
pub struct Limit {
    /// What it is.
    pub title: String,
    /// Where it is on the upward axis.
    pub at: f64,
}
