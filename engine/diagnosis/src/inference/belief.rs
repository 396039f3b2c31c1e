//! Belief: what the readings make of the worlds, the suspects and "none of these".
//! Law: posterior ∝ prior × Π likelihood, summed over a suspect's worlds (Bayes).
//! Promise: probabilities sum to one; sums run in a fixed order, so equal sets of readings give equal bits;
//! suspects that all readings treat alike keep their prior odds.
//! Limit: worlds 80 nats (10^35) below the best count as zero.

use libm::{exp, log};

use super::evidence::Readings;
use super::worlds::{Worlds, log_sum};

/// Nats below the best world at which a world's weight is taken as zero.
pub(super) const NEGLIGIBLE_NATS: f64 = 80.0;

/// Posterior probabilities of worlds and suspects.
#[derive(Debug, Clone, PartialEq)]
pub struct Belief {
    world: Vec<f64>,
    suspect: Vec<f64>,
    none_of_these: f64,
    log_weight: Vec<f64>,
    log_evidence_none: f64,
    effective: Vec<f64>,
}

/// The readings rule out every world, and "none of these" had no prior.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("no world allows these readings, and none-of-these has no prior")]
pub struct Impossible;

impl Belief {
    /// Weighs all readings.
    pub fn weigh(worlds: &Worlds, readings: &Readings) -> Result<Self, Impossible> {
        Belief::weigh_all_but(worlds, readings, None)
    }

    /// Weighs all readings except one (an index into `readings.sorted()`): what we would believe without it.
    pub fn weigh_without(worlds: &Worlds, readings: &Readings, index: usize) -> Result<Self, Impossible> {
        Belief::weigh_all_but(worlds, readings, Some(index))
    }

    fn weigh_all_but(worlds: &Worlds, readings: &Readings, left_out: Option<usize>) -> Result<Self, Impossible> {
        let weight = log_weights(worlds, readings, left_out);
        let unexplained = readings.log_unexplained().iter().enumerate();
        let log_evidence_none: f64 = if worlds.none_of_these() > 0.0 {
            unexplained.filter(|(index, _)| Some(*index) != left_out).map(|(_, density)| density).sum()
        } else {
            f64::NEG_INFINITY
        };
        let log_none = log(worlds.none_of_these()) + log_evidence_none;
        let log_some = log(1.0 - worlds.none_of_these());
        let best = weight.iter().fold(log_none, |best, w| best.max(w + log_some));
        if best == f64::NEG_INFINITY {
            return Err(Impossible);
        }
        let share = |log_weight: f64| {
            let nats = log_weight - best;
            if nats < -NEGLIGIBLE_NATS { 0.0 } else { exp(nats) }
        };
        let mut world: Vec<f64> = weight.iter().map(|w| share(w + log_some)).collect();
        let suspects = 0..worlds.suspects() as u32;
        let walk = |suspect: u32| worlds.of_suspect(suspect).iter().map(|&w| w as usize);
        let mut suspect: Vec<f64> = suspects.clone().map(|s| walk(s).map(|w| world[w]).sum()).collect();
        let effective = suspects
            .map(|s| {
                let squares: f64 = walk(s).map(|w| world[w] * world[w]).sum();
                if squares > 0.0 { suspect[s as usize] * suspect[s as usize] / squares } else { 0.0 }
            })
            .collect();
        let total = suspect.iter().sum::<f64>() + share(log_none);
        world.iter_mut().chain(&mut suspect).for_each(|p| *p /= total);
        Ok(Belief {
            world,
            suspect,
            none_of_these: share(log_none) / total,
            log_weight: weight,
            log_evidence_none,
            effective,
        })
    }

    /// Posterior probability of each world.
    pub fn worlds(&self) -> &[f64] {
        &self.world
    }

    /// Posterior probability of each suspect; with `none_of_these` they sum to one.
    pub fn suspects(&self) -> &[f64] {
        &self.suspect
    }

    /// Posterior probability of several suspects together, such as the faults of one part with one remedy;
    /// an unknown suspect has none.
    pub fn together(&self, suspects: &[u32]) -> f64 {
        suspects.iter().filter_map(|&suspect| self.suspect.get(suspect as usize)).sum()
    }

    /// Posterior probability that none of the worlds is the truth.
    pub fn none_of_these(&self) -> f64 {
        self.none_of_these
    }

    /// The probability of whatever holds in the worlds for which `holds` is true: a fault among joint faults,
    /// a part with several modes, a severity above a limit.
    pub fn marginal(&self, holds: impl Fn(usize) -> bool) -> f64 {
        self.world.iter().enumerate().filter(|(world, _)| holds(*world)).map(|(_, p)| p).sum()
    }

    /// The likeliest suspect (the first of equals) and its probability.
    pub fn leader(&self) -> (u32, f64) {
        let first = (0, f64::NEG_INFINITY);
        (0u32..).zip(&self.suspect).fold(first, |best, (s, &p)| if p > best.1 { (s, p) } else { best })
    }

    /// Natural log of the probability of all readings, for each suspect of the worlds that were weighed.
    pub fn log_evidence(&self, worlds: &Worlds) -> Vec<f64> {
        (0..worlds.suspects() as u32).map(|suspect| self.log_evidence_of(worlds, suspect)).collect()
    }

    /// Natural log of the probability of all readings, whoever is to blame, none of these included.
    pub fn log_evidence_of_all(&self, worlds: &Worlds) -> f64 {
        let none = worlds.none_of_these();
        let parts =
            [log(1.0 - none) + log_sum(&self.log_weight, 0..self.log_weight.len()), log(none) + self.log_evidence_none];
        log_sum(&parts, 0..2)
    }

    fn log_evidence_of(&self, worlds: &Worlds, suspect: u32) -> f64 {
        let prior = worlds.log_suspect_prior()[suspect as usize];
        let own = worlds.of_suspect(suspect).iter().map(|&world| world as usize);
        if prior == f64::NEG_INFINITY { prior } else { log_sum(&self.log_weight, own) - prior }
    }

    /// log10 of P(readings | leader) / P(readings | none of these): below 0 no verdict, 0–1 weak, 2 or more good.
    /// Nothing when none-of-these has no prior.
    pub fn evidence_level(&self, worlds: &Worlds) -> Option<f64> {
        let none = self.log_evidence_none;
        let leader = self.log_evidence_of(worlds, self.leader().0);
        none.is_finite().then(|| (leader - none) / std::f64::consts::LN_10)
    }

    /// Kish's effective number of a suspect's worlds; below 10 its belief is coarse and it wants more worlds.
    pub fn effective_worlds(&self, suspect: u32) -> f64 {
        self.effective[suspect as usize]
    }

    /// Entropy over suspects and none-of-these, in bits.
    pub fn entropy_bits(&self) -> f64 {
        let all = self.suspect.iter().chain(std::iter::once(&self.none_of_these));
        all.map(|&p| surprise(p)).sum::<f64>().max(0.0)
    }
}

/// −p·log2 p, zero at zero.
pub(super) fn surprise(p: f64) -> f64 {
    if p > 0.0 { -p * libm::log2(p) } else { 0.0 }
}

/// Log prior plus the log likelihoods of the readings in use, added in their sorted order.
fn log_weights(worlds: &Worlds, readings: &Readings, left_out: Option<usize>) -> Vec<f64> {
    let mut weight = worlds.log_prior().to_vec();
    for (index, reading) in readings.sorted().iter().enumerate() {
        if Some(index) != left_out {
            for (weight, likelihood) in weight.iter_mut().zip(reading.log_likelihood()) {
                *weight += likelihood;
            }
        }
    }
    weight
}
