//! One pattern of open and closed, solved: loop equations of the linear part, seen from its nonlinear ports.
//!
//! Unknowns are the currents of the loops that hold a resistance (see `forest`); M = B·R·Bᵀ is symmetric and
//! positive definite. A nonlinear branch stands in the forest or in a link as a voltage u: its current is
//! i₀ − G·u with G = b·M⁻¹·bᵀ, and `newton` finds i₀ − G·u = i(u).
//! Promise: currents into every node sum to zero by construction, and a drop is a branch's own current times its own
//! resistance. Limit: two ideal sources that disagree have no solution, which is said.

use quantity::{Amps, Volts, Watts};

use crate::forest::{Forest, Loop, Role, rank};
use crate::junction::Curve;
use crate::linear::Factors;
use crate::near::{Altered, Columns, Kept, in_branches, taken};
use crate::network::Law;
use crate::newton::{CLIPPED_STEPS, NEWTON_STEPS, Newton, Port, Ports, Slave, TO_THE_LAST_BITS};

/// A branch's law in bare SI numbers, for one pattern.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Piece {
    Absent,
    Linear { ohms: f64, emf: f64 },
    Curve { ohms: f64, curve: Curve },
    Source { amps: f64 },
}

impl Piece {
    pub(crate) fn of(law: Law) -> Self {
        match law {
            Law::Open | Law::Lamp(Watts(0.0)) | Law::Draw(Amps(0.0)) => Self::Absent,
            Law::Linear { resistance, emf } => Self::Linear { ohms: resistance.0, emf: emf.0 },
            Law::Source(amps) => Self::Source { amps: amps.0 },
            Law::Junction { saturation, emission, resistance } => Self::Curve {
                ohms: resistance.0,
                curve: Curve::Junction { saturation: saturation.0, emission: emission.0 },
            },
            Law::Lamp(watts) => Self::Curve { ohms: 0.0, curve: Curve::Lamp { scale: watts.0 / 5.0 } },
            Law::Draw(amps) => Self::Curve { ohms: 0.0, curve: Curve::Draw { amps: amps.0 } },
        }
    }

    pub(crate) fn resistance(&self) -> f64 {
        match self {
            Self::Linear { ohms, .. } | Self::Curve { ohms, .. } => *ohms,
            Self::Absent | Self::Source { .. } => 0.0,
        }
    }

    pub(crate) fn emf(&self) -> f64 {
        match self {
            Self::Linear { emf, .. } => *emf,
            _ => 0.0,
        }
    }

    /// Whether every number is one that a passive part or an ideal source can have.
    pub(crate) fn sound(&self) -> bool {
        let size = |value: f64| value >= 0.0 && value.is_finite();
        match self {
            Self::Absent => true,
            Self::Linear { ohms, emf } => size(*ohms) && emf.is_finite(),
            Self::Source { amps } => amps.is_finite(),
            Self::Curve { ohms, curve } => {
                size(*ohms)
                    && match curve {
                        Curve::Junction { saturation, emission } => {
                            size(*saturation) && *saturation > 0.0 && size(*emission) && *emission > 0.0
                        }
                        Curve::Lamp { scale } => size(*scale),
                        Curve::Draw { amps } => size(*amps),
                    }
            }
        }
    }

    pub(crate) fn role(&self) -> Role {
        match self {
            Self::Absent => Role::Absent,
            Self::Linear { ohms, .. } if *ohms > 0.0 => Role::Resistive,
            Self::Linear { .. } => Role::Ideal,
            Self::Curve { curve: Curve::Draw { .. }, .. } => Role::Draw,
            Self::Curve { ohms, .. } if *ohms > 0.0 => Role::Resistive,
            Self::Curve { .. } => Role::IdealCurve,
            Self::Source { .. } => Role::Source,
        }
    }
}

