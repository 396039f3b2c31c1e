//! Fitting: readings from arguments or a file, the answer in its JSON form, and the sheet written anew.
//! Promise: a written sheet keeps every comment and every value that the readings do not see; it is read back before it
//! is kept, and nobody ever finds half a file.

use std::io::{self, BufRead};
use std::path::Path;

use diagnosis::fit::{Compared, Fit, Fitted};
use diagnosis::request::{self, Entry};
use machine::sheet::Guess;
use machine::{Machine, Probe, Seen};
use quantity::{Dimension, Reading, show_with};
use serde::Serialize;
use toml_edit::{DocumentMut, Item, Value, value};

use super::advice::Asked;
use super::refusal::Refusal;
use super::sheets::{self, OpenError};
use super::written::Unwritten;
use super::{patterns, written};

/// Values of which the readings say less are not told one by one, nor written.
pub const SEEN: f64 = 0.01;

/// Lines `NAME = VALUE` of a file; empty lines and those that begin with `#` are passed over.
///
/// # Errors
/// When it cannot be opened or read.
pub fn listed(path: &Path) -> Result<Vec<String>, OpenError> {
    let broken = |source: io::Error| OpenError::Broken { path: path.display().to_string(), source };
    let mut readings = Vec::new();
    for line in sheets::lines(path)?.lines() {
        let line = line.map_err(broken)?;
        let text = line.trim();
        if !text.is_empty() && !text.starts_with('#') {
            readings.push(text.to_owned());
        }
    }
    Ok(readings)
}

/// The probes and values of some readings.
///
/// # Errors
/// At the first that the machine does not have, or whose value cannot be read.
pub fn readings(machine: &Machine, texts: &[String]) -> Result<Vec<(Probe, Reading)>, Refusal> {
    let asked = Asked { readings: texts.to_vec(), ..Asked::default() };
    let request = asked.request(machine)?;
    let faults = machine.faults();
    let entries =
        request.readings.iter().filter_map(|(name, value)| request::entry(machine, &faults, name, value).ok());
    Ok(entries
        .filter_map(|entry| if let Entry::Took(probe, reading) = entry { Some((probe, reading)) } else { None })
        .collect())
}

/// The sheet's text with the values that the readings see, comments kept. A guess of which the readings say more than
/// half is one no more; one that they say less of keeps its two limits, moved out where the value lies beyond.
///
/// # Errors
/// When the text cannot be edited, or what comes out has a problem.
pub fn rewritten(machine: &Machine, text: &str, fit: &Fit) -> Result<String, Unwritten> {
    let mut document: DocumentMut = text.parse()?;
    for fitted in fit.values.iter().filter(|fitted| fitted.information >= SEEN) {
        let part = &machine.sheet.parts[fitted.part].name.name;
        for (field, dimension, number) in &fitted.writes {
            let table =
                document.get_mut("part").and_then(|parts| parts.get_mut(part)).and_then(Item::as_table_like_mut);
            let Some(table) = table else { continue };
            let mut new = written(*number, *dimension);
            if let Some(old) = table.get(field).and_then(Item::as_value) {
                *new.decor_mut() = old.decor().clone();
            }
            table.insert(field, value(new));
            let known = fitted.information > KNOWN;
            if let (true, Some(value)) = (known, table.get_mut(field).and_then(Item::as_value_mut)) {
                patterns::unmark(value);
            }
            widen_guess(&mut document, machine, &format!("{part}.{field}"), (*number, *dimension), known);
        }
    }
    let text = document.to_string();
    let read = machine::sheet::read(&text);
    match (read.sheet, read.findings.first()) {
        (None, finding) => Err(Unwritten::Unsound(finding.map_or_else(String::new, |finding| finding.message.clone()))),
        _ => Ok(text),
    }
}

/// Share of a value that the readings say, above which it is no guess any more.
const KNOWN: f64 = 0.5;

/// Takes a value that is known off the guesses, or moves the guess's limits out to a value that lies beyond.
fn widen_guess(
    document: &mut DocumentMut,
    machine: &Machine,
    path: &str,
    (number, dimension): (f64, Dimension),
    known: bool,
) {
    let Some(guesses) = document.get_mut("guess").and_then(Item::as_table_like_mut) else { return };
    if known {
        guesses.remove(path);
        return;
    }
    let of = |guess: &&Guess| {
        let part = &machine.sheet.parts[guess.part];
        format!("{}.{}", part.name.name, part.kind.fields[guess.field].name) == path
    };
    let guess = machine.sheet.guesses.iter().find(of);
    let Some((guess, limits)) = guess.zip(guesses.get_mut(path).and_then(Item::as_array_mut)) else { return };
    // Rounded outwards, so that the value as written lies within.
    if number < guess.low {
        limits.replace(0, written(0.999 * number, dimension));
    }
    if number > guess.high {
        limits.replace(1, written(1.001 * number, dimension));
    }
}

