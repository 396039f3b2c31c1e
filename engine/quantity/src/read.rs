//! From what a person writes to an SI number of the wanted kind.
//! Number first, then unit; the unit is looked up in the wanted kind, and only for the message in others.
//! Promise: no text makes it panic; no text is read in two ways; every refusal says what to write.
//! Limit: one number and one unit; ranges, bounds and words are [`Reading`](crate::Reading)'s.

use crate::number::{self, NoNumber, Number};
use crate::refusal::{ReadError, ReadErrorKind, quoted};
use crate::unit::{self, Law, Scale};
use crate::{Dimension, show};

/// Largest size of a number that is believed.
const LARGEST: f64 = 1e30;
/// Absolute zero, °C.
const ABSOLUTE_ZERO: f64 = -273.15;

/// Reads a quantity written with its unit; the value comes back in SI (temperature in °C).
/// A bare number is refused unless a ratio is wanted.
pub fn read(text: &str, dimension: Dimension) -> Result<f64, ReadError> {
    read_with(text, dimension, None)
}

/// Reads a quantity typed at a prompt: as [`read`], and a bare number has the kind's
/// [`loose_unit`](Dimension::loose_unit). A length or a section still needs its unit.
pub fn read_loosely(text: &str, dimension: Dimension) -> Result<f64, ReadError> {
    read_with(text, dimension, dimension.loose_unit())
}

fn read_with(text: &str, wanted: Dimension, bare_unit: Option<&str>) -> Result<f64, ReadError> {
    let refuse = |kind, hint| Err(ReadError::quantity(text, wanted, kind, hint));
    let plain = number_first(&number::plain(text));
    if plain.is_empty() {
        return refuse(ReadErrorKind::Empty, None);
    }
    let finish = |number, scale| finish(text, wanted, number, scale);
    if let Some(gauge) = zeros_gauge(&plain) {
        if wanted != Dimension::Area {
            return refuse(ReadErrorKind::WrongDimension(Dimension::Area), None);
        }
        return finish(f64::from(gauge), Scale::GAUGE);
    }
    let (number, rest) = match number::split(&plain) {
        Ok(found) => found,
        Err(NoNumber::None) => {
            return refuse(ReadErrorKind::NotANumber, unit_first(&plain, wanted));
        }
        Err(NoNumber::Grouped { meant }) => {
            let hint = meant.map(|meant| format!("write {} without grouping", quoted(&meant)));
            return refuse(ReadErrorKind::Grouped, hint);
        }
    };
    if let Some((number, power)) = letter_as_mark(&number, rest, wanted) {
        return finish(number.times_ten_to(power), Scale::ten_to(power));
    }
    let unit = match (unit::normal(rest), bare_unit) {
        (empty, Some(bare)) if empty.is_empty() => bare.to_owned(),
        (written, _) => written,
    };
    if let Some(scale) = unit::find(&unit, wanted) {
        if scale.law == Law::Gauge && !number.is_plain_whole() {
            let hint = "write \"6 AWG\" or \"1/0 AWG\"".to_owned();
            return refuse(ReadErrorKind::OutOfRange, Some(hint));
        }
        return finish(number.times_ten_to(scale.power), scale);
    }
    if unit.is_empty() {
        return refuse(ReadErrorKind::BareNumber, Some(with_unit(&plain, wanted)));
    }
    if let Some(other) = unit::belongs_to(&unit) {
        return refuse(ReadErrorKind::WrongDimension(other), instead(&number, wanted, other));
    }
    let near = unit::nearest(&unit, wanted);
    let digits = plain[..plain.len() - rest.len()].trim();
    refuse(ReadErrorKind::UnknownUnit, near.map(|unit| format!("did you mean \"{digits} {unit}\"?")))
}

