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
            Expect::Quantity(dimension) => {
                quantity(&plain, *dimension).map_err(|refusal| with_ways_out(refusal, *dimension))
            }
            Expect::Words(words) => word(&plain, words),
            Expect::QuantityOrWords(dimension, words) => match word(&plain, words) {
                Ok(found) => Ok(found),
                Err(_) if plain.contains(|letter: char| letter.is_ascii_digit()) || is_overload(&plain) => {
                    quantity(&plain, *dimension)
                }
                Err(mut refusal) => {
                    refusal.allowed += &format!(", or {} in {}", dimension.name_with_article(), dimension.allowed());
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
        let (one, other) = (read_loosely(&first, dimension)?, read_loosely(&second, dimension)?);
        return Ok(Reading::Range { low: one.min(other), high: one.max(other) });
    }
    read_loosely(plain, dimension).map(Reading::Number)
}

/// The hint for a text without a number: what else may be entered.
fn with_ways_out(refusal: ReadError, dimension: Dimension) -> ReadError {
    match refusal.kind {
        ReadErrorKind::NotANumber | ReadErrorKind::Empty => {
            let hint = format!("write \"{}\", \"OL\" or \"skip\"", dimension.example());
            ReadError { hint: Some(hint), ..refusal }
        }
        _ => refusal,
    }
}

/// `OL` in the ways displays and people write it.
fn is_overload(plain: &str) -> bool {
    let marks: String = plain.chars().filter(|letter| !matches!(letter, '.' | ' ' | '-')).collect();
    matches!(marks.to_lowercase().as_str(), "ol" | "0l" | "overload" | "o/l")
}

/// The two ends of a range: `2.4..12.2 V`, `2.4 to 12.2 V`, or `2.4-12.2 V` with the dash after a digit or unit.
fn ends(plain: &str) -> Option<(&str, &str)> {
    let split = ["...", "…", "..", " to "].into_iter().find_map(|mark| plain.split_once(mark));
    if split.is_some() {
        return split;
    }
    // "9000 min-1" is one speed, not a range.
    if plain.replace('^', "").ends_with("min-1") {
        return None;
    }
    let dash = plain.char_indices().skip(1).find(|&(at, letter)| {
        let before = plain[..at].trim_end();
        let after = plain[at + letter.len_utf8()..].trim_start();
        let exponent = before.strip_suffix(['e', 'E']).is_some_and(|head| head.ends_with(|l: char| l.is_ascii_digit()));
        letter == '-' && !exponent && !before.is_empty() && after.starts_with(|l: char| l.is_ascii_digit())
    });
    dash.map(|(at, letter)| (&plain[..at], &plain[at + letter.len_utf8()..]))
}

