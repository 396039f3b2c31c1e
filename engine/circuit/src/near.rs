//! A pattern near one that is solved already: a few linear branches altered, opened or added.
//!
//! Law: an altered resistance is a voltage in series with its branch, an added branch a current between its nodes. The
//! kept pattern answers each with a fixed distribution of currents, so k changes are k unknowns s in a k × k system and
//! the nonlinear ports see G′ = G + H·T⁻¹·Hᵀ (Woodbury 1950, `from memory`). An opened branch is the limit itself: its
//! equation is i = 0, so no large number stands in for infinity.
//! Promise: the answer depends on the kept pattern and the change, on nothing that was asked before; where digits would
//! be lost, or the change has no such form, there is no answer and the caller solves in full.
//! A nonlinear branch that changes or opens is a port with another curve, or with one that lets nothing through.
//! Limit: up to [`MOST`] linear changes; ideal branches and the ends of branches must be the same.

use std::collections::BTreeMap;

use crate::forest::{Forest, Loop, floating_nodes};
use crate::junction::Curve;
use crate::linear::{Factors, invert};
use crate::newton::{CLIPPED_STEPS, Newton, Ports};
use crate::pattern::{Piece, Solution, Thevenin, Wiring, carry};

/// More changes than this are solved in full.
const MOST: usize = crate::linear::FEW;
/// A pivot may lose this much of what it is the difference of.
const PIVOT_LEFT: f64 = 1e-3;
/// A port may keep as little as this of its conductance, and the network of its largest current.
const LEFT: f64 = 1e-5;

/// How well the currents at a port agree, as a share of them.
const AGREE: f64 = 1e-13;

/// What an opened nonlinear branch is: a consumer of nothing.
const SHUT: Curve = Curve::Draw { amps: 0.0 };

/// A solved pattern with what is needed to answer changes of it.
#[derive(Clone, Debug)]
pub(crate) struct Kept {
    pub(crate) forest: Forest,
    pub(crate) factors: Factors,
    pub(crate) nodes: usize,
    pub(crate) reference: usize,
    pub(crate) ends: Vec<(u32, u32)>,
    pub(crate) pieces: Vec<Piece>,
    pub(crate) ports: Ports,
    /// Port voltages at the solution: where Newton's method starts.
    pub(crate) volts: Vec<f64>,
    /// What each port takes there, and its slope.
    pub(crate) taken: Vec<(f64, f64)>,
    /// G and the slopes at the solution, factored.
    pub(crate) jacobian: Factors,
    /// Branch currents while all ports are at zero volts.
    pub(crate) start: Vec<f64>,
    /// Branch currents per volt at each port, port after port.
    pub(crate) responses: Vec<f64>,
    pub(crate) solution: Solution,
    /// Largest branch current at the solution.
    pub(crate) largest: f64,
    pub(crate) columns: Columns,
    pub(crate) altered: Altered,
}

/// Answers to unit changes, found when first asked for.
#[derive(Clone, Debug, Default)]
pub(crate) struct Columns {
    known: Vec<Column>,
    branches: BTreeMap<u32, usize>,
    pairs: BTreeMap<(u32, u32), Option<usize>>,
}

/// What one unit of a change does to the kept pattern while all ports are at fixed volts.
#[derive(Clone, Debug)]
struct Column {
    /// Branch currents.
    amps: Vec<f64>,
    /// The same at the ports.
    at_ports: Vec<f64>,
    /// What drives the change: current of the branch, or voltage between the nodes, while all ports are at zero volts.
    drive: f64,
    /// What one unit does to its own drive.
    own: f64,
    /// Forest branches from one node to the other, with the sense in which each adds to the voltage.
    path: Vec<(u32, f64)>,
}

