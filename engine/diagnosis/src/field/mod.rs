//! The worlds and readings of one job, ready to be weighed: the cast's worlds, and more of them where the readings
//! have left too few.
//! The way: each entry becomes a clue; clues weigh the cast's worlds; suspects that still matter but have too few worlds
//! left are refined; where one fault leaves readings unexplained, pairs are drawn; where a fault fits better if it
//! comes and goes, it may. All goes to the inference core.
//! Promise: which worlds are drawn follows from the set of clues, never from the path that led to them.

mod climb;
mod clue;
mod pairs;
mod peaks;
mod reach;
mod refine;
mod seen;
mod severity;
mod sometimes;
mod subject;

use std::collections::BTreeMap;

use libm::{exp, log};
use machine::probe::SINCE;
use machine::{Machine, Observer, Signs};

use crate::atlas::Atlas;
use crate::cast::Draw;
use crate::complaint::{ELSEWHERE, is_elsewhere};
use crate::inference::{Belief, Evidence, EvidenceError, Readings, Worlds};
use crate::likelihood::Weighed;
use crate::request::{Entry, Known, Request};

use clue::{Clue, ClueSort};
use peaks::{MOST, MOST_CLIMBED};
use refine::{Cloud, ENOUGH};
use seen::{Seen, Watch};
use sometimes::Sometimes;
pub(crate) use subject::Subject;

/// Probability before any reading that no fault of the catalogue is the cause.
const NONE_OF_THESE: f64 = 0.01;
/// Power of the likelihood where pairs are ranked: where one starts, its peak may be missed by tens of nats.
const COOL: f64 = 0.2;
/// Worlds that count after the first round with which a suspect needs no second.
const PLENTY: f64 = 14.0;
/// Weighed readings kept at most.
const MOST_KEPT: usize = 64;

/// What was worked out before and would come out alike.
#[derive(Default)]
pub(crate) struct Kept {
    /// Readings weighed over the cast's worlds: each reading of a job is weighed once, not once an advice.
    weighed: BTreeMap<(String, String, usize), Weighed>,
    /// The last field, with all that it follows from.
    last: Option<(String, Option<Field>)>,
}

impl Kept {
    /// Forgets what followed from the odds; how the readings weigh the cast's worlds did not.
    pub(crate) fn forget_odds(&mut self) {
        self.last = None;
    }
}

/// A reading that takes part, in the order of the evidence.
pub(crate) struct Taken {
    /// The reading's name.
    pub(crate) key: String,
    /// Name and value.
    pub(crate) shown: String,
    /// Its column, when it is a probe that could be taken again.
    pub(crate) probe: Option<usize>,
    /// How often it was taken.
    pub(crate) times: usize,
    /// Whether it is of the machine as it is now: no remedy has been tried since.
    pub(crate) now: bool,
    /// Whether a meter with a lead off would show the same.
    pub(crate) idle: bool,
}

/// Worlds and readings of one job, and what is believed.
pub(crate) struct Field {
    /// Suspects beyond the cast's are pairs.
    pub(crate) worlds: Worlds,
    pub(crate) readings: Readings,
    pub(crate) belief: Belief,
    pub(crate) taken: Vec<Taken>,
    /// Readings that two others of the same probe overrule.
    pub(crate) overruled: Vec<String>,
    /// What each world beyond the cast is.
    pub(crate) beyond: Vec<Beyond>,
    pub(crate) pairs: Pairs,
}

/// Pairs of suspects that are considered; they are numbered behind the single ones.
#[derive(Clone, Debug)]
pub(crate) struct Pairs {
    single: usize,
    list: Vec<(u32, u32)>,
}

impl Pairs {
    /// The faults of a suspect: one, or the two of a pair.
    pub(crate) fn faults_of(&self, suspect: u32) -> Vec<u32> {
        match (suspect as usize).checked_sub(self.single).and_then(|pair| self.list.get(pair)) {
            Some((left, right)) => vec![*left, *right],
            None => vec![suspect],
        }
    }

