//! The operating point of a network whose relays, fuses and motors change state: latches, not a search.
//!
//! Rules, one change a pass, then the network is solved again:
//! 1. The worst fuse above 1.5 × its rating opens; relays fall back to released, motors to rest, pull-in counts to zero.
//! 2. All relays that ask change together, motors at rest. A released relay asks when |coil voltage| ≥ pull-in, a
//!    pulled one when it is < drop-out.
//! 3. The first motor in order whose torque at rest exceeds its breakaway starts.
//!
//! A released relay that asks to pull in a second time with the same fuses *chatters*: both positions are reported,
//! the pulled one as it was when one of the relays that ask again last dropped out.
//! A turning motor that would turn backwards stops and does not start again before the next relay or fuse change.
//! A motor that starts meets its engine only if the rotor's acceleration throws the drive into mesh.
//! Promise: history matters and is fixed (released, at rest), so the same network always gives the same answer.

use quantity::{Amps, NewtonMeters, Ohms, RadiansPerSecond, RadiansPerSecondSquared, Volts};

use crate::near::Kept;
use crate::network::{Law, Motor, Network};
use crate::pattern::{PatternSolver, Piece, Solution, Thevenin, Unsolvable, Wiring};

/// A fuse opens above this multiple of its rating.
pub const FUSE_OPENS_ABOVE: f64 = 1.5;

/// Where a relay's armature is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Position {
    /// Not pulled in.
    Released,
    /// Pulled in.
    Pulled,
}

/// What a motor's shaft does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rotor {
    /// Whether it turns.
    pub turning: bool,
    /// Whether its drive is in mesh with the engine.
    pub engaged: bool,
    /// Shaft speed.
    pub speed: RadiansPerSecond,
    /// Current.
    pub current: Amps,
    /// Torque in the air gap, K·I.
    pub torque: NewtonMeters,
}

/// A solved network with the position of everything that moves.
#[derive(Clone, Debug, PartialEq)]
pub struct State {
    /// Voltages and currents.
    pub solution: Solution,
    /// Relays, in the network's order.
    pub relays: Vec<Position>,
    /// Fuses, in the network's order: whether it is blown.
    pub blown: Vec<bool>,
    /// Motors, in the network's order.
    pub rotors: Vec<Rotor>,
}

/// How the network ends.
#[derive(Clone, Debug, PartialEq)]
pub enum Outcome {
    /// It settles.
    Steady,
    /// Relays pull in and drop out again for ever.
    Chatter {
        /// Indices of the relays that chatter.
        relays: Vec<usize>,
        /// The half-state with those relays pulled; [`OperatingPoint::state`] is the one with them released.
        pulled: Box<State>,
    },
}

/// What a network settles to.
#[derive(Clone, Debug, PartialEq)]
pub struct OperatingPoint {
    /// The steady state; of a chattering network the half with the relays released.
    pub state: State,
    /// Steady or chattering.
    pub outcome: Outcome,
    /// Voltages and currents just before the first fuse opened, if one did.
    pub before_blow: Option<Box<Solution>>,
}

impl OperatingPoint {
    /// The half-state with the chattering relays pulled, if the network chatters.
    pub fn pulled(&self) -> Option<&State> {
        match &self.outcome {
            Outcome::Steady => None,
            Outcome::Chatter { pulled, .. } => Some(pulled),
        }
    }
}

/// Finds operating points; keeps shapes and buffers from one network to the next.
#[derive(Clone, Debug, Default)]
pub struct Solver {
    pattern: PatternSolver,
    ends: Vec<(u32, u32)>,
    pieces: Vec<Piece>,
    solution: Solution,
    shafts: Vec<Shaft>,
    pull_ins: Vec<u32>,
    asking: Vec<usize>,
    base: Vec<Kept>,
    /// What the base was loaded with.
    base_pieces: Vec<Piece>,
    /// The branches of the base that the rules change.
    base_ruled: Vec<u32>,
    /// Where a pass may differ from the base's, ascending: what was loaded otherwise, and what the rules change.
    candidates: Vec<u32>,
    /// The kept pass that the last solution is a change of.
    near: Option<usize>,
    /// Whether that change's node voltages are still to be found.
    voltages_due: bool,
}

/// How each pass is solved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Way {
    Full,
    Keep,
    Near,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Shaft {
    Still,
    /// In mesh and held by the engine.
    Stalled,
    Turning,
    Meshed,
    /// Was turning and came to a stop; it does not start again before the next change.
    Spent,
}

const PASSES: usize = 400;
/// A base keeps its first passes.
const PASSES_KEPT: usize = 16;
/// Stands in for a drag of zero, so that a turning motor is always a resistance.
const LEAST_DRAG: f64 = 1e-10;

