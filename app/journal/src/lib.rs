//! The journal: jobs, their entries in the order in which they were made, and what belongs to them.
//! Idea: entries are only ever added; taking something back is an entry too, and everything else (what stands, what is
//! believed, what comes next) is derived when it is asked for.
//! Promise: an entry that was acknowledged is on the disk, once, whatever happens to the program or the machine it runs
//! on; a damaged file is refused and never written to.
//! Not here: advice (`diagnosis`), where the file is kept (the workbench's `shop/`).
#![warn(missing_docs)]

pub mod attachment;
pub mod entry;
pub mod error;
pub mod job;
pub mod journal;
pub mod lines;
pub mod place;
mod postgres;
mod sqlite;
mod store;
mod waiting;

pub use entry::{Entry, Kept, key};
pub use error::JournalError;
pub use job::Job;
pub use journal::{Brief, Journal};
pub use place::Place;
