//! The table of readings, told: what each suspect's what-if cases show on each probe, and how far a probe splits the
//! suspects before anything is known.
//! Promise: spreads are quantiles of the cases themselves; nothing is fitted.

use diagnosis::advice::Band;
use diagnosis::{Atlas, Desk};
use machine::{Machine, Probe};
use serde::Serialize;

use super::probes::{BandForm, displayed_band};
use super::refusal::Refusal;
use super::stand::Stand;

/// The answer of `atlas`.
#[derive(Debug, Serialize)]
pub struct Told<'a> {
    /// What-if cases in all.
    pub worlds: usize,
    /// What-if cases of each suspect.
    pub worlds_each: usize,
    /// Healthy first.
    pub suspects: Vec<Suspected<'a>>,
    /// One entry a probe.
    pub probes: Vec<Column<'a>>,
}

/// A suspect and its share of jobs.
#[derive(Debug, Serialize)]
pub struct Suspected<'a> {
    /// `part:mode`, or `healthy`.
    pub fault: &'a str,
    /// In words.
    pub title: &'a str,
    /// Probability before anything is known.
    pub odds: f64,
}

/// What every suspect shows on one probe.
#[derive(Debug, Serialize)]
pub struct Column<'a> {
    /// The probe's name.
    pub probe: &'a str,
    /// In words.
    pub title: &'a str,
    /// What healthy machines show.
    pub band: BandForm,
    /// Bits by which it splits the suspects, before anything is known and read without noise.
    pub bits: f64,
    /// One entry a suspect.
    pub readings: Vec<Spread<'a>>,
}

/// What one suspect shows on one probe.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Spread<'a> {
    /// `part:mode`, or `healthy`.
    pub fault: &'a str,
    /// In numbers: 5 % of the cases show less.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub low: Option<f64>,
    /// Half of them show less.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub median: Option<f64>,
    /// 5 % of the cases show more.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub high: Option<f64>,
    /// In words: the commonest.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub word: Option<&'static str>,
    /// The share of cases that show this word.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub share: Option<f64>,
    /// The share of cases beyond the instrument's limit, when there are any; the numbers are of the others.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub over: Option<f64>,
}

impl<'a> Told<'a> {
    /// The form of some columns of a desk's table.
    pub fn new(desk: &'a Desk, columns: &[usize]) -> Self {
        let cast = &desk.atlas().cast;
        let all: f64 = cast.suspects.iter().map(|suspect| suspect.odds).sum();
        let suspects = cast.suspects.iter().map(|suspect| Suspected {
            fault: fault(&suspect.name),
            title: &suspect.title,
            odds: suspect.odds / all,
        });
        let column = |index: usize| Column {
            probe: &desk.probes()[index].name,
            title: &desk.probes()[index].title,
            band: BandForm::from(&desk.band(index, None)),
            bits: bits(desk.atlas(), index),
            readings: spreads(desk.atlas(), index),
        };
        Self {
            worlds: cast.len(),
            worlds_each: cast.worlds_each,
            suspects: suspects.collect(),
            probes: columns.iter().map(|index| column(*index)).collect(),
        }
    }
}

/// The columns of some probes by name; one that the wiring does not suggest is observed now.
///
/// # Errors
/// When a name is no probe of the machine.
pub fn columns(machine: &Machine, table: &mut Atlas, names: &[String]) -> Result<Vec<usize>, Refusal> {
    let mut stand = None;
    let mut columns = Vec::with_capacity(names.len());
    for name in names {
        let probe = machine
            .probe(name)
            .map_err(|error| stand.get_or_insert_with(|| Stand::new(machine.clone())).no_probe(name, &error))?;
        columns.push(match table.column_of(&probe) {
            Some(column) => column,
            None => table.add_probe(machine, probe),
        });
    }
    Ok(columns)
}

/// What every suspect shows on the probe of a column.
pub fn spreads(table: &Atlas, column: usize) -> Vec<Spread<'_>> {
    let each = table.cast.worlds_each;
    let probe = &table.probes[column];
    let suspects = table.cast.suspects.iter().enumerate();
    suspects
        .map(|(index, suspect)| spread(fault(&suspect.name), table, probe, column, index * each..(index + 1) * each))
        .collect()
}

fn spread<'a>(
    fault: &'a str,
    table: &Atlas,
    probe: &Probe,
    column: usize,
    worlds: std::ops::Range<usize>,
) -> Spread<'a> {
    let nothing = Spread { fault, low: None, median: None, high: None, word: None, share: None, over: None };
    let cells: Vec<_> =
        worlds.map(|world| table.columns[column].cell(world)).filter(|cell| !cell.low.is_nan()).collect();
    if cells.is_empty() {
        return nothing;
    }
    let share = |count: usize| count as f64 / cells.len() as f64;
    if !probe.words().is_empty() {
        let count = |word: usize| cells.iter().filter(|cell| cell.low as usize == word).count();
        // The first of equals, so that the answer does not hang on the order of a search.
        let common = (0..probe.words().len()).rev().max_by_key(|word| count(*word)).unwrap_or(0);
        return Spread { word: probe.words().get(common).copied(), share: Some(share(count(common))), ..nothing };
    }
    let steady: Vec<_> = cells.iter().filter(|cell| !cell.is_over()).collect();
    let over = cells.len() - steady.len();
    let sorted = |value: &dyn Fn(&diagnosis::cell::Cell) -> f64| {
        let mut values: Vec<f64> = steady.iter().map(|cell| value(cell)).collect();
        values.sort_by(f64::total_cmp);
        values
    };
    let at = |values: &[f64], quantile: f64| {
        let last = values.len().checked_sub(1)?;
        values.get((last as f64 * quantile).round() as usize).copied()
    };
    Spread {
        low: at(&sorted(&|cell| f64::from(cell.low)), 0.05),
        median: at(&sorted(&|cell| cell.middle()), 0.5),
        high: at(&sorted(&|cell| f64::from(cell.high)), 0.95),
        over: (over > 0).then(|| share(over)),
        ..nothing
    }
}

