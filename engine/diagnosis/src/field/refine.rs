//! More worlds where the readings have left too few: drawn about those that still fit, weighed so that nothing shifts.
//! Law: adaptive importance sampling with deterministic-mixture weights (Owen & Zhou 2000, `from memory`): a world x of
//! a suspect counts 1/(N·1 + Σ K·g(x)), N the even draws of the cast and g the normal proposals of each round.
//! The first proposal is the normal about the likeliest world, found by Gauss–Newton steps on the readings' residuals;
//! the second fits what has been drawn by then.
//! Promise: follows from the set of readings alone, never from the order in which they came; the cast itself is not
//! changed. Limit: one peak a suspect; where the machine changes its state within the peak the second round corrects.

use libm::{exp, log, sqrt};

use crate::cast::{AXES, Draw, point};

/// Coordinates of a draw that may matter: those of two suspects.
const MOST_AXES: usize = AXES + 1;

/// A suspect is refined when fewer of its worlds than this still count.
pub(crate) const ENOUGH: f64 = 24.0;
/// Worlds drawn a round.
pub(crate) const ROUND: usize = 48;
/// Suspects whose peak is looked for at most.
pub(crate) const MOST_CLIMBED: usize = 40;
/// Suspects refined at most, by the evidence about their peaks.
pub(crate) const MOST: usize = 14;
/// A suspect whose evidence lies so many nats below the best is not refined.
pub(crate) const HOPELESS: f64 = 7.0;
/// Worlds that a tempered fit has to rest on.
const FIT: f64 = 10.0;

/// A normal proposal in the cube.
#[derive(Clone, Debug)]
pub(crate) struct Proposal {
    axes: usize,
    mean: [f64; MOST_AXES],
    /// Lower triangle of the covariance's root.
    root: [[f64; MOST_AXES]; MOST_AXES],
    log_scale: f64,
}

/// One suspect's worlds while it is refined.
#[derive(Clone, Debug, Default)]
pub(crate) struct Cloud {
    /// How many coordinates of a draw matter.
    pub(crate) axes: usize,
    pub(crate) draws: Vec<Draw>,
    pub(crate) log_likelihood: Vec<f64>,
    pub(crate) proposals: Vec<Proposal>,
    /// How many of the draws are the cast's own, even over the cube.
    pub(crate) even: usize,
    /// Log evidence that it could have at best, its odds included.
    pub(crate) prospect: f64,
}

impl Cloud {
    /// Log of the share of the suspect's prior that each world stands for.
    pub(crate) fn log_shares(&self) -> Vec<f64> {
        let share = |draw: &Draw| {
            let drawn: f64 = self.proposals.iter().map(|proposal| ROUND as f64 * proposal.density(draw)).sum();
            -log(self.even as f64 + drawn)
        };
        self.draws.iter().map(share).collect()
    }

    /// How many worlds still count.
    pub(crate) fn effective(&self) -> f64 {
        effective(&self.log_weights(), 1.0)
    }

    fn log_weights(&self) -> Vec<f64> {
        self.log_shares().iter().zip(&self.log_likelihood).map(|(share, likelihood)| share + likelihood).collect()
    }

    /// Log of the mean likelihood: what the suspect's worlds make of the readings.
    pub(crate) fn log_evidence(&self) -> f64 {
        let weights = self.log_weights();
        let most = weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if most == f64::NEG_INFINITY {
            return most;
        }
        most + log(weights.iter().map(|weight| exp(weight - most)).sum())
    }

    /// The likeliest place so far.
    pub(crate) fn best(&self) -> Option<Draw> {
        let best = self.log_likelihood.iter().enumerate().max_by(|left, right| left.1.total_cmp(right.1));
        best.map(|(index, _)| self.draws[index])
    }

    /// Places to draw worlds at about a peak.
    pub(crate) fn about(&mut self, peak: &Peak) -> Vec<Draw> {
        match Proposal::about(peak) {
            Some(proposal) => self.adopt(proposal, 0),
            None => Vec::new(),
        }
    }

    /// Places to draw worlds at by what has been drawn so far; nothing when there is nothing to fit.
    pub(crate) fn propose(&mut self) -> Vec<Draw> {
        let weights = self.log_weights();
        let temper = [1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 9.0, 14.0, 20.0, 40.0];
        let Some(heat) = temper.into_iter().find(|heat| effective(&weights, *heat) >= FIT) else { return Vec::new() };
        match Proposal::fit(self.axes, &self.draws, &weights, heat) {
            Some(proposal) => self.adopt(proposal, 1),
            None => Vec::new(),
        }
    }

