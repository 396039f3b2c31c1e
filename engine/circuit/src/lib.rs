//! Components, networks, operating point, transient.
#![warn(missing_docs)]
