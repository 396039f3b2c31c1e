//! Newton's method at the nonlinear ports of a linear network that is solved already.
//! Law: with the other branches eliminated, port currents are i₀ − G·u; the answer is where i₀ − G·u = i(u).
//! Promise: every law is monotone and G positive semidefinite, so the answer is unique; a step that overshoots is cut
//! back along its own line. Where Newton starts changes the effort, not the answer beyond rounding.
//! Limit: where a current source finds no part that takes its current there is no answer, which is said.

use crate::junction::Curve;
use crate::linear::Factors;
use crate::pattern::Unsolvable;

/// A nonlinear branch seen from the linear part.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Port {
    pub(crate) branch: u32,
    pub(crate) curve: Curve,
    /// Current at zero port voltages.
    pub(crate) start: f64,
}

/// All ports of a pattern, with what ties them together.
#[derive(Clone, Debug, Default)]
pub(crate) struct Ports {
    pub(crate) list: Vec<Port>,
    /// G, row by row.
    pub(crate) conductance: Vec<f64>,
    pub(crate) slaves: Vec<Slave>,
}

/// Working memory of the method.
#[derive(Clone, Debug, Default)]
pub(crate) struct Newton {
    /// Port voltages: where to start, then the answer.
    pub(crate) volts: Vec<f64>,
    trial: Vec<f64>,
    balances: Vec<Balance>,
    step: Vec<f64>,
    /// G and the slopes at the last step, factored.
    pub(crate) jacobian: Factors,
    /// Steps since the memory was made; effort is under test.
    pub(crate) steps: usize,
}

/// How the current that a port is offered and the one it takes differ.
#[derive(Clone, Copy, Debug)]
struct Balance {
    residual: f64,
    /// Of the port's law.
    slope: f64,
    /// The currents that the residual is the difference of, and those by which a branch answers to its voltage.
    terms: f64,
}

/// A nonlinear link in a loop without resistance.
#[derive(Clone, Debug)]
pub(crate) struct Slave {
    pub(crate) curve: Curve,
    pub(crate) base: f64,
    /// (port, sign) of the forest ports in its loop: u = base + Σ sign·u_port.
    pub(crate) terms: Vec<(usize, f64)>,
}

pub(crate) const NEWTON_STEPS: usize = 200;
/// No step is longer than this many volts, or a flat direction would lead out of this world.
const STRIDE: f64 = 1000.0;
/// Steps before the line search; should that fail, a second attempt clips all the way.
pub(crate) const CLIPPED_STEPS: usize = 12;
/// Agreement at the floor of the arithmetic.
pub(crate) const TO_THE_LAST_BITS: f64 = 2e-15;
/// A current of a few electrons a minute is none, in amperes.
const NOTHING: f64 = 1e-20;
/// A pivot below this share of its diagonal is rounding: two equal consumers in series, say, share as they please.
const ROUNDING: f64 = 1e-14;

impl Newton {
    /// Newton's method on i₀ − G·u − i(u) = 0, until the currents at each port agree to a share of `agree`.
    pub(crate) fn settle(&mut self, of: &Ports, clipped_steps: usize, agree: f64) -> Result<(), Unsolvable> {
        balance(of, &self.volts, &mut self.balances);
        self.descend(of, clipped_steps, agree)
    }

    /// The same from a place where what the ports take, and their slopes, are known.
    pub(crate) fn settle_from(&mut self, of: &Ports, taken: &[(f64, f64)], agree: f64) -> Result<(), Unsolvable> {
        offer(of, &self.volts, taken, &mut self.balances);
        self.descend(of, CLIPPED_STEPS, agree)
    }