/// Why a network has no operating point.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum Unsolvable {
    /// A loop of ideal sources and ideal connections whose voltages do not cancel.
    #[error("ideal branch {branch} closes a loop without resistance that is {by} V out of balance")]
    Conflict {
        /// Index of the branch that closes the loop.
        branch: usize,
        /// What is left over, volts.
        by: f64,
    },
    /// Newton's method did not settle.
    #[error("no operating point after {steps} steps; branch {branch} still moves by {by} V")]
    Restless {
        /// Steps taken.
        steps: usize,
        /// Index of the branch that moves most.
        branch: usize,
        /// Its last step, volts.
        by: f64,
    },
    /// A value of the network is not a finite number, or below zero where only zero or more has a meaning.
    #[error("branch {branch} has a value that is negative or not a finite number")]
    NotFinite {
        /// Index of the branch.
        branch: usize,
    },
    /// The relays, fuses and motors never came to rest.
    #[error("relays, fuses and motors still change after {passes} passes")]
    Unsettled {
        /// Passes made.
        passes: usize,
    },
}

/// Voltages and currents of one pattern.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Solution {
    pub(crate) volts: Vec<f64>,
    pub(crate) floating: Vec<bool>,
    pub(crate) amps: Vec<f64>,
}

impl Solution {
    /// Potential of a node against the reference; nothing when the node is floating.
    pub fn potential(&self, node: usize) -> Option<Volts> {
        (!self.floating[node]).then(|| Volts(self.volts[node]))
    }

    /// Voltage between two nodes; nothing unless both are tied to the reference.
    pub fn between(&self, plus: usize, minus: usize) -> Option<Volts> {
        Some(self.potential(plus)? - self.potential(minus)?)
    }

    /// Voltage across a branch, also in a floating island; meaningless across an open branch that joins two islands.
    pub fn across(&self, from: usize, to: usize) -> Volts {
        Volts(self.volts[from] - self.volts[to])
    }

    /// Current through a branch, first terminal to second.
    pub fn current(&self, branch: usize) -> Amps {
        Amps(self.amps[branch])
    }

    /// Number of nodes.
    pub fn nodes(&self) -> usize {
        self.volts.len()
    }
}

/// A pair of terminals as the rest of the network sees it, for small changes about the solution.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Thevenin {
    /// Open-circuit voltage.
    pub volts: Volts,
    /// Slope resistance.
    pub resistance: quantity::Ohms,
}

/// One pattern: which nodes its branches join, and their laws.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Wiring<'a> {
    pub(crate) nodes: usize,
    pub(crate) reference: usize,
    pub(crate) ends: &'a [(u32, u32)],
    pub(crate) pieces: &'a [Piece],
}

/// Working memory of the pattern solver; forests are kept by shape.
#[derive(Clone, Debug, Default)]
pub(crate) struct PatternSolver {
    forests: Vec<Forest>,
    newest: usize,
    roles: Vec<Role>,
    ranks: Vec<u16>,
    factors: Factors,
    mesh_amps: Vec<f64>,
    /// The same while all ports are at zero volts.
    mesh_start: Vec<f64>,
    ports: Ports,
    responses: Vec<f64>,
    pub(crate) newton: Newton,
    /// Last port voltage of each branch, a start for the next pattern.
    pub(crate) guess: Vec<f64>,
}

const FORESTS_KEPT: usize = 48;
impl PatternSolver {
    /// Forgets the starting voltages, so that a solution does not depend on what was solved before.
    pub(crate) fn forget(&mut self, branches: usize) {
        self.guess.clear();
        self.guess.resize(branches, 0.0);
    }

