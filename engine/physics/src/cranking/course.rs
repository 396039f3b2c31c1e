//! The course of a start: phases strung together, what each crossing changes, and what is made of it.

use std::f64::consts::{PI, TAU};

use quantity::{Amps, Celsius, Joules, RadiansPerSecond, Seconds, Volts};

use super::motion::{
    ALONG, AMPERE_SECONDS, ANGLE, BATTERY, CHARGE, COIL, COIL_HEAT, COPPER, CRANK, DELIVERED, DRAWN, DRIVE, ENGINE,
    Eased, GAS, INTO_COIL, INTO_GAS, INTO_MOTOR, IRON, LAG, MOTOR, Mesh, N, PACK, PINION, Phase, ROTOR, TAIL,
    VOLT_SECONDS, WINDING,
};
use super::rig::Rig;
use super::tally::Tally;
use crate::ode::{Ended, Stepper};
use crate::pack::Held;

/// What a machine brings into a start, and what it leaves with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Start {
    /// What the battery holds.
    pub held: Held,
    /// Temperature of the winding.
    pub winding: Celsius,
    /// Temperature of iron and case.
    pub iron: Celsius,
}

/// How a start went.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// It cannot be followed to its end: a value is out of all proportion to the others.
    Unsolved,
    /// The relay never closed its contact.
    NoContact,
    /// The relay opened and closed again and again.
    Chatters,
    /// The motor turns, the engine does not.
    SpinsOnly,
    /// The engine does not get over its first compressions.
    Stalls,
    /// The engine is turned.
    Turns,
}

/// What could be measured at an instant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// Since the button was pressed.
    pub at: Seconds,
    /// At the battery's posts.
    pub volts: Volts,
    /// In the motor.
    pub amps: Amps,
    /// Of the rotor.
    pub rotor: RadiansPerSecond,
    /// Of the crankshaft.
    pub crank: RadiansPerSecond,
}

/// A start from the button on to its release.
#[derive(Clone, Debug, PartialEq)]
pub struct Course {
    /// How it went.
    pub outcome: Outcome,
    /// One a step, in order, and one at each peak of the current.
    pub samples: Vec<Sample>,
    /// When the engine was first turned.
    pub meshed: Option<Seconds>,
    /// Mean over whole cycles of the engine in the second half, or over that half.
    pub crank: RadiansPerSecond,
    /// The same mean of the voltage at the posts.
    pub volts: Volts,
    /// The same mean of the motor's current.
    pub amps: Amps,
    /// The least voltage at the posts.
    pub least_volts: Volts,
    /// The largest current of the motor.
    pub most_amps: Amps,
    /// Turns of the crankshaft.
    pub turns: f64,
    /// How often the contact opened by itself.
    pub openings: u32,
    /// What the machine leaves with.
    pub end: Start,
    /// Where the energy went.
    pub tally: Tally,
    /// Steps taken.
    pub steps: u32,
}

impl Start {
    /// A machine that has stood in the air of its engine for long.
    pub fn cold(rig: &Rig, charge: f64) -> Self {
        let air = rig.engine.air;
        Self { held: rig.pack.rested(charge, air), winding: air, iron: air }
    }

    /// The machine after it has stood for a time with everything off.
    pub fn after_rest(self, rig: &Rig, rest: Seconds) -> Self {
        let motor = &rig.motor;
        let steps = (rest.0 / 0.25).ceil().clamp(1.0, 1e5);
        let step = rest.0 / steps;
        let mut now = self;
        for _ in 0..steps as u32 {
            let rates = rig.pack.rates(&now.held, Amps(0.0), rig.engine.air);
            now.held = now.held.after(&rates, Seconds(step));
            let into_iron = motor.winding_to_iron * (now.winding.0 - now.iron.0);
            now.winding.0 -= step * into_iron / motor.winding_heat;
            now.iron.0 += step * (into_iron - motor.iron_to_air * (now.iron.0 - rig.engine.air.0)) / motor.iron_heat;
        }
        now
    }
}

/// What a phase began with that means are taken from.
#[derive(Clone, Copy)]
struct Marked {
    at: f64,
    state: [f64; N],
}

/// The relative error of a step, that of a meter's last digit.
const TOLERANCE: f64 = 3e-4;
/// Longest step, s.
const LONGEST: f64 = 0.04;
/// Crossings without time going on that are borne.
const IDLE: u32 = 16;
/// Steps that a start may take, and so many more for each second: far above the busiest chatter of a machine that can be.
const MOST_STEPS: (f64, f64) = (2e4, 2e4);
/// An engine that turns slower than this, rad/s, stalls: less than a turn in four seconds.
const STALLED: f64 = TAU / 4.0;

impl Rig {
    /// Presses the button for so long.
    pub fn crank(&self, start: Start, held_for: Seconds) -> Course {
        self.crank_within(start, held_for, TOLERANCE)
    }

    /// The same to another relative error of a step.
    pub fn crank_within(&self, start: Start, held_for: Seconds, tolerance: f64) -> Course {
        let mut run = Run::new(self, start, tolerance);
        let most = MOST_STEPS.0 + MOST_STEPS.1 * held_for.0;
        while run.at < held_for.0 && run.effort() < most {
            run.go_on(held_for.0);
        }
        run.course(held_for.0)
    }
}

