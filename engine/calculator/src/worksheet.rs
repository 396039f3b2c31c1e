//! The description of a worksheet: everything that a command, a page or a document needs to know of it.

use machine::Machine;
use quantity::Dimension;

use crate::answer::Answer;
use crate::given::{Given, Refused};

/// A worksheet.
pub struct Worksheet {
    /// The command's word: `drop`.
    pub name: &'static str,
    /// One line.
    pub title: &'static str,
    /// What it is for and what it leaves out.
    pub about: &'static str,
    /// What it asks for.
    pub inputs: &'static [Input],
    /// Whether it needs a machine's sheet.
    pub sheet: Sheet,
    /// Arguments worth copying, each behind the command's word.
    pub examples: &'static [&'static str],
    /// From inputs within their limits to the answer.
    pub work: fn(&Given<'_>) -> Result<Answer, Refused>,
}

/// Whether a worksheet needs a machine's sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sheet {
    /// It has nothing to say to it.
    Unused,
    /// Inputs that are left out are taken from it.
    Welcome,
    /// It is about that machine.
    Needed,
}

/// One thing that a worksheet asks for.
#[derive(Clone, Copy)]
pub struct Input {
    /// The word behind `--`.
    pub name: &'static str,
    /// What may be written.
    pub want: Want,
    /// What holds when nothing is written.
    pub fallback: Fallback,
    /// One sentence for people.
    pub doc: &'static str,
}

/// What may be written for an input.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Want {
    /// A number with a unit, within these limits (both allowed), SI; a temperature in °C.
    Quantity(Dimension, f64, f64),
    /// A bare number, or a percentage with its sign, within these limits.
    Ratio(f64, f64),
    /// One of these words.
    Choice(&'static [&'static str]),
    /// Several texts, each `WHAT=VALUE`, read by the worksheet itself.
    Changes,
}

/// What holds when an input is left out.
#[derive(Clone, Copy)]
pub enum Fallback {
    /// It must be given.
    Required,
    /// As if this had been written.
    Text(&'static str),
    /// The machine's own, SI; without a sheet, or where it has none, as if this had been written.
    OfMachine(fn(&Machine) -> Option<f64>, &'static str),
    /// Nothing: the worksheet copes.
    Absent,
}
