//! Chance from a seed: the same seed and name give the same draws, in whatever order they are asked for.
//! Law: SplitMix64 (Steele, Lea & Flood 2014, `from memory`); normal numbers by Box and Muller (1958).
//! Promise: what one name draws tells nothing of another's. Limit: not for secrets.

use libm::{cos, log, sqrt};

/// A stream of draws.
#[derive(Clone, Debug)]
pub struct Chance(u64);

impl Chance {
    /// The stream of a seed and a name.
    pub fn of(seed: u64, name: &str) -> Self {
        // FNV-1a over the name, then mixed with the seed.
        let named = name
            .bytes()
            .fold(0xcbf2_9ce4_8422_2325, |hash: u64, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3));
        let mut mixed = Self(seed ^ 0x51ed_270b_7d3c_a1f5);
        Self(mixed.bits() ^ named)
    }

    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// Even from 0 to 1, 1 excluded.
    pub fn even(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Even between two numbers.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + self.even() * (high - low)
    }

    /// Normal with mean 0 and deviation 1.
    pub fn normal(&mut self) -> f64 {
        let radius = sqrt(-2.0 * log(1.0 - self.even()));
        radius * cos(std::f64::consts::TAU * self.even())
    }

    /// True with that probability.
    pub fn happens(&mut self, probability: f64) -> bool {
        self.even() < probability
    }

    /// One of so many, all alike; 0 of none.
    pub fn one_of(&mut self, count: usize) -> usize {
        ((self.even() * count as f64) as usize).min(count.saturating_sub(1))
    }

    /// An index drawn by weight; nothing when all weigh nothing.
    pub fn by_weight(&mut self, weights: &[f64]) -> Option<usize> {
        let total: f64 = weights.iter().sum();
        let mut left = self.even() * total;
        let found = weights.iter().position(|weight| {
            left -= weight;
            left < 0.0
        });
        found.or_else(|| weights.iter().rposition(|weight| *weight > 0.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn textbook_moments_of_even_and_normal_draws() {
        let mut chance = Chance::of(1, "moments");
        let draws = 40_000;
        let even: Vec<f64> = (0..draws).map(|_| chance.even()).collect();
        let normal: Vec<f64> = (0..draws).map(|_| chance.normal()).collect();
        let mean = |all: &[f64]| all.iter().sum::<f64>() / all.len() as f64;
        let square = |all: &[f64]| all.iter().map(|x| x * x).sum::<f64>() / all.len() as f64;
        // Four standard errors of the mean and of the mean square.
        assert!((mean(&even) - 0.5).abs() < 4.0 * 0.2887 / 200.0);
        assert!((square(&even) - 1.0 / 3.0).abs() < 4.0 * 0.2981 / 200.0);
        assert!(mean(&normal).abs() < 4.0 / 200.0);
        assert!((square(&normal) - 1.0).abs() < 4.0 * std::f64::consts::SQRT_2 / 200.0);
    }

    #[test]
    fn law_draws_by_weight_come_as_often_as_they_weigh() {
        let mut chance = Chance::of(2, "weights");
        let mut counts = [0; 3];
        for _ in 0..10_000 {
            counts[chance.by_weight(&[1.0, 0.0, 3.0]).unwrap()] += 1;
        }
        assert_eq!(counts[1], 0);
        assert!((f64::from(counts[2]) - 7500.0).abs() < 4.0 * 43.3, "{counts:?}");
        assert_eq!(chance.by_weight(&[0.0, 0.0]), None);
    }

    #[test]
    fn law_names_are_streams_of_their_own() {
        let first = |seed, name| Chance::of(seed, name).even();
        assert_eq!(first(7, "a"), first(7, "a"));
        assert!(first(7, "a") != first(7, "b") && first(7, "a") != first(8, "a"));
    }
}
