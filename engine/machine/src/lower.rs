//! What a kind sees while it turns its values into branches of a network.

use circuit::{Branch, Fuse, Law, Motor, Network, Relay};
use quantity::{Amps, Celsius, Ohms, Volts};

/// A part on its way into a network: its values, the operating state, and its branches to be filled.
pub struct Lower<'a> {
    pub(crate) values: &'a [f64],
    pub(crate) slots: &'a [Option<usize>],
    pub(crate) network: &'a mut Network,
    pub(crate) air: Option<Celsius>,
    pub(crate) running: bool,
    pub(crate) blocked: bool,
    pub(crate) mechanics: Mechanics<'a>,
}

/// Values of the parts that share a shaft with a motor; empty when there are none.
#[derive(Clone, Copy, Default)]
pub struct Mechanics<'a> {
    /// The drive's values.
    pub drive: &'a [f64],
    /// The engine's values.
    pub engine: &'a [f64],
    /// The values of one bushing that carries the shaft, the worst to be taken by the caller.
    pub bushings: &'a [&'a [f64]],
}

impl<'a> Lower<'a> {
    /// The SI value of the field with that index; NaN when the sheet does not say.
    pub fn value(&self, field: usize) -> f64 {
        self.values[field]
    }

    /// The value, or another when the sheet does not say.
    pub fn value_or(&self, field: usize, other: f64) -> f64 {
        let value = self.values[field];
        if value.is_nan() { other } else { value }
    }

    /// A field as a resistance.
    pub fn ohms(&self, field: usize) -> Ohms {
        Ohms(self.values[field])
    }

    /// Whether a flag is set or a condition on the controls holds.
    pub fn holds(&self, field: usize) -> bool {
        self.values[field] == 1.0
    }

    /// Index of the word chosen.
    pub fn choice(&self, field: usize) -> usize {
        if self.values[field].is_nan() { usize::MAX } else { self.values[field] as usize }
    }

    /// Air temperature; nothing when everything is as written, at 20 °C.
    pub fn air(&self) -> Option<Celsius> {
        self.air
    }

    /// Whether the engine runs.
    pub fn running(&self) -> bool {
        self.running
    }

    /// Whether the rotor is held still from outside.
    pub fn blocked(&self) -> bool {
        self.blocked
    }

    /// The parts on the motor's shaft.
    pub fn mechanics(&self) -> Mechanics<'a> {
        self.mechanics
    }

    /// Gives the path with that index its law.
    pub fn set(&mut self, path: usize, law: Law) {
        if let Some(branch) = self.slots[path] {
            self.network.branches[branch].law = law;
        }
    }

    /// Gives the path a plain resistance.
    pub fn resist(&mut self, path: usize, resistance: Ohms) {
        self.set(path, Law::resistance(resistance));
    }

    /// Makes the path a fuse.
    pub fn fuse(&mut self, path: usize, rating: Amps) {
        if let Some(branch) = self.slots[path] {
            self.network.fuses.push(Fuse { branch, rating });
        }
    }

    /// Makes two paths a relay's coil and contact.
    pub fn relay(&mut self, coil: usize, contact: usize, pull_in: Volts, drop_out: Volts, stuck: Option<bool>) {
        if let (Some(coil), Some(contact)) = (self.slots[coil], self.slots[contact]) {
            self.network.relays.push(Relay { coil, contact, pull_in, drop_out, stuck });
        }
    }

    /// Makes the path a motor; `describe` is given the branch's index.
    pub fn motor(&mut self, path: usize, describe: impl FnOnce(usize) -> Motor) {
        if let Some(branch) = self.slots[path] {
            let motor = describe(branch);
            self.network.branches[branch].law = Law::resistance(motor.resistance);
            self.network.motors.push(motor);
        }
    }

    /// Number of paths.
    pub fn paths(&self) -> usize {
        self.slots.len()
    }

    /// The branch of a path, as it stands.
    pub fn branch(&self, path: usize) -> Option<Branch> {
        self.slots[path].map(|branch| self.network.branches[branch])
    }
}