#[derive(Clone, Copy, Debug)]
enum Change {
    /// Series resistance rises by `ohms`, emf by `emf`.
    Altered {
        branch: u32,
        ohms: f64,
        emf: f64,
    },
    Opened {
        branch: u32,
    },
    /// Opened where no loop passes: what hangs on it floats, currents stay.
    Cut {
        branch: u32,
    },
    Added {
        branch: u32,
        ohms: f64,
        emf: f64,
    },
    Driven {
        branch: u32,
        amps: f64,
    },
}

/// The change solved last: s = amounts − slopes·u.
#[derive(Clone, Debug, Default)]
pub(crate) struct Altered {
    changes: Vec<(Change, usize)>,
    /// Nonlinear branches with another curve: port and curve.
    curves: Vec<(usize, Curve)>,
    ports: Ports,
    /// How the unknowns answer to their drives, `MOST` a row.
    gain: [[f64; MOST]; MOST],
    amounts: [f64; MOST],
    /// One row of ports a change.
    slopes: Vec<f64>,
}

impl Altered {
    /// An unknown at these port voltages.
    fn unknown(&self, change: usize, volts: &[f64]) -> f64 {
        let slopes = &self.slopes[change * volts.len()..(change + 1) * volts.len()];
        self.amounts[change] - slopes.iter().zip(volts).map(|(slope, volts)| slope * volts).sum::<f64>()
    }
}

impl Kept {
    /// Finds the currents of a pattern as a change of the kept one, from which it differs nowhere but in `candidates`
    /// (ascending); nothing when that cannot be done well.
    pub(crate) fn solve(
        &mut self,
        wiring: Wiring<'_>,
        candidates: &[u32],
        newton: &mut Newton,
        solution: &mut Solution,
    ) -> Option<()> {
        let Wiring { nodes, reference, ends, pieces } = wiring;
        let branches = self.pieces.len();
        let same_wiring = nodes == self.nodes && reference == self.reference && ends.get(..branches)? == self.ends;
        if !same_wiring {
            return None;
        }
        self.find_changes(ends, pieces, candidates)?;
        self.couple()?;
        self.ports_as_altered()?;
        newton.volts.clone_from(&self.volts);
        let altered = &self.altered;
        let count = altered.changes.len();
        let answers = altered.amounts[..count].iter().chain(&altered.slopes);
        if altered.curves.is_empty() && answers.into_iter().all(|answer| *answer == 0.0) {
            // Nothing flows where the change is.
            newton.jacobian.clone_from(&self.jacobian);
            if altered.changes.iter().all(|(change, _)| matches!(change, Change::Altered { .. })) {
                solution.amps.clone_from(&self.solution.amps);
                solution.amps.resize(pieces.len(), 0.0);
                return Some(());
            }
        } else if altered.curves.is_empty() && altered.ports.slaves.is_empty() {
            newton.settle_from(&altered.ports, &self.taken, AGREE).ok()?;
        } else {
            newton.settle(&altered.ports, CLIPPED_STEPS, AGREE).ok()?;
        }
        self.find_currents(pieces, &newton.volts, &mut solution.amps)
    }

