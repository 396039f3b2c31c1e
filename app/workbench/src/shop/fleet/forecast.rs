//! Mornings and their temperatures, typed or from a small table.
//! Promise: a mistake is told with its line and what would be right.

use std::fmt;

use csv::{ReaderBuilder, Trim};
use quantity::{Dimension, read_loosely};
use serde::Serialize;

/// The most mornings of a board.
const MOST: usize = 31;
/// Coldest and warmest air that is believed, °C.
const AIR: (f64, f64) = (-40.0, 50.0);

/// A morning that is asked about.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Asked {
    /// What it is called: a date, a day of the week.
    pub name: String,
    /// Its air, °C.
    pub air_c: f64,
}

/// What is asked about when nothing is said.
pub fn usual() -> Vec<Asked> {
    [-10.0, -5.0, 0.0, 10.0].into_iter().map(|air_c| Asked::new("", air_c)).collect()
}

impl Asked {
    fn new(name: &str, air_c: f64) -> Self {
        Self { name: if name.is_empty() { format!("{air_c} °C") } else { name.to_owned() }, air_c }
    }
}

/// Why there is no morning.
#[derive(Debug, PartialEq, thiserror::Error)]
pub struct NoForecast {
    /// Its line, where it is from a table.
    pub line: Option<u64>,
    /// What is wrong.
    pub problem: String,
}

impl fmt::Display for NoForecast {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.line {
            Some(line) => write!(f, "line {line}: {}", self.problem),
            None => f.write_str(&self.problem),
        }
    }
}

/// A morning as it is typed: `-8 C`, `Saturday=-8 C`, `2026-12-05 = -8`.
///
/// # Errors
/// When that is no temperature, or none that air has.
pub fn typed(text: &str) -> Result<Asked, NoForecast> {
    let (name, air) = text.rsplit_once('=').map_or(("", text), |(name, air)| (name.trim(), air));
    asked(name, air).map_err(|problem| NoForecast { line: None, problem })
}

/// Mornings from a table: a line each, name and temperature, between them a comma, a semicolon or a tab. A first line of
/// headings is passed over.
///
/// # Errors
/// With the line that cannot be read.
pub fn read(text: &str) -> Result<Vec<Asked>, NoForecast> {
    let text = text.trim_start_matches('\u{feff}');
    let delimiter = [b';', b'\t'].into_iter().find(|mark| text.contains(char::from(*mark))).unwrap_or(b',');
    let mut reader = ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(Trim::All)
        .comment(Some(b'#'))
        .delimiter(delimiter)
        .from_reader(text.as_bytes());
    let mut mornings = Vec::new();
    for (index, record) in reader.records().enumerate() {
        let at = |line: Option<u64>, problem: String| NoForecast { line, problem };
        let record = record.map_err(|error| at(error.position().map(csv::Position::line), error.to_string()))?;
        let line = record.position().map(csv::Position::line);
        let morning = match record.iter().collect::<Vec<_>>().as_slice() {
            [air] => asked("", air),
            [name, air] => asked(name, air),
            fields => Err(format!(
                "{} fields; a name and a temperature are wanted, as in `2026-12-05;-8,5` or `2026-12-05,-8.5`",
                fields.len()
            )),
        };
        match morning {
            Ok(morning) => mornings.push(morning),
            Err(_) if index == 0 && !record.iter().any(|field| field.contains(|c: char| c.is_ascii_digit())) => {}
            Err(problem) => return Err(at(line, problem)),
        }
        if mornings.len() > MOST {
            return Err(at(line, format!("more than {MOST} mornings")));
        }
    }
    if mornings.is_empty() {
        let problem = "no morning in it; a line each is wanted, as in `2026-12-05,-8.5`".to_owned();
        return Err(NoForecast { line: None, problem });
    }
    Ok(mornings)
}

fn asked(name: &str, air: &str) -> Result<Asked, String> {
    let air_c = read_loosely(air, Dimension::Temperature).map_err(|error| error.to_string())?;
    if !(AIR.0..=AIR.1).contains(&air_c) {
        return Err(format!("{air_c} °C is no air of a morning; {} to {} °C is", AIR.0, AIR.1));
    }
    Ok(Asked::new(name, air_c))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn airs(text: &str) -> Vec<f64> {
        read(text).unwrap().iter().map(|asked| asked.air_c).collect()
    }

    #[test]
    fn law_tables_are_read_as_people_write_them() {
        assert_eq!(airs("date,air\n2026-12-05,-8.5\n2026-12-06,-3 C\n"), [-8.5, -3.0]);
        assert_eq!(airs("Datum;Luft\n2026-12-05;-8,5\n"), [-8.5]);
        assert_eq!(airs("Saturday\t-8 °C\n# a note\nSunday\t23 F\n"), [-8.0, -5.0]);
        assert_eq!(airs("-8\n-3\n"), [-8.0, -3.0]);
        assert_eq!(typed("Saturday = -8 C").unwrap(), Asked { name: "Saturday".into(), air_c: -8.0 });
    }

    #[test]
    fn law_a_mistake_is_told_with_its_line() {
        assert_eq!(read("date,air\n2026-12-05,cold\n").unwrap_err().line, Some(2));
        let decimal = read("2026-12-05,-8,5\n").unwrap_err();
        assert!(decimal.line == Some(1) && decimal.problem.contains(';'), "{decimal}");
        assert!(read("a,-80 C\n").unwrap_err().to_string().contains("-40 to 50"));
        assert!(read("").is_err() && typed("Saturday=").is_err());
    }
}
