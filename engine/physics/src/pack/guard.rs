//! The board that guards lithium cells: when it cuts the pack off, so that the posts show nothing.
//! Promise: a predicate only; for how long a limit may be passed is told beside it and left to the caller.
//! Limit: each board has limits of its own; the defaults are estimates of practice but for the two cell voltages.

use quantity::{Amps, Seconds, Volts};

use super::{Held, Pack};

/// Limits of a board.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Guard {
    /// A cell below this: off. Copper dissolves below 2.0 V (textbook value, `from memory`).
    pub least_cell: Volts,
    /// How long a cell may be below.
    pub low_for: Seconds,
    /// A cell above this: no charging.
    pub most_cell: Volts,
    /// More than this out of the pack: off.
    pub most_current: Amps,
    /// How long it may be more.
    pub over_for: Seconds,
}

/// Why a board cuts off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Trip {
    /// A cell is too low.
    Low,
    /// A cell is too high.
    High,
    /// Too much current.
    Over,
    /// Charging below 0 °C.
    Cold,
}

impl Guard {
    /// A board for a pack: 2.0 V for 0.1 s, 3.65 V a cell (BPX example's limits; times are estimates), 60 times the capacity
    /// for 0.5 s (estimate).
    pub fn new(pack: &Pack) -> Self {
        Self {
            least_cell: Volts(2.0),
            low_for: Seconds(0.1),
            most_cell: Volts(3.65),
            most_current: Amps(60.0 * pack.capacity().0),
            over_for: Seconds(0.5),
        }
    }

    /// The limit that is passed at this instant, if any. A dead cell is low whatever the current.
    pub fn passed(&self, pack: &Pack, held: &Held, current: Amps) -> Option<Trip> {
        let cells = pack.live_cells();
        let cell = pack.voltage(held, current) / cells;
        let charging = current.0 < 0.0;
        if pack.dead_cells >= 1.0 || cells <= 0.0 || cell < self.least_cell {
            Some(Trip::Low)
        } else if charging && cell > self.most_cell {
            Some(Trip::High)
        } else if current > self.most_current {
            Some(Trip::Over)
        } else if charging && held.temperature.0 < 0.0 {
            Some(Trip::Cold)
        } else {
            None
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pack::Chemistry;
    use quantity::{AmpHours, Celsius};

    #[test]
    fn law_each_limit_trips_for_its_own_reason() {
        let pack = Pack::new(Chemistry::LfpPower, AmpHours(4.6));
        let guard = Guard::new(&pack);
        let passed = |charge: f64, celsius: f64, amps: f64| {
            guard.passed(&pack, &pack.rested(charge, Celsius(celsius)), Amps(amps))
        };
        assert_eq!(passed(0.9, 20.0, 100.0), None);
        assert_eq!(passed(0.9, 20.0, 300.0), Some(Trip::Over));
        assert_eq!(passed(0.01, -10.0, 100.0), Some(Trip::Low));
        assert_eq!(passed(1.0, 20.0, -20.0), Some(Trip::High));
        assert_eq!(passed(0.5, -5.0, -1.0), Some(Trip::Cold));
        assert_eq!(passed(0.5, 5.0, -0.5), None);
        let broken = Pack { dead_cells: 1.0, ..pack };
        assert_eq!(guard.passed(&broken, &broken.rested(0.9, Celsius(20.0)), Amps(0.0)), Some(Trip::Low));
    }
}
