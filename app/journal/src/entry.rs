//! What can be said of a job, one entry a thing.
//! Promise: a field is only ever added, so that a journal of today can be read tomorrow.

use diagnosis::Verdict;
use diagnosis::learned::Parts;
use serde::{Deserialize, Serialize};

/// One thing said of a job.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "entry", rename_all = "kebab-case")]
pub enum Entry {
    /// The job begins.
    Opened {
        /// The machine's id.
        machine: String,
        /// Fingerprint of the sheet's text.
        sheet: String,
        /// Version of the engine.
        engine: String,
    },
    /// What the owner says.
    Complaint {
        /// Name of the complaint, or `skip`.
        value: String,
    },
    /// Air temperature.
    Air {
        /// As typed.
        value: String,
    },
    /// What there is to measure with; all instruments where this was never said.
    Instruments {
        /// Their names.
        value: Vec<String>,
    },
    /// A probe, a remedy tried or the owner's answer, with what it showed.
    Reading {
        /// Its name.
        probe: String,
        /// As typed.
        value: String,
    },
    /// A remark in the technician's own words.
    Note {
        /// The remark.
        text: String,
    },
    /// A picture.
    Photo {
        /// Name of its content, see [`crate::attachment`].
        hash: String,
        /// What it shows, in the technician's words; may be empty.
        text: String,
    },
    /// What the owner was told that the job may come to.
    Quoted {
        /// On the mean.
        expected: f64,
        /// Not exceeded in nine cases of ten.
        worst: f64,
        /// Of both, as in `EUR`.
        currency: String,
    },
    /// What the owner has agreed to pay at most.
    Limit {
        /// How much.
        amount: f64,
        /// Of what, as in `EUR`.
        currency: String,
    },
    /// The latest entry that can be taken back and still stands is taken back.
    Undo,
    /// What the technician was told.
    Told {
        /// The verdict's faults.
        faults: Vec<String>,
        /// Its probability.
        probability: f64,
        /// Whether it was proven.
        proven: bool,
        /// How well each part of the severities of each of them explains the readings, the slightest first.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        severities: Vec<Option<Parts>>,
    },
    /// The job is closed.
    Closed {
        /// Whether the cause was proven.
        proven: bool,
    },
    /// A closed job is gone on with.
    Reopened,
}

impl Entry {
    /// What the technician is told by a verdict.
    pub fn told(verdict: &Verdict) -> Self {
        // Enough for what learns from them, and short in the journal.
        let short = |parts: Parts| parts.map(|share| (share * 1e4).round() / 1e4);
        let severities: Vec<Option<Parts>> = verdict.severities.iter().map(|severity| severity.map(short)).collect();
        Self::Told {
            faults: verdict.faults.clone(),
            probability: verdict.probability,
            proven: verdict.proven,
            severities: if severities.iter().any(Option::is_some) { severities } else { Vec::new() },
        }
    }

    /// Whether [`Entry::Undo`] takes it back.
    pub fn can_be_undone(&self) -> bool {
        !matches!(
            self,
            Self::Opened { .. }
                | Self::Undo
                | Self::Told { .. }
                | Self::Quoted { .. }
                | Self::Closed { .. }
                | Self::Reopened
        )
    }
}

/// An entry as the journal keeps it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Kept {
    /// Its number in the job, from 1.
    pub number: u64,
    /// What tells it from every other entry of every journal.
    pub key: String,
    /// When it was made, UTC, as in `2026-01-31T08:15:00Z`.
    pub at: String,
    /// What was said.
    #[serde(flatten)]
    pub entry: Entry,
    /// Whether it still waits on this machine for a server that is away; its number may change then.
    #[serde(skip)]
    pub waits: bool,
}

/// A new key for an entry; whoever makes an entry gives it one, so that sending it twice keeps it once.
pub fn key() -> String {
    uuid::Uuid::now_v7().simple().to_string()
}
