//! What takes part in a start, each as numbers.

use std::f64::consts::PI;

use quantity::{
    Celsius, Henries, KilogramSquareMeters, NewtonMeterSecondsPerRadian, NewtonMeters, Ohms, Radians, RadiansPerSecond,
    Seconds, VoltSecondsPerRadian, Volts,
};

use crate::cylinder::{AIR, Cylinder};
use crate::inertia_drive::InertiaDrive;
use crate::pack::Pack;
use crate::winding::Magnet;

/// Everything that takes part in a start.
#[derive(Clone, Debug, PartialEq)]
pub struct Rig {
    /// The battery.
    pub pack: Pack,
    /// The wiring with the relay's contact open and closed.
    pub ports: [Ports; 2],
    /// The relay; without one the contact closes at once.
    pub relay: Option<Relay>,
    /// The starting motor.
    pub motor: Motor,
    /// What couples it to the engine.
    pub coupling: Coupling,
    /// The engine.
    pub engine: Engine,
}

/// The wiring reduced to its ports: rows give the battery's current, the motor's voltage and the coil's voltage; columns
/// multiply the battery's voltage, the motor's current, the coil's current and one.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Ports(pub [[f64; 4]; 3]);

impl Ports {
    /// A plain path of a resistance from battery to motor, and a coil straight at the battery's posts.
    pub fn plain(path: Ohms) -> Self {
        Self([[0.0, 1.0, 1.0, 0.0], [1.0, -path.0, 0.0, 0.0], [1.0, 0.0, 0.0, 0.0]])
    }

    /// The same with the contact open: the motor's port carries nothing.
    pub fn open(self) -> Self {
        let [mut battery, _, mut coil] = self.0;
        battery[1] = 0.0;
        coil[1] = 0.0;
        Self([battery, [0.0; 4], coil])
    }

    pub(super) fn row(&self, row: usize, battery: f64, motor: f64, coil: f64) -> f64 {
        let [by_volts, by_motor, by_coil, alone] = self.0[row];
        by_volts * battery + by_motor * motor + by_coil * coil + alone
    }
}

/// A relay whose armature follows its coil's current.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Relay {
    /// Coil.
    pub coil: Ohms,
    /// Time constant of its current (estimate: 8 ms).
    pub rise: Seconds,
    /// Steady voltage at which it pulls in.
    pub pull_in: Volts,
    /// Steady voltage below which it drops out.
    pub drop_out: Volts,
    /// Time that the armature takes to the contact (estimate: 6 ms).
    pub closes_after: Seconds,
    /// Time that it takes off the contact (estimate: 4 ms).
    pub opens_after: Seconds,
}

/// A permanent-magnet starting motor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Motor {
    /// Armature with the ohmic part of its brushes, at 20 °C.
    pub resistance: Ohms,
    /// Of armature and leads (estimate: electrical time constant of 1 to 5 ms).
    pub inductance: Henries,
    /// Voltage that the brushes keep whatever the current.
    pub brushes: Volts,
    /// K at 20 °C.
    pub constant: VoltSecondsPerRadian,
    /// What the field is made of.
    pub magnet: Magnet,
    /// Friction of brushes and bearings, a canted shaft included.
    pub friction: NewtonMeters,
    /// Torque per speed.
    pub drag: NewtonMeterSecondsPerRadian,
    /// Of the rotor.
    pub inertia: KilogramSquareMeters,
    /// Heat that the winding takes for a kelvin, J/K (estimate: 60 to 120).
    pub winding_heat: f64,
    /// Heat that iron and case take for a kelvin, J/K (estimate: 400 to 900).
    pub iron_heat: f64,
    /// From winding to iron, W/K (estimate: 0.3 to 2).
    pub winding_to_iron: f64,
    /// From iron to the air, W/K (estimate).
    pub iron_to_air: f64,
}

impl Motor {
    /// A starter of the 0.3 to 0.6 kW class (estimates).
    pub const SMALL: Self = Self {
        resistance: Ohms(0.035),
        inductance: Henries(1e-4),
        brushes: Volts(0.0),
        constant: VoltSecondsPerRadian(0.0115),
        magnet: Magnet::Ferrite,
        friction: NewtonMeters(0.15),
        drag: NewtonMeterSecondsPerRadian(5e-5),
        inertia: KilogramSquareMeters(1.1e-4),
        winding_heat: 90.0,
        iron_heat: 600.0,
        winding_to_iron: 0.8,
        iron_to_air: 1.0,
    };
}

impl Relay {
    /// A starter relay of this coil (times are estimates).
    pub fn of(coil: Ohms, pull_in: Volts, drop_out: Volts) -> Self {
        Self { coil, rise: Seconds(8e-3), pull_in, drop_out, closes_after: Seconds(6e-3), opens_after: Seconds(4e-3) }
    }
}

/// What couples the motor to the engine.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Coupling {
    /// Turns of the motor for one of the crankshaft.
    pub ratio: f64,
    /// Share of the torque that arrives.
    pub efficiency: f64,
    /// The thread that throws the pinion; nothing when it is always in mesh through a one-way clutch.
    pub thrown: Option<InertiaDrive>,
    /// It never takes hold.
    pub slips: bool,
}

/// An engine that does not fire.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Engine {
    /// The cylinder; without one only friction and drag are felt.
    pub cylinder: Option<Cylinder>,
    /// Strokes a cycle: 2 or 4.
    pub strokes: u8,
    /// Share of the charge that leaks a second for each bar above the air's pressure (estimate: 0.3).
    pub leak: f64,
    /// Friction at the crankshaft, gas apart.
    pub friction: NewtonMeters,
    /// Torque to break away over friction.
    pub sticking: f64,
    /// Torque per speed at the crankshaft.
    pub drag: NewtonMeterSecondsPerRadian,
    /// Moment of inertia at the crankshaft, the starter's apart.
    pub flywheel: KilogramSquareMeters,
    /// Where the crank stands before top dead center.
    pub stands: Radians,
    /// Temperature of the air that the machine stands in.
    pub air: Celsius,
}

impl Engine {
    /// Torque to break away over friction (estimate).
    pub const STICKING: f64 = 1.2;

    /// Mean torque that the gas takes from a crankshaft turned evenly: what leaks past the rings does not come back.
    pub fn gas_torque(&self, speed: RadiansPerSecond) -> NewtonMeters {
        let Some(cylinder) = &self.cylinder else { return NewtonMeters(0.0) };
        const STEPS: u32 = 2000;
        let step = 2.0 * cylinder.closes.0 / f64::from(STEPS);
        let (mut left, mut work) = (1.0, 0.0);
        for index in 0..STEPS {
            let at = Radians(-cylinder.closes.0 + (f64::from(index) + 0.5) * step);
            let shut_in = cylinder.volume(cylinder.closes) / cylinder.volume(at);
            let over = cylinder.air * (libm::pow(left * shut_in, cylinder.exponent) - 1.0);
            work -= over * cylinder.area_lever(at) * step;
            left -= self.leak * over / AIR * left * step / speed.0.abs().max(0.1);
            left = left.max(0.0);
        }
        NewtonMeters(work / (PI * f64::from(self.strokes)))
    }
}