struct Run<'a> {
    phase: Phase<'a>,
    at: f64,
    state: [f64; N],
    stepper: Stepper<N>,
    /// When the armature arrives, and whether the contact is closed then.
    armature: Option<(f64, bool)>,
    samples: Vec<Sample>,
    meshed: Option<f64>,
    openings: u32,
    arcs: f64,
    /// When the cylinder was shut, once a cycle.
    cycles: Vec<Marked>,
    /// Crossings since time last went on.
    idle: u32,
    begin: [f64; N],
}

impl<'a> Run<'a> {
    fn new(rig: &'a Rig, start: Start, tolerance: f64) -> Self {
        let mut state = [0.0; N];
        state[ANGLE] = -rig.engine.stands.0;
        state[GAS] = 1.0;
        state[WINDING] = start.winding.0;
        state[IRON] = start.iron.0;
        state[CHARGE] = start.held.charge;
        state[PACK] = start.held.temperature.0;
        state[LAG] = start.held.lag;
        state[TAIL] = start.held.tail.0;
        let (warm, eased) = (rig.pack.warmed(&start.held), Eased::of(rig, &start.held));
        let mut phase = Phase {
            rig,
            warm,
            closed: rig.relay.is_none(),
            pulled: false,
            mesh: Mesh::Apart,
            shut: false,
            shut_in: 0.0,
            eased,
            deaf: false,
        };
        if let Some(cylinder) = &rig.engine.cylinder {
            phase.shut_in = cylinder.volume(cylinder.closes);
            phase.shut = phase.past_top(state[ANGLE]).abs() < cylinder.closes.0;
        }
        let stepper = Stepper::new(tolerance, LONGEST);
        let mut run = Self {
            phase,
            at: 0.0,
            state,
            stepper,
            armature: None,
            samples: Vec::with_capacity(512),
            meshed: None,
            openings: 0,
            arcs: 0.0,
            cycles: Vec::new(),
            idle: 0,
            begin: state,
        };
        run.note();
        run
    }

    fn effort(&self) -> f64 {
        f64::from(self.stepper.taken) + f64::from(self.stepper.refused)
    }

    fn go_on(&mut self, end: f64) {
        let until = self.armature.map_or(end, |(at, _)| at.min(end));
        let before = self.at;
        self.phase.warm = self.phase.rig.pack.warmed(&Phase::held(&self.state));
        let ended = self.stepper.step(&self.phase, &mut self.at, &mut self.state, until);
        // What changes to and fro without time going on is at the very edge of both: it stays for one step as it is.
        self.idle = if self.at > before + 1e-9 { 0 } else { self.idle + 1 };
        self.phase.deaf = self.idle >= IDLE;
        self.note_peak(before);
        if let Ended::Crossed(which) = ended {
            self.cross(which);
        }
        if let Some((_, closed)) = self.armature.filter(|(at, _)| self.at >= *at) {
            self.armature = None;
            self.contact(closed);
        }
        self.note();
    }

    fn note(&mut self) {
        self.samples.push(self.sample(self.at, &self.state));
    }

    /// The most current and the least voltage lie within a step.
    fn note_peak(&mut self, before: f64) {
        let Some(span) = self.stepper.last().filter(|_| self.phase.closed) else { return };
        if let Some(share) = span.peak(MOTOR) {
            self.samples.push(self.sample(before + share * span.step, &span.at(share)));
        }
    }

    fn sample(&self, at: f64, state: &[f64; N]) -> Sample {
        Sample {
            at: Seconds(at),
            volts: self.phase.instant(state).pack.voltage,
            amps: Amps(if self.phase.closed { state[MOTOR] } else { 0.0 }),
            rotor: RadiansPerSecond(state[ROTOR]),
            crank: RadiansPerSecond(state[CRANK]),
        }
    }

    /// What a crossing changes, in the order of [`Phase::holds_while`].
    fn cross(&mut self, which: usize) {
        match which {
            0 => self.armature_moves(),
            1 => {
                self.phase.shut = !self.phase.shut;
                self.state[GAS] = 1.0;
                if self.phase.shut && self.state[CRANK] > 0.0 {
                    self.cycles.push(Marked { at: self.at, state: self.state });
                }
            }
            2 => self.phase.mesh = Mesh::Thrown,
            3 => self.meet(),
            4 => {
                self.phase.mesh = Mesh::Apart;
                (self.state[ALONG], self.state[PINION]) = (0.0, 0.0);
            }
            _ if self.phase.mesh == Mesh::Apart => self.meet(),
            _ => self.phase.mesh = Mesh::Apart,
        }
        self.stepper.restart();
    }

    fn armature_moves(&mut self) {
        let Some(relay) = &self.phase.rig.relay else { return };
        self.phase.pulled = !self.phase.pulled;
        let after = if self.phase.pulled { relay.closes_after } else { relay.opens_after };
        // An armature that turns round on its way never touched.
        self.armature = (self.phase.pulled != self.phase.closed).then_some((self.at + after.0, self.phase.pulled));
    }