impl Solver {
    /// A solver with empty memory.
    pub fn new() -> Self {
        Self::default()
    }

    /// Newton steps taken so far, a measure of effort.
    pub fn effort(&self) -> usize {
        self.pattern.newton.steps
    }

    /// Solves a network from released relays and resting motors.
    ///
    /// # Errors
    /// When ideal sources contradict each other or a value is not finite.
    pub fn solve(&mut self, network: &Network) -> Result<OperatingPoint, Unsolvable> {
        self.run(network, Way::Full)
    }

    /// Solves a network as [`Solver::solve`] does and keeps every pass of it for [`Solver::solve_near`].
    ///
    /// # Errors
    /// As [`Solver::solve`]; then the base is what was solved before the error.
    pub fn solve_base(&mut self, network: &Network) -> Result<OperatingPoint, Unsolvable> {
        self.base.clear();
        self.run(network, Way::Keep)
    }

    /// Solves a network that differs from the base in a few resistances, sources or added branches: the answer of
    /// [`Solver::solve`] within rounding, much sooner. The rules are applied to this network itself, so whatever it does
    /// otherwise than the base is seen; a pass that is not near one of the base's is solved in full.
    ///
    /// The answer depends on the base and the network, not on what was solved in between.
    ///
    /// # Errors
    /// As [`Solver::solve`].
    pub fn solve_near(&mut self, network: &Network) -> Result<OperatingPoint, Unsolvable> {
        self.run(network, Way::Near)
    }

    /// Whether the last pass of the last solution was found as a change of the base's.
    pub fn was_near(&self) -> bool {
        self.near.is_some()
    }

    fn run(&mut self, network: &Network, way: Way) -> Result<OperatingPoint, Unsolvable> {
        self.load(network);
        match way {
            Way::Full => {}
            Way::Keep => {
                self.base_pieces.clone_from(&self.pieces);
                self.base_ruled.clear();
                self.base_ruled.extend(ruled(network));
            }
            Way::Near => self.find_candidates(network),
        }
        let mut relays = vec![Position::Released; network.relays.len()];
        self.pull_ins.clear();
        self.pull_ins.resize(network.relays.len(), 0);
        let mut blown = vec![false; network.fuses.len()];
        let mut drops: Vec<(Vec<usize>, State)> = Vec::new();
        let mut before_blow = None;
        self.rest(network);
        for pass in 0..PASSES {
            self.set_contacts(network, &relays);
            self.set_motors(network);
            self.solve_pass(network, way, pass)?;
            if let Some(fuse) = self.worst_fuse(network, &blown) {
                self.find_voltages();
                before_blow.get_or_insert_with(|| Box::new(self.solution.clone()));
                blown[fuse] = true;
                self.pieces[network.fuses[fuse].branch] = Piece::Absent;
                relays.fill(Position::Released);
                self.pull_ins.fill(0);
                drops.clear();
                self.rest(network);
                continue;
            }
            self.find_asking(network, &relays);
            if !self.asking.is_empty() {
                let asks = self.asking.iter().copied();
                let again: Vec<usize> =
                    asks.filter(|&relay| relays[relay] == Position::Released && self.pull_ins[relay] > 0).collect();
                let meets = |drop: &(Vec<usize>, State)| drop.0.iter().any(|relay| again.contains(relay));
                if let Some(last) = drops.iter().rposition(meets) {
                    let (_, pulled) = drops.swap_remove(last);
                    let state = self.state(network, relays, blown);
                    let outcome = Outcome::Chatter { relays: again, pulled: Box::new(pulled) };
                    return Ok(OperatingPoint { state, outcome, before_blow });
                }
                let asks = self.asking.iter().copied();
                let falling: Vec<usize> = asks.filter(|&relay| relays[relay] == Position::Pulled).collect();
                if !falling.is_empty() {
                    drops.push((falling, self.state(network, relays.clone(), blown.clone())));
                }
                for &relay in &self.asking {
                    relays[relay] = match relays[relay] {
                        Position::Released => {
                            self.pull_ins[relay] += 1;
                            Position::Pulled
                        }
                        Position::Pulled => Position::Released,
                    };
                }
                self.rest(network);
                continue;
            }
            if !self.start_or_stop_a_motor(network) {
                let state = self.state(network, relays, blown);
                return Ok(OperatingPoint { state, outcome: Outcome::Steady, before_blow });
            }
        }
        Err(Unsolvable::Unsettled { passes: PASSES })
    }

