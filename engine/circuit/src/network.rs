//! A network as data: branches between nodes, and which of them are fuses, relays and motors.
//! Sign convention: a branch's current flows from `from` to `to`; its voltage is v(from) − v(to).
//! A source's `from` is its plus, so its current is negative while it delivers.

use quantity::{
    Amps, KilogramSquareMeters, NewtonMeterSecondsPerRadian, NewtonMeters, Ohms, RadiansPerSecondSquared,
    VoltSecondsPerRadian, Volts, Watts,
};

/// What ties a branch's voltage to its current.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Law {
    /// Absent: no current whatever the voltage.
    Open,
    /// v = resistance·i + emf: a resistance (emf 0), a source with its inner resistance, an ideal connection (both 0).
    Linear {
        /// Series resistance, zero or more.
        resistance: Ohms,
        /// Open-circuit voltage, `from` against `to`.
        emf: Volts,
    },
    /// An ideal current source, driving from `from` to `to` through itself. It is not a conducting path.
    Source(Amps),
    /// A junction in series with a resistance: i = saturation·(exp(u/emission) − 1), v = u + resistance·i.
    Junction {
        /// Saturation current.
        saturation: Amps,
        /// Ideality times thermal voltage, n·kT/q.
        emission: Volts,
        /// Series resistance.
        resistance: Ohms,
    },
    /// An incandescent lamp of this rated power at 12 V; its heat balance is written in `junction`.
    Lamp(Watts),
    /// A consumer that draws this current above [`Law::KNEE`] and is a resistance below; not a conducting path.
    Draw(Amps),
}

impl Law {
    /// Below this voltage a constant-current consumer runs out of supply and behaves as a resistance.
    pub const KNEE: Volts = Volts(1.0);

    /// A plain resistance.
    pub const fn resistance(resistance: Ohms) -> Self {
        Self::Linear { resistance, emf: Volts(0.0) }
    }
}

/// A path between two nodes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Branch {
    /// Node at which the current enters.
    pub from: usize,
    /// Node at which the current leaves.
    pub to: usize,
    /// How it conducts; for contacts and motors the law is set by the operating point.
    pub law: Law,
}

/// A branch that opens when its current exceeds 1.5 × rating.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fuse {
    /// Index of the branch.
    pub branch: usize,
    /// Rated current.
    pub rating: Amps,
}

/// A coil that moves a contact.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Relay {
    /// Index of the coil's branch.
    pub coil: usize,
    /// Index of the contact's branch; its law here is what it is when closed.
    pub contact: usize,
    /// A released relay pulls in at this magnitude of coil voltage.
    pub pull_in: Volts,
    /// A pulled relay drops out below this magnitude.
    pub drop_out: Volts,
    /// A contact that never makes (`Some(false)`) or never breaks (`Some(true)`) wherever the armature is.
    pub stuck: Option<bool>,
}

/// A brushed permanent-magnet motor: V = I·R + K·ω, K·I = friction + drag·ω (+ load).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Motor {
    /// Index of the branch; its law is replaced.
    pub branch: usize,
    /// Armature, brushes and leads.
    pub resistance: Ohms,
    /// K: volts per speed, the same number as torque per ampere.
    pub constant: VoltSecondsPerRadian,
    /// Torque that opposes any motion.
    pub friction: NewtonMeters,
    /// Torque per speed.
    pub drag: NewtonMeterSecondsPerRadian,
    /// Torque that must be exceeded to start from rest.
    pub breakaway: NewtonMeters,
    /// Held still, from outside or by being seized.
    pub blocked: bool,
    /// What the shaft drives, if anything.
    pub drive: Option<Drive>,
}

/// What a starter motor turns once its drive is in mesh, seen from the motor's shaft.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drive {
    /// Rotor inertia, which with the torque at the start decides on engagement.
    pub inertia: KilogramSquareMeters,
    /// The drive throws into mesh only above this acceleration of the rotor; zero is always in mesh.
    pub engages_above: RadiansPerSecondSquared,
    /// Load torque of the engine at the motor's shaft.
    pub load: NewtonMeters,
    /// Load torque per speed at the motor's shaft.
    pub load_drag: NewtonMeterSecondsPerRadian,
    /// Torque at the motor's shaft that the engine wants before it moves, the motor's own friction included.
    pub breakaway: NewtonMeters,
}

/// Branches between nodes, with the parts that change state.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Network {
    /// Number of nodes; branches name them 0 … nodes − 1.
    pub nodes: usize,
    /// The node against which voltages are given.
    pub reference: usize,
    /// All branches.
    pub branches: Vec<Branch>,
    /// Fuses, by branch.
    pub fuses: Vec<Fuse>,
    /// Relays, by branches.
    pub relays: Vec<Relay>,
    /// Motors, by branch.
    pub motors: Vec<Motor>,
}

impl Network {
    /// An empty network of that many nodes.
    pub fn new(nodes: usize, reference: usize) -> Self {
        Self { nodes, reference, ..Self::default() }
    }

    /// Adds a branch and gives its index.
    pub fn add(&mut self, from: usize, to: usize, law: Law) -> usize {
        self.branches.push(Branch { from, to, law });
        self.branches.len() - 1
    }
}
