//! Worlds, atlas, likelihood, belief, advice, job.
#![warn(missing_docs)]

pub mod inference;