    fn contact(&mut self, closed: bool) {
        if self.phase.closed && !closed {
            self.openings += 1;
            self.arcs += 0.5 * self.phase.eased.motor * self.state[MOTOR] * self.state[MOTOR];
            self.state[MOTOR] = 0.0;
            if self.phase.rig.coupling.thrown.is_some() {
                self.phase.mesh = Mesh::Apart;
                (self.state[ALONG], self.state[PINION]) = (0.0, 0.0);
            }
        }
        self.phase.closed = closed;
        self.stepper.restart();
    }

    /// Motor and engine come together; what their blow takes is heat.
    fn meet(&mut self) {
        let rig = self.phase.rig;
        let (ratio, rotor) = (rig.coupling.ratio, rig.motor.inertia.0);
        let flywheel = rig.engine.flywheel.0;
        let (fast, slow) = (self.state[ROTOR], self.state[CRANK]);
        let crank = (flywheel * slow + ratio * rotor * fast) / (flywheel + ratio * ratio * rotor);
        let energy =
            |rotor_at: f64, crank_at: f64| 0.5 * (rotor * rotor_at * rotor_at + flywheel * crank_at * crank_at);
        self.state[DRIVE] += energy(fast, slow) - energy(ratio * crank, crank);
        (self.state[ROTOR], self.state[CRANK]) = (ratio * crank, crank);
        (self.state[ALONG], self.state[PINION]) = (0.0, 0.0);
        self.phase.mesh = Mesh::Together;
        self.meshed.get_or_insert(self.at);
    }

    fn stored(&self, state: &[f64; N]) -> f64 {
        let rig = self.phase.rig;
        0.5 * (rig.motor.inertia.0 * state[ROTOR] * state[ROTOR]
            + rig.engine.flywheel.0 * state[CRANK] * state[CRANK]
            + self.phase.eased.motor * state[MOTOR] * state[MOTOR]
            + self.phase.eased.coil * state[COIL] * state[COIL])
    }

    fn tally(&self) -> Tally {
        let of = |unknown: usize| Joules(self.state[unknown]);
        Tally {
            drawn: of(DRAWN),
            battery: of(BATTERY),
            wiring: Joules(self.state[DELIVERED] - self.state[INTO_MOTOR] - self.state[INTO_COIL]),
            coil: of(COIL_HEAT),
            copper: of(COPPER),
            drive: of(DRIVE),
            engine: of(ENGINE),
            gas: of(INTO_GAS),
            stored: Joules(self.stored(&self.state) - self.stored(&self.begin)),
            arcs: Joules(self.arcs),
        }
    }

    /// The span that means are taken over: whole cycles of the second half, or that half.
    fn span(&self, end: f64) -> (Marked, Marked) {
        let late: Vec<&Marked> = self.cycles.iter().filter(|mark| mark.at >= 0.5 * end).collect();
        if let (Some(first), Some(last)) = (late.first(), late.last())
            && last.at > first.at
        {
            return (**first, **last);
        }
        let half = self.samples.iter().find(|sample| sample.at.0 >= 0.5 * end);
        let whole = Marked { at: 0.0, state: self.begin };
        let from = match half {
            Some(_) if !late.is_empty() => *late[0],
            _ => whole,
        };
        (from, Marked { at: self.at, state: self.state })
    }

    fn course(self, end: f64) -> Course {
        let (from, to) = self.span(end);
        let time = (to.at - from.at).max(1e-9);
        let mean = |unknown: usize| (to.state[unknown] - from.state[unknown]) / time;
        let crank = mean(ANGLE);
        let turns = (self.state[ANGLE] - self.begin[ANGLE]) / (2.0 * PI);
        let spins = self.phase.mesh != Mesh::Together && self.meshed.is_none_or(|_| crank < STALLED);
        let touched = self.samples.iter().any(|sample| sample.amps.0 != 0.0);
        let outcome = match () {
            () if self.at < end || !crank.is_finite() => Outcome::Unsolved,
            () if !touched => Outcome::NoContact,
            () if self.openings >= 3 => Outcome::Chatters,
            () if spins && self.state[ROTOR] > STALLED * self.phase.rig.coupling.ratio => Outcome::SpinsOnly,
            () if crank < STALLED => Outcome::Stalls,
            () => Outcome::Turns,
        };
        let least = self.samples.iter().map(|sample| sample.volts.0).fold(f64::INFINITY, f64::min);
        let most = self.samples.iter().map(|sample| sample.amps.0).fold(0.0, f64::max);
        Course {
            outcome,
            meshed: self.meshed.map(Seconds),
            crank: RadiansPerSecond(crank),
            volts: Volts(mean(VOLT_SECONDS)),
            amps: Amps(mean(AMPERE_SECONDS)),
            least_volts: Volts(least),
            most_amps: Amps(most),
            turns,
            openings: self.openings,
            end: Start {
                held: Phase::held(&self.state),
                winding: Celsius(self.state[WINDING]),
                iron: Celsius(self.state[IRON]),
            },
            tally: self.tally(),
            steps: self.stepper.taken,
            samples: self.samples,
        }
    }
}
