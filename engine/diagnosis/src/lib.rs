//! From readings to odds, from odds to the next probe, from a verdict to its proof.
//! The way: [`cast`] draws what-if cases, [`atlas`] observes them, [`likelihood`] weighs readings, [`inference`]
//! keeps belief and plans, [`desk`] gives advice for a job.
//! Promise: the same entries give the same beliefs to the last bit.
//! Not here: files, clocks, threads; the inference core knows nothing of machines.
#![warn(missing_docs)]

pub mod advice;
pub mod atlas;
pub(crate) mod band;
pub mod bins;
pub mod cast;
pub mod cell;
pub mod column;
pub mod complaint;
pub mod coverage;
mod delegates;
pub mod desk;
mod field;
pub mod fit;
pub mod inference;
pub mod keep;
pub mod learned;
pub mod likelihood;
mod plan;
pub mod planted;
pub mod proof;
mod remedies;
pub mod request;
mod round;
pub mod spread;
mod telling;
mod told;
pub mod tree;
pub mod trial;
mod turn;
pub mod which;

pub use advice::{Advice, Step, Stop, SuspectShare, Verdict};
pub use atlas::{Atlas, Survey};
pub use desk::Desk;
pub use request::{BadRequest, Request};
