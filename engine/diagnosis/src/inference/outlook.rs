//! Looking ahead from a belief: which outcomes a test may have, what each would mean, how many bits it buys.
//! Law: I(suspect; outcome) = H(outcome) − H(outcome | suspect) (Shannon), by one pass over the worlds.
//! Promise: 0 ≤ bits ≤ entropy; suspects with equal signatures share every bit.
//! Limit: none-of-these and suspects below the given share are left out, the rest is scaled to one.

use libm::exp;

use super::belief::{Belief, surprise};
use super::test::Test;
use super::worlds::Worlds;

/// Worlds whose share of their suspect is below this are left out of planning: with 100,000 of them, no forecast is off
/// by more than a ten-millionth.
const NEGLIGIBLE_WORLD: f64 = 1e-12;

/// The live part of a belief, laid out for one pass per test.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    suspects: Vec<u32>,
    mass: Vec<f64>,
    starts: Vec<usize>,
    world: Vec<u32>,
    weight: Vec<f64>,
}

/// What a test may show: the joint probability of live suspects and outcomes.
#[derive(Debug, Clone, PartialEq)]
pub struct Forecast {
    outcomes: usize,
    joint: Vec<f64>,
}

/// What one outcome of a test would mean.
#[derive(Debug, Clone, PartialEq)]
pub struct Meaning {
    /// How probable the outcome is.
    pub probability: f64,
    /// The suspects after it, likeliest first.
    pub suspects: Vec<(u32, f64)>,
}

impl Outlook {
    /// Keeps the suspects with at least the given share of the explained mass.
    pub fn new(worlds: &Worlds, belief: &Belief, negligible: f64) -> Self {
        Self::keep(worlds, belief.suspects(), |world| belief.worlds()[world], negligible)
    }

    /// The outlook before any reading: worlds that were drawn from a belief speak for it by their priors.
    pub fn of_prior(worlds: &Worlds, negligible: f64) -> Self {
        let mass: Vec<f64> = worlds.log_suspect_prior().iter().map(|prior| exp(*prior)).collect();
        Self::keep(worlds, &mass, |world| exp(worlds.log_prior()[world]), negligible)
    }

    fn keep(worlds: &Worlds, suspects: &[f64], weight_of: impl Fn(usize) -> f64, negligible: f64) -> Self {
        let explained: f64 = suspects.iter().sum();
        let mut outlook = Outlook { suspects: vec![], mass: vec![], starts: vec![0], world: vec![], weight: vec![] };
        for (suspect, &mass) in (0u32..).zip(suspects) {
            if mass <= 0.0 || mass < negligible * explained {
                continue;
            }
            for &world in worlds.of_suspect(suspect) {
                let weight = weight_of(world as usize);
                if weight > NEGLIGIBLE_WORLD * mass {
                    outlook.world.push(world);
                    outlook.weight.push(weight);
                }
            }
            let from = outlook.starts[outlook.suspects.len()];
            outlook.suspects.push(suspect);
            outlook.mass.push(outlook.weight[from..].iter().sum());
            outlook.starts.push(outlook.world.len());
        }
        outlook.scaled()
    }

    /// The live suspects, by ascending index.
    pub fn suspects(&self) -> &[u32] {
        &self.suspects
    }

    /// The probabilities of the live suspects; they sum to one.
    pub fn mass(&self) -> &[f64] {
        &self.mass
    }

    /// Entropy over the live suspects, in bits.
    pub fn entropy_bits(&self) -> f64 {
        self.mass.iter().map(|&p| surprise(p)).sum::<f64>().max(0.0)
    }

    /// Keeps only suspects with at least the given share, scaled to one again.
    pub fn among_live(&self, share: f64) -> Outlook {
        let mut live = Outlook { suspects: vec![], mass: vec![], starts: vec![0], world: vec![], weight: vec![] };
        for (at, ends) in self.starts.windows(2).enumerate() {
            if self.mass[at] >= share {
                live.suspects.push(self.suspects[at]);
                live.mass.push(self.mass[at]);
                live.world.extend(&self.world[ends[0]..ends[1]]);
                live.weight.extend(&self.weight[ends[0]..ends[1]]);
                live.starts.push(live.world.len());
            }
        }
        live.scaled()
    }

    fn scaled(mut self) -> Outlook {
        let total: f64 = self.mass.iter().sum();
        self.mass.iter_mut().chain(&mut self.weight).for_each(|share| *share /= total);
        self
    }

    /// Foresees a test, which has to be made for the same worlds.
    pub fn forecast(&self, test: &Test) -> Forecast {
        let outcomes = test.kernel().outcomes();
        let mut joint = vec![0.0; self.suspects.len() * outcomes];
        let mut in_class = [0.0; 256];
        for (ends, joint) in self.starts.windows(2).zip(joint.chunks_exact_mut(outcomes)) {
            in_class.fill(0.0);
            for (&world, weight) in self.world[ends[0]..ends[1]].iter().zip(&self.weight[ends[0]..ends[1]]) {
                in_class[test.classes()[world as usize] as usize] += weight;
            }
            for (class, &mass) in in_class.iter().enumerate() {
                if mass > 0.0 {
                    let row = test.kernel().row(class);
                    joint.iter_mut().zip(row).for_each(|(cell, p)| *cell += mass * p);
                }
            }
        }
        Forecast { outcomes, joint }
    }

    /// What each outcome of a test would mean.
    pub fn meanings(&self, test: &Test) -> Vec<Meaning> {
        let forecast = self.forecast(test);
        (0..forecast.outcomes)
            .map(|outcome| {
                let posterior = forecast.posterior(outcome);
                let mut suspects: Vec<(u32, f64)> = self.suspects.iter().copied().zip(posterior).collect();
                suspects.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
                Meaning { probability: forecast.probability(outcome), suspects }
            })
            .collect()
    }
}

impl Forecast {
    /// How many outcomes there are.
    pub fn outcomes(&self) -> usize {
        self.outcomes
    }

    /// The joint probabilities of the live suspects with one outcome.
    pub fn joint(&self, outcome: usize) -> impl Iterator<Item = f64> + '_ {
        self.joint.iter().skip(outcome).step_by(self.outcomes).copied()
    }

    /// How probable an outcome is.
    pub fn probability(&self, outcome: usize) -> f64 {
        self.joint(outcome).sum()
    }

    /// The live suspects after an outcome; all zero after one that cannot come.
    pub fn posterior(&self, outcome: usize) -> Vec<f64> {
        let total = self.probability(outcome);
        self.joint(outcome).map(|p| if total > 0.0 { p / total } else { 0.0 }).collect()
    }

    /// Entropy of the outcome itself, in bits.
    pub fn outcome_bits(&self) -> f64 {
        (0..self.outcomes).map(|outcome| surprise(self.probability(outcome))).sum()
    }

    /// Mutual information of suspect and outcome, in bits.
    pub fn bits(&self) -> f64 {
        // H(outcome | suspect) = Σ joint terms − Σ suspect terms.
        let joint: f64 = self.joint.iter().map(|&p| surprise(p)).sum();
        let suspect: f64 = self.joint.chunks_exact(self.outcomes).map(|row| surprise(row.iter().sum())).sum();
        (self.outcome_bits() - (joint - suspect)).max(0.0)
    }
}
