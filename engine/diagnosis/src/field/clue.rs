//! What is known of a job, entry by entry, and how each of it weighs worlds.
//! Promise: clues are sorted by what they say, so that the order in which independent ones came does not matter. What
//! was read after a remedy is of the machine as the remedy left it.

use libm::log;
use machine::probe::Sort;
use machine::{Hookup, Probe, Signs};
use quantity::{Dimension, Reading};

use super::Sources;
use super::seen::Seen;
use super::subject::Subject;
use crate::advice::Pending;
use crate::atlas::Atlas;
use crate::band::{AIR_SIGMA, warmth};
use crate::cell::Cell;
use crate::column::Column;
use crate::complaint::{self, Complaint};
use crate::likelihood::{Weighed, weigh};
use crate::proof::pending;
use crate::request::{Entry, after_repair};
use crate::spread::sigma;

/// A right remedy fixes the machine with this probability.
const REMEDY_WORKS: f64 = 0.98;

/// Something that is known, and how it weighs worlds.
pub(super) struct Clue<'a> {
    pub(super) key: String,
    pub(super) shown: String,
    pub(super) probe: Option<usize>,
    pub(super) times: usize,
    /// Remedies that were tried before, by index, ascending.
    pub(super) tried: Vec<usize>,
    pub(super) sort: ClueSort<'a>,
}

pub(super) enum ClueSort<'a> {
    Complaint(&'static Complaint),
    Air(f64),
    /// A remedy with whom it fixes, and all that had been tried then, itself too; how often one has looked since.
    Tried {
        fixes: &'a [u32],
        then: Vec<usize>,
        fixed: bool,
        looks: u32,
    },
    Read {
        column: usize,
        probe: &'a Probe,
        reading: Reading,
    },
}

/// What becomes of one of several readings of a probe.
enum Repeated {
    /// It counts, as the mean of so many that agree.
    Counts(Reading, usize),
    /// Another one stands for it.
    Merged,
    /// Others agree against it.
    Overruled,
}