    fn solve_pass(&mut self, network: &Network, way: Way, pass: usize) -> Result<(), Unsolvable> {
        let Self { pattern, ends, pieces, solution, base, candidates, near, voltages_due, .. } = self;
        *near = None;
        *voltages_due = false;
        let wiring = Wiring { nodes: network.nodes, reference: network.reference, ends, pieces };
        if way == Way::Near {
            // The same pass first; a network that takes another course may still come by one of the others.
            let same = pass.min(base.len());
            let others = (0..base.len()).rev().filter(|other| *other != same);
            for index in (same..base.len().min(same + 1)).chain(others) {
                let kept = &mut base[index];
                let newton = &mut pattern.newton;
                if kept.solve(wiring, candidates, newton, solution).is_some() {
                    for (port, volts) in kept.ports.list.iter().zip(&newton.volts) {
                        pattern.guess[port.branch as usize] = *volts;
                    }
                    *near = Some(index);
                    *voltages_due = true;
                    return Ok(());
                }
            }
        }
        pattern.solve(wiring, solution)?;
        if way == Way::Keep && base.len() < PASSES_KEPT {
            base.push(pattern.keep(network.nodes, ends, pieces, solution));
        }
        Ok(())
    }

    /// The network just solved as a pair of nodes sees it; nothing when the nodes lie in two islands.
    /// Exact for a linear network, the slope at the solution otherwise.
    pub fn thevenin(&mut self, from: usize, to: usize) -> Option<Thevenin> {
        match self.near {
            Some(pass) => self.base[pass].thevenin(from, to, &self.pattern.newton, &self.solution),
            None => self.pattern.thevenin(from, to, &self.pieces, &self.solution),
        }
    }

    /// What a voltmeter of this resistance shows between two nodes of the network just solved.
    pub fn meter(&mut self, from: usize, to: usize, resistance: Ohms) -> Option<Volts> {
        let seen = self.thevenin(from, to)?;
        Some(seen.volts * (resistance.0 / (resistance.0 + seen.resistance.0)))
    }

    /// Completes the pass just solved: one that only leads on is asked for its currents alone.
    fn find_voltages(&mut self) {
        if let Some(pass) = self.near.filter(|_| std::mem::take(&mut self.voltages_due)) {
            self.base[pass].find_voltages(&self.ends, &self.pieces, &self.pattern.newton.volts, &mut self.solution);
        }
    }

    fn load(&mut self, network: &Network) {
        self.ends.clear();
        self.ends.extend(network.branches.iter().map(|branch| (branch.from as u32, branch.to as u32)));
        self.pieces.clear();
        self.pieces.extend(network.branches.iter().map(|branch| Piece::of(branch.law)));
        self.pattern.forget(network.branches.len());
    }

    fn find_candidates(&mut self, network: &Network) {
        let known = self.base_pieces.iter().map(Some).chain(std::iter::repeat(None));
        let loaded = self.pieces.iter().zip(known).enumerate();
        self.candidates.clear();
        self.candidates
            .extend(loaded.filter(|(_, (now, before))| Some(*now) != *before).map(|(index, _)| index as u32));
        self.candidates.extend(ruled(network));
        self.candidates.extend(&self.base_ruled);
        self.candidates.sort_unstable();
        self.candidates.dedup();
    }

    fn rest(&mut self, network: &Network) {
        self.shafts.clear();
        self.shafts.resize(network.motors.len(), Shaft::Still);
    }

    fn set_contacts(&mut self, network: &Network, relays: &[Position]) {
        for (relay, position) in network.relays.iter().zip(relays) {
            let closed = relay.stuck.unwrap_or(*position == Position::Pulled);
            let law = if closed { network.branches[relay.contact].law } else { Law::Open };
            self.pieces[relay.contact] = Piece::of(law);
        }
    }

    fn set_motors(&mut self, network: &Network) {
        for (motor, shaft) in network.motors.iter().zip(&self.shafts) {
            if network.branches[motor.branch].law != Law::Open {
                self.pieces[motor.branch] = motor_piece(motor, *shaft);
            }
        }
    }

    fn worst_fuse(&self, network: &Network, blown: &[bool]) -> Option<usize> {
        let mut worst = None;
        let mut most = FUSE_OPENS_ABOVE;
        for (index, fuse) in network.fuses.iter().enumerate() {
            let load = self.solution.current(fuse.branch).0.abs() / fuse.rating.0;
            if !blown[index] && load > most {
                most = load;
                worst = Some(index);
            }
        }
        worst
    }

    /// Finds the relays that ask to change.
    fn find_asking(&mut self, network: &Network, relays: &[Position]) {
        if network
            .relays
            .iter()
            .any(|relay| !matches!(network.branches[relay.coil].law, Law::Linear { .. } | Law::Open))
        {
            self.find_voltages();
        }
        let asks = |index: &usize| {
            let relay = &network.relays[*index];
            let Some(volts) = coil_volts(network, *index, &self.solution) else {
                return relays[*index] == Position::Pulled;
            };
            match relays[*index] {
                Position::Released => volts.0.abs() >= relay.pull_in.0,
                Position::Pulled => volts.0.abs() < relay.drop_out.0,
            }
        };
        self.asking.clear();
        self.asking.extend((0..relays.len()).filter(asks));
    }

