//! Advice as data: suspects, what to do next, what each outcome would mean, and whether a verdict stands.

pub use crate::bins::Outcome;
use crate::cast::Parts;

/// A suspect and its probability.
#[derive(Clone, Debug, PartialEq)]
pub struct SuspectShare {
    /// `part:mode`, or `healthy`.
    pub fault: String,
    /// In the technician's words.
    pub title: String,
    /// Probability.
    pub probability: f64,
}

/// What a healthy machine shows.
#[derive(Clone, Debug, PartialEq)]
pub enum Band {
    /// Between two numbers, in SI.
    Between {
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
        /// Unit of both.
        unit: &'static str,
    },
    /// A word, or `OL`.
    Expected(String),
}

/// One outcome of a probe and what it would mean.
#[derive(Clone, Debug, PartialEq)]
pub struct OutcomeMeans {
    /// What would be seen.
    pub when: String,
    /// The same as a range or a word; nothing where it is not a probe's.
    pub outcome: Option<Outcome>,
    /// The middle one of the readings that would be such an outcome, as an entry takes it; empty where there is none.
    pub reading: String,
    /// Whom it would point at.
    pub means: String,
    /// How likely it is now.
    pub probability: f64,
}

/// One thing that could be done next.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// Name of the probe, or `try:VERB@PART`.
    pub probe: String,
    /// In the technician's words.
    pub title: String,
    /// Attended minutes, unpaid access included.
    pub minutes: f64,
    /// Minutes until the answer is there.
    pub elapsed: f64,
    /// Hands that it takes at once, those at the controls included.
    pub hands: u8,
    /// What ranks it: bits per minute, or minutes saved per minute.
    pub value_per_minute: f64,
    /// What a healthy machine shows; nothing for a remedy.
    pub band: Option<Band>,
    /// What each outcome would mean.
    pub outcomes: Vec<OutcomeMeans>,
    /// What to mind; empty when nothing.
    pub caution: String,
    /// Whether it is a measurement to be taken a second time.
    pub again: bool,
}

/// Why there is nothing more to be advised.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stop {
    /// No fault in the catalogue explains the readings.
    NoneOfThese,
    /// No probe is worth its minutes any more.
    NotWorthMore,
    /// What is left would be unsafe.
    Unsafe,
}

impl Stop {
    /// The word of the JSON form.
    pub fn name(self) -> &'static str {
        match self {
            Self::NoneOfThese => "none-of-these",
            Self::NotWorthMore => "not-worth-more",
            Self::Unsafe => "unsafe",
        }
    }
}

/// The verdict.
#[derive(Clone, Debug, PartialEq)]
pub struct Verdict {
    /// `part:mode`, likeliest first.
    pub faults: Vec<String>,
    /// How well each part of the severities of each of them explains the readings; see [`crate::learned::Found`].
    pub severities: Vec<Option<Parts>>,
    /// Faults present together, one list an alternative.
    pub any_of: Vec<Vec<String>>,
    /// Probability of the group.
    pub probability: f64,
    /// Whether a measurement isolates it and the remedy has passed.
    pub proven: bool,
    /// Whether it has a cause behind it that is still to be found.
    pub consequence: bool,
    /// `try:VERB@PART`.
    pub remedy: String,
    /// The remedy in words.
    pub remedy_title: String,
    /// What to mind while doing it.
    pub caution: String,
    /// What the machine must show when reassembled.
    pub proof: Vec<Check>,
    /// Whether the repaired machine has shown all of that.
    pub shown: bool,
    /// Whether it can be acted on; else what is next should be measured before.
    pub settled: bool,
    /// What cannot be seen today and has to hold before the cause is proven; nothing when the proof can be had now.
    pub pending: Option<Pending>,
}

/// A proof that cannot be had today. It has held once `ask:held-up` is answered with yes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pending {
    /// The fault came and went: so many good starts in a row make its absence by luck a one-in-twenty thing.
    Starts(u32),
    /// It failed only in the cold: the next frost.
    Cold,
    /// It failed only when hot: the next long ride.
    Hot,
}

impl std::fmt::Display for Pending {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Starts(count) => write!(out, "{count} good starts in a row, each a while after the last"),
            Self::Cold => out.write_str("a good start on the next morning as cold as the one that it failed on"),
            Self::Hot => out.write_str("a good start right after the next long ride"),
        }
    }
}

/// Something that the repaired machine must show.
#[derive(Clone, Debug, PartialEq)]
pub struct Check {
    /// Name of the probe.
    pub probe: String,
    /// In the technician's words.
    pub title: String,
    /// What it must show.
    pub band: Band,
    /// Whether this is a start that must be refused.
    pub refusal: bool,
}

/// Why the odds stand as they do: one reading's part in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Reason {
    /// Name and value of the reading.
    pub reading: String,
    /// In words.
    pub text: String,
    /// Bits by which it raises (or lowers) the leader.
    pub weight: f64,
}

/// Everything that can be said at this point of a job.
#[derive(Clone, Debug, PartialEq)]
pub struct Advice {
    /// Likeliest first.
    pub suspects: Vec<SuspectShare>,
    /// Probability that no fault of the catalogue is the cause.
    pub unexplained: f64,
    /// Probability that the likeliest remedy is the right one.
    pub leading: f64,
    /// Best first, up to eight.
    pub next: Vec<Step>,
    /// Why nothing more is advised.
    pub stop: Option<Stop>,
    /// The verdict, when it is reached.
    pub verdict: Option<Verdict>,
    /// The reading that the verdict rests on.
    pub keystone: Option<String>,
    /// Readings that the leader has to call wild.
    pub outliers: Vec<String>,
    /// Each reading's part.
    pub reasons: Vec<Reason>,
    /// Entropy over the suspects.
    pub entropy_bits: f64,
}