    fn adopt(&mut self, proposal: Proposal, round: u32) -> Vec<Draw> {
        let draws = (0..ROUND).map(|index| proposal.draw(index as u32, round));
        let inside = draws.filter(|draw| draw[..self.axes].iter().all(|axis| (0.0..=1.0).contains(axis))).collect();
        self.proposals.push(proposal);
        inside
    }
}

/// The likeliest world of a suspect and how the readings' residuals change about it.
#[derive(Clone, Debug)]
pub(crate) struct Peak {
    axes: usize,
    /// Where it is.
    pub(crate) at: Draw,
    /// The residuals there.
    here: Vec<f64>,
    /// JᵀJ of the residuals plus the precision of the even prior.
    pub(crate) precision: [[f64; MOST_AXES]; MOST_AXES],
}

impl Peak {
    /// The same with its slopes measured where it is.
    pub(crate) fn measured(mut self, mut residuals: impl FnMut(&Draw) -> Vec<f64>) -> Self {
        let slopes = slopes_at(&self.at, &self.here, self.axes, &mut residuals);
        self.precision = normal_equations(&self.at, &self.here, &slopes).0;
        self
    }

    /// Log of the share of the cube that the peak takes, as a normal (Laplace's approximation).
    pub(crate) fn log_share(&self) -> f64 {
        let half_log_root =
            |root: [[f64; MOST_AXES]; MOST_AXES]| -> f64 { (0..self.axes).map(|axis| log(root[axis][axis])).sum() };
        let scale = 0.5 * self.axes as f64 * log(std::f64::consts::TAU);
        cholesky(&self.precision, self.axes).map_or(f64::NEG_INFINITY, |root| scale - half_log_root(root))
    }
}

/// Precision of an even spread over an axis.
const EVEN: f64 = 12.0;
/// Gauss–Newton steps.
const STEPS: usize = 4;
/// A step shorter than this ends the climb.
const NEAR: f64 = 0.01;
/// Step of a finite difference.
const NUDGE: f64 = 0.01;
/// Residuals beyond this many σ pull less and less.
const FAR: f64 = 6.0;

/// Climbs to the likeliest world; `residuals` are (read − shown)/σ of the readings that are numbers. Slopes are measured
/// at the start and follow the steps by Broyden's rule (1965, `from memory`).
pub(crate) fn climb(start: Draw, axes: usize, mut residuals: impl FnMut(&Draw) -> Vec<f64>) -> Option<Peak> {
    let mut at = start;
    let mut here = residuals(&at);
    let mut slopes = slopes_at(&at, &here, axes, &mut residuals);
    for _ in 0..STEPS {
        let (precision, pull) = normal_equations(&at, &here, &slopes);
        let change = solve(&precision, &pull, axes)?;
        let mut next = at;
        for axis in 0..axes {
            next[axis] = (at[axis] + change[axis].clamp(-0.3, 0.3)).clamp(0.005, 0.995);
        }
        let mut there = residuals(&next);
        if cost(&there) > cost(&here) {
            for axis in 0..axes {
                next[axis] = 0.5 * (next[axis] + at[axis]);
            }
            there = residuals(&next);
        }
        let moved: Vec<f64> = (0..axes).map(|axis| next[axis] - at[axis]).collect();
        let length: f64 = moved.iter().map(|step| step * step).sum();
        if length < NEAR * NEAR {
            (at, here) = (next, there);
            break;
        }
        for (index, (after, before)) in there.iter().zip(&here).enumerate() {
            let foreseen: f64 = slopes.iter().zip(&moved).map(|(slope, step)| slope[index] * step).sum();
            let off = (after - before - foreseen) / length;
            slopes.iter_mut().zip(&moved).for_each(|(slope, step)| slope[index] += off * step);
        }
        (at, here) = (next, there);
    }
    let (precision, _) = normal_equations(&at, &here, &slopes);
    Some(Peak { axes, at, here, precision })
}

/// Change of each residual with each axis, by finite differences.
fn slopes_at(at: &Draw, here: &[f64], axes: usize, residuals: &mut impl FnMut(&Draw) -> Vec<f64>) -> Vec<Vec<f64>> {
    let along = |axis: usize| {
        let nudge = if at[axis] > 0.5 { -NUDGE } else { NUDGE };
        let mut beside = *at;
        beside[axis] += nudge;
        residuals(&beside).iter().zip(here).map(|(there, here)| (there - here) / nudge).collect()
    };
    (0..axes).map(along).collect()
}