    fn find_changes(&mut self, ends: &[(u32, u32)], pieces: &[Piece], candidates: &[u32]) -> Option<()> {
        self.altered.changes.clear();
        self.altered.curves.clear();
        for &branch in candidates {
            let index = branch as usize;
            let piece = &pieces[index];
            let before = self.pieces.get(index).copied().unwrap_or(Piece::Absent);
            if *piece == before {
                continue;
            }
            if !piece.sound() {
                return None;
            }
            let curve = match (before, *piece) {
                (Piece::Curve { .. }, Piece::Absent) => Some(SHUT),
                (Piece::Curve { ohms, .. }, Piece::Curve { ohms: to, curve }) if ohms == to => Some(curve),
                _ => None,
            };
            if let Some(curve) = curve {
                let port = self.ports.list.iter().position(|port| port.branch as usize == index)?;
                self.altered.curves.push((port, curve));
                continue;
            }
            if self.altered.changes.len() == MOST {
                return None;
            }
            let (from, to) = ends[index];
            let change = match (before, *piece) {
                (Piece::Linear { ohms, emf }, Piece::Linear { ohms: to, emf: with }) if ohms > 0.0 => {
                    Change::Altered { branch, ohms: to - ohms, emf: with - emf }
                }
                (Piece::Linear { .. }, Piece::Absent) if self.forest.through(index).is_empty() => {
                    Change::Cut { branch }
                }
                (Piece::Linear { ohms, .. }, Piece::Absent) if ohms > 0.0 => Change::Opened { branch },
                (Piece::Absent, Piece::Linear { ohms, emf }) => Change::Added { branch, ohms, emf },
                (Piece::Absent, Piece::Source { amps }) => Change::Driven { branch, amps },
                _ => return None,
            };
            let column = match change {
                Change::Altered { .. } | Change::Opened { .. } | Change::Cut { .. } => self.branch_column(branch),
                Change::Added { .. } | Change::Driven { .. } => self.pair_column(from, to)?,
            };
            self.altered.changes.push((change, column));
        }
        Some(())
    }

    /// The k × k system of the unknowns, inverted: how they answer to their drives.
    fn couple(&mut self) -> Option<()> {
        let count = self.altered.changes.len();
        let mut system = [[0.0; MOST]; MOST];
        let mut scale = [0.0; MOST];
        // Each row: diagonal·s + factor·(what the unknowns do to this drive) = weight·drive + fixed.
        let mut weight = [0.0; MOST];
        let mut side = [0.0; MOST];
        for (row, (change, column)) in self.altered.changes.iter().enumerate() {
            let Column { own, drive, .. } = self.columns.known[*column];
            let (diagonal, factor, fixed);
            (diagonal, factor, weight[row], fixed) = match *change {
                Change::Altered { ohms, emf, .. } => (1.0, ohms, -ohms, -emf),
                Change::Opened { .. } => (0.0, 1.0, -1.0, 0.0),
                Change::Cut { .. } => (1.0, 0.0, 0.0, 0.0),
                Change::Added { ohms, emf, .. } => (ohms, -1.0, 1.0, -emf),
                Change::Driven { amps, .. } => (1.0, 0.0, 0.0, amps),
            };
            for (other, entry) in system[row][..count].iter_mut().enumerate() {
                let coupling = if other == row { own } else { self.coupling(row, other) };
                if coupling != 0.0 && matches!(change, Change::Cut { .. }) {
                    return None;
                }
                *entry = factor * coupling;
            }
            system[row][row] += diagonal;
            scale[row] = diagonal + (factor * own).abs();
            side[row] = weight[row] * drive + fixed;
        }
        let inverse = invert(system, &scale[..count], PIVOT_LEFT)?;
        let Altered { gain, amounts, .. } = &mut self.altered;
        for ((gain, amount), line) in gain.iter_mut().zip(amounts).zip(&inverse) {
            *amount = line.iter().zip(&side).map(|(answer, side)| answer * side).sum();
            for ((gain, answer), weight) in gain.iter_mut().zip(line).zip(&weight) {
                *gain = answer * weight;
            }
        }
        Some(())
    }

    /// What one unit of a change does to the drive of another.
    fn coupling(&self, on: usize, by: usize) -> f64 {
        let column = |change: usize| &self.columns.known[self.altered.changes[change].1];
        match (self.altered.changes[on].0, self.altered.changes[by].0) {
            (Change::Altered { branch, .. } | Change::Opened { branch } | Change::Cut { branch }, _) => {
                column(by).amps[branch as usize]
            }
            (_, Change::Altered { branch, .. } | Change::Opened { branch } | Change::Cut { branch }) => {
                column(on).amps[branch as usize]
            }
            _ => self.along(&column(on).path, &column(by).amps),
        }
    }

    /// Voltage along a path while these currents flow, sources apart.
    fn along(&self, path: &[(u32, f64)], amps: &[f64]) -> f64 {
        path.iter()
            .map(|(branch, sign)| sign * self.pieces[*branch as usize].resistance() * amps[*branch as usize])
            .sum()
    }

