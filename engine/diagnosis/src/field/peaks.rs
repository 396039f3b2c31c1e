//! Which suspects are worth more worlds, and where: the likeliest world of each, found roughly for all, well for those
//! that come near the best.
//! Promise: follows from the clues alone. Limit: two starts a suspect, the second only where the first has not come to
//! what explains the clues.

use libm::exp;
use machine::Observer;

use super::climb::{Peak, climb, climb_among, robust};
use super::clue::Clue;
use super::refine::Cloud;
use super::{Ground, Sources, Subject};
use crate::cast::Draw;
use crate::likelihood::Weighed;

/// Suspects whose peak is looked for at most.
pub(super) const MOST_CLIMBED: usize = 40;
/// Suspects whose peak is looked for well, and those refined, at most, by the evidence about their peaks.
const MOST_POLISHED: usize = 20;
pub(super) const MOST: usize = 14;
/// A suspect whose evidence lies so many nats below the best is not refined.
const HOPELESS: f64 = 6.0;
/// So many more where its peak is known only roughly.
const ROUGH: f64 = 5.0;
/// A fit that costs more than this may be that of a side peak.
const POOR: f64 = 40.0;
/// Where fewer even draws than this count, the likeliest of them may not be the only one that matters.
const FEW: f64 = 6.0;
/// How much all else counts where a world is looked for that fits one reading.
const NUANCE: f64 = 1e-3;

/// The likeliest world of a subject, and what it is worth.
struct Found {
    subject: Subject,
    peak: Option<Peak>,
    /// Log evidence over what was drawn evenly.
    even: f64,
    log_prior: f64,
    /// Log of prior and evidence, about the peak or over what was drawn evenly.
    evidence: f64,
}

