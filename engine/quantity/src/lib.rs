//! Units as types, tolerant text, spread.
#![warn(missing_docs)]
