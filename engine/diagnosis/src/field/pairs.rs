//! Two faults at once: drawn only where one of them leaves something unexplained.
//! Law: a pair's odds are the product of its faults' odds, times what makes them come together. Source: docs/oracles.md
//! (a single-fault engine names one of two in nine of ten; the rest, and the second fault, want pairs).
//! Limit: pairs among the suspects that explain most, or what the others leave; three faults at once are worked one
//! after the other.

use libm::{exp, log};
use machine::Observer;

use super::clue::{Clue, ClueSort};
use super::refine::Cloud;
use super::{COOL, Drawn, Ground, Sources, Subject, likelier};
use crate::cast::point;
use crate::likelihood::Weighed;

/// Suspects whose pairs are looked at, and those that each of several looks at the clues adds.
const PAIRED: usize = 14;
const LEADING: usize = 5;
/// Even draws a pair.
const EVEN: usize = 12;
/// Pairs that are refined, by cooled evidence.
const REFINED: usize = 5;
/// A reading that the best single fault calls wild with this probability asks for pairs.
const UNEXPLAINED: f64 = 0.5;
/// A remedy that failed asks for pairs where all else gave its suspects this share.
const SPOKEN_FOR: f64 = 0.3;
/// Odds of two faults at once, over the product of their shares (estimate: about one job in ten has two faults).
const TOGETHER: f64 = 0.2;
/// How much likelier that is where both follow from what happened (estimate).
const SHARED_EXPOSURE: f64 = 5.0;

impl<'a> Sources<'a> {
    /// Pairs, with their worlds drawn, where the likeliest world leaves a reading unexplained or a remedy changed nothing
    /// that all else spoke for; else none.
    pub(super) fn pairs(&self, ground: &Ground<'_>, drawn: &mut Drawn, observer: &mut Observer) -> Vec<(u32, u32)> {
        let wild = self.unexplained(ground, drawn);
        if wild.is_empty() && !self.failed_against_the_odds(ground) {
            return Vec::new();
        }
        self.draw_pairs(ground, &wild, drawn, observer)
    }

