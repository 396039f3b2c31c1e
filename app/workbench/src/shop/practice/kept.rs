//! What is kept of a session, and what came of it: acts, minutes, notes.
//! Promise: machine, settings and acts are all that has to be kept; what is read back is what was written.

use serde::{Deserialize, Serialize};

use super::super::refusal::{Place, Reason, Refusal};
use super::Settings;

/// One thing that the learner does.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "act", rename_all = "kebab-case")]
pub enum Act {
    /// Puts the red lead on a node.
    Red {
        /// Its name.
        node: String,
    },
    /// Puts the black lead on a node.
    Black {
        /// Its name.
        node: String,
    },
    /// Puts the ammeter in the place of a part, the clamp round it, the test lamp in a fuse's place.
    Around {
        /// Name of the part, or of one path of it.
        part: String,
    },
    /// Turns the meter's dial, or takes another instrument.
    Mode {
        /// The instrument's word.
        mode: String,
    },
    /// Brings the machine into an operating state.
    State {
        /// Its name.
        state: String,
    },
    /// Moves one control.
    Operate {
        /// Its name.
        control: String,
        /// Name of the position.
        position: String,
    },
    /// Holds the tips together and takes what they show off the readings that follow.
    Null,
    /// Reads the instrument as it is connected.
    Read,
    /// Takes a probe by its name.
    Probe {
        /// Its name.
        name: String,
    },
    /// Takes a probe of the repair check.
    Check {
        /// Its name.
        name: String,
    },
    /// Asks for the next probe.
    Hint,
    /// Asks for the odds.
    Odds,
    /// Does a remedy and tries to start.
    Remedy {
        /// `VERB@PART`.
        name: String,
    },
    /// Names the cause.
    Name {
        /// `part:mode`.
        fault: String,
    },
    /// Ends the session without a mended machine.
    GiveUp,
}

/// A session as it is kept: the machine, what its case is drawn from, and what was done.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Kept {
    /// The machine's id.
    pub machine: String,
    /// What the case is drawn from.
    pub settings: Settings,
    /// What was done, in order.
    pub acts: Vec<Act>,
}

impl Kept {
    /// Reads a session from text whose last line is one, as the command prints it.
    ///
    /// # Errors
    /// When that line is none.
    pub fn read(text: &str) -> Result<Self, Refusal> {
        let line = text.lines().rev().find(|line| !line.trim().is_empty()).unwrap_or_default();
        serde_json::from_str(line).map_err(|error| {
            let message = format!("not a session: {error}");
            Refusal::new(Reason::Form, Place::Request, message, line, "what `practice --json` prints")
        })
    }
}

/// What minutes went into.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Minutes {
    /// Probes, access apart.
    pub probing: f64,
    /// Opening places.
    pub access: f64,
    /// Lifting the battery's lead and putting it back, checking the meter.
    pub setup: f64,
    /// Hints and looks at the odds.
    pub hints: f64,
    /// Remedies and the tries whether they worked.
    pub remedies: f64,
    /// The repair check, access apart.
    pub repair_check: f64,
}

impl Minutes {
    /// All of them.
    pub fn total(&self) -> f64 {
        self.probing + self.access + self.setup + self.hints + self.remedies + self.repair_check
    }

    /// What they went into, in words.
    pub fn split(&self) -> [(&'static str, f64); 6] {
        [
            ("probing", self.probing),
            ("access", self.access),
            ("battery lead, meter", self.setup),
            ("hints", self.hints),
            ("remedies", self.remedies),
            ("repair check", self.repair_check),
        ]
    }
}

/// What came of an act.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Noted {
    /// Which of the acts, from 0.
    pub act: usize,
    /// The probe or remedy that it came to, by its whole name.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reading: Option<String>,
    /// What was shown.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub shown: Option<String>,
    /// What the learner would type of it in a job.
    #[serde(skip)]
    pub(super) typed: Option<String>,
    /// Minutes that it cost.
    pub minutes: f64,
    /// Minutes on the clock afterwards.
    pub clock: f64,
}
