//! One round of probes on a machine that is fully specified: what each of them shows, and what its owner would say.
//! Promise: a world whose network has no solution says nothing; nothing else is lost.

use machine::{Edit, Machine, Observer, Probe, Program, Seen, Signs};
use quantity::Celsius;

use crate::cast::World;
use crate::cell::Cell;

/// Probes to be made on machines of one sheet, grouped by state.
#[derive(Clone, Copy)]
pub(crate) struct Round<'a> {
    pub(crate) machine: &'a Machine,
    pub(crate) probes: &'a [Probe],
    pub(crate) program: &'a Program,
}

impl Round<'_> {
    /// What one world shows on the probes, and what it would make its owner say.
    pub(crate) fn watch(&self, observer: &mut Observer, world: &World) -> (Vec<Cell>, Signs) {
        self.look(observer, &world.edits, Some(world.air))
    }

    /// The same of the sheet's machine with some edits.
    pub(crate) fn look(&self, observer: &mut Observer, edits: &[Edit], air: Option<Celsius>) -> (Vec<Cell>, Signs) {
        let mut seen = vec![Seen::Nothing; self.probes.len()];
        let signs = match observer.observe(self.machine, self.program, self.probes, edits, air, &mut seen) {
            Ok(()) => observer.signs(),
            Err(_) => {
                seen.fill(Seen::Nothing);
                Signs::default()
            }
        };
        (seen.into_iter().map(Cell::of).collect(), signs)
    }
}