    fn ports_as_altered(&mut self) -> Option<()> {
        let size = self.ports.list.len();
        let count = self.altered.changes.len();
        let Altered { changes, curves, ports, gain, amounts, slopes } = &mut self.altered;
        let at = |change: usize| &self.columns.known[changes[change].1].at_ports;
        slopes.clear();
        slopes.resize(count * size, 0.0);
        ports.list.clone_from(&self.ports.list);
        ports.conductance.clone_from(&self.ports.conductance);
        if ports.slaves.len() != self.ports.slaves.len() {
            ports.slaves.clone_from(&self.ports.slaves);
        }
        for (port, curve) in curves {
            ports.list[*port].curve = *curve;
        }
        if size == 0 {
            return Some(());
        }
        for (row, slopes) in slopes.chunks_exact_mut(size).enumerate() {
            for (column, gain) in gain[row][..count].iter().enumerate() {
                for (slope, answer) in slopes.iter_mut().zip(at(column)) {
                    *slope += gain * answer;
                }
            }
            for ((port, line), answer) in
                ports.list.iter_mut().zip(ports.conductance.chunks_exact_mut(size)).zip(at(row))
            {
                port.start += answer * amounts[row];
                for (entry, slope) in line.iter_mut().zip(slopes.iter()) {
                    *entry += answer * slope;
                }
            }
        }
        let diagonal = ports.conductance.iter().zip(&self.ports.conductance).step_by(size + 1);
        if !diagonal.into_iter().all(|(now, before)| *now >= LEFT * before) {
            return None;
        }
        Some(())
    }

    fn find_currents(&self, pieces: &[Piece], volts: &[f64], amps: &mut Vec<f64>) -> Option<()> {
        let branches = self.pieces.len();
        let Altered { changes, ports, .. } = &self.altered;
        let unknown = |change: usize| self.altered.unknown(change, volts);
        amps.clone_from(&self.start);
        for (volts, response) in volts.iter().zip(self.responses.chunks_exact(branches.max(1))) {
            for (amps, response) in amps.iter_mut().zip(response) {
                *amps -= response * volts;
            }
        }
        for (index, (_, column)) in changes.iter().enumerate() {
            let amount = unknown(index);
            for (amps, answer) in amps.iter_mut().zip(&self.columns.known[*column].amps) {
                *amps += answer * amount;
            }
        }
        for (closed, slave) in self.forest.slaves.iter().zip(&ports.slaves) {
            carry(&self.forest, closed, slave.curve.at(slave.voltage(volts)).0, amps);
        }
        amps.resize(pieces.len(), 0.0);
        // What is known of a changed branch itself is more exact than the sum of what passes it.
        for (index, (change, _)) in changes.iter().enumerate() {
            match *change {
                Change::Altered { branch, ohms, emf } => {
                    if ohms > self.pieces[branch as usize].resistance() {
                        amps[branch as usize] = -(unknown(index) + emf) / ohms;
                    }
                }
                Change::Opened { branch } | Change::Cut { branch } => amps[branch as usize] = 0.0,
                Change::Added { branch, .. } | Change::Driven { branch, .. } => amps[branch as usize] = unknown(index),
            }
        }
        for (port, curve) in &self.altered.curves {
            if *curve == SHUT {
                amps[self.ports.list[*port].branch as usize] = 0.0;
            }
        }
        let largest = amps.iter().fold(0.0, |largest: f64, amps| largest.max(amps.abs()));
        if !(largest.is_finite() && largest >= LEFT * self.largest) {
            return None;
        }
        Some(())
    }

