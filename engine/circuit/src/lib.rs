//! Circuits of batteries, wires, switches, fuses, relays, diodes, lamps and motors, solved exactly.
//!
//! [`Network`] describes, [`Solver`] finds the operating point by the rules written in [`operating_point`],
//! or that of a network near one solved before, sooner ([`Solver::solve_near`]);
//! [`transient`] follows a network with capacitors and inductors in time, [`spice`] writes a network for another solver.
//! Law: Kirchhoff's two laws and each branch's own law; formulation in [`pattern`].
//! Promise: currents into every node sum to zero by construction; a node without a conducting path to the
//! reference is floating, never a made-up number.
//! Not here: temperatures, faults, meters, machines; this crate has never heard of them.
#![warn(missing_docs)]

mod forest;
mod junction;
mod linear;
mod near;
pub mod network;
mod newton;
pub mod operating_point;
pub mod pattern;
pub mod spice;
pub mod transient;

pub use network::{Branch, Drive, Fuse, Law, Motor, Network, Relay};
pub use operating_point::{OperatingPoint, Outcome, Position, Rotor, Solver, State};
pub use pattern::{Solution, Thevenin, Unsolvable};
