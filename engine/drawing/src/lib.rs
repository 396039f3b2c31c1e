//! The schematic of a machine as its sheet tells it: laid out, drawn, and written as SVG text.
//! The way: `element` takes the paths of the parts, `graph` sorts them into chains by falling potential, `plan` and
//! `search` give every chain its place, `layout` turns that into wires, signs and labels, `draw` writes them.
//! Promise: only horizontal and vertical wires; nothing overlaps; the same machine gives the same bytes; whatever a
//! sheet's titles hold is text. Not here: pages, files, what a state does to a machine (see `circuit`).
#![warn(missing_docs)]

mod between;
mod build;
mod color;
mod draw;
mod element;
mod graph;
mod layout;
mod overlay;
mod plan;
mod search;
mod svg;
mod symbol;
mod text;

pub use between::{between, between_in_words};
pub use draw::draw;
pub use layout::{Layout, Width};
pub use overlay::{Overlay, Potentials};
