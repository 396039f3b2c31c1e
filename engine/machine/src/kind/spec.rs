//! What a kind says of itself: terminals, fields, branches, fault modes, and how it becomes branches of a network.
//! Everything is data except `lower`; a new kind is one file beside this one and one line in the catalogue.

use quantity::Dimension;

use crate::lower::Lower;

/// A kind of part.
pub struct Kind {
    /// The word in the sheet: `kind = "relay"`.
    pub name: &'static str,
    /// One sentence for documentation and editors.
    pub summary: &'static str,
    /// Where it can be connected.
    pub terminals: Terminals,
    /// What a sheet can say of it, in the order of [`Lower::value`]'s index.
    pub fields: &'static [Field],
    /// The conducting paths through it.
    pub branches: &'static [Path],
    /// What can go wrong with it.
    pub modes: &'static [Mode],
    /// Share of starting jobs that this kind causes, spread over the parts of the kind; `common practice, no source`.
    pub share: f64,
    /// Fills in the branches' laws from values, operating state and temperature.
    pub lower: fn(&mut Lower<'_>),
}

/// Where a part can be connected.
#[derive(Clone, Copy, Debug)]
pub enum Terminals {
    /// A two-terminal part: `from` and `to` are required and name a terminal of another part or a splice.
    /// `rings`: a ring joint is implied at each end that names a part's terminal (unless that part is a `joint`).
    Ends {
        /// Whether ring joints are implied.
        rings: bool,
    },
    /// Terminals of its own, each a node unless the sheet gives `terminal = "other"`.
    Named(&'static [&'static str]),
    /// A connector: `ways = ["1", "2"]`, and for each way `N` the terminals `N-in` and `N-out`, each as in `Named`.
    Ways,
    /// A part without electrical connection (engine, drive, bushing).
    None,
}

/// A conducting path through a part.
#[derive(Clone, Copy, Debug)]
pub struct Path {
    /// Empty for the part itself, else its name behind the dot (`coil`, `contact`).
    pub name: &'static str,
    /// Index of the terminal at which the current enters.
    pub from: usize,
    /// Index of the terminal at which the current leaves.
    pub to: usize,
}

/// A field of a part in the sheet.
#[derive(Clone, Copy, Debug)]
pub struct Field {
    /// The word in the sheet.
    pub name: &'static str,
    /// What may be written.
    pub want: Want,
    /// What holds when the sheet says nothing.
    pub fallback: Fallback,
    /// One sentence for documentation and editors, with the source mark of a default.
    pub doc: &'static str,
}

/// What may be written in a field.
#[derive(Clone, Copy, Debug)]
pub enum Want {
    /// Text with a number and a unit.
    Quantity(Dimension),
    /// A bare number within these limits.
    Ratio {
        /// Least value allowed.
        low: f64,
        /// Largest value allowed.
        high: f64,
    },
    /// One of these words; the value is its index.
    Choice(&'static [&'static str]),
    /// `true` or `false`; the value is 1 or 0.
    Flag,
    /// `{ control = "position" }` or `{ control = ["position", "position"] }`; all controls named must agree.
    Controls,
    /// The name of a part of one of these kinds; the value is the part's index in the sheet.
    Part(&'static [&'static str]),
}

