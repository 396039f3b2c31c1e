//! Units as types, tolerant text, and what a meter's face shows.
//!
//! A number enters as a person writes it (`"180 mohm"`, `"12,6 V"`, `"6 AWG"`) and leaves as a meter or
//! a data sheet would print it (`180 mΩ`). In between it is a type that knows its unit.
//!
//! Promise: [`read()`] never panics and never guesses; what it cannot read it names, with what is allowed
//! and what to write instead. [`show()`] prints text that `read` takes back. Same bits on every machine.
//! Limits: SI inside (temperature in °C is the one exception); no algebra of units beyond the products
//! that a 12 V circuit needs; no complex numbers.
//!
//! ```
//! use quantity::{Amps, Dimension, Ohms, read, show};
//! let contact = Ohms::read("0,8 mohm")?;
//! assert_eq!((Amps(120.0) * contact).to_string(), "96.0 mV");
//! assert_eq!(show(read("6 AWG", Dimension::Area)?, Dimension::Area), "13.3 mm²");
//! let refusal = Ohms::read("12 A").unwrap_err();
//! assert!(refusal.to_string().starts_with("\"12 A\" is a current; a resistance is wanted here"));
//! # Ok::<(), quantity::ReadError>(())
//! ```
#![warn(missing_docs)]

pub mod conductor;
mod dimension;
pub mod face;
mod number;
mod read;
mod reading;
mod refusal;
mod show;
pub mod typed;
mod unit;

pub use dimension::Dimension;
pub use face::Face;
pub use read::{read, read_loosely};
pub use reading::{Expect, Reading};
pub use refusal::{ReadError, ReadErrorKind};
pub use show::{show, show_with};
pub use typed::*;
