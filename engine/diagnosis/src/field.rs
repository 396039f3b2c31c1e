//! The worlds and readings of one job, ready to be weighed: the cast's worlds, and more of them where the readings
//! have left too few.
//! The way: each entry becomes a [`Clue`]; clues weigh the cast's worlds; suspects that still matter but have too few
//! worlds left are refined; clues weigh the new worlds too; all goes to the inference core.

use std::collections::BTreeMap;

use libm::{exp, log};
use machine::probe::{SINCE, Sort};
use machine::{Hookup, Machine, Observer, Probe, Signs};
use quantity::{Dimension, Reading};

use crate::atlas::{Atlas, Survey};
use crate::band::{AIR_SIGMA, warmth};
use crate::cast::{AXES, Draw};
use crate::cell::Cell;
use crate::column::Column;
use crate::complaint::{self, Complaint};
use crate::inference::{Evidence, EvidenceError, Readings, Worlds};
use crate::likelihood::{Weighed, weigh};
use crate::refine::{Cloud, ENOUGH, HOPELESS, MOST, MOST_CLIMBED, Peak, climb};
use crate::request::{Entry, Known, Request, after_repair};
use crate::spread::sigma;

/// Probability before any reading that no fault of the catalogue is the cause.
const NONE_OF_THESE: f64 = 0.01;
/// A right remedy fixes the machine with this probability.
pub(crate) const REMEDY_WORKS: f64 = 0.98;
/// Power of the likelihood in the cooled belief: a coarse cast may miss a suspect's peak by tens of nats.
const COOL: f64 = 0.2;
/// No peak is looked for below this share of the cooled belief.
const MATTERS: f64 = 1e-5;
/// Weighed readings kept at most.
const MOST_KEPT: usize = 64;

/// Readings weighed before, over the cast's worlds: each reading of a job is weighed once, not once an advice.
pub(crate) type Kept = BTreeMap<(String, String, usize), Weighed>;

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
}

/// Worlds and readings of one job.
pub(crate) struct Field {
    pub(crate) worlds: Worlds,
    pub(crate) readings: Readings,
    pub(crate) taken: Vec<Taken>,
    /// For each world beyond the cast, the cast's world that is nearest to it: planning takes its outcomes.
    pub(crate) beyond: Vec<u32>,
}

/// Something that is known, and how it weighs worlds.
struct Clue<'a> {
    key: String,
    shown: String,
    probe: Option<usize>,
    times: usize,
    sort: ClueSort<'a>,
}