/// What a suspect shows in the middle of its cases, as the instrument displays it.
pub fn middle(probe: &Probe, spread: &Spread<'_>) -> String {
    match (spread.word, spread.median, spread.over) {
        (Some(word), _, _) => word.to_owned(),
        (_, _, Some(over)) if over >= 0.5 => "OL".to_owned(),
        (_, Some(median), _) => probe.display(median),
        _ => "nothing".to_owned(),
    }
}

/// The table of one operating state: probes across, faults down.
#[derive(Clone, Debug, PartialEq)]
pub struct Map {
    /// Probes in words.
    pub probes: Vec<String>,
    /// What healthy machines show on each.
    pub healthy: Vec<String>,
    /// Each fault in words, with what it shows on each probe; faults that show nowhere are left out.
    pub rows: Vec<(String, Vec<(String, Shade)>)>,
}

/// How far what a fault shows is from what healthy machines show.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shade {
    /// Most of its cases are within.
    Healthy,
    /// Half of them are within.
    Edge,
    /// The middle of them is outside.
    Outside,
}

impl Map {
    /// The table of a desk's probes in a state.
    pub fn new(desk: &Desk, state: &str) -> Self {
        let probes = desk.probes().iter().enumerate().filter(|(_, probe)| probe.state == state);
        let columns: Vec<(&Probe, Band, Vec<Spread<'_>>)> =
            probes.map(|(index, probe)| (probe, desk.band(index, None), spreads(desk.atlas(), index))).collect();
        let cell = |(probe, band, all): &(&Probe, Band, Vec<Spread<'_>>), suspect: usize| {
            (middle(probe, &all[suspect]), shade(&all[suspect], band))
        };
        let suspects = desk.atlas().cast.suspects.iter().enumerate().skip(1);
        let rows = suspects.map(|(suspect, about)| {
            (about.title.clone(), columns.iter().map(|column| cell(column, suspect)).collect::<Vec<_>>())
        });
        Self {
            rows: rows.filter(|(_, cells)| cells.iter().any(|(_, shade)| *shade != Shade::Healthy)).collect(),
            probes: columns.iter().map(|(probe, ..)| probe.title.clone()).collect(),
            healthy: columns.iter().map(|(probe, band, _)| displayed_band(probe, band)).collect(),
        }
    }
}

fn shade(spread: &Spread<'_>, band: &Band) -> Shade {
    if !as_healthy(spread, band) {
        return Shade::Outside;
    }
    let within = |value: Option<f64>| match (band, value) {
        (Band::Between { low, high, .. }, Some(value)) => (*low..=*high).contains(&value),
        _ => true,
    };
    let mostly = spread.share.is_none_or(|share| share >= 0.9) && within(spread.low) && within(spread.high);
    if mostly { Shade::Healthy } else { Shade::Edge }
}

/// Bits by which the probe of a column splits the suspects at the trade's odds: H(outcome) − H(outcome | suspect).
pub fn bits(table: &Atlas, column: usize) -> f64 {
    let bins = &table.columns[column].bins;
    let each = table.cast.worlds_each;
    let all: f64 = table.cast.suspects.iter().map(|suspect| suspect.odds).sum();
    let mut outcomes = vec![0.0; bins.outcomes.len()];
    let mut within = 0.0;
    for (classes, suspect) in bins.classes.chunks_exact(each).zip(&table.cast.suspects) {
        let mut own = vec![0.0; outcomes.len()];
        for class in classes {
            own[usize::from(*class)] += 1.0 / each as f64;
        }
        let share = suspect.odds / all;
        within += share * entropy(&own);
        outcomes.iter_mut().zip(&own).for_each(|(sum, own)| *sum += share * own);
    }
    (entropy(&outcomes) - within).max(0.0)
}

fn entropy(shares: &[f64]) -> f64 {
    shares.iter().filter(|share| **share > 0.0).map(|share| -share * share.log2()).sum()
}

/// The name of a suspect's fault; the healthy machine has a word of its own.
fn fault(name: &str) -> &str {
    if name.is_empty() { "healthy" } else { name }
}

/// Whether a suspect shows what healthy machines show: its median lies in their band.
pub fn as_healthy(spread: &Spread<'_>, band: &Band) -> bool {
    match (band, spread.median, spread.word) {
        (Band::Between { low, high, .. }, Some(median), _) => {
            (*low..=*high).contains(&median) && spread.over.is_none_or(|over| over < 0.5)
        }
        (Band::Expected(expected), _, Some(word)) => expected == word,
        (Band::Expected(expected), _, None) => expected == "OL" && spread.over.is_some_and(|over| over >= 0.5),
        _ => false,
    }
}
