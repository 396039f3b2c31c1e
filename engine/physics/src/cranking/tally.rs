//! Where the energy of a start went. Promise: the parts add up to what was drawn, within the accuracy of the steps.

use quantity::Joules;

/// Where the energy of a start went.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Tally {
    /// Given up by the battery's chemistry.
    pub drawn: Joules,
    /// Heat inside the battery, that of its change of entropy included.
    pub battery: Joules,
    /// Heat in cables, joints and contacts, and what other consumers took.
    pub wiring: Joules,
    /// Heat in the relay's coil.
    pub coil: Joules,
    /// Heat in the motor's copper and brushes.
    pub copper: Joules,
    /// Friction of motor, gears and clutch, and the blows when they meet.
    pub drive: Joules,
    /// Friction and oil of the engine.
    pub engine: Joules,
    /// Left in the gas and what leaked of it.
    pub gas: Joules,
    /// Still turning, and in the fields of motor and coil.
    pub stored: Joules,
    /// Burnt in arcs when a contact opened.
    pub arcs: Joules,
}

impl Tally {
    /// What is not accounted for, as a share of what was drawn.
    pub fn unaccounted(&self) -> f64 {
        let found = self.battery.0
            + self.wiring.0
            + self.coil.0
            + self.copper.0
            + self.drive.0
            + self.engine.0
            + self.gas.0
            + self.stored.0
            + self.arcs.0;
        (self.drawn.0 - found) / self.drawn.0.abs().max(1e-9)
    }
}
