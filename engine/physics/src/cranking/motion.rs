//! The equations between two crossings: which contact, which coupling, whether the cylinder is shut.

use std::f64::consts::PI;

use libm::{exp, fabs, log, tanh};
use quantity::conductor::COPPER_BETA;
use quantity::{Amps, Celsius, Radians, RadiansPerSecondSquared, Siemens, Volts};

use super::rig::Rig;
use crate::cylinder::AIR;
use crate::ode::{Equations, Stiff};
use crate::pack::{Held, Rates};
use crate::sag::Warm;

/// Number of unknowns.
pub(super) const N: usize = 27;
/// Number of unknowns that the rates follow from; the others add up.
const FOLLOW: usize = 14;
/// Number of unknowns that may settle fast: both speeds, both currents.
pub(super) const S: usize = 4;
/// Number of quantities that hold a phase together: coil, seal of the cylinder, pinion thrown, pinion arrives, pinion
/// back, clutch.
pub(super) const E: usize = 6;

// The unknowns: what moves and is held …
pub(super) const MOTOR: usize = 0; // A
pub(super) const COIL: usize = 1; // A
pub(super) const ROTOR: usize = 2; // rad/s
pub(super) const ANGLE: usize = 3; // rad, of the crank from top dead center
pub(super) const CRANK: usize = 4; // rad/s
pub(super) const ALONG: usize = 5; // m, the pinion's way
pub(super) const PINION: usize = 6; // m/s
pub(super) const GAS: usize = 7; // 1, what is left of the charge
pub(super) const WINDING: usize = 8; // °C
pub(super) const IRON: usize = 9; // °C
pub(super) const CHARGE: usize = 10;
pub(super) const PACK: usize = 11; // °C
pub(super) const LAG: usize = 12;
pub(super) const TAIL: usize = 13; // V
// … and what adds up: J, but for the two means.
pub(super) const DRAWN: usize = 14;
pub(super) const BATTERY: usize = 15;
pub(super) const DELIVERED: usize = 16;
pub(super) const INTO_MOTOR: usize = 17;
pub(super) const INTO_COIL: usize = 18;
pub(super) const COIL_HEAT: usize = 19;
pub(super) const COPPER: usize = 20;
pub(super) const DRIVE: usize = 21;
pub(super) const ENGINE: usize = 22;
pub(super) const INTO_GAS: usize = 23;
pub(super) const VOLT_SECONDS: usize = 24;
pub(super) const AMPERE_SECONDS: usize = 25;
pub(super) const TURNED: usize = 26; // rad of the rotor

/// How the motor and the engine hang together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Mesh {
    /// The pinion is back, or the clutch is free: the rotor turns alone.
    Apart,
    /// The pinion is on its way along the thread.
    Thrown,
    /// They turn together.
    Together,
}

/// Between two crossings.
#[derive(Clone, Copy, Debug)]
pub(super) struct Phase<'a> {
    pub rig: &'a Rig,
    /// The laws of the battery's cells at the beginning of the step.
    pub warm: Warm,
    pub closed: bool,
    pub pulled: bool,
    pub mesh: Mesh,
    pub shut: bool,
    /// Volume at which the cylinder is shut.
    pub shut_in: f64,
    /// What is slowed down so that it can be followed.
    pub eased: Eased,
    /// For one step no crossing is heard: time has to go on.
    pub deaf: bool,
}

/// Below this speed of the crankshaft, rad/s, friction eases off to nothing, so that a thing at rest has none.
const CREEP: f64 = 0.4;
/// Nothing settles faster than this, s: what would is given this long, a meter or an ear does not tell the difference.
const SHORTEST: f64 = 0.2e-3;
/// Current about which the battery's slope is taken for that, A.
const ABOUT: f64 = 50.0;

/// Inductances and speeds of easing friction, each as small as it is but large enough to be followed: behind a kiloohm of
/// corrosion the motor's own inductance would settle in a tenth of a microsecond, and a blocked engine's friction as fast.
#[derive(Clone, Copy, Debug)]
pub(super) struct Eased {
    /// Of the motor's current, H.
    pub motor: f64,
    /// Resistance of the battery.
    inner: f64,
    /// Of the coil's current, H.
    pub coil: f64,
    /// Currents of motor and coil below which their error does not matter, A: a share of what they can draw behind their
    /// wiring.
    scale: [f64; 2],
    /// Speed of the rotor below which its friction eases off, rad/s.
    rotor: f64,
    /// The same of the crankshaft.
    crank: f64,
}

