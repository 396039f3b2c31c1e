//! The sheet as read: names resolved within it, quantities in SI units, every entry with its place in the text.
//! One file a section here: `machine` (also places and controls), `part`, `state`, `fault` (also odds), `guess` (also
//! questions), `meter`;
//! `walk` gives them typed access to the text's tables, `names` looks up what they refer to, `findings` collects
//! what is wrong, `near` finds what was probably meant, `syntax` explains text that is no TOML.

use std::ops::Range;

use crate::kind::Kind;

mod fault;
mod findings;
mod guess;
mod machine;
mod meter;
mod names;
mod near;
mod part;
mod read;
mod state;
mod syntax;
mod value;
mod walk;

pub(crate) use meter::SORTS as METER_SORTS;
pub use read::{Reading, read};
pub use value::{Wrong, value};
pub use walk::is_name;

/// A sheet without problems.
#[derive(Clone)]
pub struct Sheet {
    /// `machine.id`.
    pub id: String,
    /// `machine.title`, or the id.
    pub title: String,
    /// `machine.reference`: a node's name as written.
    pub reference: Option<Named>,
    /// `machine.ground`: a node's name as written.
    pub ground: Option<Named>,
    /// Where hands and probes must go.
    pub places: Vec<Place>,
    /// Keys, buttons, levers.
    pub controls: Vec<Control>,
    /// Parts in sheet order.
    pub parts: Vec<Part>,
    /// Operating states in sheet order.
    pub states: Vec<State>,
    /// Faults that only this sheet knows.
    pub faults: Vec<SheetFault>,
    /// Changes to the odds of catalogue faults: `[odds]` with `"part:mode" = 2.5` (a factor).
    pub odds: Vec<(Named, f64)>,
    /// Instruments the workshop has; empty: the standard set.
    pub meters: Vec<Meter>,
    /// Values that nobody has read off the machine.
    pub guesses: Vec<Guess>,
    /// What a person can be asked to know them; a sheet with questions is a pattern.
    pub questions: Vec<Question>,
}

/// A value that is known only to lie between two others, SI.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Guess {
    /// Index of the part.
    pub part: usize,
    /// Index of the field.
    pub field: usize,
    /// The least it is thought to be.
    pub low: f64,
    /// The most.
    pub high: f64,
}

/// A question to a person at the machine.
#[derive(Clone, Debug)]
pub struct Question {
    /// Its name.
    pub name: Named,
    /// As it is put.
    pub asks: String,
    /// Where the answer is found; empty when that is plain.
    pub hint: String,
    /// The fields that take a typed value: part, field.
    pub sets: Vec<(usize, usize)>,
    /// Words to choose from.
    pub answers: Vec<Answer>,
}

/// A word that answers a question.
#[derive(Clone, Debug)]
pub struct Answer {
    /// The word.
    pub word: String,
    /// What is known then: part, field, SI value.
    pub sets: Vec<(usize, usize, f64)>,
    /// What is guessed then.
    pub guesses: Vec<Guess>,
}

/// A name as written, with its place in the text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Named {
    /// As written.
    pub name: String,
    /// Bytes of the sheet's text.
    pub span: Range<usize>,
}

/// A place that must be opened once.
#[derive(Clone, Debug)]
pub struct Place {
    /// Its name in the sheet.
    pub name: Named,
    /// In the technician's words.
    pub title: String,
    /// Minutes to open it, paid once a job.
    pub access_minutes: f64,
    /// What to mind there; empty when nothing.
    pub caution: String,
}

/// A key, button or lever; its first position is the one at rest.
#[derive(Clone, Debug)]
pub struct Control {
    /// Its name in the sheet.
    pub name: Named,
    /// In the technician's words.
    pub title: String,
    /// The words for its positions, the one at rest first.
    pub positions: Vec<String>,
}

/// Which positions a control must have: control index, positions that count.
pub type Condition = Vec<(usize, Vec<usize>)>;

/// A part of the machine.
#[derive(Clone)]
pub struct Part {
    /// Its name in the sheet.
    pub name: Named,
    /// In the technician's words; the name with blanks for hyphens when the sheet says nothing.
    pub title: String,
    /// What it is.
    pub kind: &'static Kind,
    /// Index of the place where it sits.
    pub place: Option<usize>,
    /// Terminals: name, and what the sheet says it shares a node with (`part.terminal` or a splice).
    pub terminals: Vec<(String, Option<Named>)>,
    /// Ways of a connector; empty for other kinds.
    pub ways: Vec<String>,
    /// One SI value a field of the kind, NaN when absent.
    pub values: Vec<f64>,
    /// Condition of each `Controls` field: (field index, condition).
    pub conditions: Vec<(usize, Condition)>,
    /// Wire color in IEC 60757 letters; a hint, never evidence.
    pub color: String,
    /// Connector cavity or terminal mark (`30`, `85`); a hint, never evidence.
    pub cavity: String,
    /// What a wire can chafe against.
    pub loom: String,
}

/// An operating state.
#[derive(Clone, Debug)]
pub struct State {
    /// Its name in the sheet.
    pub name: Named,
    /// In the technician's words.
    pub title: String,
    /// Position index of every control.
    pub positions: Vec<usize>,
    /// Whether the rotor is held still from outside.
    pub blocked: bool,
    /// Whether a start must be refused here.
    pub must_refuse: bool,
    /// Whether the engine runs (`running`): the charging side works.
    pub running: bool,
    /// Joints lifted and connectors unplugged: `part` or `part.branch`, as written.
    pub open: Vec<Named>,
    /// What to mind in this state; empty when nothing.
    pub caution: String,
}

/// A fault that only this sheet's author knows.
#[derive(Clone, Debug)]
pub struct SheetFault {
    /// Its name.
    pub name: Named,
    /// In the technician's words.
    pub title: String,
    /// Odds as weight, in percent of jobs.
    pub odds: f64,
    /// Field values: part index, field index, SI value.
    pub set: Vec<(usize, usize, f64)>,
    /// Paths that conduct no more: `part` or `part.branch`.
    pub open: Vec<Named>,
    /// Two nodes and the ohms between them.
    pub bridge: Vec<(Named, Named, f64)>,
    /// What mends it.
    pub remedy: String,
    /// Attended minutes of work.
    pub minutes: f64,
    /// Minutes until it is done, waiting included.
    pub elapsed: f64,
}

/// An instrument that the workshop has.
#[derive(Clone, Debug)]
pub struct Meter {
    /// Its name in the sheet.
    pub name: Named,
    /// In the technician's words.
    pub title: String,
    /// `meter`, `clamp`, `lamp`, `eyes` …
    pub sort: String,
    /// Largest count of the display.
    pub counts: u32,
    /// Accuracy: share of the reading.
    pub accuracy_ratio: f64,
    /// Accuracy: counts.
    pub accuracy_counts: f64,
    /// Resistance of both leads, ohms.
    pub lead_ohms: f64,
}