impl<'a> Sources<'a> {
    /// Everything known, by name, so that the order in which it came does not matter.
    pub(super) fn clues(&self) -> Vec<Clue<'a>> {
        let certain = |key: &str, shown: String, tried: Vec<usize>, sort| Clue {
            key: key.to_owned(),
            shown,
            probe: None,
            times: 2,
            tried,
            sort,
        };
        let mut clues = Vec::new();
        if let Some(complaint) = self.known.complaint {
            let shown = format!("complaint: {}", complaint.title);
            clues.push(certain("complaint", shown, Vec::new(), ClueSort::Complaint(complaint)));
        }
        if let Some(air) = self.request.air {
            clues.push(certain("air", format!("air {air}"), Vec::new(), ClueSort::Air(air.0)));
        }
        for (index, entry) in self.known.entries.iter().enumerate() {
            let tried = self.tried_before(index);
            match (entry, self.columns[index]) {
                (Entry::Tried { verb, part, fixed }, _) => {
                    let name = format!("try:{verb}@{part}");
                    let remedy = self.remedies.iter().position(|(known, _)| *known == name);
                    let fixes = remedy.map_or(&[][..], |remedy| self.remedies[remedy].1);
                    let shown = format!("{name} = {}", if *fixed { "fixed" } else { "same" });
                    let then = sorted(tried.iter().copied().chain(remedy));
                    let sort = ClueSort::Tried { fixes, then, fixed: *fixed, looks: 1 };
                    clues.push(certain(&name, shown, tried, sort));
                }
                (Entry::HeldUp(true), _) if self.known.holds_up(index) => {
                    // The repair that holds up is that of the remedy that seemed to have worked; each time tells anew.
                    let fixing = self.remedies.iter().position(|(name, _)| self.known.fixed_by(name));
                    let Some(remedy) = fixing else { continue };
                    let before = (0..index).filter(|before| self.known.holds_up(*before)).count();
                    let key = format!("ask:held-up {}", before + 1);
                    let then = sorted(tried.iter().copied().chain([remedy]));
                    let looks = match pending(self.known.complaint, None, true) {
                        Some(Pending::Starts(starts)) => starts,
                        _ => 1,
                    };
                    let sort = ClueSort::Tried { fixes: self.remedies[remedy].1, then, fixed: true, looks };
                    clues.push(certain(&key, "ask:held-up = yes".to_owned(), tried, sort));
                }
                (Entry::Took(probe, reading), Some(column))
                    if !after_repair(&self.known.entries[..index]) && self.known.counts(probe, reading) =>
                {
                    let Repeated::Counts(reading, times) = self.repeated(index, column, probe, reading, &tried) else {
                        continue;
                    };
                    let shown = format!("{} = {}", probe.name, probe.show(&reading));
                    let reading = self.known.with_leads(self.machine.leads(), probe, &reading);
                    clues.push(Clue {
                        key: probe.name.clone(),
                        shown,
                        probe: Some(column),
                        times,
                        tried,
                        sort: ClueSort::Read { column, probe, reading },
                    });
                }
                _ => {}
            }
        }
        clues.sort_by(|left, right| {
            left.key.cmp(&right.key).then_with(|| left.tried.cmp(&right.tried)).then(left.shown.cmp(&right.shown))
        });
        clues
    }

    /// Remedies that were tried, and changed nothing, before an entry.
    pub(super) fn tried_before(&self, index: usize) -> Vec<usize> {
        let tried = self.known.entries[..index].iter().filter_map(|entry| match entry {
            Entry::Tried { verb, part, fixed: false } => {
                let name = format!("try:{verb}@{part}");
                self.remedies.iter().position(|(known, _)| *known == name)
            }
            _ => None,
        });
        sorted(tried)
    }

    /// What becomes of a reading of a probe that was taken more than once on the machine as it then was: those that agree
    /// are one reading, their mean, and overrule one that does not; while no two agree each counts for itself.
    fn repeated(&self, index: usize, column: usize, probe: &Probe, reading: &Reading, tried: &[usize]) -> Repeated {
        let entries = &self.known.entries;
        let same: Vec<(usize, &Reading)> = entries
            .iter()
            .zip(self.columns)
            .enumerate()
            .filter(|(at, (_, other))| **other == Some(column) && !after_repair(&entries[..*at]))
            .filter(|(at, _)| self.tried_before(*at) == tried)
            .filter_map(|(at, (entry, _))| if let Entry::Took(_, reading) = entry { Some((at, reading)) } else { None })
            .collect();
        let agree = |left: &Reading, right: &Reading| match (left, right) {
            (Reading::Number(left), Reading::Number(right)) => (left - right).abs() <= 5.0 * sigma(probe, *right),
            _ => left == right,
        };
        let with = |reading: &Reading| same.iter().filter(|(_, other)| agree(other, reading)).count();
        // The last of equals: a hand that does it again does it with more care.
        let most = same.iter().max_by_key(|(at, reading)| (with(reading), *at));
        let Some((_, most)) = most.filter(|(_, most)| with(most) > 1) else {
            return Repeated::Counts(reading.clone(), 1);
        };
        let agreeing: Vec<&(usize, &Reading)> = same.iter().filter(|(_, other)| agree(other, most)).collect();
        if !agreeing.iter().any(|(at, _)| *at == index) {
            return Repeated::Overruled;
        }
        if agreeing.last().is_some_and(|(at, _)| *at != index) {
            return Repeated::Merged;
        }
        let number = |reading: &Reading| if let Reading::Number(value) = reading { Some(*value) } else { None };
        let numbers: Vec<f64> = agreeing.iter().filter_map(|(_, reading)| number(reading)).collect();
        let mean = (!numbers.is_empty()).then(|| Reading::Number(numbers.iter().sum::<f64>() / numbers.len() as f64));
        Repeated::Counts(mean.unwrap_or_else(|| reading.clone()), agreeing.len())
    }

    /// Readings that two others of the same probe overrule.
    pub(super) fn overruled(&self) -> Vec<String> {
        let entries = self.known.entries.iter().zip(self.columns).enumerate();
        let overruled = entries.filter_map(|(index, (entry, column))| match (entry, column) {
            (Entry::Took(probe, reading), Some(column)) if !after_repair(&self.known.entries[..index]) => {
                let repeated = self.repeated(index, *column, probe, reading, &self.tried_before(index));
                matches!(repeated, Repeated::Overruled).then(|| format!("{} = {}", probe.name, probe.show(reading)))
            }
            _ => None,
        });
        overruled.collect()
    }

    /// How a clue weighs the worlds of the cast.
    pub(super) fn weigh_cast(&self, clue: &Clue<'_>) -> Weighed {
        let atlas = self.atlas;
        let worlds = atlas.signs.len();
        match &clue.sort {
            ClueSort::Complaint(complaint) => certain(atlas.signs.iter().map(|signs| self.says(complaint, signs))),
            ClueSort::Air(air) => certain(atlas.air.iter().map(|world| warmth(f64::from(*world), *air))),
            ClueSort::Tried { fixes, fixed, .. } => certain((0..worlds).map(|world| {
                let mended = fixes.contains(&(atlas.cast.suspect_of(world) as u32));
                answers(if mended { 0.0 } else { 1.0 }, *fixed)
            })),
            ClueSort::Read { column, probe, reading } => {
                let neighbors: Vec<&Column> =
                    neighbors(atlas, *column).into_iter().map(|index| &atlas.columns[index]).collect();
                weigh(probe, reading, &atlas.columns[*column], &neighbors, clue.times > 1)
            }
        }
    }

    /// How a clue weighs worlds that were drawn for this job.
    pub(super) fn weigh_seen(&self, clue: &Clue<'_>, seen: &Seen) -> Weighed {
        match &clue.sort {
            ClueSort::Complaint(complaint) => certain(seen.signs(&[]).iter().map(|signs| self.says(complaint, signs))),
            ClueSort::Air(air) => certain(seen.air.iter().map(|world| warmth(*world, *air))),
            ClueSort::Tried { fixes, then, fixed, .. } => {
                let signs = seen.signs(then);
                let of = |(world, subject): (usize, &Subject)| {
                    answers(self.stays(*subject, &clue.tried, fixes, signs.get(world)), *fixed)
                };
                certain(seen.subjects.iter().enumerate().map(of))
            }
            ClueSort::Read { column, probe, reading } => {
                let plain = |column: &usize| Column::plain(seen.cells(&clue.tried, *column));
                let near: Vec<Column> = neighbors(self.atlas, *column).iter().map(plain).collect();
                weigh(probe, reading, &plain(column), &near.iter().collect::<Vec<_>>(), clue.times > 1)
            }
        }
    }

    fn says(&self, complaint: &Complaint, signs: &Signs) -> f64 {
        log(complaint::likelihood(complaint, signs, &self.atlas.nominal))
    }

    /// How likely something is still wrong to the eye after a remedy: of two faults it may mend the one that mattered.
    fn stays(&self, subject: Subject, tried: &[usize], fixes: &[u32], then: Option<&Signs>) -> f64 {
        let left = subject.left(&self.fixed_by(tried));
        let mended = left.iter().filter(|(suspect, _)| fixes.contains(suspect)).count();
        match (mended, then) {
            (0, _) => 1.0,
            (mended, Some(signs)) if mended < left.len() => {
                complaint::stays(self.known.complaint, signs, &self.atlas.nominal)
            }
            _ => 0.0,
        }
    }

    /// Whom each of some remedies fixes.
    pub(super) fn fixed_by(&self, tried: &[usize]) -> Vec<&'a [u32]> {
        tried.iter().map(|remedy| self.remedies[*remedy].1).collect()
    }
}

