//! How well a suspect could explain the clues at best: where its worlds lie on both sides of a number that was read, some
//! place between them hits it, though none of the few that were drawn may come near.
//! Limit: each reading is taken alone; that one place hits them all is what the climb then has to find.

use libm::log;
use quantity::{Dimension, Reading};

use super::clue::{Clue, ClueSort};
use super::{Ground, Sources};
use crate::spread::sigma;

/// A number this many σ beyond a suspect's worlds is still within reach, and by this share of what they span.
const SIGMAS: f64 = 4.0;
const BEYOND: f64 = 0.15;
/// ½·ln 2π.
const LOG_ROOT_TWO_PI: f64 = 0.918_938_533_204_672_7;

impl Sources<'_> {
    /// Suspects with the log evidence that they could have at best, best first.
    pub(super) fn prospects(&self, ground: &Ground<'_>) -> Vec<(f64, u32)> {
        let mut bests: Vec<f64> = ground.log_odds.clone();
        let mut spans = vec![0.0_f64; bests.len()];
        for (clue, weighed) in ground.clues.iter().zip(ground.of_cast) {
            let hit = self.hit(clue);
            let worlds = weighed.log_likelihood.chunks_exact(self.atlas.cast.worlds_each).enumerate();
            for ((suspect, worlds), (best, span)) in worlds.zip(bests.iter_mut().zip(&mut spans)) {
                let drawn = worlds.iter().copied().fold(f64::NEG_INFINITY, f64::max);
                let reached = hit.as_ref().and_then(|hit| hit.within(self, suspect));
                *best += drawn.max(reached.map_or(f64::NEG_INFINITY, |(density, _)| density));
                *span = span.max(reached.map_or(0.0, |(_, span)| span));
            }
        }
        // A severity that is known this well is one of so many.
        let narrowed = bests.iter().zip(&spans).map(|(best, span)| best - log(1.0 + span));
        let mut all: Vec<(f64, u32)> = narrowed.zip(0..).collect();
        all.sort_by(|left, right| right.0.total_cmp(&left.0).then(left.1.cmp(&right.1)));
        all
    }

    fn hit(&self, clue: &Clue<'_>) -> Option<Hit> {
        let ClueSort::Read { column, probe, reading: Reading::Number(read) } = &clue.sort else { return None };
        let unsigned = probe.dimension() == Dimension::Current;
        let read = if unsigned { read.abs() } else { *read };
        Some(Hit { column: *column, unsigned, read, sigma: sigma(probe, read) })
    }
}

/// A number that a world may hit.
struct Hit {
    column: usize,
    unsigned: bool,
    read: f64,
    sigma: f64,
}

impl Hit {
    /// Log density of an exact hit, and how many σ the suspect's worlds span; nothing where it is out of reach.
    fn within(&self, sources: &Sources<'_>, suspect: usize) -> Option<(f64, f64)> {
        let each = sources.atlas.cast.worlds_each;
        let column = &sources.atlas.columns[self.column];
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for world in suspect * each..(suspect + 1) * each {
            let shown = column.cell(world).middle();
            if shown.is_finite() {
                let shown = if self.unsigned { shown.abs() } else { shown };
                (low, high) = (low.min(shown), high.max(shown));
            }
        }
        let margin = SIGMAS * self.sigma + BEYOND * (high - low);
        let reached = self.read >= low - margin && self.read <= high + margin;
        reached.then(|| (-log(self.sigma) - LOG_ROOT_TWO_PI, (high - low) / self.sigma))
    }
}
