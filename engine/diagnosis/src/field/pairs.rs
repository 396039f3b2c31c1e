//! Two faults at once: drawn only where one of them leaves something unexplained.
//! Law: a pair's odds are the product of its faults' odds, times what makes them come together. Source: docs/oracles.md
//! (a single-fault engine names one of two in nine of ten; the rest, and the second fault, want pairs).
//! Limit: pairs among the suspects that explain most, or what the others leave, and of the leading ones with everybody;
//! each with one peak; three faults at once are worked one after the other.

use libm::{exp, log};
use machine::{Fault, Observer};

use super::climb::robust;
use super::clue::{Clue, ClueSort};
use super::refine::Cloud;
use super::{COOL, Drawn, Ground, Sources, Subject, likelier};
use crate::cast::{Draw, SECOND, SEVERITY, point};
use crate::likelihood::Weighed;

/// Suspects whose pairs are looked at, and those that each of several looks at the clues adds.
const PAIRED: usize = 14;
const LEADING: usize = 5;
/// Suspects that are paired with everybody: so many that lead by all clues, and by those that one fault explains.
const ANCHORS: usize = 2;
/// Even draws a pair.
const EVEN: usize = 8;
/// A reading that the best single fault calls wild with this probability asks for pairs.
const UNEXPLAINED: f64 = 0.5;
/// So does none-of-these with this probability; what fits worst by at least so much is then what is left unexplained.
const DOUBTED: f64 = 0.1;
const STRAINED: f64 = 0.05;
/// And with this probability pairs are looked for widely.
const DESPAIRED: f64 = 0.5;
/// A remedy that failed asks for pairs where all else gave its suspects this share.
const SPOKEN_FOR: f64 = 0.3;
/// Odds of two faults at once, over the product of their shares (estimate: about one job in ten has two faults).
const TOGETHER: f64 = 0.2;
/// How much likelier that is where both follow from what happened (estimate).
const SHARED_EXPOSURE: f64 = 5.0;

/// How far pairs are looked for.
struct Search {
    /// Severities of the one fault that are tried for what the other leaves, beside those that suit it.
    severities: &'static [f64],
    /// Pairs whose peak is looked for.
    climbed: usize,
    /// Pairs that are refined at most.
    refined: usize,
}

/// For readings that no single fault explains: they say where the second fault is.
const USUAL: Search = Search { severities: &[], climbed: 18, refined: 5 };
/// After a remedy that changed nothing, where the second fault may be anywhere and nothing has been read of it; and before
/// none-of-these is believed.
const WIDE: Search = Search { severities: &[0.15, 0.4, 0.7], climbed: 40, refined: 15 };

/// A pair that may come near the readings.
struct Rival {
    subject: Subject,
    /// Log odds before any clue: with the clues it is worth no more.
    prior: f64,
    /// What its best world so far is worth, and that world.
    best: Option<(f64, Draw)>,
}

impl Rival {
    fn worth(&self) -> f64 {
        self.best.map_or(f64::NEG_INFINITY, |(worth, _)| worth)
    }

    fn take(&mut self, draw: Draw, worth: impl FnOnce(&Self) -> f64) {
        let worth = worth(self);
        if worth > self.worth() {
            self.best = Some((worth, draw));
        }
    }
}

/// All such pairs, of which so many are wanted.
struct Near {
    rivals: Vec<Rival>,
    enough: usize,
}

impl Near {
    /// The faults of the pairs, those of the likeliest pairs first.
    fn anchors(&self) -> Vec<u32> {
        let mut likeliest: Vec<&Rival> = self.rivals.iter().collect();
        likeliest.sort_by(|left, right| right.prior.total_cmp(&left.prior).then(left.subject.cmp(&right.subject)));
        let mut anchors: Vec<u32> = Vec::new();
        for (suspect, _) in likeliest.iter().flat_map(|rival| rival.subject.suspects()) {
            if !anchors.contains(&suspect) {
                anchors.push(suspect);
            }
        }
        anchors
    }

    /// The pairs of a fault that may still be among the best, by index.
    fn partners(&self, suspect: u32) -> Vec<usize> {
        let mut worth: Vec<f64> = self.rivals.iter().map(Rival::worth).collect();
        worth.sort_by(|left, right| right.total_cmp(left));
        let bar = worth.get(self.enough).copied().unwrap_or(f64::NEG_INFINITY);
        let with = |rival: &Rival| rival.prior > bar && rival.subject.suspects().any(|(one, _)| one == suspect);
        (0..self.rivals.len()).filter(|index| with(&self.rivals[*index])).collect()
    }

    /// The best of them, each with its likeliest world so far.
    fn best(mut self) -> Vec<(Subject, Draw)> {
        self.rivals
            .sort_by(|left, right| right.worth().total_cmp(&left.worth()).then(left.subject.cmp(&right.subject)));
        self.rivals.truncate(self.enough);
        self.rivals.into_iter().filter_map(|rival| Some((rival.subject, rival.best?.1))).collect()
    }
}