    fn descend(&mut self, of: &Ports, clipped_steps: usize, agree: f64) -> Result<(), Unsolvable> {
        let Ports { list, conductance, slaves } = of;
        let ports = list.len();
        self.step.clear();
        self.step.resize(ports, 0.0);
        if ports == 0 {
            return Ok(());
        }
        let mut volts = std::mem::take(&mut self.volts);
        let mut trial = std::mem::take(&mut self.trial);
        let mut balances = std::mem::take(&mut self.balances);
        let mut last = f64::INFINITY;
        // The next step is of the order of this one's square.
        let close = agree.sqrt().max(1e-6);
        let mut outcome = Err(0);
        for step in 0..NEWTON_STEPS {
            self.steps += 1;
            self.jacobian.load(conductance, balances.iter().map(|balance| balance.slope));
            for slave in slaves {
                let (_, slave_slope) = slave.curve.at(slave.voltage(&volts));
                for &(left, sign) in &slave.terms {
                    for &(right, other) in &slave.terms {
                        if left >= right {
                            self.jacobian.add(left, right, sign * other * slave_slope);
                        }
                    }
                }
            }
            if !self.jacobian.factor_above(ROUNDING) {
                outcome = Err(step);
                break;
            }
            self.step.clear();
            self.step.extend(balances.iter().map(|balance| balance.residual));
            self.jacobian.solve(&mut self.step);
            let longest = self.step.iter().fold(0.0, |longest: f64, change| longest.max(change.abs()));
            if longest > STRIDE {
                self.step.iter_mut().for_each(|change| *change *= STRIDE / longest);
            }
            // A junction's overshoot is clipped alone and the step taken as it is; should that not get there, the whole
            // step is cut back along its own line, which always does.
            let mut clipped = false;
            if step < clipped_steps {
                for (port, change) in self.step.iter_mut().enumerate() {
                    let new = volts[port] + *change;
                    let limited = list[port].curve.limit(volts[port], new);
                    clipped |= limited != new;
                    *change = limited - volts[port];
                }
                let part = slaves.iter().map(|slave| slave.part(&volts, &self.step)).fold(1.0, f64::min);
                if part < 1.0 {
                    clipped = true;
                    self.step.iter_mut().for_each(|change| *change *= part);
                }
            }
            let along = |balances: &[Balance], step: &[f64]| -> f64 {
                step.iter().zip(balances).map(|(step, balance)| step * balance.residual).sum()
            };
            let descent = along(&balances, &self.step);
            let mut share = 1.0;
            for _ in 0..60 {
                trial.clear();
                trial.extend(volts.iter().zip(&self.step).map(|(volts, step)| volts + share * step));
                balance(of, &trial, &mut balances);
                let ahead = along(&balances, &self.step);
                if clipped || descent <= 0.0 || ahead >= -0.95 * descent {
                    break;
                }
                share *= (descent / (descent - ahead)).clamp(0.1, 0.7);
            }
            std::mem::swap(&mut volts, &mut trial);
            let by =
                self.step.iter().zip(&volts).map(|(step, volts)| step.abs() / (1.0 + volts.abs())).fold(0.0, f64::max);
            // Quadratic at the end: once a step is small, the next is at the floor of the arithmetic.
            let small = by < 1e-15 || (last < 1e-9 && by >= last * 0.25) || (last < 1e-7 && by < 1e-13);
            let off = if small || by < close || share < 1.0 || step > 4 {
                balances.iter().map(Balance::off).fold(0.0, f64::max)
            } else {
                f64::INFINITY
            };
            let enough = match step {
                ..13 => off < agree,
                13..40 => off < agree.max(1e-13),
                40..100 => off < 1e-12 || (small && off < 1e-9),
                _ => off < 1e-9 || by < 1e-9,
            };
            if enough || (small && off < 1e-12) {
                outcome = Ok(());
                break;
            }
            last = by;
            outcome = Err(step + 1);
        }
        self.volts = volts;
        self.trial = trial;
        self.balances = balances;
        outcome.map_err(|steps| {
            let moves = self.step.iter().enumerate().max_by(|left, right| left.1.abs().total_cmp(&right.1.abs()));
            let (port, by) = moves.map_or((0, 0.0), |(port, by)| (port, *by));
            Unsolvable::Restless { steps, branch: list[port].branch as usize, by }
        })
    }
}

impl Slave {
    /// What the voltage is the sum of, all taken as positive.
    fn size(&self, ports: &[f64]) -> f64 {
        self.base.abs() + self.terms.iter().map(|(port, _)| ports[*port].abs()).sum::<f64>()
    }

    /// How much of a step this branch stands before it overshoots.
    fn part(&self, ports: &[f64], step: &[f64]) -> f64 {
        let old = self.voltage(ports);
        let change: f64 = self.terms.iter().map(|(port, sign)| sign * step[*port]).sum();
        let limited = self.curve.limit(old, old + change) - old;
        if limited == change { 1.0 } else { (limited / change).clamp(1e-9, 1.0) }
    }

    pub(crate) fn voltage(&self, ports: &[f64]) -> f64 {
        self.base + self.terms.iter().map(|(port, sign)| sign * ports[*port]).sum::<f64>()
    }
}

/// Residual i₀ − G·u − i(u) of each port with its slope, from what is known of each port's law at u.
fn offer(of: &Ports, volts: &[f64], taken: &[(f64, f64)], balances: &mut Vec<Balance>) {
    balances.clear();
    let lines = of.conductance.chunks_exact(of.list.len().max(1));
    let rows = of.list.iter().zip(lines).zip(taken).zip(volts);
    balances.extend(rows.map(|(((port, line), known), at)| Balance::of(port, line, volts, *at, *known)));
}

/// The same with the laws asked.
fn balance(of: &Ports, volts: &[f64], balances: &mut Vec<Balance>) {
    balances.clear();
    let lines = of.conductance.chunks_exact(of.list.len().max(1));
    let rows = of.list.iter().zip(lines).zip(volts);
    balances.extend(rows.map(|((port, line), at)| Balance::of(port, line, volts, *at, port.curve.at(*at))));
    for slave in &of.slaves {
        let at = slave.voltage(volts);
        let (amps, slope) = slave.curve.at(at);
        let terms = amps.abs() + slope * slave.size(volts);
        for &(port, sign) in &slave.terms {
            balances[port].residual -= sign * amps;
            balances[port].terms += terms;
        }
    }
}

impl Balance {
    #[inline]
    fn of(port: &Port, line: &[f64], volts: &[f64], at: f64, (taken, slope): (f64, f64)) -> Self {
        let (mut offered, mut terms) = (port.start, port.start.abs() + taken.abs() + slope * at.abs());
        for (factor, volts) in line.iter().zip(volts) {
            let part = factor * volts;
            offered -= part;
            terms += part.abs();
        }
        Self { residual: offered - taken, slope, terms }
    }

    /// The residual as a share of what rounding may leave of it.
    fn off(&self) -> f64 {
        (self.residual.abs() - NOTHING).max(0.0) / (self.terms + NOTHING)
    }
}
