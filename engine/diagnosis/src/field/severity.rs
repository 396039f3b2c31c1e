//! How bad a fault is, by the readings of one job: the worlds that have it, by the part of its severities that they lie in.
//! Promise: what was learned before is taken out again, so that no job is taught its own teaching.

use super::{Beyond, Field};
use crate::cast::{Cast, Draw, PARTS, Parts, SEVERITY, part_of};

impl Field {
    /// How well each part of a fault's severities explains the readings; they sum to one. Nothing where no world of it is
    /// left, or its severity does not differ.
    pub(crate) fn severity(&self, cast: &Cast, fault: u32) -> Option<Parts> {
        let suspect = &cast.suspects[fault as usize];
        let known = suspect.fault.as_ref()?;
        if known.severity_at(0.0).to_bits() == known.severity_at(1.0).to_bits() {
            return None;
        }
        let mut fits = [0.0; PARTS];
        let mut note = |draw: &Draw, axis: usize, belief: f64| fits[part_of(draw[axis])] += belief;
        let beliefs = self.belief.worlds();
        let first = fault as usize * cast.worlds_each;
        for (world, belief) in beliefs.iter().enumerate().skip(first).take(cast.worlds_each) {
            note(&cast.draw(world), SEVERITY, *belief);
        }
        for (world, beyond) in (cast.len()..).zip(&self.beyond) {
            match beyond {
                Beyond::Drawn(faults, draw, _) => {
                    let of = faults.iter().filter(|(other, _)| *other == fault);
                    of.for_each(|(_, axis)| note(draw, *axis, beliefs[world]));
                }
                Beyond::Sometimes(of, _) if cast.suspect_of(*of as usize) == fault as usize => {
                    note(&cast.draw(*of as usize), SEVERITY, beliefs[world]);
                }
                Beyond::Sometimes(..) => {}
            }
        }
        fits.iter_mut().zip(suspect.severity).for_each(|(fit, learned)| *fit /= learned);
        let all: f64 = fits.iter().sum();
        (all > 0.0).then(|| fits.map(|fit| fit / all))
    }
}
