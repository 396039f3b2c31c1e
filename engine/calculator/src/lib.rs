//! The worksheets: a bench calculation each, from typed inputs to an answer with its working and its source.
//!
//! A worksheet is described once ([`Worksheet`]): what it asks for, within which limits, what holds when nothing is said
//! (the machine's own value where a sheet is at hand), and how the answer follows. Command line, pages and documents
//! read that description; none of them knows a formula.
//!
//! Promise: pure functions of their inputs; what cannot be is refused with a hint, never computed; every figure of an
//! answer has a unit, and text and JSON are two prints of the same [`Answer`].
//! Limit: no drawing here; a [`Plot`] is numbers.
#![warn(missing_docs)]

mod answer;
mod bisect;
mod chemistry;
mod fits;
mod given;
pub mod morning;
mod own;
mod path;
mod print;
pub mod rig;
mod sag;
mod starting;
pub mod trend;
mod worksheet;
mod worksheets;

pub use answer::{Answer, Axis, Cell, Column, Curve, Figure, Limit, Plot, Table, Unit};
pub use given::{Entry, Given, Origin, Refused};
pub use worksheet::{Fallback, Input, Sheet, Want, Worksheet};
pub use worksheets::{CATALOGUE, find};