impl Eased {
    pub(super) fn of(rig: &Rig, held: &Held) -> Self {
        let [_, closed] = &rig.ports;
        let inner = rig.pack.source_resistance(held, Amps(ABOUT)).0;
        let behind = |port: usize| inner - closed.0[port][port];
        let (motor, engine, ratio) = (&rig.motor, &rig.engine, rig.coupling.ratio);
        let together = engine.flywheel.0 + ratio * ratio * rig.coupling.efficiency * motor.inertia.0;
        let loop_resistance = motor.resistance.0 + behind(1);
        let coil = rig.relay.map_or(f64::INFINITY, |relay| relay.coil.0 + behind(2));
        let share = |ohms: f64, usual: f64| (0.1 * rig.pack.open_circuit(held).0.abs() / ohms).clamp(1e-6, usual);
        Self {
            motor: motor.inductance.0.max(SHORTEST * loop_resistance),
            inner,
            scale: [share(loop_resistance, 20.0), share(coil, 0.5)],
            coil: rig.relay.map_or(0.0, |relay| (relay.rise.0 * relay.coil.0).max(SHORTEST * coil)),
            rotor: (CREEP * ratio).max(SHORTEST * motor.friction.0 / motor.inertia.0),
            crank: CREEP.max(SHORTEST * engine.friction.0 * engine.sticking / together),
        }
    }
}

/// What the circuit does at an instant.
pub(super) struct Instant {
    pub pack: Rates,
    pub motor: f64,
    pub coil: f64,
}

/// What turns at an instant.
struct Turning {
    rotor: f64,
    crank: f64,
    drive_loss: f64,
    engine_loss: f64,
    gas: f64,
    leaks: f64,
}

impl Phase<'_> {
    pub(super) fn held(state: &[f64; N]) -> Held {
        Held { charge: state[CHARGE], temperature: Celsius(state[PACK]), lag: state[LAG], tail: Volts(state[TAIL]) }
    }

    /// Voltages and currents of the battery and its ports.
    pub(super) fn instant(&self, state: &[f64; N]) -> Instant {
        let ports = &self.rig.ports[usize::from(self.closed)];
        let (motor, coil) = (if self.closed { state[MOTOR] } else { 0.0 }, state[COIL]);
        let alone = Amps(ports.row(0, 0.0, motor, coil));
        let (per_volt, air) = (Siemens(ports.0[0][0]), self.rig.engine.air);
        let pack = self.rig.pack.rates_under(&Self::held(state), &self.warm, alone, per_volt, air);
        let posts = pack.voltage.0;
        Instant { motor: ports.row(1, posts, motor, coil), coil: ports.row(2, posts, motor, coil), pack }
    }

    fn constant(&self, state: &[f64; N]) -> f64 {
        self.rig.motor.constant.0 * (1.0 + self.rig.motor.magnet.coefficient() * (state[IRON] - 20.0))
    }

    fn armature(&self, state: &[f64; N]) -> f64 {
        self.rig.motor.resistance.0 * (COPPER_BETA + state[WINDING]) / (COPPER_BETA + 20.0)
    }

    /// Angle of the crank from the nearest top dead center that ends a compression.
    pub(super) fn past_top(&self, angle: f64) -> f64 {
        let cycle = if self.rig.engine.strokes == 4 { 4.0 * PI } else { 2.0 * PI };
        angle - cycle * libm::round(angle / cycle)
    }

    /// Torque of the gas on the crank, and what is lost of the charge a second.
    fn gas(&self, state: &[f64; N]) -> (f64, f64) {
        let Some(cylinder) = self.rig.engine.cylinder.as_ref().filter(|_| self.shut) else { return (0.0, 0.0) };
        let (volume, lever) = cylinder.volume_and_lever(Radians(self.past_top(state[ANGLE])));
        let over = cylinder.air * (exp(cylinder.exponent * log(state[GAS].max(0.0) * self.shut_in / volume)) - 1.0);
        (over * lever, -self.rig.engine.leak * over / AIR * state[GAS].max(0.0))
    }

    /// What the friction of the motor and of the engine grows by with their speeds.
    fn slopes_of_friction(&self, rotor: f64, crank: f64) -> [f64; 2] {
        let easing = |speed: f64, eased: f64| {
            let share = tanh(speed / eased);
            (1.0 - share * share) / eased
        };
        let (motor, engine) = (&self.rig.motor, &self.rig.engine);
        let sticks = 1.0 + (engine.sticking - 1.0) * exp(-crank * crank);
        [
            motor.friction.0 * easing(rotor, self.eased.rotor) + motor.drag.0,
            engine.friction.0 * sticks * easing(crank, self.eased.crank) + engine.drag.0,
        ]
    }

    /// Torque against the crank from friction and oil.
    fn engine_friction(&self, crank: f64) -> f64 {
        let engine = &self.rig.engine;
        let sticks = 1.0 + (engine.sticking - 1.0) * exp(-crank * crank);
        engine.friction.0 * sticks * tanh(crank / self.eased.crank) + engine.drag.0 * crank
    }

    fn turning(&self, state: &[f64; N]) -> Turning {
        let (rotor, crank) = (state[ROTOR], state[CRANK]);
        let motor = &self.rig.motor;
        let current = if self.closed { state[MOTOR] } else { 0.0 };
        let air_gap = self.constant(state) * current;
        let rubs = motor.friction.0 * tanh(rotor / self.eased.rotor) + motor.drag.0 * rotor;
        let against = self.engine_friction(crank);
        let (gas, leaks) = self.gas(state);
        if self.mesh != Mesh::Together {
            return Turning {
                rotor: (air_gap - rubs) / motor.inertia.0,
                crank: (gas - against) / self.rig.engine.flywheel.0,
                drive_loss: rubs * rotor,
                engine_loss: against * crank,
                gas: -gas * crank,
                leaks,
            };
        }
        let ratio = self.rig.coupling.ratio;
        let together = |efficiency: f64| {
            let geared = ratio * efficiency;
            let inertia = self.rig.engine.flywheel.0 + geared * ratio * motor.inertia.0;
            let crank = (geared * (air_gap - rubs) + gas - against) / inertia;
            (crank, geared * (air_gap - rubs - motor.inertia.0 * ratio * crank))
        };
        let (mut faster, mut handed) = together(self.rig.coupling.efficiency);
        let mut lost = 1.0 / self.rig.coupling.efficiency - 1.0;
        // The gears rub whichever side drives.
        if handed < 0.0 {
            (faster, handed) = together(1.0 / self.rig.coupling.efficiency);
            lost = self.rig.coupling.efficiency - 1.0;
        }
        Turning {
            rotor: ratio * faster,
            crank: faster,
            drive_loss: rubs * rotor + handed * crank * lost,
            engine_loss: against * crank,
            gas: -gas * crank,
            leaks,
        }
    }

    /// How much of the torque goes from the motor to the engine, N·m at the crank: negative when the engine would drive.
    fn handed(&self, state: &[f64; N]) -> f64 {
        let turning = self.turning(state);
        let (gas, _) = self.gas(state);
        self.rig.engine.flywheel.0 * turning.crank - gas + self.engine_friction(state[CRANK])
    }
}