fn written(number: f64, dimension: Dimension) -> Value {
    const DIGITS: usize = 4;
    match dimension {
        Dimension::Ratio => Value::from((number * 1e4).round() / 1e4),
        _ => Value::from(show_with(number, dimension, DIGITS)),
    }
}

/// Writes a text beside its place and moves it there.
///
/// # Errors
/// When the disk refuses.
pub fn keep(path: &Path, text: &str) -> Result<(), Unwritten> {
    written::keep(path, text).map_err(|source| Unwritten::Disk { path: path.display().to_string(), source })
}

/// The answer of `fit`.
#[derive(Debug, Serialize)]
pub struct Told<'a> {
    /// The machine's id.
    pub sheet: &'a str,
    /// Air temperature.
    pub air_c: Option<f64>,
    /// Root mean square of the readings' distances from the sheet's machine, in σ.
    pub before: f64,
    /// From the fitted machine.
    pub after: f64,
    /// Whether the least was found.
    pub settled: bool,
    /// Every value that readings could correct.
    pub values: Vec<Corrected<'a>>,
    /// Every reading.
    pub readings: Vec<Explained<'a>>,
}

/// One value.
#[derive(Debug, Serialize)]
pub struct Corrected<'a> {
    /// `part.field`.
    pub name: &'a str,
    /// Unit of the numbers; empty for a bare number.
    pub unit: &'static str,
    /// What the sheet says.
    pub sheet: f64,
    /// What sheet and readings say together.
    pub fitted: f64,
    /// One σ of that.
    pub sigma: f64,
    /// The share that the readings say, 0 to 1.
    pub information: f64,
    /// By how many σ the sheet lies off.
    pub apart: f64,
    /// Whether that is more than chance allows.
    pub flagged: bool,
}

/// One reading.
#[derive(Debug, Serialize)]
pub struct Explained<'a> {
    /// The probe's name.
    pub probe: &'a str,
    /// As read, on the instrument's display.
    pub read: String,
    /// What the sheet's machine shows.
    pub sheet: String,
    /// What the fitted machine shows.
    pub fitted: String,
    /// σ from the sheet's machine to the reading; nothing when they are of different sorts.
    pub sheet_sigma: Option<f64>,
    /// σ from the fitted machine to the reading.
    pub fitted_sigma: Option<f64>,
    /// Whether some value of the sheet explains it.
    pub explained: bool,
}

impl<'a> Told<'a> {
    /// The form of a fit.
    pub fn new(machine: &'a Machine, air_c: Option<f64>, fit: &'a Fit) -> Self {
        Self {
            sheet: &machine.sheet.id,
            air_c,
            before: fit.before,
            after: fit.after,
            settled: fit.settled,
            values: fit.values.iter().map(Corrected::from).collect(),
            readings: fit.readings.iter().map(Explained::from).collect(),
        }
    }
}

impl<'a> From<&'a Fitted> for Corrected<'a> {
    fn from(value: &'a Fitted) -> Self {
        Self {
            name: &value.name,
            unit: value.dimension.symbol(),
            sheet: value.sheet,
            fitted: value.fitted,
            sigma: value.sigma,
            information: value.information,
            apart: value.apart,
            flagged: value.is_apart(),
        }
    }
}

impl<'a> From<&'a Compared> for Explained<'a> {
    fn from(one: &'a Compared) -> Self {
        let finite = |sigma: f64| sigma.is_finite().then_some(sigma);
        Self {
            probe: &one.probe.name,
            read: one.probe.show(&one.reading),
            sheet: as_seen(&one.probe, one.sheet.0),
            fitted: as_seen(&one.probe, one.fitted.0),
            sheet_sigma: finite(one.sheet.1),
            fitted_sigma: finite(one.fitted.1),
            explained: one.is_explained(),
        }
    }
}

/// What is seen as the instrument shows it.
pub fn as_seen(probe: &Probe, seen: Seen) -> String {
    match seen {
        Seen::Number(number) => probe.display(number),
        Seen::Range(low, high) => format!("{}..{}", probe.display(low), probe.display(high)),
        Seen::Over => "OL".to_owned(),
        Seen::Word(word) => probe.words().get(usize::from(word)).copied().unwrap_or("nothing").to_owned(),
        Seen::Nothing => "nothing".to_owned(),
    }
}
