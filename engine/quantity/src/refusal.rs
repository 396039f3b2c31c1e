//! Why a text is not the quantity that was wanted, said so that the person can go on.
//! A message names what was found, what it would be, and what is allowed; the hint says what to write.
//! Promise: lower case, no full stop, readable after a colon; long or odd input is cut and escaped.
//! Limit: the place (file, line, field) is the caller's to add.

use crate::Dimension;

/// What kind of mistake a [`ReadError`] is about.
#[derive(Clone, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub enum ReadErrorKind {
    /// Nothing was written.
    Empty,
    /// The text does not start with a number.
    NotANumber,
    /// A number without the unit that is due.
    BareNumber,
    /// The unit is none that is known.
    UnknownUnit,
    /// The unit belongs to another kind of quantity, named here.
    WrongDimension(Dimension),
    /// Digits are grouped (`1.234,5`) or have two marks, so that the decimal mark is in doubt.
    Grouped,
    /// Too large to mean anything, below absolute zero, or a gauge that does not exist.
    OutOfRange,
    /// A word that is none of those offered.
    UnknownWord,
}

/// A text that could not be read. Its `Display` is one line without the hint, so that the caller can
/// put the hint on a line of its own.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
#[error("{}", self.message())]
pub struct ReadError {
    /// What was written, cut to a few dozen characters.
    pub found: String,
    /// What is wanted here: `a voltage is wanted here, in V, mV or kV, as in "12.6 V"`.
    pub allowed: String,
    /// What to write instead, where that can be told: `write "12 V"`.
    pub hint: Option<String>,
    /// What kind of mistake it is.
    pub kind: ReadErrorKind,
}

/// Longest `found` that is kept, in characters.
const LONGEST: usize = 40;

impl ReadError {
    pub(crate) fn quantity(found: &str, wanted: Dimension, kind: ReadErrorKind, hint: Option<String>) -> ReadError {
        let hint = hint.or_else(|| Some(format!("write {}", quoted(wanted.example()))));
        let unit = if wanted == Dimension::Ratio { "" } else { "in " };
        let allowed = format!("{} is wanted here, {unit}{}", wanted.name_with_article(), wanted.allowed());
        ReadError { found: shortened(found), allowed, hint, kind }
    }

    pub(crate) fn word(found: &str, offered: &[String], kind: ReadErrorKind) -> ReadError {
        let hint = nearest(found, offered.iter().map(String::as_str))
            .map(|word| format!("did you mean \"{word}\"?"))
            .or_else(|| Some("write one of them, or \"skip\" if it cannot be told".to_owned()));
        let allowed = format!("one of {} is wanted here", listed(offered));
        ReadError { found: shortened(found), allowed, hint, kind }
    }

    fn message(&self) -> String {
        let found = quoted(&self.found);
        let problem = match &self.kind {
            ReadErrorKind::Empty => "nothing is written".to_owned(),
            ReadErrorKind::NotANumber => format!("{found} does not start with a number"),
            ReadErrorKind::BareNumber => format!("{found} has no unit"),
            ReadErrorKind::UnknownUnit => format!("{found} has a unit that is not known"),
            ReadErrorKind::WrongDimension(other) => {
                format!("{found} is {}", other.name_with_article())
            }
            ReadErrorKind::Grouped => {
                format!("{found} leaves its decimal mark in doubt")
            }
            ReadErrorKind::OutOfRange => format!("{found} is out of range"),
            ReadErrorKind::UnknownWord => format!("{found} is not a word for this"),
        };
        format!("{problem}; {}", self.allowed)
    }
}

/// A text in straight quotes; inner quotes stay readable, control characters do not reach the terminal.
pub(crate) fn quoted(text: &str) -> String {
    let inner: String = text.chars().map(|letter| if letter.is_control() { '\u{FFFD}' } else { letter }).collect();
    format!("\"{inner}\"")
}

fn shortened(text: &str) -> String {
    let text = text.trim();
    match text.char_indices().nth(LONGEST) {
        Some((end, _)) => format!("{}…", &text[..end]),
        None => text.to_owned(),
    }
}

/// `silent, click or chatter`.
fn listed(words: &[String]) -> String {
    match words.split_last() {
        None => "no words".to_owned(),
        Some((last, [])) => last.clone(),
        Some((last, others)) => format!("{} or {last}", others.join(", ")),
    }
}

/// The candidate nearest to what was written, if it is near enough to ask "did you mean".
pub(crate) fn nearest<'a>(written: &str, candidates: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let letters = written.chars().count();
    if letters == 0 || letters > LONGEST {
        return None;
    }
    let written = written.to_lowercase();
    let far_enough = if letters <= 3 { 1 } else { 2 };
    candidates
        .map(|candidate| (distance(&written, &candidate.to_lowercase()), candidate))
        .filter(|&(steps, candidate)| steps <= far_enough && steps < candidate.chars().count())
        .min_by_key(|&(steps, _)| steps)
        .map(|(_, candidate)| candidate)
}

/// Letters to insert, drop, replace or swap with a neighbor to turn one word into the other.
fn distance(from: &str, to: &str) -> usize {
    let (from, to): (Vec<char>, Vec<char>) = (from.chars().collect(), to.chars().collect());
    let mut before: Vec<usize> = Vec::new();
    let mut above: Vec<usize> = (0..=to.len()).collect();
    for (i, letter) in from.iter().enumerate() {
        let mut line = vec![i + 1];
        for (j, other) in to.iter().enumerate() {
            let replaced = above[j] + usize::from(letter != other);
            let mut least = replaced.min(above[j + 1] + 1).min(line[j] + 1);
            if i > 0 && j > 0 && *letter == to[j - 1] && from[i - 1] == *other {
                least = least.min(before[j - 1] + 1);
            }
            line.push(least);
        }
        before = std::mem::replace(&mut above, line);
    }
    above[to.len()]
}
