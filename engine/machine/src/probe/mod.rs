//! Probes: one measurement or observation that could be made, its name, its cost, and what it would show.
//! A name is one triple of state, edits and instrument (`volts@held:starter.plus,battery.minus`); [`rules`] proposes
//! probes from the wiring, [`name`] reads any other, [`observe`] says what a given machine would show.

pub mod name;
pub mod observe;
pub mod rules;

use libm::round;
use quantity::{Dimension, Face, Reading, show, show_with};

use crate::meter::{Hookup, Instrument};

pub use observe::{Observer, Program, Seen, Signs};

/// What is done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Sort {
    /// A meter, clamp or test lamp is connected.
    Meter(Instrument, Hookup),
    /// A drop between two nodes over what the clamp round a branch shows at the same moment.
    PerAmp {
        /// Node of the red lead.
        red: usize,
        /// Node of the black lead.
        black: usize,
        /// The branch that the clamp is round.
        clamped: usize,
    },
    /// A relay is listened to; index among the machine's relays' parts.
    Listen(usize),
    /// A lamp is watched; index of its part.
    Watch(usize),
    /// A motor is felt or heard; index of its part.
    Feel(usize),
    /// A motor is fed straight from the battery; index of its part.
    Feed(usize),
    /// The engine is turned by hand; index of its part.
    Turn(usize),
    /// A part is looked at; index of the part.
    Look(usize),
    /// A part is moved by hand while something is watched; index of the part.
    Wiggle(usize),
    /// A bushing is measured; index of its part.
    Size(usize),
    /// The owner is asked.
    Ask(Question),
}

/// What an owner can be asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Question {
    /// What happened since it last worked.
    Since,
}

/// A measurement or observation that could be made.
#[derive(Clone, Debug, PartialEq)]
pub struct Probe {
    /// Its name, as a person types it and an entry keeps it.
    pub name: String,
    /// In the technician's words.
    pub title: String,
    /// What is done.
    pub sort: Sort,
    /// Name of the operating state.
    pub state: String,
    /// Name of red's point, empty when there is none.
    pub red: String,
    /// Name of black's point, empty when there is none.
    pub black: String,
    /// How to get into the state.
    pub setup: Vec<String>,
    /// Places that must be open, by index.
    pub places: Vec<usize>,
    /// Attended minutes, access apart.
    pub minutes: f64,
    /// Minutes until the reading is there, waiting included.
    pub elapsed: f64,
    /// What to mind, shown at the step itself; empty when nothing.
    pub caution: String,
    /// Hands needed at once.
    pub hands: u8,
    /// Seconds of cranking that it costs the battery.
    pub crank_seconds: f64,
    /// The instrument's display, when it has one.
    pub face: Option<Face>,
    /// What a look at the part can find, the healthy word first; empty for other probes.
    pub looks: &'static [&'static str],
}

impl Probe {
    /// The words it can answer with; empty for a number.
    pub fn words(&self) -> &'static [&'static str] {
        match self.sort {
            Sort::Meter(Instrument::Lamp, _) => &["off", "dim", "bright"],
            Sort::Meter(..) | Sort::PerAmp { .. } | Sort::Size(_) => &[],
            Sort::Listen(_) => &["silent", "click", "chatter"],
            Sort::Watch(_) => &["off", "dims", "bright"],
            Sort::Feel(_) | Sort::Feed(_) => &["still", "turns"],
            Sort::Turn(_) => &["free", "tight", "blocked"],
            Sort::Look(_) => self.looks,
            Sort::Wiggle(_) => &["same", "changes"],
            Sort::Ask(Question::Since) => SINCE,
        }
    }

    /// What a number answers in.
    pub fn dimension(&self) -> Dimension {
        match self.sort {
            Sort::Meter(instrument, _) => instrument.dimension(),
            Sort::PerAmp { .. } => Dimension::Resistance,
            Sort::Size(_) => Dimension::Length,
            _ => Dimension::Ratio,
        }
    }

    /// What the instrument displays of a value: with its digits, the prefix of its range, `OL` beyond.
    pub fn display(&self, value: f64) -> String {
        match &self.face {
            Some(face) => face.show(value, self.dimension()),
            None => show(value, self.dimension()),
        }
    }

    /// A reading as the instrument displays it; one that it could not, for its digits or its range, as it was typed.
    pub fn show(&self, reading: &Reading) -> String {
        const TYPED: usize = 4;
        let number = |value: f64| {
            let counts = self.face.as_ref().map(|face| value / face.step(value));
            match self.display(value) {
                shown if shown != "OL" && counts.is_none_or(|counts| (counts - round(counts)).abs() < 1e-6) => shown,
                _ => show_with(value, self.dimension(), TYPED),
            }
        };
        match reading {
            Reading::Number(value) => number(*value),
            Reading::Range { low, high } => format!("{}..{}", number(*low), number(*high)),
            Reading::Above(bound) => format!(">{}", number(*bound)),
            Reading::Below(bound) => format!("<{}", number(*bound)),
            other => other.show(self.dimension()),
        }
    }

    /// The instrument it needs, as `--instruments` names it.
    pub fn instrument(&self) -> &'static str {
        match self.sort {
            // Who has a clamp has a meter.
            Sort::Meter(Instrument::Clamp, _) | Sort::PerAmp { .. } => "clamp",
            Sort::Meter(Instrument::Lamp, _) => "lamp",
            Sort::Meter(..) => "meter",
            Sort::Size(_) => "caliper",
            Sort::Feed(_) => "jumper",
            Sort::Listen(_) | Sort::Watch(_) | Sort::Feel(_) | Sort::Turn(_) | Sort::Look(_) | Sort::Wiggle(_) => {
                "eyes"
            }
            Sort::Ask(_) => "owner",
        }
    }

    /// What lets a technician who is alone do it; empty where two hands are enough (common practice, no source).
    pub fn helps(&self) -> &'static str {
        match self.hands {
            0..=2 => "",
            3 => "three hands: clip one lead on first, or have a helper at the controls",
            _ => "four hands: clip both leads on first, or have a helper at the controls",
        }
    }

    /// The setting of the instrument, in words; empty when there is none.
    pub fn setting(&self) -> &'static str {
        match self.sort {
            Sort::Meter(Instrument::Volts, _) => "dc volts",
            Sort::Meter(Instrument::LowZ, _) => "dc volts, low impedance",
            Sort::Meter(Instrument::Ohms, _) => "ohms, leads not nulled",
            Sort::Meter(Instrument::Diode, _) => "diode test",
            Sort::Meter(Instrument::Amps, _) => "dc amps, 10 A jack",
            Sort::Meter(Instrument::Clamp, _) => "dc amps, zeroed before it is closed round the cable",
            Sort::Meter(Instrument::Lamp, _) => "test lamp",
            Sort::PerAmp { .. } => "dc millivolts over dc amps, the clamp zeroed before it is closed round the cable",
            _ => "",
        }
    }
}

/// Answers to "what happened since it last worked?".
pub const SINCE: &[&str] = &["nothing", "wash", "rain", "crash", "lay-up", "jump-start", "work-done", "heat"];
