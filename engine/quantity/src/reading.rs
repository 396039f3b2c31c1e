//! What a person enters for one probe: a number, a range, a bound, overload, a word, or nothing.
//! A bare number gets the unit that the probe expects; a range's ends share the unit of either.
//! Promise: every refusal names what is allowed; words are matched without regard to capitals.
//! Limit: says what was entered, not whether it is likely; that is the diagnosis's business.

use crate::refusal::{ReadError, ReadErrorKind};
use crate::{Dimension, number, read_loosely, show};
use std::borrow::Borrow;

/// What a probe can answer.
#[derive(Clone, PartialEq, Debug)]
pub enum Expect {
    /// A quantity of this kind.
    Quantity(Dimension),
    /// One of these words.
    Words(Vec<String>),
    /// Either: a test lamp is `off`, `dim`, `bright`, or so many volts across it.
    QuantityOrWords(Dimension, Vec<String>),
}

/// What was entered. Numbers are in SI (temperature in °C).
#[derive(Clone, PartialEq, Debug)]
pub enum Reading {
    /// A single value.
    Number(f64),
    /// A display that moves between two values, `low` ≤ `high`.
    Range {
        /// The lower end.
        low: f64,
        /// The upper end.
        high: f64,
    },
    /// More than this: `>1 Mohm`.
    Above(f64),
    /// Less than this: `<0.2 ohm`.
    Below(f64),
    /// The display showed `OL`: beyond the meter's highest range.
    Overload,
    /// A word of the probe, spelled as the probe spells it.
    Word(String),
    /// Could not be taken.
    Skip,
}

impl Reading {
    /// Reads what was entered for a probe that can answer `expect` (owned or borrowed).
    pub fn read(text: &str, expect: impl Borrow<Expect>) -> Result<Reading, ReadError> {
        let plain = number::plain(text);
        if plain.eq_ignore_ascii_case("skip") {
            return Ok(Reading::Skip);
        }
        match expect.borrow() {
            Expect::Quantity(dimension) => quantity(&plain, *dimension),
            Expect::Words(words) => word(&plain, words),
            Expect::QuantityOrWords(dimension, words) => match word(&plain, words) {
                Ok(found) => Ok(found),
                Err(_)
                    if plain.contains(|letter: char| letter.is_ascii_digit())
                        || is_overload(&plain) =>
                {
                    quantity(&plain, *dimension)
                }
                Err(mut refusal) => {
                    refusal.allowed += &format!(
                        ", or {} in {}",
                        dimension.name_with_article(),
                        dimension.allowed()
                    );
                    Err(refusal)
                }
            },
        }
    }

    /// The reading as text that [`Reading::read`] takes back for this kind of quantity.
    pub fn show(&self, dimension: Dimension) -> String {
        match self {
            Reading::Number(value) => show(*value, dimension),
            Reading::Range { low, high } => {
                format!("{}..{}", show(*low, dimension), show(*high, dimension))
            }
            Reading::Above(bound) => format!(">{}", show(*bound, dimension)),
            Reading::Below(bound) => format!("<{}", show(*bound, dimension)),
            Reading::Overload => "OL".to_owned(),
            Reading::Word(word) => word.clone(),
            Reading::Skip => "skip".to_owned(),
        }
    }
}

fn word(plain: &str, words: &[String]) -> Result<Reading, ReadError> {
    let folded = plain.to_lowercase();
    match words.iter().find(|word| word.to_lowercase() == folded) {
        Some(found) => Ok(Reading::Word(found.clone())),
        None if plain.is_empty() => Err(ReadError::word(plain, words, ReadErrorKind::Empty)),
        None => Err(ReadError::word(plain, words, ReadErrorKind::UnknownWord)),
    }
}

fn quantity(plain: &str, dimension: Dimension) -> Result<Reading, ReadError> {
    if is_overload(plain) {
        return Ok(Reading::Overload);
    }
    if let Some(bound) = plain.strip_prefix(['>', '≥']) {
        return read_loosely(bound.trim_start_matches('='), dimension).map(Reading::Above);
    }
    if let Some(bound) = plain.strip_prefix(['<', '≤']) {
        return read_loosely(bound.trim_start_matches('='), dimension).map(Reading::Below);
    }
    if let Some((first, second)) = ends(plain) {
        let (first, second) = share_unit(first.trim(), second.trim());
        let (one, other) = (
            read_loosely(&first, dimension)?,
            read_loosely(&second, dimension)?,
        );
        return Ok(Reading::Range {
            low: one.min(other),
            high: one.max(other),
        });
    }
    read_loosely(plain, dimension).map(Reading::Number)
}

/// `OL` in the ways displays and people write it.
fn is_overload(plain: &str) -> bool {
    let marks: String = plain
        .chars()
        .filter(|letter| !matches!(letter, '.' | ' ' | '-'))
        .collect();
    matches!(
        marks.to_lowercase().as_str(),
        "ol" | "0l" | "overload" | "o/l"
    )
}

/// The two ends of a range: `2.4..12.2 V`, `2.4 to 12.2 V`, or `2.4-12.2 V` with the dash after a digit or unit.
fn ends(plain: &str) -> Option<(&str, &str)> {
    let split = ["...", "…", "..", " to "]
        .into_iter()
        .find_map(|mark| plain.split_once(mark));
    if split.is_some() {
        return split;
    }
    let dash = plain.char_indices().skip(1).find(|&(at, letter)| {
        let before = plain[..at].trim_end();
        let after = plain[at + letter.len_utf8()..].trim_start();
        let exponent = before
            .strip_suffix(['e', 'E'])
            .is_some_and(|head| head.ends_with(|l: char| l.is_ascii_digit()));
        letter == '-'
            && !exponent
            && !before.is_empty()
            && after.starts_with(|l: char| l.is_ascii_digit())
    });
    dash.map(|(at, letter)| (&plain[..at], &plain[at + letter.len_utf8()..]))
}

/// Gives a bare end the unit of the other.
fn share_unit(first: &str, second: &str) -> (String, String) {
    let unit = |end: &str| {
        number::split(end)
            .map(|(_, rest)| rest.to_owned())
            .unwrap_or_default()
    };
    match (unit(first), unit(second)) {
        (none, some) if none.is_empty() => (format!("{first} {some}"), second.to_owned()),
        (some, none) if none.is_empty() => (first.to_owned(), format!("{second} {some}")),
        _ => (first.to_owned(), second.to_owned()),
    }
}