enum ClueSort<'a> {
    Complaint(&'static Complaint),
    Air(f64),
    Tried { fixes: &'a [u32], fixed: bool },
    Read { column: usize, probe: &'a Probe, reading: Reading },
}

/// Worlds beyond the cast, as seen.
#[derive(Default)]
struct Beyond {
    suspects: Vec<u32>,
    draws: Vec<Draw>,
    air: Vec<f64>,
    signs: Vec<Signs>,
    /// The columns that are watched.
    watched: Vec<usize>,
    /// One row of cells for each of them.
    cells: Vec<Vec<Cell>>,
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

impl Sources<'_> {
    /// The worlds and readings; nothing when no world has any weight.
    pub(crate) fn field(&self, kept: &mut Kept) -> Option<Field> {
        let clues = self.clues();
        let of_cast: Vec<Weighed> = clues.iter().map(|clue| self.weigh_cast(clue, kept)).collect();
        let log_odds = self.log_odds();
        let (clouds, beyond) = self.refined(&clues, &of_cast, &log_odds);
        let worlds = self.worlds(&log_odds, &clouds, &beyond)?;
        let nearest = self.nearest(&beyond);
        let mut readings = Readings::new();
        let mut taken: Vec<Taken> = Vec::new();
        for (clue, of_cast) in clues.iter().zip(of_cast) {
            let evidence = self.evidence(clue, of_cast, &beyond);
            // A reading that no world gives a density is left out rather than breaking the job.
            if let Ok(evidence) = evidence
                && readings.add(&worlds, evidence).is_ok()
            {
                let Clue { key, shown, probe, times, .. } = clue;
                taken.push(Taken { key: key.clone(), shown: shown.clone(), probe: *probe, times: *times });
            }
        }
        Some(Field { worlds, readings, taken, beyond: nearest })
    }

    /// Everything known, by name, so that the order in which it came does not matter.
    fn clues(&self) -> Vec<Clue<'_>> {
        let certain = |key: &str, shown: String, sort| Clue { key: key.to_owned(), shown, probe: None, times: 2, sort };
        let mut clues = Vec::new();
        if let Some(complaint) = self.known.complaint {
            let shown = format!("complaint: {}", complaint.title);
            clues.push(certain("complaint", shown, ClueSort::Complaint(complaint)));
        }
        if let Some(air) = self.request.air {
            clues.push(certain("air", format!("air {air}"), ClueSort::Air(air.0)));
        }
        for (index, entry) in self.known.entries.iter().enumerate() {
            match (entry, self.columns[index]) {
                (Entry::Tried { verb, part, fixed }, _) => {
                    let name = format!("try:{verb}@{part}");
                    let fixes = self.remedies.iter().find(|(known, _)| *known == name).map_or(&[][..], |known| known.1);
                    let shown = format!("{name} = {}", if *fixed { "fixed" } else { "same" });
                    clues.push(certain(&name, shown, ClueSort::Tried { fixes, fixed: *fixed }));
                }
                (Entry::Took(probe, reading), Some(column)) if !after_repair(&self.known.entries[..index]) => {
                    let Some((reading, times)) = self.together(index, column, probe, reading) else { continue };
                    clues.push(Clue {
                        key: probe.name.clone(),
                        shown: format!("{} = {}", probe.name, reading.show(probe.dimension())),
                        probe: Some(column),
                        times,
                        sort: ClueSort::Read { column, probe, reading },
                    });
                }
                _ => {}
            }
        }
        clues.sort_by(|left, right| left.key.cmp(&right.key).then_with(|| left.shown.cmp(&right.shown)));
        clues
    }

    /// A probe taken more than once is one reading: agreeing numbers are averaged, else the last one counts.
    /// Nothing for all but the last of them.
    fn together(&self, index: usize, column: usize, probe: &Probe, reading: &Reading) -> Option<(Reading, usize)> {
        let entries = &self.known.entries;
        let same: Vec<(usize, &Reading)> = entries
            .iter()
            .zip(self.columns)
            .enumerate()
            .filter(|(at, (_, other))| **other == Some(column) && !after_repair(&entries[..*at]))
            .filter_map(|(at, (entry, _))| if let Entry::Took(_, reading) = entry { Some((at, reading)) } else { None })
            .collect();
        if same.last().is_some_and(|(at, _)| *at != index) {
            return None;
        }
        let number =
            |(_, reading): &(usize, &Reading)| if let Reading::Number(value) = reading { Some(*value) } else { None };
        let numbers: Vec<f64> = same.iter().filter_map(number).collect();
        let agree = |left: f64, right: f64| (left - right).abs() <= 5.0 * sigma(probe, right);
        let reading = match reading {
            Reading::Number(last)
                if numbers.len() == same.len() && numbers.iter().all(|value| agree(*value, *last)) =>
            {
                Reading::Number(numbers.iter().sum::<f64>() / numbers.len() as f64)
            }
            other => other.clone(),
        };
        Some((reading, same.len()))
    }

    /// Natural log of each suspect's odds, changed by what happened since the machine last worked.
    fn log_odds(&self) -> Vec<f64> {
        let entries = self.known.entries.iter();
        let since =
            entries.filter_map(|entry| if let Entry::Since(word) = entry { Some(SINCE[*word]) } else { None }).next();
        let suspects = self.atlas.cast.suspects.iter();
        let factor = |since: &[(&str, f64)], answer: &str| {
            since.iter().filter(|(word, _)| *word == answer).map(|(_, factor)| factor).product::<f64>()
        };
        suspects
            .map(|suspect| {
                let factor = suspect.fault.as_ref().zip(since).map_or(1.0, |(fault, word)| factor(fault.since, word));
                log(suspect.odds * factor)
            })
            .collect()
    }

    fn weigh_cast(&self, clue: &Clue<'_>, kept: &mut Kept) -> Weighed {
        let atlas = self.atlas;
        let worlds = atlas.signs.len();
        match &clue.sort {
            ClueSort::Complaint(complaint) => certain(atlas.signs.iter().map(|signs| self.says(complaint, signs))),
            ClueSort::Air(air) => certain(atlas.air.iter().map(|world| warmth(f64::from(*world), *air))),
            ClueSort::Tried { fixes, fixed } => {
                certain((0..worlds).map(|world| worked(fixes.contains(&(atlas.cast.suspect_of(world) as u32)), *fixed)))
            }
            ClueSort::Read { column, probe, reading } => {
                if kept.len() > MOST_KEPT {
                    kept.clear();
                }
                let key = (probe.name.clone(), format!("{reading:?}"), clue.times);
                let neighbors: Vec<&Column> =
                    neighbors(atlas, *column).into_iter().map(|index| &atlas.columns[index]).collect();
                let fresh = || weigh(probe, reading, &atlas.columns[*column], &neighbors, clue.times > 1);
                kept.entry(key).or_insert_with(fresh).clone()
            }
        }
    }

    fn weigh_beyond(&self, clue: &Clue<'_>, beyond: &Beyond) -> Weighed {
        match &clue.sort {
            ClueSort::Complaint(complaint) => certain(beyond.signs.iter().map(|signs| self.says(complaint, signs))),
            ClueSort::Air(air) => certain(beyond.air.iter().map(|world| warmth(*world, *air))),
            ClueSort::Tried { fixes, fixed } => {
                certain(beyond.suspects.iter().map(|suspect| worked(fixes.contains(suspect), *fixed)))
            }
            ClueSort::Read { column, probe, reading } => {
                let plain = |index: &usize| {
                    let at = beyond.watched.iter().position(|known| known == index);
                    Column::plain(at.map_or(&[][..], |at| beyond.cells[at].as_slice()))
                };
                let near: Vec<Column> = neighbors(self.atlas, *column).iter().map(plain).collect();
                weigh(probe, reading, &plain(column), &near.iter().collect::<Vec<_>>(), clue.times > 1)
            }
        }
    }

    fn says(&self, complaint: &Complaint, signs: &Signs) -> f64 {
        log(complaint::likelihood(complaint, signs, &self.atlas.nominal))
    }

    /// Draws more worlds of the suspects that matter and have too few left.
    fn refined(&self, clues: &[Clue<'_>], of_cast: &[Weighed], log_odds: &[f64]) -> (Vec<(usize, Cloud)>, Beyond) {
        let cast = &self.atlas.cast;
        let each = cast.worlds_each;
        let log_likelihood = |world: usize| of_cast.iter().map(|weighed| weighed.log_likelihood[world]).sum::<f64>();
        let totals: Vec<f64> = (0..cast.len()).map(log_likelihood).collect();
        let mut clouds: Vec<(usize, Cloud)> = self
            .that_matter(&totals, log_odds)
            .into_iter()
            .map(|suspect| {
                let worlds = suspect * each..(suspect + 1) * each;
                let cloud = Cloud {
                    draws: worlds.clone().map(|world| cast.draw(world)).collect(),
                    log_likelihood: totals[worlds].to_vec(),
                    proposals: Vec::new(),
                    even: each,
                };
                (suspect, cloud)
            })
            .filter(|(_, cloud)| cloud.effective() < ENOUGH)
            .collect();
        let watched = self.watched(clues);
        let probes = watched.iter().map(|column| self.atlas.probes[*column].clone()).collect();
        let survey = Survey::of(self.machine, each, probes);
        let mut observer = Observer::new();
        let mut beyond = Beyond::watching(&watched);
        let mut peaks = self.peaks(clues, &watched, &survey, &mut observer, &clouds, log_odds);
        clouds.retain(|(suspect, _)| peaks.iter().any(|(known, _)| known == suspect));
        peaks.sort_by_key(|(suspect, _)| *suspect);
        clouds.sort_by_key(|(suspect, _)| *suspect);
        for ((suspect, cloud), (_, peak)) in clouds.iter_mut().zip(&peaks) {
            for round in 0..2 {
                let draws = match (peak, round) {
                    (Some(peak), 0) => cloud.about(peak),
                    _ => cloud.propose(),
                };
                let mut new = Beyond::watching(&watched);
                for draw in draws {
                    let world = cast.world_at(*suspect, &draw);
                    let (cells, signs) = survey.watch(&mut observer, &world);
                    new.take(*suspect as u32, draw, world.air.0, signs, &cells);
                }
                let weighed: Vec<Weighed> = clues.iter().map(|clue| self.weigh_beyond(clue, &new)).collect();
                let total = |world: usize| weighed.iter().map(|weighed| weighed.log_likelihood[world]).sum::<f64>();
                cloud.log_likelihood.extend((0..new.draws.len()).map(total));
                cloud.draws.extend_from_slice(&new.draws);
                beyond.append(new);
            }
        }
        (clouds, beyond)
    }

    /// The peaks of the suspects that are worth refining: those whose evidence about the peak, or over the cast, comes
    /// near the best.
    fn peaks(
        &self,
        clues: &[Clue<'_>],
        watched: &[usize],
        survey: &Survey<'_>,
        observer: &mut Observer,
        clouds: &[(usize, Cloud)],
        log_odds: &[f64],
    ) -> Vec<(usize, Option<Peak>)> {
        let cast = &self.atlas.cast;
        let mut found = Vec::with_capacity(clouds.len());
        for (suspect, cloud) in clouds {
            let mut watch = |draw: &Draw| {
                let world = cast.world_at(*suspect, draw);
                let (cells, signs) = survey.watch(observer, &world);
                (cells, signs, world.air.0)
            };
            let start = cloud.best();
            let peak = start.and_then(|start| {
                climb(start, |draw| {
                    let (cells, _, air) = watch(draw);
                    residuals(clues, watched, &cells, air)
                })
            });
            let about = peak.as_ref().map_or(f64::NEG_INFINITY, |peak| {
                let mut there = Beyond::watching(watched);
                let (cells, signs, air) = watch(&peak.at);
                there.take(*suspect as u32, peak.at, air, signs, &cells);
                let total: f64 = clues.iter().map(|clue| self.weigh_beyond(clue, &there).log_likelihood[0]).sum();
                total + peak.log_share()
            });
            found.push((*suspect, peak, log_odds[*suspect] + about.max(cloud.log_evidence())));
        }
        found.sort_by(|left, right| right.2.total_cmp(&left.2).then(left.0.cmp(&right.0)));
        let best = found.first().map_or(0.0, |(_, _, evidence)| *evidence);
        found.truncate(MOST);
        found.retain(|(_, _, evidence)| *evidence > best - HOPELESS);
        found.into_iter().map(|(suspect, peak, _)| (suspect, peak)).collect()
    }

    /// Suspects that a cooled belief gives a share worth looking for a peak, likeliest first.
    fn that_matter(&self, totals: &[f64], log_odds: &[f64]) -> Vec<usize> {
        let each = self.atlas.cast.worlds_each;
        let most = totals.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let cooled = |suspect: usize| {
            let worlds = &totals[suspect * each..(suspect + 1) * each];
            exp(log_odds[suspect]) * worlds.iter().map(|total| exp(COOL * (total - most))).sum::<f64>()
        };
        let shares: Vec<f64> = (0..log_odds.len()).map(cooled).collect();
        let total: f64 = shares.iter().sum();
        let mut all: Vec<usize> = (0..shares.len()).filter(|suspect| shares[*suspect] > MATTERS * total).collect();
        all.sort_by(|left, right| shares[*right].total_cmp(&shares[*left]).then(left.cmp(right)));
        all.truncate(MOST_CLIMBED);
        all
    }

    /// Columns of the readings and of the points that a tip could have slipped to.
    fn watched(&self, clues: &[Clue<'_>]) -> Vec<usize> {
        let mut watched = Vec::new();
        for clue in clues {
            if let ClueSort::Read { column, .. } = clue.sort {
                watched.push(column);
                watched.extend(neighbors(self.atlas, column));
            }
        }
        watched.sort_unstable();
        watched.dedup();
        watched
    }

    fn worlds(&self, log_odds: &[f64], clouds: &[(usize, Cloud)], beyond: &Beyond) -> Option<Worlds> {
        let cast = &self.atlas.cast;
        let each = cast.worlds_each;
        let mut suspects: Vec<u32> = (0..cast.len()).map(|world| cast.suspect_of(world) as u32).collect();
        let mut weights: Vec<f64> =
            suspects.iter().map(|suspect| log_odds[*suspect as usize] - log(each as f64)).collect();
        suspects.extend_from_slice(&beyond.suspects);
        weights.resize(suspects.len(), f64::NEG_INFINITY);
        for (suspect, cloud) in clouds {
            let own = (*suspect * each..(*suspect + 1) * each).map(Some);
            let new = beyond.suspects.iter().enumerate().filter(|(_, other)| **other as usize == *suspect);
            let places = own.chain(new.map(|(index, _)| Some(cast.len() + index))).flatten();
            for (place, share) in places.zip(cloud.log_shares()) {
                weights[place] = log_odds[*suspect] + share;
            }
        }
        Worlds::new(cast.suspects.len(), suspects, weights).ok()?.with_none_of_these(NONE_OF_THESE).ok()
    }

    /// The cast's nearest world of the same suspect.
    fn nearest(&self, beyond: &Beyond) -> Vec<u32> {
        let cast = &self.atlas.cast;
        let distance = |left: &Draw, right: &Draw| {
            (0..AXES).map(|axis| (left[axis] - right[axis]) * (left[axis] - right[axis])).sum::<f64>()
        };
        let draws: Vec<Draw> = (0..cast.worlds_each).map(|world| cast.draw(world)).collect();
        let near = |(draw, suspect): (&Draw, &u32)| {
            let best = (0..draws.len())
                .min_by(|left, right| distance(&draws[*left], draw).total_cmp(&distance(&draws[*right], draw)));
            *suspect * cast.worlds_each as u32 + best.unwrap_or(0) as u32
        };
        beyond.draws.iter().zip(&beyond.suspects).map(near).collect()
    }

    fn evidence(&self, clue: &Clue<'_>, of_cast: Weighed, beyond: &Beyond) -> Result<Evidence, EvidenceError> {
        let new = self.weigh_beyond(clue, beyond);
        let mut all = of_cast;
        all.log_likelihood.extend(new.log_likelihood);
        all.wild.extend(new.wild);
        let evidence = Evidence::new(clue.key.clone(), all.log_likelihood)?;
        match clue.sort {
            ClueSort::Read { .. } => evidence.with_wild(all.wild)?.with_uniform(all.log_uniform),
            _ => Ok(evidence),
        }
    }
}

impl Beyond {
    fn watching(columns: &[usize]) -> Self {
        Self { watched: columns.to_vec(), cells: vec![Vec::new(); columns.len()], ..Self::default() }
    }

    fn take(&mut self, suspect: u32, draw: Draw, air: f64, signs: Signs, cells: &[Cell]) {
        self.suspects.push(suspect);
        self.draws.push(draw);
        self.air.push(air);
        self.signs.push(signs);
        for (column, cell) in self.cells.iter_mut().zip(cells) {
            column.push(*cell);
        }
    }

    fn append(&mut self, mut other: Self) {
        self.suspects.append(&mut other.suspects);
        self.draws.append(&mut other.draws);
        self.air.append(&mut other.air);
        self.signs.append(&mut other.signs);
        for (column, more) in self.cells.iter_mut().zip(&mut other.cells) {
            column.append(more);
        }
    }
}

/// (read − shown)/σ of each reading that is a number, and of the air.
fn residuals(clues: &[Clue<'_>], watched: &[usize], cells: &[Cell], air: f64) -> Vec<f64> {
    let residual = |clue: &Clue<'_>| match &clue.sort {
        ClueSort::Air(read) => (air - read) / AIR_SIGMA,
        ClueSort::Read { column, probe, reading: Reading::Number(read) } => {
            let cell = watched.iter().position(|known| known == column).map(|at| cells[at]);
            let shown = cell.map_or(f64::NAN, Cell::middle);
            if !shown.is_finite() {
                return 0.0;
            }
            let (shown, read) =
                if probe.dimension() == Dimension::Current { (shown.abs(), read.abs()) } else { (shown, *read) };
            (shown - read) / sigma(probe, shown)
        }
        _ => 0.0,
    };
    clues.iter().map(residual).collect()
}

/// A clue that cannot be wild.
fn certain(log_likelihood: impl Iterator<Item = f64>) -> Weighed {
    Weighed { log_likelihood: log_likelihood.collect(), wild: Vec::new(), log_uniform: 0.0 }
}

fn worked(right: bool, fixed: bool) -> f64 {
    log(if right == fixed { REMEDY_WORKS } else { 1.0 - REMEDY_WORKS })
}

/// Columns of the same instrument in the same state with a lead on the same point: where a tip could slip to.
/// The nearest by the order of the sheet, among those that the wiring suggests.
fn neighbors(atlas: &Atlas, column: usize) -> Vec<usize> {
    let probe = &atlas.probes[column];
    let Sort::Meter(instrument, Hookup::Between { red, black }) = probe.sort else { return Vec::new() };
    let distance = |other: &Probe| match other.sort {
        Sort::Meter(kind, Hookup::Between { red: left, black: right }) => {
            let beside = kind == instrument && other.state == probe.state && (left == red) != (right == black);
            beside.then_some(left.abs_diff(red) + right.abs_diff(black))
        }
        _ => None,
    };
    let suggested = atlas.suggested().iter().enumerate();
    let mut near: Vec<(usize, usize)> =
        suggested.filter_map(|(index, other)| distance(other).map(|distance| (distance, index))).collect();
    near.sort_unstable();
    near.into_iter().take(3).map(|(_, index)| index).collect()
}
