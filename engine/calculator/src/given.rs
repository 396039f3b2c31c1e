//! The inputs of one calculation: read, held against their limits, and the rest filled in.
//! Promise: a worksheet only ever sees numbers within the limits that it has described, and each remembers whether it
//! was written, is the machine's, or is the usual one.

use machine::Machine;
use quantity::{Dimension, ReadError, read_loosely, show, show_with};

use crate::answer::Answer;
use crate::worksheet::{Fallback, Input, Want, Worksheet};

/// The inputs of one calculation.
pub struct Given<'a> {
    /// The machine that it is about, if one.
    pub machine: Option<&'a Machine>,
    worksheet: &'static Worksheet,
    entries: Vec<Entry>,
}

/// One input as it is used.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// SI value, the index of a word, or NaN when there is none.
    pub number: f64,
    /// As a person reads it.
    pub text: String,
    /// The texts of [`Want::Changes`].
    pub changes: Vec<String>,
    /// Where it is from.
    pub origin: Origin,
}

/// Where an input is from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Origin {
    /// It was written.
    Written,
    /// It is the machine's own.
    Machine,
    /// It is what is usual.
    Usual,
    /// There is none.
    Absent,
}

/// Why a calculation was refused.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Refused {
    /// What was written cannot be read.
    #[error("{input}: {error}")]
    Unreadable {
        /// The input.
        input: &'static str,
        /// Why.
        error: ReadError,
    },
    /// What was written is no word of the input.
    #[error("{input}: `{found}` is not a word for this; {} wanted here", listed(.allowed))]
    NoWord {
        /// The input.
        input: &'static str,
        /// As written.
        found: String,
        /// What may be written.
        allowed: &'static [&'static str],
    },
    /// What was written cannot be.
    #[error("{input}: {found} is out of range; from {low} to {high} is wanted here")]
    OutOfRange {
        /// The input.
        input: &'static str,
        /// As read.
        found: String,
        /// Least value.
        low: String,
        /// Largest value.
        high: String,
    },
    /// Something that must be written is not.
    #[error("{input} is missing: {doc}")]
    Missing {
        /// The input.
        input: &'static str,
        /// What it is.
        doc: &'static str,
    },
    /// A machine's sheet is needed.
    #[error("this worksheet is about one machine: give its sheet")]
    NoSheet,
    /// The inputs are each possible, but not together.
    #[error("{input}: {why}")]
    Together {
        /// The input to change first.
        input: &'static str,
        /// What does not go together.
        why: String,
        /// What to do.
        hint: &'static str,
    },
    /// The start cannot be followed.
    #[error("the start cannot be followed: a value is out of all proportion to the others")]
    Unfollowed,
    /// The machine's sheet lacks what the calculation needs.
    #[error("the sheet has no {what}")]
    Lacks {
        /// What it lacks.
        what: &'static str,
        /// What to write there.
        hint: &'static str,
    },
}

impl Refused {
    /// What to do next.
    pub fn hint(&self) -> Option<String> {
        match self {
            Self::Unreadable { error, .. } => error.hint.clone(),
            Self::NoWord { .. } | Self::NoSheet => None,
            Self::Unfollowed => Some(
                "look at inertias, drags and resistances of starter, drive and engine, and at what was changed"
                    .to_owned(),
            ),
            Self::OutOfRange { .. } => Some("look at the sign, the unit and the decimal mark".to_owned()),
            Self::Missing { input, .. } => Some(format!("add --{input} VALUE")),
            Self::Together { hint, .. } | Self::Lacks { hint, .. } => Some((*hint).to_owned()),
        }
    }

    /// The input that it is about, if one.
    pub fn input(&self) -> Option<&'static str> {
        match self {
            Self::Unreadable { input, .. }
            | Self::NoWord { input, .. }
            | Self::OutOfRange { input, .. }
            | Self::Missing { input, .. }
            | Self::Together { input, .. } => Some(input),
            Self::NoSheet | Self::Unfollowed | Self::Lacks { .. } => None,
        }
    }
}

fn listed(words: &[&str]) -> String {
    words.join(", ")
}