impl Equations<N, S, E> for Phase<'_> {
    const FOLLOW: usize = FOLLOW;

    fn rates(&self, _: f64, state: &[f64; N]) -> [f64; N] {
        let instant = self.instant(state);
        let turning = self.turning(state);
        let motor = &self.rig.motor;
        let current = if self.closed { state[MOTOR] } else { 0.0 };
        let mut rates = [0.0; N];

        let armature = self.armature(state);
        let brushes = motor.brushes.0 * tanh(current);
        let back = self.constant(state) * state[ROTOR];
        if self.closed {
            rates[MOTOR] = (instant.motor - armature * current - brushes - back) / self.eased.motor;
        }
        let copper = (armature * current + brushes) * current;
        if let Some(relay) = &self.rig.relay {
            rates[COIL] = (instant.coil - relay.coil.0 * state[COIL]) / self.eased.coil;
            rates[COIL_HEAT] = relay.coil.0 * state[COIL] * state[COIL];
        }

        rates[ROTOR] = turning.rotor;
        rates[CRANK] = turning.crank;
        rates[ANGLE] = state[CRANK];
        rates[TURNED] = state[ROTOR];
        rates[GAS] = turning.leaks;
        if let Some(drive) = self.rig.coupling.thrown.as_ref().filter(|_| self.mesh == Mesh::Thrown) {
            rates[ALONG] = state[PINION];
            rates[PINION] = drive.axial_acceleration_under_way(RadiansPerSecondSquared(turning.rotor));
        }

        let into_iron = motor.winding_to_iron * (state[WINDING] - state[IRON]);
        rates[WINDING] = (copper - into_iron) / motor.winding_heat;
        rates[IRON] = (into_iron - motor.iron_to_air * (state[IRON] - self.rig.engine.air.0)) / motor.iron_heat;

        let pack = &instant.pack;
        rates[CHARGE] = pack.charge;
        rates[PACK] = pack.temperature;
        rates[LAG] = pack.lag;
        rates[TAIL] = pack.tail;

        rates[DRAWN] = pack.drawn.0;
        rates[BATTERY] = pack.heat.0 + pack.reversible.0;
        rates[DELIVERED] = pack.delivered.0;
        rates[INTO_MOTOR] = instant.motor * current;
        rates[INTO_COIL] = instant.coil * state[COIL];
        rates[COPPER] = copper;
        rates[DRIVE] = turning.drive_loss;
        rates[ENGINE] = turning.engine_loss;
        rates[INTO_GAS] = turning.gas;
        rates[VOLT_SECONDS] = pack.voltage.0;
        rates[AMPERE_SECONDS] = current;
        rates
    }

    /// Friction that eases off near standstill, and currents behind small inductances.
    fn stiff(&self, state: &[f64; N]) -> [Stiff; S] {
        let Self { rig, eased, .. } = self;
        let [of_motor, of_engine] = self.slopes_of_friction(state[ROTOR], state[CRANK]);
        let (mut rotor, mut crank) = (-of_motor / rig.motor.inertia.0, -of_engine / rig.engine.flywheel.0);
        if self.mesh == Mesh::Together {
            let geared = rig.coupling.ratio * rig.coupling.efficiency;
            let inertia = rig.engine.flywheel.0 + geared * rig.coupling.ratio * rig.motor.inertia.0;
            crank = -(of_engine + geared * rig.coupling.ratio * of_motor) / inertia;
            rotor = crank;
        }
        // What a port's voltage falls by for a current at a port: by the wiring, and by the battery behind it.
        let ports = &rig.ports[usize::from(self.closed)].0;
        let falls = |port: usize, by: usize| ports[port][by] - ports[port][0] * eased.inner * ports[0][by];
        let mut motor = (0.0, 0.0);
        if self.closed {
            motor = ((falls(1, 1) - self.armature(state)) / eased.motor, -self.constant(state) / eased.motor);
        }
        let mut coil = (0.0, 0.0);
        if let Some(relay) = &rig.relay {
            coil = ((falls(2, 2) - relay.coil.0) / eased.coil, falls(2, 1) / eased.coil);
        }
        [
            Stiff { unknown: ROTOR, by_itself: rotor, by_other: (CRANK, 0.0) },
            Stiff { unknown: CRANK, by_itself: crank, by_other: (ROTOR, 0.0) },
            Stiff { unknown: MOTOR, by_itself: motor.0, by_other: (ROTOR, motor.1) },
            Stiff { unknown: COIL, by_itself: coil.0, by_other: (MOTOR, coil.1) },
        ]
    }

    fn holds_while(&self, _: f64, state: &[f64; N]) -> [f64; E] {
        let always = 1.0;
        if self.deaf {
            return [always; E];
        }
        let coil = self.rig.relay.as_ref().map_or(always, |relay| {
            if self.pulled {
                state[COIL] - relay.drop_out.0 / relay.coil.0
            } else {
                relay.pull_in.0 / relay.coil.0 - state[COIL]
            }
        });
        let seal = self.rig.engine.cylinder.as_ref().map_or(always, |cylinder| {
            let inside = cylinder.closes.0 - fabs(self.past_top(state[ANGLE]));
            if self.shut { inside } else { -inside }
        });
        let coupling = &self.rig.coupling;
        let leads = state[ROTOR] - coupling.ratio * state[CRANK];
        let (mut thrown, mut arrives, mut back, mut clutch) = (always, always, always, always);
        match (self.mesh, &coupling.thrown) {
            (Mesh::Apart, Some(drive)) if !coupling.slips && self.closed => {
                thrown = drive.least_acceleration().0 - self.turning(state).rotor;
            }
            (Mesh::Thrown, Some(drive)) => {
                arrives = drive.travel.0 - state[ALONG];
                back = if state[PINION] < 0.0 { state[ALONG] } else { always };
            }
            (Mesh::Apart, None) if !coupling.slips => clutch = -leads,
            (Mesh::Together, None) => clutch = self.handed(state),
            _ => {}
        }
        [coil, seal, thrown, arrives, back, clutch]
    }

    fn scale(&self) -> [f64; N] {
        let mut scale = [f64::INFINITY; N];
        scale[MOTOR] = self.eased.scale[0];
        scale[COIL] = self.eased.scale[1];
        scale[ROTOR] = 30.0;
        scale[ANGLE] = 1.0;
        scale[CRANK] = 2.0;
        scale[ALONG] = 2e-3;
        scale[PINION] = 0.2;
        scale[GAS] = 0.1;
        scale[WINDING] = 20.0;
        scale[PACK] = 20.0;
        scale[TAIL] = 0.5;
        scale
    }
}