    /// Each pair with its number.
    pub(crate) fn numbered(&self) -> impl Iterator<Item = (u32, [u32; 2])> + '_ {
        (self.single as u32..).zip(self.list.iter().map(|(left, right)| [*left, *right]))
    }
}

impl Field {
    /// How often the fault of some suspects is there when one looks, if it is likelier to come and go than to stay.
    pub(crate) fn presence(&self, cast: usize, suspects: &[u32]) -> Option<f64> {
        let belief = &self.belief;
        let (mut goes, mut there) = (0.0, 0.0);
        for (world, beyond) in (cast..).zip(&self.beyond) {
            if let Beyond::Sometimes(_, presence) = beyond
                && suspects.contains(&self.worlds.suspect_of(world))
            {
                goes += belief.worlds()[world];
                there += presence * belief.worlds()[world];
            }
        }
        (goes > 0.5 * belief.together(suspects)).then(|| there / goes)
    }

    /// How likely it is a fault beside some suspects that comes and goes.
    pub(crate) fn comes_and_goes_beside(&self, cast: usize, suspects: &[u32]) -> f64 {
        let of = |(world, beyond): (usize, &Beyond)| match beyond {
            Beyond::Sometimes(..) if !suspects.contains(&self.worlds.suspect_of(world)) => self.belief.worlds()[world],
            _ => 0.0,
        };
        (cast..).zip(&self.beyond).map(of).sum()
    }
}

/// A world beyond the cast.
pub(crate) enum Beyond {
    /// Drawn for this job: what is left of its faults now, each with the axis of its severity, its place, and what it made
    /// its owner say.
    Drawn(Vec<(u32, usize)>, Draw, Signs),
    /// A world of the cast whose fault is present with this probability whenever one looks.
    Sometimes(u32, f64),
}

/// What a field is made from.
pub(crate) struct Sources<'a> {
    pub(crate) machine: &'a Machine,
    pub(crate) atlas: &'a Atlas,
    pub(crate) request: &'a Request,
    pub(crate) known: &'a Known,
    pub(crate) columns: &'a [Option<usize>],
    /// Name of each remedy and the suspects that it fixes.
    pub(crate) remedies: Vec<(&'a str, &'a [u32])>,
}

/// Worlds drawn for the job so far, with how the clues weigh them.
struct Drawn {
    clouds: Vec<(Subject, Cloud)>,
    seen: Seen,
}

/// What drawing needs to know.
struct Ground<'a> {
    clues: &'a [Clue<'a>],
    of_cast: &'a [Weighed],
    /// Log likelihood of each world of the cast.
    totals: Vec<f64>,
    /// Log odds of each suspect before any clue.
    log_odds: Vec<f64>,
    watch: Watch<'a>,
}