/// JᵀJ with the prior's precision, and the pull towards the peak; far residuals pull less.
fn normal_equations(at: &Draw, here: &[f64], slopes: &[Vec<f64>]) -> ([[f64; MOST_AXES]; MOST_AXES], [f64; MOST_AXES]) {
    let trust: Vec<f64> = here.iter().map(|residual| 1.0 / (1.0 + (residual / FAR) * (residual / FAR))).collect();
    let mut precision = [[0.0; MOST_AXES]; MOST_AXES];
    let mut pull = [0.0; MOST_AXES];
    for (row, slope) in slopes.iter().enumerate() {
        for (column, other) in slopes.iter().enumerate() {
            let product: f64 =
                trust.iter().zip(slope).zip(other).map(|((trust, left), right)| trust * left * right).sum();
            precision[row][column] = product + if row == column { EVEN } else { 0.0 };
        }
        let drawn: f64 = trust.iter().zip(slope).zip(here).map(|((trust, slope), here)| trust * slope * here).sum();
        pull[row] = EVEN * (0.5 - at[row]) - drawn;
    }
    (precision, pull)
}

/// Robust sum of squares.
fn cost(residuals: &[f64]) -> f64 {
    residuals.iter().map(|residual| robust(*residual)).sum()
}

/// The square of a residual that is small; one that is far counts less and less.
pub(crate) fn robust(residual: f64) -> f64 {
    FAR * FAR * libm::log1p((residual / FAR) * (residual / FAR))
}

fn solve(matrix: &[[f64; MOST_AXES]; MOST_AXES], side: &[f64; MOST_AXES], axes: usize) -> Option<[f64; MOST_AXES]> {
    let root = cholesky(matrix, axes)?;
    let mut x = *side;
    for row in 0..axes {
        let known: f64 = (0..row).map(|column| root[row][column] * x[column]).sum();
        x[row] = (x[row] - known) / root[row][row];
    }
    for row in (0..axes).rev() {
        let known: f64 = (row + 1..axes).map(|below| root[below][row] * x[below]).sum();
        x[row] = (x[row] - known) / root[row][row];
    }
    Some(x)
}

/// Kish's effective number of weights, the likelihood cooled by `heat`.
fn effective(log_weights: &[f64], heat: f64) -> f64 {
    let most = log_weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if most == f64::NEG_INFINITY {
        return 0.0;
    }
    let (mut sum, mut squares) = (0.0, 0.0);
    for weight in log_weights {
        let weight = exp((weight - most) / heat);
        sum += weight;
        squares += weight * weight;
    }
    sum * sum / squares
}

impl Proposal {
    /// The normal of a peak, a little wider.
    fn about(peak: &Peak) -> Option<Self> {
        let mut spread = [[0.0; MOST_AXES]; MOST_AXES];
        for column in 0..peak.axes {
            let mut unit = [0.0; MOST_AXES];
            unit[column] = 1.6;
            let solved = solve(&peak.precision, &unit, peak.axes)?;
            for row in 0..peak.axes {
                spread[row][column] = solved[row];
            }
        }
        let mut mean = [0.0; MOST_AXES];
        mean[..peak.axes].copy_from_slice(&peak.at[..peak.axes]);
        Self::of(peak.axes, mean, &spread)
    }

    fn of(axes: usize, mean: [f64; MOST_AXES], spread: &[[f64; MOST_AXES]; MOST_AXES]) -> Option<Self> {
        let root = cholesky(spread, axes)?;
        let log_scale: f64 = (0..axes).map(|axis| log(root[axis][axis])).sum();
        Some(Self { axes, mean, root, log_scale })
    }

    fn fit(axes: usize, draws: &[Draw], log_weights: &[f64], heat: f64) -> Option<Self> {
        let most = log_weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let weights: Vec<f64> = log_weights.iter().map(|weight| exp((weight - most) / heat)).collect();
        let total: f64 = weights.iter().sum();
        let mut mean = [0.0; MOST_AXES];
        for (draw, weight) in draws.iter().zip(&weights) {
            for axis in 0..axes {
                mean[axis] += weight * draw[axis] / total;
            }
        }
        let mut spread = [[0.0; MOST_AXES]; MOST_AXES];
        for (draw, weight) in draws.iter().zip(&weights) {
            for row in 0..axes {
                for column in 0..=row {
                    spread[row][column] += weight / total * (draw[row] - mean[row]) * (draw[column] - mean[column]);
                }
            }
        }
        // A little wider than the fit, so that the tails are drawn too, and never flat.
        for (row, line) in spread[..axes].iter_mut().enumerate() {
            for entry in &mut line[..row] {
                *entry *= 1.2;
            }
            line[row] = 1.4 * line[row] + 2e-5;
        }
        Self::of(axes, mean, &spread)
    }