/// Log likelihood of a remedy's answer, by how likely something is still wrong to the eye.
fn answers(stays: f64, fixed: bool) -> f64 {
    let same = (1.0 - REMEDY_WORKS) + (2.0 * REMEDY_WORKS - 1.0) * stays;
    log(if fixed { 1.0 - same } else { same })
}

fn sorted(remedies: impl Iterator<Item = usize>) -> Vec<usize> {
    let mut remedies: Vec<usize> = remedies.collect();
    remedies.sort_unstable();
    remedies.dedup();
    remedies
}

impl Clue<'_> {
    /// All that it says and shows, and of when.
    pub(super) fn name(&self) -> String {
        let says = match &self.sort {
            ClueSort::Complaint(complaint) => complaint.name.to_owned(),
            ClueSort::Air(air) => format!("{air:?}"),
            ClueSort::Tried { fixed, then, looks, .. } => format!("{fixed} {then:?} {looks}"),
            ClueSort::Read { reading, .. } => format!("{reading:?}"),
        };
        format!("{} {} {:?} {} {says}", self.key, self.shown, self.tried, self.times)
    }

    /// Whether a meter with a lead off would show the same: nothing, or `OL` ohms.
    pub(super) fn is_idle(&self) -> bool {
        let ClueSort::Read { probe, reading, .. } = &self.sort else { return false };
        match reading {
            _ if !matches!(probe.sort, Sort::Meter(..)) => false,
            Reading::Number(value) if probe.dimension() != Dimension::Resistance => {
                value.abs() <= 3.0 * sigma(probe, 0.0)
            }
            Reading::Overload => true,
            _ => false,
        }
    }

    /// Whether it has a residual.
    pub(super) fn is_number(&self) -> bool {
        matches!(self.sort, ClueSort::Air(_) | ClueSort::Read { reading: Reading::Number(_), .. })
    }

    /// (read − shown)/σ of a reading that is a number, and of the air; zero for what has no number.
    pub(super) fn residual(&self, cell: impl Fn(&[usize], usize) -> Cell, air: f64) -> f64 {
        match &self.sort {
            ClueSort::Air(read) => (air - read) / AIR_SIGMA,
            ClueSort::Read { column, probe, reading: Reading::Number(read) } => {
                let shown = cell(&self.tried, *column).middle();
                if !shown.is_finite() {
                    return 0.0;
                }
                let (shown, read) =
                    if probe.dimension() == Dimension::Current { (shown.abs(), read.abs()) } else { (shown, *read) };
                (shown - read) / sigma(probe, shown)
            }
            _ => 0.0,
        }
    }
}

/// A clue that cannot be wild.
fn certain(log_likelihood: impl Iterator<Item = f64>) -> Weighed {
    Weighed { log_likelihood: log_likelihood.collect(), wild: Vec::new(), log_uniform: 0.0 }
}

/// Columns of the same instrument in the same state with a lead on the same point: where a tip could slip to.
/// The nearest by the order of the sheet, among those that the wiring suggests.
pub(super) fn neighbors(atlas: &Atlas, column: usize) -> Vec<usize> {
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
