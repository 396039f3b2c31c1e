//! What is shown of a job: what all pieces of its page look at.

use crate::shop::refusal::Refusal;
use crate::shop::workshop::Bench;

/// A form that could not be taken.
pub struct Failed {
    /// The question.
    pub question: String,
    /// What was typed.
    pub typed: String,
    /// Why not.
    pub refusal: Refusal,
}

/// What is shown of a job.
pub struct View {
    /// The job and its machine.
    pub bench: Bench,
    /// Of the next steps the one to be shown, 0 the best.
    pub taken: usize,
    /// A probe that was asked for by name instead; empty when none was.
    pub probe: String,
    /// A form that could not be taken.
    pub failed: Option<Failed>,
}
