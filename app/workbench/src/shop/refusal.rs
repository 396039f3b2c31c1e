//! Why something that was asked cannot be done: where, what was found, what is allowed, what to do next.
//! Promise: one sentence in lower case without a full stop, readable after a colon; a hint only where it can help.

use circuit::Unsolvable;
use machine::{Machine, UnknownName};
use quantity::{Dimension, ReadError, show};

/// What sort of mistake it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reason {
    /// Not in the form that is wanted: no JSON object, no `=`, a list where text is due.
    Form,
    /// A field that a request does not have.
    Field,
    /// A name that the machine does not know.
    Name,
    /// A value that cannot be read or is out of range.
    Value,
    /// The circuit that was asked for has no solution.
    Circuit,
}

impl Reason {
    /// The word for `error.kind` in an answer.
    pub fn word(self) -> &'static str {
        match self {
            Self::Form => "bad-form",
            Self::Field => "unknown-field",
            Self::Name => "unknown-name",
            Self::Value => "bad-value",
            Self::Circuit => "no-solution",
        }
    }
}

/// Which of the things asked for it is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// The request as a whole.
    Request,
    /// The operating state.
    State,
    /// A fault.
    Fault,
    /// The faults in question.
    Faults,
    /// A value of a part.
    Set,
    /// Something opened.
    Open,
    /// A bridge between two nodes.
    Bridge,
    /// The air temperature.
    Air,
    /// A reading.
    Read,
    /// The lead resistance that was nulled.
    Nulled,
    /// The owner's complaint.
    Complaint,
    /// A reading of a job, with its value.
    Reading,
    /// The instruments at hand.
    Instruments,
    /// The probability that a verdict needs.
    Confirm,
}

impl Place {
    /// The field of a request; nothing for the request as a whole.
    pub fn field(self) -> Option<&'static str> {
        match self {
            Self::Request => None,
            Self::State => Some("state"),
            Self::Fault | Self::Faults => Some("faults"),
            Self::Set => Some("set"),
            Self::Open => Some("open"),
            Self::Bridge => Some("bridge"),
            Self::Air => Some("air"),
            Self::Read => Some("read"),
            Self::Nulled => Some("nulled"),
            Self::Complaint => Some("complaint"),
            Self::Reading => Some("readings"),
            Self::Instruments => Some("instruments"),
            Self::Confirm => Some("confirm"),
        }
    }

    /// The argument of the command line; nothing where the text stands by itself.
    pub fn argument(self) -> Option<&'static str> {
        match self {
            Self::Request | Self::Read => None,
            Self::State => Some("--state"),
            Self::Fault => Some("--fault"),
            Self::Faults => Some("--faults"),
            Self::Set => Some("--set"),
            Self::Open => Some("--open"),
            Self::Bridge => Some("--bridge"),
            Self::Air => Some("--air"),
            Self::Nulled => Some("--nulled"),
            Self::Complaint => Some("--complaint"),
            Self::Reading => Some("--reading"),
            Self::Instruments => Some("--instruments"),
            Self::Confirm => Some("--confirm"),
        }
    }
}

/// Why something that was asked cannot be done.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{message}")]
pub struct Refusal {
    /// What sort of mistake it is.
    pub reason: Reason,
    /// Which of the things asked for it is about.
    pub place: Place,
    /// One sentence: what is wrong, naming the thing.
    pub message: String,
    /// As given; empty when something is missing.
    pub found: String,
    /// What would be allowed there.
    pub allowed: String,
    /// What to do next.
    pub hint: Option<String>,
}

impl Refusal {
    /// A refusal without a hint.
    pub fn new(reason: Reason, place: Place, message: String, found: &str, allowed: impl Into<String>) -> Self {
        Self { reason, place, message, found: shortened(found), allowed: allowed.into(), hint: None }
    }

    /// The same with a hint.
    pub fn with_hint(self, hint: impl Into<String>) -> Self {
        Self { hint: Some(hint.into()), ..self }
    }

    /// A name that the machine does not know; `allowed` says what names there are.
    pub fn unknown(error: &UnknownName, place: Place, allowed: String) -> Self {
        Self {
            reason: Reason::Name,
            place,
            message: error.to_string(),
            found: shortened(&error.found),
            allowed,
            hint: did_you_mean(&error.near),
        }
    }

    /// A text that is not the quantity or word that was wanted.
    pub fn unread(error: ReadError, place: Place, of: &str) -> Self {
        let message = if of.is_empty() { error.to_string() } else { format!("{of}: {error}") };
        Self { reason: Reason::Value, place, message, found: error.found, allowed: error.allowed, hint: error.hint }
    }

    /// A circuit without a solution, with the part's name instead of the branch's number.
    pub fn unsolvable(error: Unsolvable, machine: &Machine) -> Self {
        let name = |branch: usize| machine.branches().get(branch).map_or("a bridge", |known| known.name.as_str());
        let (message, found, allowed) = match error {
            Unsolvable::Conflict { branch, by } => (
                format!(
                    "`{}` closes a loop of ideal sources without resistance, {} out of balance",
                    name(branch),
                    show(by, Dimension::Voltage)
                ),
                name(branch),
                "a loop of sources with some resistance in it",
            ),
            Unsolvable::Restless { steps, branch, by } => (
                format!(
                    "no operating point after {steps} steps; `{}` still moves by {}",
                    name(branch),
                    show(by, Dimension::Voltage)
                ),
                name(branch),
                "values that a machine of 12 V could have",
            ),
            Unsolvable::NotFinite { branch } => (
                format!("`{}` has a value that is negative or not a finite number", name(branch)),
                name(branch),
                "resistances, powers and saturation currents of zero or more",
            ),
            Unsolvable::Unsettled { passes } => (
                format!("relays, fuses and motors still change after {passes} passes"),
                "",
                "a circuit that comes to rest or chatters",
            ),
        };
        Self::new(Reason::Circuit, Place::Request, message, found, allowed)
            .with_hint("take back one fault or edit at a time to see which one brings it about")
    }
}

/// ``did you mean `a` or `b`?``; nothing when nothing is near.
pub fn did_you_mean(near: &[String]) -> Option<String> {
    let quoted: Vec<String> = near.iter().map(|name| format!("`{name}`")).collect();
    let (last, others) = quoted.split_last()?;
    Some(match others {
        [] => format!("did you mean {last}?"),
        others => format!("did you mean {} or {last}?", others.join(", ")),
    })
}

/// A list of names for `allowed`, cut where it would fill the screen.
pub fn listed<'a>(names: impl IntoIterator<Item = &'a str>) -> String {
    const MOST: usize = 24;
    let names: Vec<&str> = names.into_iter().collect();
    match names.len() {
        0 => "none: there are none".to_owned(),
        count if count <= MOST => names.join(", "),
        count => format!("{} and {} more", names[..MOST].join(", "), count - MOST),
    }
}

/// At most so much of what was given is repeated.
pub fn shortened(text: &str) -> String {
    const LONGEST: usize = 80;
    match text.char_indices().nth(LONGEST) {
        Some((end, _)) => format!("{}…", &text[..end]),
        None => text.to_owned(),
    }
}
