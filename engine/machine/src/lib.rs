//! The sheet: text to machine to network; kinds, faults, probes.
#![warn(missing_docs)]