    /// Finds the node voltages that go with the currents just found, and which nodes float.
    pub(crate) fn find_voltages(&self, ends: &[(u32, u32)], pieces: &[Piece], volts: &[f64], solution: &mut Solution) {
        let Altered { changes, .. } = &self.altered;
        let amps = &solution.amps;
        solution.volts.clear();
        solution.volts.resize(self.nodes, 0.0);
        // Ports of the forest come in the order of its twigs.
        let mut nonlinear = volts.iter().zip(&self.ports.list).peekable();
        let mut port_volts =
            |branch: u32| nonlinear.next_if(|(_, port)| port.branch == branch).map_or(0.0, |(volts, _)| *volts);
        for twig in &self.forest.twigs {
            let branch = twig.branch as usize;
            let drop = match pieces[branch] {
                Piece::Linear { ohms, emf } => ohms * amps[branch] + emf,
                Piece::Curve { ohms, .. } => ohms * amps[branch] + port_volts(twig.branch),
                Piece::Absent => match self.pieces[branch] {
                    Piece::Curve { .. } => port_volts(twig.branch),
                    ref before => {
                        let opened = |(change, _): &(Change, usize)| matches!(change, Change::Opened { branch } if *branch == twig.branch);
                        before.emf()
                            - changes.iter().position(opened).map_or(0.0, |change| self.altered.unknown(change, volts))
                    }
                },
                Piece::Source { .. } => 0.0,
            };
            solution.volts[twig.node as usize] = solution.volts[twig.parent as usize] + twig.sign * drop;
        }
        if self.ties_change() {
            solution.floating = floating_nodes(self.reference, self.nodes, ends, pieces);
        } else {
            solution.floating.clone_from(&self.forest.floating);
        }
    }

    /// Whether a change may tie a node to the reference, or cut it off.
    fn ties_change(&self) -> bool {
        let floating = |node: u32| self.forest.floating[node as usize];
        let shut = |(port, curve): &(usize, Curve)| {
            *curve == SHUT && !floating(self.ends[self.ports.list[*port].branch as usize].0)
        };
        self.altered.curves.iter().any(shut)
            || self.altered.changes.iter().any(|(change, column)| match change {
                Change::Altered { .. } | Change::Driven { .. } => false,
                Change::Opened { branch } | Change::Cut { branch } => !floating(self.ends[*branch as usize].0),
                Change::Added { .. } => {
                    let pair = self.columns.pairs.iter().find(|(_, known)| **known == Some(*column));
                    pair.is_none_or(|((from, to), _)| floating(*from) != floating(*to))
                }
            })
    }

    /// The altered network as a pair of nodes sees it, about the solution just found.
    pub(crate) fn thevenin(
        &mut self,
        from: usize,
        to: usize,
        newton: &Newton,
        solution: &Solution,
    ) -> Option<Thevenin> {
        let pair = self.pair_column(from as u32, to as u32)?;
        let size = self.ports.list.len();
        let column = &self.columns.known[pair];
        let Altered { changes, curves, ports, gain, slopes, .. } = &self.altered;
        // Nothing leads across a shut port that no loop passes either.
        let shut = |(port, curve): &(usize, Curve)| *curve == SHUT && ports.conductance[port * size + port] == 0.0;
        if curves.iter().any(|known| shut(known) && column.at_ports[known.0] != 0.0) {
            return None;
        }
        let mut couplings = [0.0; MOST];
        for (coupling, (change, other)) in couplings.iter_mut().zip(changes) {
            *coupling = match change {
                Change::Altered { branch, .. } | Change::Opened { branch } => column.amps[*branch as usize],
                // Nothing leads across.
                Change::Cut { branch } if column.amps[*branch as usize] != 0.0 => return None,
                Change::Cut { .. } => 0.0,
                Change::Added { .. } | Change::Driven { .. } => {
                    self.along(&column.path, &self.columns.known[*other].amps)
                }
            };
        }
        let mut ohms = -column.own;
        let mut offered = column.at_ports.clone();
        for (row, coupling) in couplings[..changes.len()].iter().enumerate() {
            let answer: f64 = gain[row].iter().zip(&couplings).map(|(gain, coupling)| gain * coupling).sum();
            ohms -= coupling * answer;
            for (offered, slope) in offered.iter_mut().zip(&slopes[row * size..(row + 1) * size]) {
                *offered += coupling * slope;
            }
        }
        if !offered.is_empty() {
            let mut answer = offered.clone();
            newton.jacobian.solve(&mut answer);
            ohms += offered.iter().zip(&answer).map(|(left, right)| left * right).sum::<f64>();
        }
        Some(Thevenin { volts: solution.across(from, to), resistance: quantity::Ohms(ohms.max(0.0)) })
    }

