//! More worlds where the readings have left too few: drawn about those that still fit, weighed so that nothing shifts.
//! Law: adaptive importance sampling with deterministic-mixture weights (Owen & Zhou 2000, `from memory`): a world x of
//! a suspect counts 1/(N·1 + Σ K·g(x)), N the even draws of the cast and g the proposals of each round: normals cut off
//! at the cube's faces, axis after axis, so that no draw is lost.
//! The first proposal is the normal about the likeliest world (`climb`); the second fits what has been drawn by then.
//! Promise: follows from the set of readings alone, never from the order in which they came; the cast itself is not
//! changed. Limit: one peak a suspect; where the machine changes its state within the peak the second round corrects.

use libm::{exp, log};

use super::climb::{Peak, cholesky, solve};
use crate::cast::{Draw, MOST_AXES, point};

/// A suspect is refined when fewer of its worlds than this still count.
pub(crate) const ENOUGH: f64 = 10.0;
/// Worlds drawn a round, by the least share of the odds that its suspect may have for so many: who hardly counts is not
/// asked as much.
const ROUND: [(f64, usize); 3] = [(0.05, 32), (0.005, 16), (0.0, 8)];
/// Worlds that a tempered fit has to rest on.
const FIT: f64 = 10.0;

/// A normal proposal, cut off at the cube's faces.
#[derive(Clone, Debug)]
pub(crate) struct Proposal {
    axes: usize,
    mean: [f64; MOST_AXES],
    /// Lower triangle of the covariance's root.
    root: [[f64; MOST_AXES]; MOST_AXES],
    /// How many worlds are drawn by it.
    count: usize,
}

/// What a proposal says of one axis, given the axes before it.
struct Cut {
    mean: f64,
    sigma: f64,
    /// Share of the normal below the cube, and within it.
    below: f64,
    within: f64,
}

impl Cut {
    /// Where less of the normal than this lies in the cube, the axis is drawn evenly.
    const LEAST: f64 = 1e-6;

    fn of(mean: f64, sigma: f64) -> Self {
        let below = share_below(-mean / sigma);
        Self { mean, sigma, below, within: share_below((1.0 - mean) / sigma) - below }
    }

    /// The place on the axis that so large a share lies below.
    fn at(&self, share: f64) -> f64 {
        if self.within < Self::LEAST {
            return share;
        }
        let z = quantile((self.below + share * self.within).clamp(1e-9, 1.0 - 1e-9));
        (self.mean + self.sigma * z).clamp(0.0, 1.0)
    }

    fn density(&self, at: f64) -> f64 {
        const ROOT_TWO_PI: f64 = 2.506_628_274_631_000_2;
        if self.within < Self::LEAST {
            return 1.0;
        }
        let z = (at - self.mean) / self.sigma;
        exp(-0.5 * z * z) / (self.sigma * ROOT_TWO_PI * self.within)
    }
}

/// One suspect's worlds while it is refined.
#[derive(Clone, Debug, Default)]
pub(crate) struct Cloud {
    /// How many coordinates of a draw matter.
    pub(crate) axes: usize,
    draws: Vec<Draw>,
    log_likelihood: Vec<f64>,
    /// Density of all draws together at each of them, the cast's own even over the cube.
    density: Vec<f64>,
    proposals: Vec<Proposal>,
    /// How many of the draws are even over the cube.
    even: usize,
    /// Where its peak is looked for, if that is known.
    start: Option<Draw>,
    /// Log evidence that it could have at best, its odds included.
    pub(crate) prospect: f64,
}

impl Cloud {
    /// A cloud of draws that are even over the cube.
    pub(super) fn even(axes: usize, draws: Vec<Draw>, log_likelihood: Vec<f64>, prospect: f64) -> Self {
        let even = draws.len();
        let density = vec![even as f64; even];
        Self { axes, draws, log_likelihood, density, proposals: Vec::new(), even, start: None, prospect }
    }

    /// The same whose peak is looked for from a place.
    pub(super) fn starting(self, start: Draw) -> Self {
        Self { start: Some(start), ..self }
    }

    /// Where its peak is looked for: the place it was given, else the likeliest so far.
    pub(super) fn start(&self) -> Option<Draw> {
        self.start.or_else(|| self.likeliest().map(|index| self.draws[index]))
    }

