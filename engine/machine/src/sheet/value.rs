//! A field's value from text: quantity, ratio, word or flag, within the limits that make sense for the field.
//! The same reading serves a sheet's fields, the values of its faults, and edits typed at a prompt.
//! Promise: every value is finite; what must not be negative or zero is not.

use quantity::{Dimension, read};

use super::findings::shortened;
use super::near::nearest;
use crate::kind::spec::{Field, Kind, Want};

/// Why a text is not a value of a field.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{message}")]
pub struct Wrong {
    /// What is wrong with it: `"6 mm" is a length`.
    pub message: String,
    /// As written, cut to a few dozen characters.
    pub found: String,
    /// What would be allowed.
    pub allowed: String,
    /// What to write instead, where that can be told.
    pub hint: Option<String>,
}

/// How small a quantity may be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Limit {
    /// Any size and sign.
    Any,
    /// Zero or more.
    NotNegative,
    /// More than zero.
    Positive,
}

/// Reads what is written for a field: the SI value of a quantity, the index of a word, 1 or 0 for a flag.
/// Conditions on controls and references to parts are not values and are refused.
///
/// # Errors
/// When the text is not what the field wants.
pub fn value(kind: &Kind, field: &Field, text: &str) -> Result<f64, Wrong> {
    match field.want {
        Want::Quantity(dimension) => quantity(text, dimension, limit(kind, field, dimension)),
        Want::Ratio { low, high } => ratio(text, low, high),
        Want::Choice(words) => choice(text, words),
        Want::Flag => choice(text, &["false", "true"]),
        Want::Controls | Want::Part(_) => Err(Wrong {
            message: format!("`{}` cannot be set", field.name),
            found: shortened(text),
            allowed: "a field that holds a quantity, a number or a word".to_owned(),
            hint: Some("name another field".to_owned()),
        }),
    }
}

/// The limit of a field. What divides, or stands for a thing that is there, must be more than zero; a resistance or a
/// friction may vanish; temperatures, angles and a source's voltage may have either sign.
pub(super) fn limit(kind: &Kind, field: &Field, dimension: Dimension) -> Limit {
    let winding = ["coil", "winding", "armature"].iter().any(|word| field.name.contains(word));
    let consumer = ["motor", "starter", "load", "lamp", "horn"].contains(&kind.name);
    match dimension {
        Dimension::Temperature | Dimension::TemperatureDifference | Dimension::Angle => Limit::Any,
        Dimension::Voltage if kind.name == "source" => Limit::Any,
        Dimension::Voltage if ["voltage", "pull-in"].contains(&field.name) => Limit::Positive,
        Dimension::Resistance if winding || (consumer && field.name == "resistance") => Limit::Positive,
        Dimension::Current if ["rating", "saturation-current"].contains(&field.name) => Limit::Positive,
        Dimension::Length if field.name == "length" => Limit::Positive,
        Dimension::Area
        | Dimension::Power
        | Dimension::Charge
        | Dimension::MotorConstant
        | Dimension::Inertia
        | Dimension::Capacitance
        | Dimension::Inductance => Limit::Positive,
        _ => Limit::NotNegative,
    }
}

/// A quantity with its unit, within its limit.
pub(super) fn quantity(text: &str, dimension: Dimension, limit: Limit) -> Result<f64, Wrong> {
    let allowed = wanted_quantity(dimension);
    let value = read(text, dimension).map_err(|error| {
        let whole = error.to_string();
        let clause = whole.strip_suffix(&error.allowed).unwrap_or(&whole);
        Wrong {
            message: clause.trim_end_matches([' ', ';']).to_owned(),
            found: error.found,
            allowed: allowed.clone(),
            hint: error.hint,
        }
    })?;
    let (fits, at_least) = match limit {
        Limit::Any => (value.is_finite(), ""),
        Limit::NotNegative => (value >= 0.0, "zero or more"),
        Limit::Positive => (value > 0.0, "more than zero"),
    };
    if fits {
        return Ok(value);
    }
    Err(Wrong {
        message: format!("\"{}\" is {}", shortened(text), sign(value)),
        found: shortened(text),
        allowed: format!("{allowed}, {at_least}"),
        hint: Some(match text.trim().strip_prefix('-') {
            Some(size) if value < 0.0 => format!("write \"{}\", without the minus sign", shortened(size)),
            _ => format!("write it as in \"{}\"", dimension.example()),
        }),
    })
}

/// `an area in mm² or a wire gauge, as in "16 mm2"`.
pub(super) fn wanted_quantity(dimension: Dimension) -> String {
    format!("{} in {}", dimension.name_with_article(), dimension.allowed())
}

fn sign(value: f64) -> &'static str {
    if value < 0.0 { "negative" } else { "zero" }
}

/// A bare number within limits.
pub(super) fn ratio(text: &str, low: f64, high: f64) -> Result<f64, Wrong> {
    let wrong = |message: String, hint: Option<String>| Wrong {
        message,
        found: shortened(text),
        allowed: range_words(low, high),
        hint,
    };
    let number: f64 = match read(text, Dimension::Ratio) {
        Ok(number) => number,
        Err(error) => {
            let message = format!("\"{}\" is not a bare number", error.found);
            let hint = format!("write a number without quotes and unit, as in {}", low.max(1.0).min(high));
            return Err(wrong(message, Some(hint)));
        }
    };
    if !(low..=high).contains(&number) {
        let side = if number < low { "small" } else { "large" };
        let hint = format!("the nearest that is allowed is {}", number.clamp(low, high));
        return Err(wrong(format!("{} is too {side}", shortened(text)), Some(hint)));
    }
    Ok(number)
}

/// `a bare number from 0 to 1`.
pub(super) fn range_words(low: f64, high: f64) -> String {
    match (low.is_finite(), high.is_finite()) {
        (true, true) => format!("a bare number from {low} to {high}"),
        (true, false) => format!("a bare number, {low} or more"),
        (false, true) => format!("a bare number, {high} or less"),
        (false, false) => "a bare number".to_owned(),
    }
}

/// The index of a word among those allowed.
pub(super) fn choice(text: &str, words: &[&str]) -> Result<f64, Wrong> {
    match words.iter().position(|word| *word == text) {
        Some(index) => Ok(index as f64),
        None => Err(Wrong {
            message: format!("\"{}\" is not a word for this", shortened(text)),
            found: shortened(text),
            allowed: format!("one of the words {}", words.join(", ")),
            hint: Some(
                nearest(text, words.iter().copied())
                    .map_or_else(|| "write one of these words".to_owned(), |near| format!("did you mean \"{near}\"?")),
            ),
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::kind::CATALOGUE;
    use crate::kind::spec::Fallback;

    #[test]
    fn law_every_default_of_the_catalogue_can_be_read() {
        for kind in CATALOGUE {
            for field in kind.fields {
                if let Fallback::Text(text) = field.fallback {
                    let read = value(kind, field, text);
                    assert!(read.is_ok(), "{} {}: {read:?}", kind.name, field.name);
                }
            }
        }
    }

    #[test]
    fn law_zero_and_negative_are_refused_where_they_mean_nothing() {
        let check = |text, limit| quantity(text, Dimension::Resistance, limit).is_ok();
        assert!(check("0 ohm", Limit::NotNegative));
        assert!(!check("-1 mohm", Limit::NotNegative));
        assert!(!check("0 ohm", Limit::Positive));
        assert!(check("-1 mohm", Limit::Any));
    }
}