    /// Solves one pattern into `solution`.
    pub(crate) fn solve(&mut self, wiring: Wiring<'_>, solution: &mut Solution) -> Result<(), Unsolvable> {
        let Wiring { nodes, reference, ends, pieces } = wiring;
        if let Some(branch) = pieces.iter().position(|piece| !piece.sound()) {
            return Err(Unsolvable::NotFinite { branch });
        }
        self.pick_forest(nodes, reference, ends, pieces);
        self.assemble(pieces)?;
        self.gather_ports(pieces);
        self.ports.slaves = self.slaves(pieces);
        self.newton.volts.clear();
        self.newton.volts.extend(self.ports.list.iter().map(|port| self.guess[port.branch as usize]));
        if self.newton.settle(&self.ports, CLIPPED_STEPS, TO_THE_LAST_BITS).is_err() {
            self.newton.volts.fill(0.0);
            self.newton.settle(&self.ports, NEWTON_STEPS, TO_THE_LAST_BITS)?;
            self.guess.fill(0.0);
        }
        for (port, volts) in self.ports.list.iter().zip(&self.newton.volts) {
            self.guess[port.branch as usize] = *volts;
        }
        self.finish(nodes, pieces, solution);
        match solution.amps.iter().position(|amps| !amps.is_finite()) {
            Some(branch) => Err(Unsolvable::NotFinite { branch }),
            None => Ok(()),
        }
    }

    fn pick_forest(&mut self, nodes: usize, reference: usize, ends: &[(u32, u32)], pieces: &[Piece]) {
        self.roles.clear();
        self.roles.extend(pieces.iter().map(Piece::role));
        self.ranks.clear();
        self.ranks.extend(self.roles.iter().zip(pieces).map(|(role, piece)| rank(*role, piece.resistance())));
        let count = self.forests.len();
        for back in 0..count {
            let index = (self.newest + count - back) % count;
            if self.forests[index].fits(nodes, reference, ends, &self.roles, &self.ranks) {
                self.newest = index;
                return;
            }
        }
        let forest = Forest::grow(nodes, reference, ends, &self.roles, &self.ranks, pieces);
        if count < FORESTS_KEPT {
            self.forests.push(forest);
            self.newest = count;
        } else {
            self.newest = (self.newest + 1) % count;
            self.forests[self.newest] = forest;
        }
    }

    fn assemble(&mut self, pieces: &[Piece]) -> Result<(), Unsolvable> {
        let forest = &self.forests[self.newest];
        for closed in &forest.ideals {
            let by = loop_emf(forest, closed, pieces);
            if by.abs() > 1e-9 {
                return Err(Unsolvable::Conflict { branch: closed.link as usize, by });
            }
        }
        self.factors.reset(forest.meshes.len());
        self.mesh_amps.clear();
        for (row, mesh) in forest.meshes.iter().enumerate() {
            self.factors.add(row, row, pieces[mesh.link as usize].resistance());
            self.mesh_amps.push(-loop_emf(forest, mesh, pieces));
        }
        for twig in &forest.twigs {
            let ohms = pieces[twig.branch as usize].resistance();
            if ohms == 0.0 {
                continue;
            }
            let passing = forest.through(twig.branch as usize);
            for (index, (row, sign)) in passing.iter().enumerate() {
                for (column, other) in &passing[..=index] {
                    self.factors.add(*row as usize, *column as usize, sign * other * ohms);
                }
            }
        }
        for source in &forest.sources {
            let Piece::Source { amps } = pieces[source.link as usize] else {
                continue;
            };
            for step in forest.steps_of(source) {
                let drop = pieces[step.branch as usize].resistance() * amps * step.sign;
                for (row, sign) in forest.through(step.branch as usize) {
                    self.mesh_amps[*row as usize] -= sign * drop;
                }
            }
        }
        if !self.factors.factor() {
            let bad = pieces.iter().position(|piece| !(piece.resistance() >= 0.0 && piece.resistance().is_finite()));
            return Err(Unsolvable::NotFinite { branch: bad.unwrap_or(0) });
        }
        self.factors.solve(&mut self.mesh_amps);
        Ok(())
    }