    /// Starts the first motor that can; failing that, stops one that would turn backwards. True when one changed.
    fn start_or_stop_a_motor(&mut self, network: &Network) -> bool {
        for (index, motor) in network.motors.iter().enumerate() {
            let torque = motor.constant.0 * self.solution.current(motor.branch).0;
            if self.shafts[index] == Shaft::Still && !motor.blocked && torque > motor.breakaway.0 {
                self.shafts[index] = started(motor, torque);
                return true;
            }
        }
        self.find_voltages();
        for (index, motor) in network.motors.iter().enumerate() {
            let turning = matches!(self.shafts[index], Shaft::Turning | Shaft::Meshed);
            if turning && shaft_speed(motor, network, &self.solution) < -1e-6 {
                self.shafts[index] = Shaft::Spent;
                return true;
            }
        }
        false
    }

    fn state(&mut self, network: &Network, relays: Vec<Position>, blown: Vec<bool>) -> State {
        self.find_voltages();
        let rotor = |(motor, shaft): (&Motor, &Shaft)| {
            let current = self.solution.current(motor.branch);
            let turning = matches!(shaft, Shaft::Turning | Shaft::Meshed);
            let speed = if turning { shaft_speed(motor, network, &self.solution).max(0.0) } else { 0.0 };
            Rotor {
                turning,
                engaged: matches!(shaft, Shaft::Meshed | Shaft::Stalled),
                speed: RadiansPerSecond(speed),
                current,
                torque: NewtonMeters(motor.constant.0 * current.0),
            }
        };
        State {
            solution: self.solution.clone(),
            relays,
            blown,
            rotors: network.motors.iter().zip(&self.shafts).map(rotor).collect(),
        }
    }
}

/// The branches whose law the rules change.
fn ruled(network: &Network) -> impl Iterator<Item = u32> {
    let contacts = network.relays.iter().map(|relay| relay.contact);
    let motors = network.motors.iter().map(|motor| motor.branch);
    let fuses = network.fuses.iter().map(|fuse| fuse.branch);
    contacts.chain(motors).chain(fuses).map(|branch| branch as u32)
}

/// Voltage across a relay's coil, `from` against `to`; nothing when the coil is open.
pub fn coil_volts(network: &Network, relay: usize, solution: &Solution) -> Option<Volts> {
    let coil = network.relays[relay].coil;
    let branch = &network.branches[coil];
    match branch.law {
        Law::Open => None,
        Law::Linear { resistance, emf } => Some(Volts(resistance.0 * solution.current(coil).0) + emf),
        _ => Some(solution.across(branch.from, branch.to)),
    }
}

/// Acceleration of a rotor from rest at this air-gap torque.
pub fn acceleration(motor: &Motor, drive: &crate::Drive, torque: NewtonMeters) -> RadiansPerSecondSquared {
    RadiansPerSecondSquared((torque.0 - motor.friction.0) / drive.inertia.0)
}

fn started(motor: &Motor, torque: f64) -> Shaft {
    let Some(drive) = &motor.drive else {
        return Shaft::Turning;
    };
    let meshes =
        drive.engages_above.0 <= 0.0 || acceleration(motor, drive, NewtonMeters(torque)).0 > drive.engages_above.0;
    match (meshes, torque > drive.breakaway.0) {
        (false, _) => Shaft::Turning,
        (true, true) => Shaft::Meshed,
        (true, false) => Shaft::Stalled,
    }
}

fn motor_piece(motor: &Motor, shaft: Shaft) -> Piece {
    let (torque, drag) = match (shaft, &motor.drive) {
        (Shaft::Turning, _) | (Shaft::Meshed, None) => (motor.friction.0, motor.drag.0),
        (Shaft::Meshed, Some(drive)) => (motor.friction.0 + drive.load.0, motor.drag.0 + drive.load_drag.0),
        (Shaft::Still | Shaft::Stalled | Shaft::Spent, _) => {
            return Piece::Linear { ohms: motor.resistance.0, emf: 0.0 };
        }
    };
    let drag = drag.max(LEAST_DRAG);
    let constant = motor.constant.0;
    Piece::Linear { ohms: motor.resistance.0 + constant * constant / drag, emf: -constant * torque / drag }
}

fn shaft_speed(motor: &Motor, network: &Network, solution: &Solution) -> f64 {
    let branch = &network.branches[motor.branch];
    let current = solution.current(motor.branch).0;
    (solution.across(branch.from, branch.to).0 - current * motor.resistance.0) / motor.constant.0
}
