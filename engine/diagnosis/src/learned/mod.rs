//! What jobs teach, for the next one: how often each fault is the cause, how bad a fault usually is when it is found, and
//! how long things take in these hands.
//! Promise: a desk that was taught nothing is the desk of the sheet, to the last bit; what was taught can be taken back.

mod odds;
mod pace;
mod severity;

pub use odds::{Learned, RANGE, Start, Taught, learn, starts};
pub use pace::{Act, HELD, Pace, Timed, act, act_of_place, act_of_remedy, pace};
pub use severity::{Found, Usual, usual};

pub use crate::cast::{EVEN, PARTS, Parts};

use crate::cast::Suspect;

/// All that was taught for one machine.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Lessons {
    /// Odds of the faults; none where no verdict taught any.
    pub faults: Vec<Learned>,
    /// How bad the faults of some kinds and modes usually are.
    pub severities: Vec<Usual>,
    /// How long things take.
    pub pace: Pace,
}

impl Lessons {
    /// Gives suspects their odds and their usual severities: the healthy machine keeps its odds, the faults together bring
    /// as many jobs as before.
    pub(crate) fn apply(&self, suspects: &mut [Suspect]) {
        for suspect in suspects.iter_mut().skip(1) {
            if let Some(fault) = self.faults.iter().find(|fault| fault.start.fault == suspect.name) {
                suspect.odds *= if fault.start.share > 0.0 { fault.share / fault.start.share } else { 1.0 };
                let usual = self.severities.iter().find(|usual| usual.class == fault.start.class);
                suspect.severity = usual.map_or(EVEN, Usual::density);
            }
        }
    }
}