/// The value in SI, if it is within reason.
fn finish(text: &str, wanted: Dimension, number: f64, scale: Scale) -> Result<f64, ReadError> {
    let value = scale.to_si(number).filter(|value| value.abs() <= LARGEST);
    let too_cold = |value: f64| wanted == Dimension::Temperature && value < ABSOLUTE_ZERO;
    match value {
        Some(value) if !too_cold(value) => Ok(value),
        Some(_) => {
            let hint = Some("nothing is colder than -273.15 °C".to_owned());
            Err(ReadError::quantity(text, wanted, ReadErrorKind::OutOfRange, hint))
        }
        None if scale.law == Law::Gauge => {
            let hint = Some("gauges go from \"4/0 AWG\" (thick) to \"40 AWG\" (thin)".to_owned());
            Err(ReadError::quantity(text, wanted, ReadErrorKind::OutOfRange, hint))
        }
        None => Err(ReadError::quantity(text, wanted, ReadErrorKind::OutOfRange, None)),
    }
}

/// `AWG 6` as `6 AWG`; every other text as it is.
fn number_first(plain: &str) -> String {
    match plain.get(..3) {
        Some(word) if word.eq_ignore_ascii_case("awg") => format!("{} AWG", plain[3..].trim()),
        _ => plain.to_owned(),
    }
}

/// Gauges thicker than 0: `1/0 AWG` to `4/0 AWG`, also `00 AWG` to `0000 AWG`, as 0, -1, -2, -3.
fn zeros_gauge(plain: &str) -> Option<i32> {
    let run = plain.find(|letter: char| !letter.is_ascii_digit() && letter != '/')?;
    let (written, unit) = plain.split_at(run);
    if !unit.trim().eq_ignore_ascii_case("awg") {
        return None;
    }
    match written {
        "0" | "1/0" => Some(0),
        "00" | "2/0" => Some(-1),
        "000" | "3/0" => Some(-2),
        "0000" | "4/0" => Some(-3),
        _ => None,
    }
}

/// A letter in the decimal mark's place, as on resistors: `4k7`, `0R18`, `2M2`.
fn letter_as_mark(number: &Number, rest: &str, wanted: Dimension) -> Option<(Number, i32)> {
    let fraction = rest.get(1..)?;
    let digits = !fraction.is_empty() && fraction.chars().all(|letter| letter.is_ascii_digit());
    let fits = number.fraction.is_empty() && number.exponent == Some(0) && wanted == Dimension::Resistance;
    let power = match rest.chars().next()? {
        'R' => 0,
        'k' | 'K' => 3,
        'M' => 6,
        _ => return None,
    };
    (digits && fits).then(|| (Number { fraction: fraction.to_owned(), ..number.clone() }, power))
}

/// The hint for a bare number: the same with a unit.
fn with_unit(bare: &str, wanted: Dimension) -> String {
    match (wanted, wanted.loose_unit()) {
        (Dimension::Area, _) => format!("write \"{bare} mm²\" or \"{bare} AWG\""),
        (Dimension::Length, _) => format!("write \"{bare} m\" or \"{bare} mm\""),
        (_, Some(unit)) => format!("write \"{bare} {}\"", unit.replace('·', " ")),
        (_, None) => format!("write {}", quoted(wanted.example())),
    }
}

/// The hint for a unit in front of its number.
fn unit_first(plain: &str, wanted: Dimension) -> Option<String> {
    let at = plain.find(|letter: char| letter.is_ascii_digit() || matches!(letter, '-' | '.'))?;
    let (front, digits) = plain.split_at(at);
    let unit = front.trim();
    let fits = !unit.is_empty() && read(&format!("{digits} {unit}"), wanted).is_ok();
    fits.then(|| format!("write {}", quoted(&format!("{digits} {unit}"))))
}

/// The hint for a unit of another kind, where the number itself tells what was probably meant: a cable's
/// `6 mm` is a gauge or a section, not a length.
fn instead(number: &Number, wanted: Dimension, found: Dimension) -> Option<String> {
    if wanted != Dimension::Area || found != Dimension::Length {
        return None;
    }
    let size = number.times_ten_to(0);
    let cable_gauge = number.is_plain_whole() && size <= 20.0;
    match Scale::GAUGE.to_si(size).filter(|_| cable_gauge) {
        Some(area) => Some(format!("write \"{size} AWG\" or \"{}\"", show(area, Dimension::Area))),
        None => Some(format!("write \"{size} mm²\" if that is its section")),
    }
}