    /// The answer to a volt against the current of a branch.
    fn branch_column(&mut self, branch: u32) -> usize {
        if let Some(known) = self.columns.branches.get(&branch) {
            return *known;
        }
        let mut side = vec![0.0; self.forest.meshes.len()];
        for (row, sign) in self.forest.through(branch as usize) {
            side[*row as usize] += sign;
        }
        let mut amps = vec![0.0; self.pieces.len()];
        self.answer(side, &mut amps);
        let (drive, own) = (self.start[branch as usize], amps[branch as usize]);
        let index = self.add_column(amps, drive, own, Vec::new());
        self.columns.branches.insert(branch, index);
        index
    }

    /// The answer to a current from `to` back to `from`; nothing when they are in two islands.
    fn pair_column(&mut self, from: u32, to: u32) -> Option<usize> {
        if let Some(known) = self.columns.pairs.get(&(from, to)) {
            return *known;
        }
        let path = self.forest.path(from, to);
        let index = path.map(|path| {
            let mut side = vec![0.0; self.forest.meshes.len()];
            let mut amps = vec![0.0; self.pieces.len()];
            let mut drive = 0.0;
            for (branch, sign) in &path {
                let piece = &self.pieces[*branch as usize];
                let ohms = piece.resistance();
                amps[*branch as usize] -= sign;
                drive += sign * (ohms * self.start[*branch as usize] + piece.emf());
                for (row, other) in self.forest.through(*branch as usize) {
                    side[*row as usize] += sign * other * ohms;
                }
            }
            self.answer(side, &mut amps);
            let own = self.along(&path, &amps);
            self.add_column(amps, drive, own, path)
        });
        self.columns.pairs.insert((from, to), index);
        index
    }

    /// Adds the branch currents that voltages in the meshes drive.
    fn answer(&self, mut side: Vec<f64>, amps: &mut [f64]) {
        self.factors.solve(&mut side);
        for (mesh, current) in self.forest.meshes.iter().zip(&side) {
            carry(&self.forest, mesh, *current, amps);
        }
    }

    fn add_column(&mut self, amps: Vec<f64>, drive: f64, own: f64, path: Vec<(u32, f64)>) -> usize {
        let at_ports = self.ports.list.iter().map(|port| amps[port.branch as usize]).collect();
        self.columns.known.push(Column { amps, at_ports, drive, own, path });
        self.columns.known.len() - 1
    }
}

/// What each port takes at these voltages, and its slope.
pub(crate) fn taken(ports: &Ports, volts: &[f64]) -> Vec<(f64, f64)> {
    ports.list.iter().zip(volts).map(|(port, volts)| port.curve.at(*volts)).collect()
}

/// Branch currents of mesh currents, one vector after the other.
pub(crate) fn in_branches(forest: &Forest, meshes: &[f64], branches: usize) -> Vec<f64> {
    let size = forest.meshes.len();
    let count = meshes.len().checked_div(size).unwrap_or(0);
    let mut all = vec![0.0; count * branches];
    for (amps, currents) in all.chunks_exact_mut(branches.max(1)).zip(meshes.chunks_exact(size.max(1))) {
        let carry_one = |(mesh, current): (&Loop, &f64)| carry(forest, mesh, *current, amps);
        forest.meshes.iter().zip(currents).for_each(carry_one);
    }
    all
}
