//! What a verdict rests on: the reading without which it would fall, and the readings it calls wild.
//! Idea and figures: leave one reading out and look at the winner; sum P(wild | winner, reading) over the
//! readings (simulated in docs/oracles.md: the first halves wrong-place verdicts, the second sees unmodeled faults).
//! Limit: the same wrong place probed twice hides from the first; only the proof of the repair closes that gap.

use libm::{exp, log};

use super::belief::{Belief, Impossible, NEGLIGIBLE_NATS};
use super::evidence::{Evidence, Readings};
use super::worlds::Worlds;

/// A winner that falls below this without one reading rests on it.
pub const KEYSTONE_LEVEL: f64 = 0.6;

/// The reading that a verdict rests on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Keystone {
    /// Index into `readings.sorted()`.
    pub reading: usize,
    /// The winner's probability without it.
    pub without: f64,
}

/// How many readings the winner has to call wild.
#[derive(Debug, Clone, PartialEq)]
pub struct Outliers {
    /// Probability that each reading is wild if the winner is the truth, in the order of `readings.sorted()`.
    pub each: Vec<f64>,
    /// Their sum: from 0.5 measure the worst again, from 1.5 no suspect explains the readings.
    pub expected: f64,
}

/// The winner's probability without each reading in turn; the winner may be several suspects with one remedy.
pub fn probability_without_each(worlds: &Worlds, readings: &Readings, winner: &[u32]) -> Result<Vec<f64>, Impossible> {
    // Log weights by the readings before and behind each one.
    let add = |weight: &mut [f64], reading: &Evidence| {
        weight.iter_mut().zip(reading.log_likelihood()).for_each(|(weight, likelihood)| *weight += likelihood);
    };
    let sorted = readings.sorted();
    let mut behind = vec![vec![0.0; worlds.len()]];
    for reading in sorted.iter().skip(1).rev() {
        let mut more = behind[behind.len() - 1].clone();
        add(&mut more, reading);
        behind.push(more);
    }
    let unexplained = readings.log_unexplained();
    let log_some = log(1.0 - worlds.none_of_these());
    let mut before: Vec<f64> = worlds.log_prior().iter().map(|prior| prior + log_some).collect();
    let mut all = Vec::with_capacity(sorted.len());
    for (index, (reading, behind)) in sorted.iter().zip(behind.iter().rev()).enumerate() {
        let others = unexplained.iter().enumerate().filter(|(other, _)| *other != index);
        let none = log(worlds.none_of_these());
        let none = if none.is_finite() { none + others.map(|(_, density)| density).sum::<f64>() } else { none };
        let weight: Vec<f64> = before.iter().zip(behind).map(|(before, behind)| before + behind).collect();
        let best = weight.iter().copied().fold(none, f64::max);
        if best == f64::NEG_INFINITY {
            return Err(Impossible);
        }
        let share = |weight: f64| if weight - best < -NEGLIGIBLE_NATS { 0.0 } else { exp(weight - best) };
        let (mut won, mut total) = (0.0, share(none));
        for suspect in 0..worlds.suspects() as u32 {
            let own: f64 = worlds.of_suspect(suspect).iter().map(|world| share(weight[*world as usize])).sum();
            total += own;
            won += if winner.contains(&suspect) { own } else { 0.0 };
        }
        all.push(won / total);
        add(&mut before, reading);
    }
    Ok(all)
}

/// The reading whose absence hurts the winner most, if it would then fall below `level`.
pub fn keystone(
    worlds: &Worlds,
    readings: &Readings,
    winner: &[u32],
    level: f64,
) -> Result<Option<Keystone>, Impossible> {
    let without = probability_without_each(worlds, readings, winner)?;
    let worst = without.into_iter().enumerate().min_by(|a, b| a.1.total_cmp(&b.1));
    Ok(worst.filter(|worst| worst.1 < level).map(|(reading, without)| Keystone { reading, without }))
}

/// The expected number of wild readings, were the winner the truth.
pub fn expected_outliers(worlds: &Worlds, belief: &Belief, readings: &Readings, winner: &[u32]) -> Outliers {
    let of_winner = || winner.iter().flat_map(|&s| worlds.of_suspect(s)).map(|&world| world as usize);
    let mass: f64 = of_winner().map(|world| belief.worlds()[world]).sum();
    let share = |reading: &super::Evidence| {
        let wild: f64 = of_winner().map(|world| belief.worlds()[world] * reading.wild(world)).sum();
        if mass > 0.0 { wild / mass } else { 0.0 }
    };
    let each: Vec<f64> = readings.sorted().iter().map(share).collect();
    Outliers { expected: each.iter().sum(), each }
}
