//! A machine as its sheet tells it: text to [`sheet::Sheet`], to [`Machine`], to a circuit network.
//! The way: `sheet` reads and checks, `machine` names the nodes, `lower` builds the network of a state and its faults,
//! `probe` says what could be measured and what a meter would show.
//! Promise: bad text is answered by a list of problems with places, never by a panic, and never stops at the first.
//! Not here: odds given readings (see `diagnosis`), files, clocks.
#![warn(missing_docs)]

pub mod change;
pub mod fault;
pub mod kind;
pub mod lower;
pub mod machine;
pub mod meter;
pub mod probe;
pub mod problem;
pub mod schema;
pub mod sheet;
pub mod state;

pub use change::{BadSetting, BadSeverity};
pub use fault::Fault;
pub use machine::{Edit, Machine, UnknownName};
pub use meter::{Bench, Hookup, Instrument, Setting, Shown};
pub use probe::{Observer, Probe, Program, Seen, Signs};
pub use state::OperatingState;