/// Gives a bare end the unit of the other.
fn share_unit(first: &str, second: &str) -> (String, String) {
    let unit = |end: &str| number::split(end).map(|(_, rest)| rest.to_owned()).unwrap_or_default();
    match (unit(first), unit(second)) {
        (none, some) if none.is_empty() => (format!("{first} {some}"), second.to_owned()),
        (some, none) if none.is_empty() => (first.to_owned(), format!("{second} {some}")),
        _ => (first.to_owned(), second.to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const VOLTS: Expect = Expect::Quantity(Dimension::Voltage);
    const OHMS: Expect = Expect::Quantity(Dimension::Resistance);

    fn words(list: &[&str]) -> Vec<String> {
        list.iter().map(|word| (*word).to_owned()).collect()
    }

    fn check(expect: &Expect, texts: &[&str], expected: Reading) {
        for text in texts {
            assert_eq!(Reading::read(text, expect), Ok(expected.clone()), "{text:?}");
        }
    }

    #[test]
    fn law_numbers_ranges_and_bounds_are_read_as_typed() {
        check(&VOLTS, &["12.4", "12,4 V", "12.4v", "12400 mV", "+12.4"], Reading::Number(12.4));
        let swing = [
            "2.4..12.2 V",
            "2.4 V..12.2 V",
            "2.4-12.2 V",
            "2,4 … 12,2",
            "12.2 to 2.4 V",
            "2.4 V..12.2",
            "2400 mV–12.2 V",
        ];
        check(&VOLTS, &swing, Reading::Range { low: 2.4, high: 12.2 });
        check(&VOLTS, &["-0.2..0.1", "−0.2 - 0.1 V"], Reading::Range { low: -0.2, high: 0.1 });
        check(&OHMS, &[">1 Mohm", "> 1 Mohm", ">=1M", "≥ 1e6"], Reading::Above(1e6));
        check(&OHMS, &["<0.2 ohm", "< 0,2", "<200 mohm"], Reading::Below(0.2));
        check(&OHMS, &["OL", "ol", "0L", "O.L", ".0L"], Reading::Overload);
        check(&OHMS, &["skip", " SKIP "], Reading::Skip);
        let speed = Expect::Quantity(Dimension::Speed);
        assert!(matches!(Reading::read("9000 min-1", &speed), Ok(Reading::Number(_))));
        assert!(matches!(Reading::read("9000 min⁻¹", &speed), Ok(Reading::Number(_))));
        check(&Expect::Quantity(Dimension::Current), &["5e-3"], Reading::Number(5e-3));
    }

    #[test]
    fn law_words_are_matched_without_capitals_and_asked_about_when_near() {
        let listen = Expect::Words(words(&["silent", "click", "chatter"]));
        check(&listen, &["click", "CLICK", " Click "], Reading::Word("click".to_owned()));
        check(&listen, &["skip"], Reading::Skip);
        let refusal = Reading::read("clik", &listen).unwrap_err();
        let message = "\"clik\" is not a word for this; one of silent, click or chatter is wanted here";
        assert_eq!(refusal.to_string(), message);
        assert_eq!(refusal.hint.as_deref(), Some("did you mean \"click\"?"));
    }

    #[test]
    fn law_a_test_lamp_is_a_word_or_volts() {
        let lamp = || Expect::QuantityOrWords(Dimension::Voltage, words(&["off", "dim", "bright"]));
        assert_eq!(Reading::read("Dim", lamp()), Ok(Reading::Word("dim".to_owned())));
        assert_eq!(Reading::read("11.8", lamp()), Ok(Reading::Number(11.8)));
        let refusal = Reading::read("glowing", lamp()).unwrap_err();
        assert!(refusal.to_string().contains("off, dim or bright") && refusal.to_string().contains("12.6 V"));
    }

    #[test]
    fn law_a_refused_reading_says_the_ways_out() {
        let refusal = Reading::read("dunno", &VOLTS).unwrap_err();
        assert_eq!(refusal.hint.as_deref(), Some("write \"12.6 V\", \"OL\" or \"skip\""));
        assert_eq!(Reading::read("12 A", &VOLTS).unwrap_err().kind, ReadErrorKind::WrongDimension(Dimension::Current));
    }

    proptest::proptest! {
        #[test]
        fn law_no_entry_makes_it_panic(text in "\\PC*", near in "[-<>≥ ]?[0-9.,e]{0,5}( ?(V|Ω|to|[.]{2,3}|…|-|–|OL|skip)){0,3}[0-9.,]{0,4} ?V?") {
            for text in [&text, &near] {
                let _ = (Reading::read(text, &VOLTS), Reading::read(text, Expect::Words(Vec::new())));
            }
        }

        #[test]
        fn law_what_is_shown_can_be_entered_again(low in -50.0..50.0f64, more in 0.0..50.0f64) {
            for reading in [Reading::Number(low), Reading::Range { low, high: low + more }, Reading::Above(more), Reading::Overload] {
                let shown = reading.show(Dimension::Voltage);
                let again = Reading::read(&shown, &VOLTS).unwrap();
                proptest::prop_assert_eq!(again.show(Dimension::Voltage), shown);
            }
        }
    }
}
