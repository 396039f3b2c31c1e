//! The catalogue of kinds: one file a kind, one line here.

mod relay;
mod resistance;
pub mod spec;

pub use spec::{Fallback, Field, Kind, Want};

/// Every kind that a sheet may name, in the order in which the documentation lists them.
pub static CATALOGUE: &[&Kind] = &[&resistance::RESISTANCE, &relay::RELAY];

/// The kind of that name.
pub fn find(name: &str) -> Option<&'static Kind> {
    CATALOGUE.iter().copied().find(|kind| kind.name == name)
}
