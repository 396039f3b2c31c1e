//! The laws behind a cold start: what a battery holds and gives, how a starter turns, when its pinion goes into mesh,
//! what an engine asks for, how bushings wear.
//!
//! Each module is one part of the machine: its law with the source, the range in which it holds, and what it leaves out.
//!
//! Promise: pure functions of their arguments; the same bits on every machine. Limit: no circuit and no sheet here;
//! whoever couples these laws to a network does it outside.
#![warn(missing_docs)]

pub mod bushing;
pub mod charging;
pub mod contact;
pub mod cranking;
pub mod cylinder;
pub mod inertia_drive;
pub mod lead_acid;
pub mod lfp;
pub mod ode;
pub mod oil;
pub mod pack;
pub mod sag;
pub mod starter;
mod table;
pub mod winding;

#[cfg(test)]
pub(crate) fn check(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "{found} is not {expected} ± {within}");
}