    /// Finds the nonlinear branches that the meshes or the forest carry, their start currents and responses.
    fn gather_ports(&mut self, pieces: &[Piece]) {
        let forest = &self.forests[self.newest];
        let size = forest.meshes.len();
        self.ports.list.clear();
        self.responses.clear();
        let in_forest = forest.twigs.iter().map(|twig| twig.branch);
        let in_links = forest.meshes.iter().map(|mesh| mesh.link);
        for branch in in_forest.chain(in_links) {
            let Piece::Curve { curve, .. } = pieces[branch as usize] else {
                continue;
            };
            let first = self.responses.len();
            self.responses.resize(first + size, 0.0);
            let response = &mut self.responses[first..];
            let mut start = 0.0;
            for (row, sign) in forest.through(branch as usize) {
                response[*row as usize] += sign;
                start += sign * self.mesh_amps[*row as usize];
            }
            self.factors.solve(response);
            self.ports.list.push(Port { branch, curve, start });
        }
        for source in &forest.sources {
            let Piece::Source { amps } = pieces[source.link as usize] else {
                continue;
            };
            for step in forest.steps_of(source) {
                if let Some(port) = self.ports.list.iter_mut().find(|port| port.branch == step.branch) {
                    port.start += step.sign * amps;
                }
            }
        }
        let ports = self.ports.list.len();
        self.ports.conductance.clear();
        self.ports.conductance.resize(ports * ports, 0.0);
        for row in 0..ports {
            for column in 0..=row {
                let response = &self.responses[column * size..(column + 1) * size];
                let value: f64 = forest
                    .through(self.ports.list[row].branch as usize)
                    .iter()
                    .map(|(mesh, sign)| sign * response[*mesh as usize])
                    .sum();
                self.ports.conductance[row * ports + column] = value;
                self.ports.conductance[column * ports + row] = value;
            }
        }
    }

    fn slaves(&self, pieces: &[Piece]) -> Vec<Slave> {
        let forest = &self.forests[self.newest];
        let slave = |closed: &Loop| {
            let Piece::Curve { curve, .. } = pieces[closed.link as usize] else {
                return None;
            };
            let terms = forest
                .steps_of(closed)
                .iter()
                .filter_map(|step| {
                    let port = self.ports.list.iter().position(|port| port.branch == step.branch)?;
                    Some((port, -step.sign))
                })
                .collect();
            Some(Slave { curve, base: -loop_emf(forest, closed, pieces), terms })
        };
        forest.slaves.iter().filter_map(slave).collect()
    }

    fn finish(&mut self, nodes: usize, pieces: &[Piece], solution: &mut Solution) {
        let forest = &self.forests[self.newest];
        let size = forest.meshes.len();
        self.mesh_start.clone_from(&self.mesh_amps);
        for (port, volts) in self.newton.volts.iter().enumerate() {
            let response = &self.responses[port * size..(port + 1) * size];
            for (amps, response) in self.mesh_amps.iter_mut().zip(response) {
                *amps -= response * volts;
            }
        }
        solution.amps.clear();
        solution.amps.resize(pieces.len(), 0.0);
        let amps = &mut solution.amps;
        for (mesh, current) in forest.meshes.iter().zip(&self.mesh_amps) {
            carry(forest, mesh, *current, amps);
        }
        for (closed, slave) in forest.slaves.iter().zip(&self.ports.slaves) {
            carry(forest, closed, slave.curve.at(slave.voltage(&self.newton.volts)).0, amps);
        }
        for source in &forest.sources {
            if let Piece::Source { amps: driven } = pieces[source.link as usize] {
                carry(forest, source, driven, amps);
            }
        }
        solution.volts.clear();
        solution.volts.resize(nodes, 0.0);
        for twig in &forest.twigs {
            let branch = twig.branch as usize;
            let drop = match pieces[branch] {
                Piece::Linear { ohms, emf } => ohms * amps[branch] + emf,
                Piece::Curve { ohms, .. } => ohms * amps[branch] + self.guess[branch],
                Piece::Absent | Piece::Source { .. } => 0.0,
            };
            solution.volts[twig.node as usize] = solution.volts[twig.parent as usize] + twig.sign * drop;
        }
        solution.floating.clear();
        solution.floating.extend_from_slice(&forest.floating);
    }