    fn failed_against_the_odds(&self, ground: &Ground<'_>) -> bool {
        let is_tried = |clue: &Clue<'_>| matches!(clue.sort, ClueSort::Tried { .. });
        if !ground.clues.iter().any(is_tried) {
            return false;
        }
        let others = ground.clues.iter().zip(ground.of_cast).filter(|(clue, _)| !is_tried(clue));
        let others: Vec<&Weighed> = others.map(|(_, weighed)| weighed).collect();
        let shares = self.coarse_shares(&others, &ground.log_odds);
        let spoken_for = |clue: &Clue<'_>| match clue.sort {
            ClueSort::Tried { fixes, fixed: false } => {
                fixes.iter().map(|suspect| shares[*suspect as usize]).sum::<f64>() >= SPOKEN_FOR
            }
            _ => false,
        };
        ground.clues.iter().any(spoken_for)
    }

    /// The readings that the likeliest world calls wild, by index of their clue.
    fn unexplained(&self, ground: &Ground<'_>, drawn: &Drawn) -> Vec<usize> {
        let cast = &self.atlas.cast;
        let of_cast =
            (0..cast.len()).map(|world| (ground.log_odds[cast.suspect_of(world)] + ground.totals[world], world));
        let totals = self.totals(ground.clues, &drawn.seen);
        let of_drawn = totals.iter().zip(&drawn.seen.subjects).enumerate().map(|(index, (total, subject))| {
            let odds = subject.suspects().map(|(suspect, _)| ground.log_odds[suspect as usize]).sum::<f64>();
            (odds + total, cast.len() + index)
        });
        let best = of_cast.chain(of_drawn).max_by(|left, right| left.0.total_cmp(&right.0).then(right.1.cmp(&left.1)));
        let Some((_, best)) = best else { return Vec::new() };
        let wild = |(clue, weighed): (&Clue<'_>, &Weighed)| match best.checked_sub(cast.len()) {
            None => weighed.wild.get(best).copied().unwrap_or(0.0),
            Some(index) => self.weigh_seen(clue, &drawn.seen).wild.get(index).copied().unwrap_or(0.0),
        };
        let all = ground.clues.iter().zip(ground.of_cast).map(wild).enumerate();
        all.filter(|(_, wild)| *wild >= UNEXPLAINED).map(|(index, _)| index).collect()
    }

    /// Suspects that may be one of two: those that lead by all clues, by what a remedy left behind or was tried upon, by
    /// what the best single fault explains, and by each reading that it does not.
    fn leading(&self, ground: &Ground<'_>, wild: &[usize]) -> Vec<u32> {
        let is_read = |clue: &Clue<'_>| matches!(clue.sort, ClueSort::Read { .. });
        let is_tried = |clue: &Clue<'_>| matches!(clue.sort, ClueSort::Tried { .. });
        let mut looks: Vec<Vec<usize>> = Vec::new();
        let mut look = |keep: &dyn Fn(usize, &Clue<'_>) -> bool| {
            let kept =
                ground.clues.iter().enumerate().filter(|(index, clue)| keep(*index, clue)).map(|(index, _)| index);
            let kept: Vec<usize> = kept.collect();
            if !looks.contains(&kept) {
                looks.push(kept);
            }
        };
        look(&|_, _| true);
        look(&|index, clue| !is_tried(clue) && !wild.contains(&index));
        for tried in ground.clues.iter().filter(|clue| is_read(clue)).map(|clue| &clue.tried) {
            look(&|_, clue| !is_tried(clue) && (!is_read(clue) || clue.tried == *tried));
        }
        for one in wild {
            look(&|index, clue| !is_tried(clue) && (!is_read(clue) || index == *one));
        }
        let mut leading: Vec<u32> = Vec::new();
        for look in looks {
            let total = |world: usize| look.iter().map(|clue| ground.of_cast[*clue].log_likelihood[world]).sum::<f64>();
            let totals: Vec<f64> = (0..self.atlas.cast.len()).map(total).collect();
            leading.extend(self.explaining(&totals, &ground.log_odds));
        }
        // The first look comes first: where there are too many, what leads by all clues stays.
        let mut kept: Vec<u32> = Vec::new();
        for suspect in leading {
            if !kept.contains(&suspect) && kept.len() < PAIRED {
                kept.push(suspect);
            }
        }
        kept.sort_unstable();
        kept
    }

    /// The suspects that explain some clues best, odds cooled as the clues are: what is usual does not crowd out what fits.
    fn explaining(&self, totals: &[f64], log_odds: &[f64]) -> Vec<u32> {
        let each = self.atlas.cast.worlds_each;
        let worlds = totals.chunks_exact(each).zip(log_odds);
        let fits = worlds.map(|(worlds, odds)| worlds.iter().copied().fold(f64::NEG_INFINITY, f64::max) + COOL * odds);
        let mut all: Vec<(f64, u32)> = fits.zip(0..).filter(|(_, suspect)| *suspect != 0).collect();
        all.sort_by(|left, right| right.0.total_cmp(&left.0).then(left.1.cmp(&right.1)));
        all.into_iter().take(LEADING).map(|(_, suspect)| suspect).collect()
    }

    /// Log odds of a pair before any clue.
    pub(super) fn pair_log_prior(&self, log_odds: &[f64], left: u32, right: u32) -> f64 {
        let total: f64 = log_odds.iter().map(|odds| exp(*odds)).sum();
        let since = self.since();
        let follows = |suspect: u32| {
            self.atlas.cast.suspects[suspect as usize].fault.as_ref().is_some_and(|fault| likelier(fault, since) > 1.0)
        };
        let together = if follows(left) && follows(right) { TOGETHER * SHARED_EXPOSURE } else { TOGETHER };
        log_odds[left as usize] + log_odds[right as usize] + log(together) - log(total)
    }

    /// Draws worlds of pairs; gives the pairs.
    fn draw_pairs(
        &self,
        ground: &Ground<'_>,
        wild: &[usize],
        drawn: &mut Drawn,
        observer: &mut Observer,
    ) -> Vec<(u32, u32)> {
        let leading = self.leading(ground, wild);
        let mut looked_at: Vec<(f64, Subject, Cloud, super::Seen)> = Vec::new();
        for (index, left) in leading.iter().enumerate() {
            for right in leading[index + 1..].iter().filter(|right| !self.one_remedy(*left, **right)) {
                let subject = Subject::Both(*left, *right);
                let mut seen = ground.watch.nobody();
                for index in 0..EVEN {
                    let draw = point(index as u32, 0);
                    seen.take(subject, draw, &ground.watch.look(observer, subject, &draw));
                }
                let log_likelihood = self.totals(ground.clues, &seen);
                let cooled: f64 = log_likelihood.iter().map(|total| exp(COOL * total)).sum();
                let rank = COOL * self.pair_log_prior(&ground.log_odds, *left, *right) + log(cooled);
                let cloud = Cloud::even(subject.axes(), seen.draws.clone(), log_likelihood, f64::INFINITY);
                looked_at.push((rank, subject, cloud, seen));
            }
        }
        looked_at.sort_by(|left, right| right.0.total_cmp(&left.0).then(left.1.cmp(&right.1)));
        looked_at.truncate(REFINED);
        let clouds = looked_at.iter().map(|(_, subject, cloud, _)| (*subject, cloud.clone())).collect();
        let prior = |subject: Subject| match subject {
            Subject::Both(left, right) => self.pair_log_prior(&ground.log_odds, left, right),
            Subject::One(_) => f64::NEG_INFINITY,
        };
        let best = drawn.clouds.iter().map(|(subject, cloud)| {
            subject.suspects().map(|(suspect, _)| ground.log_odds[suspect as usize]).sum::<f64>() + cloud.log_evidence()
        });
        let best = best.fold(f64::NEG_INFINITY, f64::max);
        let refined = self.refined(ground, clouds, prior, best, observer);
        let mut pairs = Vec::new();
        for (subject, cloud) in refined.clouds {
            let Subject::Both(left, right) = subject else { continue };
            // Its even draws come first, as the cloud has them.
            if let Some(at) = looked_at.iter().position(|(_, known, ..)| *known == subject) {
                drawn.seen.append(looked_at.swap_remove(at).3);
            }
            pairs.push((left, right));
            drawn.clouds.push((subject, cloud));
        }
        drawn.seen.append(refined.seen);
        pairs
    }

    /// Whether one remedy mends both, so that nobody could tell them apart.
    fn one_remedy(&self, left: u32, right: u32) -> bool {
        self.remedies.iter().any(|(_, fixes)| fixes.contains(&left) && fixes.contains(&right))
    }
}