    /// Log of the share of the suspect's prior that each world stands for.
    pub(crate) fn log_shares(&self) -> impl Iterator<Item = f64> + '_ {
        self.density.iter().map(|density| -log(*density))
    }

    /// Takes in draws of the last proposal.
    pub(super) fn take(&mut self, draws: &[Draw], log_likelihood: Vec<f64>) {
        for draw in draws {
            let drawn: f64 = self.proposals.iter().map(|proposal| proposal.count as f64 * proposal.density(draw)).sum();
            self.density.push(self.even as f64 + drawn);
        }
        self.draws.extend_from_slice(draws);
        self.log_likelihood.extend(log_likelihood);
    }

    /// How many worlds still count.
    pub(crate) fn effective(&self) -> f64 {
        effective(&self.log_weights(), 1.0)
    }

    fn log_weights(&self) -> Vec<f64> {
        self.log_shares().zip(&self.log_likelihood).map(|(share, likelihood)| share + likelihood).collect()
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

    /// The likeliest draw so far, by index.
    pub(super) fn likeliest(&self) -> Option<usize> {
        let best = self.log_likelihood.iter().enumerate().max_by(|left, right| left.1.total_cmp(right.1));
        best.map(|(index, _)| index)
    }

    /// Places to draw worlds at about a peak.
    pub(crate) fn about(&mut self, peak: &Peak, share: f64) -> Vec<Draw> {
        match Proposal::about(peak, round(share)) {
            Some(proposal) => self.adopt(proposal, 0),
            None => Vec::new(),
        }
    }

    /// Places to draw worlds at by what has been drawn so far; nothing when there is nothing to fit.
    pub(crate) fn propose(&mut self, share: f64) -> Vec<Draw> {
        let weights = self.log_weights();
        let temper = [1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 9.0, 14.0, 20.0, 40.0];
        let Some(heat) = temper.into_iter().find(|heat| effective(&weights, *heat) >= FIT) else { return Vec::new() };
        match Proposal::fit(self.axes, &self.draws, &weights, heat, round(share)) {
            Some(proposal) => self.adopt(proposal, 1),
            None => Vec::new(),
        }
    }

    fn adopt(&mut self, proposal: Proposal, round: u32) -> Vec<Draw> {
        for (density, draw) in self.density.iter_mut().zip(&self.draws) {
            *density += proposal.count as f64 * proposal.density(draw);
        }
        let draws = (0..proposal.count).map(|index| proposal.draw(index as u32, round)).collect();
        self.proposals.push(proposal);
        draws
    }
}

/// How many worlds are drawn a round of a suspect with that share of the odds.
fn round(share: f64) -> usize {
    ROUND.iter().find(|(least, _)| share >= *least).map_or(0, |(_, count)| *count)
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
    fn about(peak: &Peak, count: usize) -> Option<Self> {
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
        Self::of(peak.axes, mean, &spread, count)
    }

    fn of(axes: usize, mean: [f64; MOST_AXES], spread: &[[f64; MOST_AXES]; MOST_AXES], count: usize) -> Option<Self> {
        Some(Self { axes, mean, root: cholesky(spread, axes)?, count })
    }

    fn fit(axes: usize, draws: &[Draw], log_weights: &[f64], heat: f64, count: usize) -> Option<Self> {
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
        Self::of(axes, mean, &spread, count)
    }

    fn draw(&self, index: u32, round: u32) -> Draw {
        let even = point(index, 1 + round);
        let mut draw: Draw = [0.5; MOST_AXES];
        self.along(|axis, cut| {
            draw[axis] = cut.at(even[axis].clamp(1e-6, 1.0 - 1e-6));
            draw[axis]
        });
        draw
    }

    fn density(&self, draw: &Draw) -> f64 {
        let mut density = 1.0;
        self.along(|axis, cut| {
            density *= cut.density(draw[axis]);
            draw[axis]
        });
        density
    }

    /// Goes through the axes; `place` tells where on the axis one is.
    fn along(&self, mut place: impl FnMut(usize, &Cut) -> f64) {
        let mut normal = [0.0; MOST_AXES];
        for (row, line) in self.root[..self.axes].iter().enumerate() {
            let mean = self.mean[row] + line[..row].iter().zip(&normal).map(|(root, z)| root * z).sum::<f64>();
            let cut = Cut::of(mean, line[row]);
            normal[row] = (place(row, &cut) - mean) / line[row];
        }
    }
}

/// Share of the standard normal distribution below a place.
fn share_below(z: f64) -> f64 {
    0.5 * libm::erfc(-z * std::f64::consts::FRAC_1_SQRT_2)
}

/// Quantile of the standard normal distribution, by Newton's method on the error function.
fn quantile(share: f64) -> f64 {
    let mut z = 0.0_f64;
    for _ in 0..60 {
        let below = share_below(z);
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
    use crate::cast::AXES;
    use crate::field::climb::climb;

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
        let log_likelihood = draws.iter().map(likelihood).collect();
        let mut cloud = Cloud::even(AXES, draws, log_likelihood, f64::INFINITY);
        let estimate = |cloud: &Cloud| {
            let sum: f64 = cloud.log_weights().iter().map(|weight| exp(*weight)).sum();
            log(sum)
        };
        let before = (estimate(&cloud) - exact).abs();
        let residuals = |draw: &Draw| (0..3).map(|axis| (draw[axis] - 0.37) / 0.02).collect();
        let peak = cloud.start().and_then(|start| climb(start, AXES, residuals)).unwrap().polished(residuals);
        for round in 0..2 {
            let new = if round == 0 { cloud.about(&peak, 1.0) } else { cloud.propose(1.0) };
            cloud.take(&new, new.iter().map(likelihood).collect());
        }
        let after = (estimate(&cloud) - exact).abs();
        assert!(after < 0.5 && after < before, "{before} nats off before, {after} after");
        assert!(cloud.effective() > 10.0);
    }
}