    /// The pattern just solved, kept so that patterns near it can be solved quickly.
    pub(crate) fn keep(&self, nodes: usize, ends: &[(u32, u32)], pieces: &[Piece], solution: &Solution) -> Kept {
        let forest = &self.forests[self.newest];
        let mut start = in_branches(forest, &self.mesh_start, pieces.len());
        start.resize(pieces.len(), 0.0);
        for source in &forest.sources {
            if let Piece::Source { amps } = pieces[source.link as usize] {
                carry(forest, source, amps, &mut start);
            }
        }
        let mut responses = in_branches(forest, &self.responses, pieces.len());
        responses.resize(self.ports.list.len() * pieces.len(), 0.0);
        Kept {
            forest: forest.clone(),
            factors: self.factors.clone(),
            nodes,
            reference: forest.reference,
            ends: ends.to_vec(),
            pieces: pieces.to_vec(),
            ports: self.ports.clone(),
            volts: self.newton.volts.clone(),
            taken: taken(&self.ports, &self.newton.volts),
            jacobian: self.newton.jacobian.clone(),
            start,
            responses,
            solution: solution.clone(),
            largest: solution.amps.iter().fold(0.0, |largest: f64, amps| largest.max(amps.abs())),
            columns: Columns::default(),
            altered: Altered::default(),
        }
    }

    /// The network as a pair of nodes sees it, about the solution just found; nothing when they are in two islands.
    pub(crate) fn thevenin(
        &mut self,
        from: usize,
        to: usize,
        pieces: &[Piece],
        solution: &Solution,
    ) -> Option<Thevenin> {
        let forest = &self.forests[self.newest];
        let size = forest.meshes.len();
        let mut side = vec![0.0; size];
        let mut own = 0.0;
        let path = forest.path(from as u32, to as u32)?;
        let mut port_side = vec![0.0; self.ports.list.len()];
        for (branch, sign) in path {
            let ohms = pieces[branch as usize].resistance();
            own += ohms;
            for (row, other) in forest.through(branch as usize) {
                side[*row as usize] -= sign * other * ohms;
            }
            if let Some(port) = self.ports.list.iter().position(|port| port.branch == branch) {
                port_side[port] += sign;
            }
        }
        let drive = side.clone();
        self.factors.solve(&mut side);
        let mut ohms = own - drive.iter().zip(&side).map(|(left, right)| left * right).sum::<f64>();
        // The ports answer with their slopes: du = (G + g)⁻¹·(current offered), and u adds to the path it stands in.
        for (port, offered) in port_side.iter_mut().enumerate() {
            let through = forest.through(self.ports.list[port].branch as usize);
            *offered += through.iter().map(|(row, sign)| sign * side[*row as usize]).sum::<f64>();
        }
        if !port_side.is_empty() {
            let offered = port_side.clone();
            self.newton.jacobian.solve(&mut port_side);
            ohms += offered.iter().zip(&port_side).map(|(left, right)| left * right).sum::<f64>();
        }
        Some(Thevenin { volts: solution.across(from, to), resistance: quantity::Ohms(ohms.max(0.0)) })
    }
}

fn loop_emf(forest: &Forest, closed: &Loop, pieces: &[Piece]) -> f64 {
    pieces[closed.link as usize].emf()
        + forest.steps_of(closed).iter().map(|step| step.sign * pieces[step.branch as usize].emf()).sum::<f64>()
}

/// Adds a loop's current to the branches that it passes.
pub(crate) fn carry(forest: &Forest, closed: &Loop, current: f64, amps: &mut [f64]) {
    amps[closed.link as usize] += current;
    for step in forest.steps_of(closed) {
        amps[step.branch as usize] += step.sign * current;
    }
}
