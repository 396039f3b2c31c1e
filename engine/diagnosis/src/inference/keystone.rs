//! What a verdict rests on: the reading without which it would fall, and the readings it calls wild.
//! Idea and figures: leave one reading out and look at the winner; sum P(wild | winner, reading) over the
//! readings (simulated in docs/oracles.md: the first halves wrong-place verdicts, the second sees unmodeled faults).
//! Limit: the same wrong place probed twice hides from the first; only the proof of the repair closes that gap.

use super::belief::{Belief, Impossible};
use super::evidence::Readings;
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
    let without = |index| Ok(Belief::weigh_without(worlds, readings, index)?.together(winner));
    (0..readings.len()).map(without).collect()
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
