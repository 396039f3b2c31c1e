//! A linear-in-time network with capacitors and inductors, followed by the trapezoidal rule at a fixed step.
//! Law: capacitor v' = i/C, inductor i' = v/L; each step is a network whose reactive branches are a resistance and a
//! source (Nagel 1975, `from memory`). The first step is backward Euler, so that an inconsistent start dies out.
//! Limit: relays, fuses and motors stay as they are; adaptive steps and located crossings are not here.

use quantity::{Amps, Farads, Henries, Seconds, Volts};

use crate::network::{Law, Network};
use crate::pattern::{PatternSolver, Piece, Solution, Unsolvable, Wiring};

/// A branch that stores energy, with what it holds at the start.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Store {
    /// A capacitor and its voltage.
    Capacitor(Farads, Volts),
    /// An inductor and its current.
    Inductor(Henries, Amps),
}

/// Follows the network until `end` in `steps` equal steps and gives the solution after each.
/// `stores` name the branches that store energy; their law in the network is ignored.
///
/// # Errors
/// When a step has no solution.
pub fn follow(
    network: &Network,
    stores: &[(usize, Store)],
    end: Seconds,
    steps: usize,
) -> Result<Vec<Solution>, Unsolvable> {
    let ends: Vec<(u32, u32)> = network.branches.iter().map(|branch| (branch.from as u32, branch.to as u32)).collect();
    let mut pieces: Vec<Piece> = network.branches.iter().map(|branch| Piece::of(branch.law)).collect();
    let mut held: Vec<(f64, f64)> = stores
        .iter()
        .map(|(_, store)| match store {
            Store::Capacitor(_, volts) => (volts.0, 0.0),
            Store::Inductor(_, amps) => (0.0, amps.0),
        })
        .collect();
    let mut solver = PatternSolver::default();
    solver.forget(pieces.len());
    let step = end.0 / steps as f64;
    let mut course = Vec::with_capacity(steps);
    for count in 0..steps {
        let weight = if count == 0 { 1.0 } else { 2.0 };
        for ((branch, store), (volts, amps)) in stores.iter().zip(&held) {
            let past = weight - 1.0;
            pieces[*branch] = match store {
                Store::Capacitor(size, _) => {
                    let ohms = step / (weight * size.0);
                    Piece::Linear { ohms, emf: volts + past * ohms * amps }
                }
                Store::Inductor(size, _) => {
                    let ohms = weight * size.0 / step;
                    Piece::Linear { ohms, emf: -ohms * amps - past * volts }
                }
            };
        }
        let mut solution = Solution::default();
        let wiring = Wiring { nodes: network.nodes, reference: network.reference, ends: &ends, pieces: &pieces };
        solver.solve(wiring, &mut solution)?;
        for ((branch, _), (volts, amps)) in stores.iter().zip(&mut held) {
            let (from, to) = ends[*branch];
            *volts = solution.across(from as usize, to as usize).0;
            *amps = solution.current(*branch).0;
        }
        course.push(solution);
    }
    Ok(course)
}

/// The law that a storing branch has in a steady state: a capacitor is absent, an inductor an ideal connection.
pub fn steady(store: Store) -> Law {
    match store {
        Store::Capacitor(..) => Law::Open,
        Store::Inductor(..) => Law::resistance(quantity::Ohms(0.0)),
    }
}