impl<'a> Sources<'a> {
    /// The worlds and readings; nothing when no world has any weight.
    pub(crate) fn field<'k>(&self, kept: &'k mut Kept) -> Option<&'k Field> {
        let clues = self.clues();
        let of = self.name(&clues);
        if kept.last.as_ref().is_none_or(|(known, _)| *known != of) {
            let field = self.work_out(&clues, kept);
            kept.last = Some((of, field));
        }
        kept.last.as_ref().and_then(|(_, field)| field.as_ref())
    }

    /// Everything that a field follows from, the atlas apart.
    fn name(&self, clues: &[Clue<'_>]) -> String {
        let now = self.tried_before(self.known.entries.len());
        let clues: Vec<String> = clues.iter().map(Clue::name).collect();
        format!("{:?} {now:?} {:?} {clues:?}", self.since(), self.overruled())
    }

    fn work_out(&self, clues: &[Clue<'a>], kept: &mut Kept) -> Option<Field> {
        let of_cast: Vec<Weighed> = clues.iter().map(|clue| self.weigh_once(clue, kept)).collect();
        let total = |world: usize| of_cast.iter().map(|weighed| weighed.log_likelihood[world]).sum::<f64>();
        let ground = Ground {
            clues,
            of_cast: &of_cast,
            totals: (0..self.atlas.cast.len()).map(total).collect(),
            log_odds: self.log_odds(),
            watch: Watch::new(self.machine, self.atlas, clues, |tried| self.fixed_by(tried)),
        };
        let mut observer = Observer::new();
        let mut drawn = self.singles(&ground, &mut observer);
        let sometimes = Sometimes::of(&self.atlas.cast, clues, &of_cast, &ground.log_odds);
        let singles = self.assemble(&ground, &drawn, Vec::new(), &sometimes)?;
        let pairs = self.pairs(&ground, singles.belief.none_of_these(), &mut drawn, &mut observer);
        if pairs.is_empty() { Some(singles) } else { self.assemble(&ground, &drawn, pairs, &sometimes) }
    }

    /// Worlds, readings and what is believed then; nothing when no world has any weight.
    fn assemble(
        &self,
        ground: &Ground<'_>,
        drawn: &Drawn,
        pairs: Vec<(u32, u32)>,
        sometimes: &Sometimes,
    ) -> Option<Field> {
        let worlds = self.worlds(&ground.log_odds, drawn, &pairs, sometimes)?;
        let tried_now = self.tried_before(self.known.entries.len());
        let mut readings = Readings::new();
        let mut taken: Vec<Taken> = Vec::new();
        for (clue, of_cast) in ground.clues.iter().zip(ground.of_cast) {
            let evidence = self.evidence(clue, of_cast, &drawn.seen, sometimes);
            // A reading that no world gives a density is left out rather than breaking the job.
            if let Ok(evidence) = evidence
                && readings.add(&worlds, evidence).is_ok()
            {
                let Clue { key, shown, probe, times, tried, .. } = clue;
                let (now, idle) = (*tried == tried_now, clue.is_idle());
                taken.push(Taken { key: key.clone(), shown: shown.clone(), probe: *probe, times: *times, now, idle });
            }
        }
        let belief = Belief::weigh(&worlds, &readings).ok()?;
        let beyond = self.beyond(&drawn.seen, sometimes);
        let pairs = Pairs { single: self.atlas.cast.suspects.len(), list: pairs };
        Some(Field { worlds, readings, belief, taken, overruled: self.overruled(), beyond, pairs })
    }

    /// Each suspect's share over the cast's own worlds.
    pub(crate) fn coarse(&self, kept: &mut Kept) -> Vec<f64> {
        let of_cast: Vec<Weighed> = self.clues().iter().map(|clue| self.weigh_once(clue, kept)).collect();
        self.coarse_shares(&of_cast.iter().collect::<Vec<_>>(), &self.log_odds())
    }

    /// The same by some of the clues.
    fn coarse_shares(&self, of_cast: &[&Weighed], log_odds: &[f64]) -> Vec<f64> {
        let each = self.atlas.cast.worlds_each;
        let total = |world: usize| of_cast.iter().map(|weighed| weighed.log_likelihood[world]).sum::<f64>();
        let prior = |world: usize| log_odds[world / each] + self.atlas.cast.log_learned_of(world);
        let totals: Vec<f64> = (0..self.atlas.cast.len()).map(|world| prior(world) + total(world)).collect();
        let most = totals.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let shares = totals.chunks(each).map(|worlds| worlds.iter().map(|total| exp(total - most)).sum::<f64>());
        let shares: Vec<f64> = shares.collect();
        let all: f64 = shares.iter().sum();
        shares.into_iter().map(|share| share / all).collect()
    }

    fn weigh_once(&self, clue: &Clue<'_>, kept: &mut Kept) -> Weighed {
        let key = match &clue.sort {
            ClueSort::Complaint(complaint) => (clue.key.clone(), complaint.name.to_owned(), 0),
            ClueSort::Read { probe, reading, .. } => (probe.name.clone(), format!("{reading:?}"), clue.times),
            ClueSort::Air(_) | ClueSort::Tried { .. } => return self.weigh_cast(clue),
        };
        let weighed = &mut kept.weighed;
        if weighed.len() > MOST_KEPT {
            weighed.clear();
        }
        weighed.entry(key).or_insert_with(|| self.weigh_cast(clue)).clone()
    }

    /// Natural log of each suspect's odds, changed by what happened since the machine last worked.
    fn log_odds(&self) -> Vec<f64> {
        let since = self.since();
        let elsewhere = self.known.complaint.is_some_and(is_elsewhere);
        let healthy = if elsewhere { ELSEWHERE } else { 1.0 };
        let suspects = self.atlas.cast.suspects.iter();
        suspects
            .map(|suspect| log(suspect.odds * suspect.fault.as_ref().map_or(healthy, |fault| likelier(fault, since))))
            .collect()
    }

    fn since(&self) -> Option<&'static str> {
        let entries = self.known.entries.iter();
        entries.filter_map(|entry| if let Entry::Since(word) = entry { Some(SINCE[*word]) } else { None }).next()
    }

    /// Draws more worlds of the single suspects that matter and have too few left.
    fn singles(&self, ground: &Ground<'_>, observer: &mut Observer) -> Drawn {
        let cast = &self.atlas.cast;
        let each = cast.worlds_each;
        let cloud = |(prospect, suspect): (f64, u32)| {
            let worlds = suspect as usize * each..(suspect as usize + 1) * each;
            let subject = Subject::One(suspect);
            let draws = worlds.clone().map(|world| cast.draw(world)).collect();
            (subject, Cloud::even(cast.axes(false), draws, ground.totals[worlds].to_vec(), prospect))
        };
        let clouds = self.prospects(ground).into_iter().take(MOST_CLIMBED).map(cloud);
        let coarse = clouds.filter(|(_, cloud)| cloud.effective() < ENOUGH).collect();
        let prior = |subject: Subject| match subject {
            Subject::One(suspect) => ground.log_odds[suspect as usize],
            Subject::Both(..) => f64::NEG_INFINITY,
        };
        self.refined(ground, coarse, prior, (f64::NEG_INFINITY, MOST), observer)
    }

    /// Refines the clouds that come near the best: new worlds about their peaks, and about what was found there.
    fn refined(
        &self,
        ground: &Ground<'_>,
        mut clouds: Vec<(Subject, Cloud)>,
        log_prior: impl Fn(Subject) -> f64,
        (best, most): (f64, usize),
        observer: &mut Observer,
    ) -> Drawn {
        let Ground { clues, watch, .. } = ground;
        let mut peaks = self.peaks(ground, &clouds, log_prior, (best, most), observer);
        clouds.retain(|(subject, _)| peaks.iter().any(|(known, ..)| known == subject));
        peaks.sort_by_key(|(subject, ..)| *subject);
        clouds.sort_by_key(|(subject, _)| *subject);
        let mut seen = watch.nobody();
        for ((subject, cloud), (_, peak, share)) in clouds.iter_mut().zip(&peaks) {
            for turn in 0..2 {
                if turn > 0 && cloud.effective() >= PLENTY {
                    break;
                }
                let draws = match (peak, turn) {
                    (Some(peak), 0) => cloud.about(peak, *share),
                    _ => cloud.propose(*share),
                };
                let mut new = watch.nobody();
                for draw in draws {
                    new.take(*subject, draw, &watch.look(observer, *subject, &draw));
                }
                cloud.take(&new.draws, self.totals(clues, &new));
                seen.append(new);
            }
        }
        Drawn { clouds, seen }
    }

    /// Log likelihood of each world that was seen.
    fn totals(&self, clues: &[Clue<'_>], seen: &Seen) -> Vec<f64> {
        let weighed: Vec<Weighed> = clues.iter().map(|clue| self.weigh_seen(clue, seen)).collect();
        (0..seen.len()).map(|world| weighed.iter().map(|weighed| weighed.log_likelihood[world]).sum()).collect()
    }

    fn worlds(&self, log_odds: &[f64], drawn: &Drawn, pairs: &[(u32, u32)], sometimes: &Sometimes) -> Option<Worlds> {
        let cast = &self.atlas.cast;
        let each = cast.worlds_each;
        let single = cast.suspects.len();
        let number = |subject: Subject| match subject {
            Subject::One(suspect) => suspect as usize,
            Subject::Both(left, right) => single + pairs.iter().position(|pair| *pair == (left, right)).unwrap_or(0),
        };
        let mut suspects: Vec<u32> = (0..cast.len()).map(|world| cast.suspect_of(world) as u32).collect();
        let mut weights: Vec<f64> = (0..)
            .zip(&suspects)
            .map(|(world, suspect)| log_odds[*suspect as usize] - log(each as f64) + cast.log_learned_of(world))
            .collect();
        suspects.extend(drawn.seen.subjects.iter().map(|subject| number(*subject) as u32));
        weights.resize(suspects.len(), f64::NEG_INFINITY);
        for (subject, cloud) in &drawn.clouds {
            let (own, prior) = match *subject {
                Subject::One(suspect) => {
                    let suspect = suspect as usize;
                    (suspect * each..(suspect + 1) * each, log_odds[suspect])
                }
                Subject::Both(left, right) => (0..0, self.pair_log_prior(log_odds, left, right)),
            };
            let new = drawn.seen.subjects.iter().enumerate().filter(|(_, other)| *other == subject);
            let places = own.chain(new.map(|(index, _)| cast.len() + index));
            for (place, share) in places.zip(cloud.log_shares()) {
                let learned = match place.checked_sub(cast.len()) {
                    Some(index) => cast.log_learned(subject.suspects(), &drawn.seen.draws[index]),
                    None => cast.log_learned_of(place),
                };
                weights[place] = prior + share + learned;
            }
        }
        sometimes.share_out(cast, log_odds, &mut suspects, &mut weights);
        Worlds::new(single + pairs.len(), suspects, weights).ok()?.with_none_of_these(NONE_OF_THESE).ok()
    }

    fn evidence(
        &self,
        clue: &Clue<'_>,
        of_cast: &Weighed,
        seen: &Seen,
        sometimes: &Sometimes,
    ) -> Result<Evidence, EvidenceError> {
        let new = self.weigh_seen(clue, seen);
        let mut all = of_cast.clone();
        all.log_likelihood.extend(new.log_likelihood);
        all.wild.extend(new.wild);
        sometimes.weigh(&self.atlas.cast, clue, of_cast, &mut all);
        let evidence = Evidence::new(clue.key.clone(), all.log_likelihood)?;
        match clue.sort {
            ClueSort::Read { .. } => evidence.with_wild(all.wild)?.with_uniform(all.log_uniform),
            _ => Ok(evidence),
        }
    }

    fn beyond(&self, seen: &Seen, sometimes: &Sometimes) -> Vec<Beyond> {
        let now = self.fixed_by(&self.tried_before(self.known.entries.len()));
        let drawn = seen.subjects.iter().zip(&seen.draws).zip(seen.signs(&[]));
        let drawn = drawn.map(|((subject, draw), signs)| Beyond::Drawn(subject.left(&now), *draw, *signs));
        drawn.chain(sometimes.worlds().map(|(world, presence)| Beyond::Sometimes(world, presence))).collect()
    }
}

/// How much likelier a fault is after what happened.
fn likelier(fault: &machine::Fault, since: Option<&str>) -> f64 {
    fault.since.iter().filter(|(word, _)| Some(*word) == since).map(|(_, factor)| factor).product()
}