impl Worksheet {
    /// Works the sheet: `written` gives the texts of an input by its name, several only for [`Want::Changes`].
    ///
    /// # Errors
    /// When an input cannot be read, is out of its limits or missing, or when they do not go together.
    pub fn answer(
        &'static self,
        machine: Option<&Machine>,
        written: impl Fn(&str) -> Vec<String>,
    ) -> Result<(Vec<Entry>, Answer), Refused> {
        if self.sheet == crate::worksheet::Sheet::Needed && machine.is_none() {
            return Err(Refused::NoSheet);
        }
        let entries =
            self.inputs.iter().map(|input| entry(input, machine, written(input.name))).collect::<Result<_, _>>();
        let given = Given { machine, worksheet: self, entries: entries? };
        let answer = (self.work)(&given)?;
        Ok((given.entries, answer))
    }
}

fn entry(input: &'static Input, machine: Option<&Machine>, written: Vec<String>) -> Result<Entry, Refused> {
    if input.want == Want::Changes {
        let origin = if written.is_empty() { Origin::Absent } else { Origin::Written };
        return Ok(Entry { number: f64::NAN, text: written.join(", "), changes: written, origin });
    }
    if let Some(text) = written.last() {
        return read(input, text, Origin::Written);
    }
    match input.fallback {
        Fallback::Required => Err(Refused::Missing { input: input.name, doc: input.doc }),
        Fallback::Text(text) => read(input, text, Origin::Usual),
        Fallback::OfMachine(own, usual) => match machine.and_then(own).filter(|value| value.is_finite()) {
            Some(number) => {
                let text = shown(input.want, number);
                Ok(Entry { number, text, changes: Vec::new(), origin: Origin::Machine })
            }
            None => read(input, usual, Origin::Usual),
        },
        Fallback::Absent => {
            Ok(Entry { number: f64::NAN, text: String::new(), changes: Vec::new(), origin: Origin::Absent })
        }
    }
}

fn read(input: &'static Input, text: &str, origin: Origin) -> Result<Entry, Refused> {
    let unreadable = |error| Refused::Unreadable { input: input.name, error };
    let number = match input.want {
        Want::Quantity(dimension, ..) => read_loosely(text, dimension).map_err(unreadable)?,
        Want::Ratio(..) => read_loosely(text, Dimension::Ratio).map_err(unreadable)?,
        Want::Choice(words) => {
            let found = text.trim().to_lowercase();
            let position = words.iter().position(|word| *word == found);
            position.ok_or(Refused::NoWord { input: input.name, found: text.to_owned(), allowed: words })? as f64
        }
        Want::Changes => f64::NAN,
    };
    if let Want::Quantity(_, low, high) | Want::Ratio(low, high) = input.want
        && !(low..=high).contains(&number)
    {
        let [found, low, high] = [number, low, high].map(|number| shown(input.want, number));
        return Err(Refused::OutOfRange { input: input.name, found, low, high });
    }
    Ok(Entry { number, text: shown(input.want, number), changes: Vec::new(), origin })
}

/// A number of an input as a person reads it.
fn shown(want: Want, number: f64) -> String {
    match want {
        // Of a battery's volts the hundredths matter.
        Want::Quantity(Dimension::Voltage, ..) => show_with(number, Dimension::Voltage, 4),
        Want::Quantity(dimension, ..) => show(number, dimension),
        Want::Ratio(..) => show(number, Dimension::Ratio),
        Want::Choice(words) => words.get(number as usize).copied().unwrap_or_default().to_owned(),
        Want::Changes => String::new(),
    }
}

impl Given<'_> {
    fn entry(&self, name: &str) -> Option<&Entry> {
        let position = self.worksheet.inputs.iter().position(|input| input.name == name)?;
        self.entries.get(position)
    }

    /// The SI number of an input of this worksheet (°C for a temperature); NaN when there is none.
    pub fn number(&self, name: &str) -> f64 {
        self.entry(name).map_or(f64::NAN, |entry| entry.number)
    }

    /// The number, if it was given or has a fallback.
    pub fn maybe(&self, name: &str) -> Option<f64> {
        Some(self.number(name)).filter(|number| !number.is_nan())
    }

    /// The input as a person reads it.
    pub fn text(&self, name: &str) -> &str {
        self.entry(name).map_or("", |entry| entry.text.as_str())
    }

    /// The texts of an input of several.
    pub fn changes(&self, name: &str) -> &[String] {
        self.entry(name).map_or(&[], |entry| entry.changes.as_slice())
    }

    /// Whether an input was written rather than filled in.
    pub fn is_written(&self, name: &str) -> bool {
        self.entry(name).is_some_and(|entry| entry.origin == Origin::Written)
    }
}