impl<'a> Sources<'a> {
    /// Pairs, with their worlds drawn, where none of the single faults explains all, or the likeliest world leaves a
    /// reading unexplained, or a remedy changed nothing that all else spoke for; else none.
    pub(super) fn pairs(
        &self,
        ground: &Ground<'_>,
        none_of_these: f64,
        drawn: &mut Drawn,
        observer: &mut Observer,
    ) -> Vec<(u32, u32)> {
        let wild = self.wild(ground, drawn);
        let most = wild.iter().copied().fold(0.0, f64::max);
        let failed = self.failed_against_the_odds(ground);
        if none_of_these < DOUBTED && most < UNEXPLAINED && !failed {
            return Vec::new();
        }
        let least = if most >= UNEXPLAINED { UNEXPLAINED } else { most.max(STRAINED) };
        let wild: Vec<usize> = (0..wild.len()).filter(|index| wild[*index] >= least).collect();
        let search = if failed || none_of_these >= DESPAIRED { &WIDE } else { &USUAL };
        self.draw_pairs(ground, &wild, search, drawn, observer)
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
            ClueSort::Tried { fixes, fixed: false, .. } => {
                fixes.iter().map(|suspect| shares[*suspect as usize]).sum::<f64>() >= SPOKEN_FOR
            }
            _ => false,
        };
        ground.clues.iter().any(spoken_for)
    }

    /// The probability with which the likeliest world calls each clue wild.
    fn wild(&self, ground: &Ground<'_>, drawn: &Drawn) -> Vec<f64> {
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
        ground.clues.iter().zip(ground.of_cast).map(wild).collect()
    }

    /// Pairs that may be the cause: all of the suspects that lead by all clues, by what a remedy left behind or was tried
    /// upon, by what the best single fault explains, or by each reading that it does not; and the anchors with everybody.
    fn candidates(&self, ground: &Ground<'_>, wild: &[usize]) -> Vec<(u32, u32)> {
        let is_read = |clue: &Clue<'_>| matches!(clue.sort, ClueSort::Read { .. });
        let is_tried = |clue: &Clue<'_>| matches!(clue.sort, ClueSort::Tried { .. });
        let mut looks: Vec<Vec<usize>> = Vec::new();
        let mut look = |keep: &dyn Fn(usize, &Clue<'_>) -> bool| {
            let kept = clues_that(ground, keep);
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
        let leading = looks.iter().map(|look| self.explaining(&self.totals_by(ground, look), &ground.log_odds));
        let leading: Vec<Vec<u32>> = leading.collect();
        let anchors = leading.iter().take(2).flat_map(|led| led.iter().take(ANCHORS));
        let everybody = 1..self.atlas.cast.suspects.len() as u32;
        let anchored = anchors.flat_map(|anchor| everybody.clone().map(|other| (*anchor, other)));
        // The first look comes first: where there are too many, what leads by all clues stays.
        let mut paired: Vec<u32> = Vec::new();
        for suspect in leading.iter().flatten() {
            if !paired.contains(suspect) && paired.len() < PAIRED {
                paired.push(*suspect);
            }
        }
        let among = paired.iter().flat_map(|left| paired.iter().map(|right| (*left, *right)));
        let both = anchored.chain(among).map(|(left, right)| (left.min(right), left.max(right)));
        let mut pairs: Vec<(u32, u32)> =
            both.filter(|(left, right)| left != right && !self.one_remedy(*left, *right)).collect();
        pairs.sort_unstable();
        pairs.dedup();
        pairs
    }

    /// The pairs that come nearest to the readings, each with its likeliest world so far: one fault as severe as suits
    /// what a single fault explains, the other as suits the rest.
    fn nearest(&self, ground: &Ground<'_>, wild: &[usize], search: &Search) -> Vec<(Subject, Draw)> {
        let is_tried = |clue: &Clue<'_>| matches!(clue.sort, ClueSort::Tried { .. });
        let rest = |index: usize, clue: &Clue<'_>| {
            wild.contains(&index) || !clue.tried.is_empty() || matches!(clue.sort, ClueSort::Complaint(_))
        };
        let explained = clues_that(ground, &|index, clue| !is_tried(clue) && !wild.contains(&index));
        let rest = clues_that(ground, &|index, clue| !is_tried(clue) && rest(index, clue));
        let (by_explained, by_rest) = (self.best_worlds(ground, &explained), self.best_worlds(ground, &rest));
        let rivals: Vec<Rival> = self
            .candidates(ground, wild)
            .into_iter()
            .map(|(left, right)| Rival {
                subject: Subject::Both(left, right),
                prior: self.pair_log_prior(&ground.log_odds, left, right),
                best: None,
            })
            .collect();
        // Each fault where it suits what a single fault explains, its partners as severe as suits the rest: they are all
        // solved as changes of a machine with that fault alone.
        let mut near = Near { rivals, enough: search.climbed };
        for suspect in near.anchors() {
            let own = by_explained[suspect as usize];
            let partners = near.partners(suspect);
            if partners.is_empty() {
                continue;
            }
            let mut beside = Observer::new();
            ground.watch.start_near(&mut beside, suspect, &own);
            for index in partners {
                let Subject::Both(left, right) = near.rivals[index].subject else { continue };
                let other = if left == suspect { right } else { left };
                let fault = self.atlas.cast.suspects[other as usize].fault.as_ref();
                let graded = if fault.is_some_and(Fault::has_severity) { search.severities } else { &[] };
                for rest in std::iter::once(&by_rest[other as usize][SEVERITY]).chain(graded) {
                    let draw = if left == suspect {
                        with(own, SECOND, *rest)
                    } else {
                        with(with(own, SECOND, own[SEVERITY]), SEVERITY, *rest)
                    };
                    near.rivals[index]
                        .take(draw, |rival| rival.prior - self.off(ground, rival.subject, &draw, &mut beside));
                }
            }
        }
        near.best()
    }

    /// How far off the clues are in a world: what is a number by its distance, cooled, the rest by its likelihood.
    fn off(&self, ground: &Ground<'_>, subject: Subject, draw: &Draw, observer: &mut Observer) -> f64 {
        let Ground { clues, watch, .. } = ground;
        let sight = watch.stare(observer, subject, draw);
        let numbers: f64 = watch.residuals(clues, &sight).into_iter().map(robust).sum();
        let mut there = watch.nobody();
        there.take(subject, *draw, &sight);
        let words = clues.iter().filter(|clue| !clue.is_number());
        let words: f64 = words.map(|clue| self.weigh_seen(clue, &there).log_likelihood[0]).sum();
        0.5 * COOL * numbers - words
    }

    /// Log likelihood of each world of the cast by some of the clues.
    fn totals_by(&self, ground: &Ground<'_>, look: &[usize]) -> Vec<f64> {
        let total = |world: usize| look.iter().map(|clue| ground.of_cast[*clue].log_likelihood[world]).sum::<f64>();
        (0..self.atlas.cast.len()).map(total).collect()
    }

    /// The likeliest world of each suspect by some of the clues.
    fn best_worlds(&self, ground: &Ground<'_>, look: &[usize]) -> Vec<Draw> {
        let each = self.atlas.cast.worlds_each;
        let totals = self.totals_by(ground, look);
        let best = |(suspect, worlds): (usize, &[f64])| {
            let best =
                worlds.iter().enumerate().max_by(|left, right| left.1.total_cmp(right.1).then(right.0.cmp(&left.0)));
            self.atlas.cast.draw(suspect * each + best.map_or(0, |(index, _)| index))
        };
        totals.chunks_exact(each).enumerate().map(best).collect()
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
        search: &Search,
        drawn: &mut Drawn,
        observer: &mut Observer,
    ) -> Vec<(u32, u32)> {
        let mut looked_at: Vec<(Subject, Cloud, super::Seen)> = Vec::new();
        for (subject, start) in self.nearest(ground, wild, search) {
            let mut seen = ground.watch.nobody();
            for index in 0..EVEN {
                let draw = point(index as u32, 0);
                seen.take(subject, draw, &ground.watch.look(observer, subject, &draw));
            }
            let log_likelihood = self.totals(ground.clues, &seen);
            let cloud = Cloud::even(self.atlas.cast.axes(true), seen.draws.clone(), log_likelihood, f64::INFINITY);
            looked_at.push((subject, cloud.starting(start), seen));
        }
        let clouds = looked_at.iter().map(|(subject, cloud, _)| (*subject, cloud.clone())).collect();
        let prior = |subject: Subject| match subject {
            Subject::Both(left, right) => self.pair_log_prior(&ground.log_odds, left, right),
            Subject::One(_) => f64::NEG_INFINITY,
        };
        let best = drawn.clouds.iter().map(|(subject, cloud)| {
            subject.suspects().map(|(suspect, _)| ground.log_odds[suspect as usize]).sum::<f64>() + cloud.log_evidence()
        });
        let best = best.fold(f64::NEG_INFINITY, f64::max);
        let refined = self.refined(ground, clouds, prior, (best, search.refined), observer);
        let mut pairs = Vec::new();
        for (subject, cloud) in refined.clouds {
            let Subject::Both(left, right) = subject else { continue };
            // Its even draws come first, as the cloud has them.
            if let Some(at) = looked_at.iter().position(|(known, ..)| *known == subject) {
                drawn.seen.append(looked_at.swap_remove(at).2);
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

/// A draw with another value on one axis.
fn with(mut draw: Draw, axis: usize, value: f64) -> Draw {
    draw[axis] = value;
    draw
}

/// The clues that some condition keeps, by index.
fn clues_that(ground: &Ground<'_>, keep: &dyn Fn(usize, &Clue<'_>) -> bool) -> Vec<usize> {
    let all = ground.clues.iter().enumerate();
    all.filter(|(index, clue)| keep(*index, clue)).map(|(index, _)| index).collect()
}
