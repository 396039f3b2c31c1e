//! One start as it happens: battery, path, relay, motor, drive and engine solved together in time.
//!
//! Law: the battery's sag and warming ([`crate::pack`]); the wiring as its ports see it ([`Ports`]); L·di/dt at the motor
//! and at the coil; J·dω/dt of the rotor, alone or geared to the crankshaft; the pinion on its thread
//! ([`crate::inertia_drive`]); the gas in the cylinder with what leaks past the rings ([`crate::cylinder`]); two nodes of
//! heat in the motor. The relay's pull-in and drop-out, the pinion's arrival, a clutch that takes hold or lets go and the
//! sealing of the cylinder are located crossings.
//! Promise: what the battery's chemistry gives up is found again, as work, heat or what is still stored ([`Tally`]).
//! Limit: the engine never fires here; the wiring's lamps and diodes are taken as straight lines about the state they were
//! reduced at; a pinion in mesh stays there until the current ends.

mod course;
mod motion;
mod rig;
mod tally;

pub use course::{Course, Outcome, Sample, Start};
pub use rig::{Coupling, Engine, Motor, Ports, Relay, Rig};
pub use tally::Tally;

#[cfg(test)]
mod tests;