    fn draw(&self, index: u32, round: u32) -> Draw {
        let even = point(index, 1 + round);
        let mut normal = [0.0; MOST_AXES];
        for axis in 0..self.axes {
            normal[axis] = quantile(even[axis].clamp(1e-6, 1.0 - 1e-6));
        }
        let mut draw = [0.5; 8];
        for (row, (place, line)) in draw[..self.axes].iter_mut().zip(&self.root).enumerate() {
            *place = self.mean[row] + line[..=row].iter().zip(&normal).map(|(root, z)| root * z).sum::<f64>();
        }
        draw
    }

    fn density(&self, draw: &Draw) -> f64 {
        const LOG_ROOT_TWO_PI: f64 = 0.918_938_533_204_672_7;
        let mut solved = [0.0; MOST_AXES];
        for row in 0..self.axes {
            let known: f64 = (0..row).map(|column| self.root[row][column] * solved[column]).sum();
            solved[row] = (draw[row] - self.mean[row] - known) / self.root[row][row];
        }
        let square: f64 = solved.iter().map(|value| value * value).sum();
        exp(-0.5 * square - self.log_scale - self.axes as f64 * LOG_ROOT_TWO_PI)
    }
}

fn cholesky(matrix: &[[f64; MOST_AXES]; MOST_AXES], axes: usize) -> Option<[[f64; MOST_AXES]; MOST_AXES]> {
    let mut root = [[0.0; MOST_AXES]; MOST_AXES];
    for row in 0..axes {
        for column in 0..=row {
            let known: f64 = (0..column).map(|inner| root[row][inner] * root[column][inner]).sum();
            let left = matrix[row][column] - known;
            if row == column {
                if left <= 0.0 {
                    return None;
                }
                root[row][row] = sqrt(left);
            } else {
                root[row][column] = left / root[column][column];
            }
        }
    }
    Some(root)
}

/// Quantile of the standard normal distribution, by Newton's method on the error function.
fn quantile(share: f64) -> f64 {
    let mut z = 0.0_f64;
    for _ in 0..60 {
        let below = 0.5 * libm::erfc(-z * std::f64::consts::FRAC_1_SQRT_2);
        let density = exp(-0.5 * z * z) * 0.398_942_280_401_432_7;
        let step = ((share - below) / density).clamp(-0.7, 0.7);
        z += step;
        if step.abs() < 1e-12 {
            break;
        }
    }
    z
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn textbook_quantiles_of_the_normal_distribution() {
        // Abramowitz & Stegun, table 26.5 (from memory).
        for (share, z) in [(0.5, 0.0), (0.975, 1.959_964), (0.01, -2.326_348), (0.999, 3.090_232)] {
            assert!((quantile(share) - z).abs() < 1e-5, "{share}: {}", quantile(share));
        }
    }

    /// A narrow normal likelihood in a cube: the refined mean of the likelihood is its exact integral.
    #[test]
    fn law_refinement_finds_the_integral_that_even_draws_miss() {
        let likelihood = |draw: &Draw| {
            let square: f64 = (0..3).map(|axis| ((draw[axis] - 0.37) / 0.02).powi(2)).sum();
            -0.5 * square
        };
        let exact = log((0.02_f64 * 2.506_628_274_631).powi(3));
        let draws: Vec<Draw> = (0..256).map(|index| point(index, 0)).collect();
        let mut cloud = Cloud {
            axes: AXES,
            log_likelihood: draws.iter().map(likelihood).collect(),
            draws,
            proposals: Vec::new(),
            even: 256,
            prospect: f64::INFINITY,
        };
        let estimate = |cloud: &Cloud| {
            let sum: f64 = cloud.log_weights().iter().map(|weight| exp(*weight)).sum();
            log(sum)
        };
        let before = (estimate(&cloud) - exact).abs();
        let residuals = |draw: &Draw| (0..3).map(|axis| (draw[axis] - 0.37) / 0.02).collect();
        let peak = cloud.best().and_then(|start| climb(start, AXES, residuals)).unwrap().measured(residuals);
        for round in 0..2 {
            let new = if round == 0 { cloud.about(&peak) } else { cloud.propose() };
            cloud.log_likelihood.extend(new.iter().map(likelihood));
            cloud.draws.extend(new);
        }
        let after = (estimate(&cloud) - exact).abs();
        assert!(after < 0.5 && after < before, "{before} nats off before, {after} after");
        assert!(cloud.effective() > 10.0);
    }
}