impl Sources<'_> {
    /// The peaks of the subjects that are worth refining: those whose evidence about the peak, or over what was drawn
    /// evenly, comes near the best.
    pub(super) fn peaks(
        &self,
        ground: &Ground<'_>,
        clouds: &[(Subject, Cloud)],
        log_prior: impl Fn(Subject) -> f64,
        (best, most): (f64, usize),
        observer: &mut Observer,
    ) -> Vec<(Subject, Option<Peak>, f64)> {
        let mut found: Vec<Found> = Vec::with_capacity(clouds.len());
        let mut best = best;
        for (subject, cloud) in clouds {
            if cloud.prospect < best - HOPELESS {
                continue;
            }
            let (peak, about) = self.rough(ground, *subject, cloud, observer);
            let (log_prior, even) = (log_prior(*subject), cloud.log_evidence());
            let evidence = log_prior + about.max(even);
            best = best.max(evidence);
            found.push(Found { subject: *subject, peak, even, log_prior, evidence });
        }
        let keep = |found: &mut Vec<Found>, best: f64, most: usize| {
            found
                .sort_by(|left, right| right.evidence.total_cmp(&left.evidence).then(left.subject.cmp(&right.subject)));
            found.retain(|found| found.evidence > best);
            found.truncate(most);
        };
        keep(&mut found, best - HOPELESS - ROUGH, MOST_POLISHED);
        for Found { subject, peak, even, log_prior, evidence } in &mut found {
            let Ground { clues, watch, .. } = ground;
            let polished = peak
                .take()
                .map(|peak| peak.polished(|draw| watch.residuals(clues, &watch.glance(observer, *subject, draw))));
            let about =
                polished.as_ref().map_or(f64::NEG_INFINITY, |peak| self.about(ground, *subject, peak, observer));
            *evidence = *log_prior + about.max(*even);
            best = best.max(*evidence);
            *peak = polished;
        }
        keep(&mut found, best - HOPELESS, most);
        let all: f64 = found.iter().map(|found| exp(found.evidence - best)).sum();
        found.into_iter().map(|found| (found.subject, found.peak, exp(found.evidence - best) / all)).collect()
    }

    /// The peak of a single suspect by a climb from the world that is least off in all: a likelihood would not tell a near
    /// miss from a far one. Where it then fits worse than the few even draws that count, the better of it and of one from
    /// the likeliest of these; where it is a poor fit, of one from the world that fits the worst reading best. Of a pair
    /// from its start only.
    fn rough(
        &self,
        ground: &Ground<'_>,
        subject: Subject,
        cloud: &Cloud,
        observer: &mut Observer,
    ) -> (Option<Peak>, f64) {
        let Ground { clues, watch, .. } = ground;
        let residuals =
            |observer: &mut Observer, draw: &Draw| watch.residuals(clues, &watch.glance(observer, subject, draw));
        let worth = |observer: &mut Observer, peak: Peak| {
            let evidence = self.about(ground, subject, &peak, observer);
            (peak, evidence)
        };
        let found = |climbed: Option<(Peak, f64)>| {
            climbed.map_or((None, f64::NEG_INFINITY), |(peak, evidence)| (Some(peak), evidence))
        };
        let Subject::One(suspect) = subject else {
            let peak = cloud.start().and_then(|start| climb(start, cloud.axes, |draw| residuals(observer, draw)));
            return found(peak.map(|peak| worth(observer, peak)));
        };
        let others = self.residuals_of_cast(clues, suspect);
        let unsaid = self.unsaid(ground, suspect);
        let least = |off: &dyn Fn(usize, &[f64]) -> f64| {
            let each = others.iter().enumerate().map(|(index, (_, residuals))| (off(index, residuals), index));
            each.min_by(|left, right| left.0.total_cmp(&right.0).then(left.1.cmp(&right.1))).map(|(_, index)| index)
        };
        let total = |index: usize, residuals: &[f64]| {
            residuals.iter().map(|residual| robust(*residual)).sum::<f64>() + unsaid[index]
        };
        let Some(first) = least(&total) else { return (None, f64::NEG_INFINITY) };
        let mut from = |start: usize| {
            let peak = climb_among(&others, start, cloud.axes, |draw| residuals(observer, draw))?;
            Some(worth(observer, peak))
        };
        let climbed = from(first);
        let lost = climbed.as_ref().is_none_or(|(_, evidence)| *evidence < cloud.log_evidence());
        let by_worst = |peak: &Peak| {
            let worst = peak.worst()?;
            let second = least(&|index, residuals| residuals[worst].abs() + NUANCE * total(index, residuals))?;
            (second != first).then_some(second)
        };
        let second = match &climbed {
            _ if lost && cloud.effective() < FEW => cloud.likeliest(),
            Some((peak, _)) if peak.cost() > POOR && !lost => by_worst(peak),
            _ => None,
        };
        let again = second.and_then(from);
        found(climbed.into_iter().chain(again).max_by(|left, right| left.1.total_cmp(&right.1)))
    }

    /// What speaks against each of a suspect's worlds that is no number, as a number's square would.
    fn unsaid(&self, ground: &Ground<'_>, suspect: u32) -> Vec<f64> {
        let each = self.atlas.cast.worlds_each;
        let words: Vec<&Weighed> =
            ground.clues.iter().zip(ground.of_cast).filter(|(clue, _)| !clue.is_number()).map(|(_, of)| of).collect();
        let of_world = |world: usize| words.iter().map(|weighed| -2.0 * weighed.log_likelihood[world]).sum();
        (suspect as usize * each..(suspect as usize + 1) * each).map(of_world).collect()
    }

    /// Log evidence about a peak.
    fn about(&self, ground: &Ground<'_>, subject: Subject, peak: &Peak, observer: &mut Observer) -> f64 {
        let mut there = ground.watch.nobody();
        there.take(subject, peak.at, &ground.watch.look(observer, subject, &peak.at));
        self.totals(ground.clues, &there)[0] + peak.log_share()
    }

    /// Where the cast's worlds of a suspect lie and how far off the readings are in them.
    fn residuals_of_cast(&self, clues: &[Clue<'_>], suspect: u32) -> Vec<(Draw, Vec<f64>)> {
        let each = self.atlas.cast.worlds_each;
        let of_world = |world: usize| {
            let cell = |_: &[usize], column: usize| self.atlas.columns[column].cell(world);
            let air = f64::from(self.atlas.air[world]);
            (self.atlas.cast.draw(world), clues.iter().map(|clue| clue.residual(cell, air)).collect())
        };
        (suspect as usize * each..(suspect as usize + 1) * each).map(of_world).collect()
    }
}