/// What holds when a sheet leaves a field out.
#[derive(Clone, Copy, Debug)]
pub enum Fallback {
    /// The sheet must say it.
    Required,
    /// As if this had been written.
    Text(&'static str),
    /// Nothing: the value is NaN, and the kind's law copes.
    Absent,
    /// Nothing, but the sheet must give this field or all of one of those sets (`resistance`, or `length` and `area`).
    Or(&'static [&'static [&'static str]]),
}

/// Where a figure comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mark {
    /// `common practice, no source`.
    CommonPractice,
    /// `from memory`.
    FromMemory,
    /// An engineering estimate that a sheet may override.
    Estimate,
}

/// A way in which a part of a kind fails.
#[derive(Clone, Copy, Debug)]
pub struct Mode {
    /// The word behind the colon: `motor-cable:corroded`.
    pub name: &'static str,
    /// In the technician's words, to be read after the part's title.
    pub title: &'static str,
    /// Weight among the modes of its kind.
    pub odds: f64,
    /// Where the odds come from.
    pub mark: Mark,
    /// What changes.
    pub effects: &'static [Effect],
    /// How bad it can be.
    pub severity: Severity,
    /// A flat battery or a blown fuse has a cause behind it; such a mode cannot close a job alone.
    pub consequence: bool,
    /// Whether it can be there at one look and away at the next, as what touches, breaks or sticks can; what is worn,
    /// blown, flat or misfitted stays (common practice, no source).
    pub comes_and_goes: bool,
    /// What mends it.
    pub remedy: Remedy,
    /// How the answer to "what happened since it last worked?" multiplies its odds.
    pub since: &'static [(&'static str, f64)],
    /// A field and the words of which it must have one for the mode to apply; nothing when it always does.
    pub only: Option<(&'static str, &'static [&'static str])>,
}

/// What a fault changes in the part.
#[derive(Clone, Copy, Debug)]
pub enum Effect {
    /// The path of that name (empty: the only one; `*`: all of them) conducts no more; `each` is one fault a way of a
    /// connector, named by the way.
    Open(&'static str),
    /// The field takes this SI value.
    Set(&'static str, f64),
    /// The field takes the severity as its value.
    SetTo(&'static str),
    /// The severity is added to the field.
    Add(&'static str),
    /// The field is multiplied by the severity.
    Scale(&'static str),
    /// The field takes that word.
    Choose(&'static str, &'static str),
    /// A resistance of the severity's size from that terminal to the machine's ground.
    ToGround(&'static str),
    /// A resistance of the severity's size between two terminals of the part.
    Across(&'static str, &'static str),
    /// A resistance of the severity's size between neighboring ways of a connector, one fault a pair.
    AcrossWays,
    /// A resistance of the severity's size from that terminal to each other wire of the loom, one fault a pair.
    ToLoom(&'static str),
}

/// How bad a fault can be: one number, drawn between two limits, in the SI unit of what it changes.
#[derive(Clone, Copy, Debug)]
pub enum Severity {
    /// All or nothing.
    None,
    /// Uniform in the logarithm.
    Log {
        /// Mildest or least.
        low: f64,
        /// Worst or largest.
        high: f64,
    },
    /// Uniform.
    Even {
        /// Mildest or least.
        low: f64,
        /// Worst or largest.
        high: f64,
    },
}

/// What mends a fault.
#[derive(Clone, Copy, Debug)]
pub struct Remedy {
    /// One word for `try:VERB@PART`: `clean`, `replace`, `charge`.
    pub verb: &'static str,
    /// In the technician's words, to be read before the part's title.
    pub title: &'static str,
    /// Attended minutes of work, access apart.
    pub minutes: f64,
    /// Minutes until it is done, waiting included.
    pub elapsed: f64,
    /// What to mind while doing it; empty when nothing.
    pub caution: &'static str,
}

impl Kind {
    /// The word chosen for a field in a part's row of values, `true` or `false` for a flag; nothing when none is.
    pub fn word(&self, values: &[f64], field: &str) -> Option<&'static str> {
        let position = self.fields.iter().position(|known| known.name == field)?;
        let words: &[&'static str] = match self.fields[position].want {
            Want::Choice(words) => words,
            Want::Flag => &["false", "true"],
            _ => return None,
        };
        let value = values[position];
        if value.is_nan() { None } else { words.get(value as usize).copied() }
    }

    /// Whether a terminal is not there to be connected or touched: where windings meet inside a can, and the third
    /// lead of what has a single phase.
    pub(crate) fn is_inner(&self, values: &[f64], terminal: &str) -> bool {
        match (self.name, terminal) {
            ("solenoid", "windings") => true,
            ("stator" | "regulator", "c") => self.word(values, "phases") == Some("one"),
            _ => false,
        }
    }
}

impl Field {
    /// A field that the sheet must give.
    pub const fn required(name: &'static str, want: Want, doc: &'static str) -> Self {
        Self { name, want, fallback: Fallback::Required, doc }
    }

    /// A field that the sheet may leave out; it then reads as this text.
    pub const fn default(name: &'static str, want: Want, text: &'static str, doc: &'static str) -> Self {
        Self { name, want, fallback: Fallback::Text(text), doc }
    }

    /// A field that the sheet may leave out; the kind's law then copes without it.
    pub const fn optional(name: &'static str, want: Want, doc: &'static str) -> Self {
        Self { name, want, fallback: Fallback::Absent, doc }
    }
}

impl Mode {
    /// A mode whose odds are from memory, which is a root cause and which nothing makes likelier.
    pub const fn new(
        name: &'static str,
        title: &'static str,
        odds: f64,
        effects: &'static [Effect],
        severity: Severity,
        remedy: Remedy,
    ) -> Self {
        Self {
            name,
            title,
            odds,
            mark: Mark::FromMemory,
            effects,
            severity,
            consequence: false,
            comes_and_goes: true,
            remedy,
            since: &[],
            only: None,
        }
    }

    /// The same, with a cause behind it.
    pub const fn as_consequence(self) -> Self {
        Self { consequence: true, ..self }
    }

    /// The same, of what stays as it is until it is mended.
    pub const fn that_stays(self) -> Self {
        Self { comes_and_goes: false, ..self }
    }

    /// The same, for parts of which a field has one of these words.
    pub const fn only(self, field: &'static str, words: &'static [&'static str]) -> Self {
        Self { only: Some((field, words)), ..self }
    }

    /// The same, likelier or rarer after what happened.
    pub const fn after(self, since: &'static [(&'static str, f64)]) -> Self {
        Self { since, ..self }
    }
}

impl Remedy {
    /// Verb, words to be read before the part's title, minutes of work, what to mind.
    pub const fn new(verb: &'static str, title: &'static str, minutes: f64, caution: &'static str) -> Self {
        Self { verb, title, minutes, elapsed: minutes, caution }
    }

    /// The same when it goes on alone, so that it is done only after so many minutes.
    pub const fn done_after(self, elapsed: f64) -> Self {
        Self { elapsed, ..self }
    }
}
