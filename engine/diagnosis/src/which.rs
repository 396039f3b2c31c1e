//! Which of several sheets a machine is wired like, whatever is wrong with it, and the reading that would tell.
//! Law: the odds of a sheet are its prior times the probability of the readings on it, all its faults together (Bayes'
//! factor); a probe is worth the mutual information between sheet and what it shows (Shannon) for each minute.
//! Promise: the odds sum to one; sheets that show alike keep equal odds.
//! Limits: all sheets start equal; numbers are told apart in steps that grow with their size, words as they are; only
//! probes that every sheet has under one name are compared.

use std::collections::BTreeMap;

use libm::{asinh, exp, floor, log2};
use machine::Probe;
use machine::probe::Sort;
use quantity::Dimension;

use crate::cell::Cell;
use crate::desk::Desk;
use crate::request::{BadRequest, Request};

/// A probe that would tell sheets apart.
#[derive(Clone, Debug)]
pub struct Telling {
    /// Its column at each desk.
    pub columns: Vec<usize>,
    /// What it would say of the sheet, in bits.
    pub bits: f64,
    /// Attended minutes with all access, at the first desk's machine.
    pub minutes: f64,
    /// What each sheet would show: the middle of what it shows and the limits of nine cases in ten.
    pub shows: Vec<[f64; 3]>,
}

/// What is known of which sheet it is.
#[derive(Clone, Debug)]
pub struct Which {
    /// Odds of each sheet.
    pub odds: Vec<f64>,
    /// Probes that would tell, the most for its minutes first.
    pub next: Vec<Telling>,
}

/// Share of a column's cases that is left out at either end of what it shows.
const TAIL: f64 = 0.05;
/// A probe that says less of the sheet tells nothing.
const LEAST_BITS: f64 = 0.02;

/// Weighs sheets, each at its desk with the same readings looked up in it.
///
/// # Errors
/// When a reading names something that one of the sheets does not have, with the number of that sheet.
pub fn which(desks: &mut [Desk], requests: &[Request]) -> Result<Which, (usize, BadRequest)> {
    let mut evidence = Vec::new();
    for (index, (desk, request)) in desks.iter_mut().zip(requests).enumerate() {
        evidence.push(desk.evidence(request).map_err(|error| (index, error))?);
    }
    let best = evidence.iter().flatten().map(|(log, _)| *log).fold(f64::NEG_INFINITY, f64::max);
    let shares: Vec<f64> =
        evidence.iter().map(|known| known.as_ref().map_or(0.0, |(log, _)| exp(log - best))).collect();
    let total: f64 = shares.iter().sum();
    let even = 1.0 / desks.len().max(1) as f64;
    let odds: Vec<f64> = shares.iter().map(|share| if total > 0.0 { share / total } else { even }).collect();
    let cases: Vec<Vec<f64>> =
        evidence.into_iter().map(|known| known.map_or_else(Vec::new, |(_, cases)| cases)).collect();
    let next = telling(desks, &odds, &cases, requests);
    Ok(Which { odds, next })
}

fn telling(desks: &[Desk], odds: &[f64], cases: &[Vec<f64>], requests: &[Request]) -> Vec<Telling> {
    let Some((first, others)) = desks.split_first() else { return Vec::new() };
    let taken =
        |probe: &Probe| requests.iter().flat_map(|request| &request.readings).any(|(name, _)| *name == probe.name);
    let mut all = Vec::new();
    for (column, probe) in first.probes().iter().enumerate() {
        let named = |desk: &Desk| desk.probes().iter().position(|known| known.name == probe.name);
        let Some(rest) = others.iter().map(named).collect::<Option<Vec<usize>>>() else { continue };
        if taken(probe) || matches!(probe.sort, Sort::Ask(_)) {
            continue;
        }
        let columns: Vec<usize> = std::iter::once(column).chain(rest).collect();
        let bits = information(desks, odds, cases, &columns);
        if bits < LEAST_BITS {
            continue;
        }
        let access = probe.places.iter().map(|place| first.machine.sheet.places[*place].access_minutes);
        let shows = desks.iter().zip(cases).zip(&columns).map(|((desk, cases), column)| shown(desk, cases, *column));
        all.push(Telling { bits, minutes: probe.minutes + access.sum::<f64>(), shows: shows.collect(), columns });
    }
    all.sort_by(|left, right| (right.bits / right.minutes).total_cmp(&(left.bits / left.minutes)));
    all
}

/// Mutual information between the sheet and what a probe shows, in bits.
fn information(desks: &[Desk], odds: &[f64], cases: &[Vec<f64>], columns: &[usize]) -> f64 {
    // What is seen, with how likely it is together with each sheet.
    let mut joint: BTreeMap<i64, Vec<f64>> = BTreeMap::new();
    for (sheet, ((desk, cases), column)) in desks.iter().zip(cases).zip(columns).enumerate() {
        let whole: f64 = cases.iter().sum();
        for (case, weight) in cases.iter().enumerate().filter(|(_, weight)| **weight > 0.0) {
            let class = class(&desk.probes()[*column], desk.atlas().columns[*column].cell(case));
            joint.entry(class).or_insert_with(|| vec![0.0; desks.len()])[sheet] += odds[sheet] * weight / whole;
        }
    }
    let surprise = |share: f64| if share > 0.0 { -share * log2(share) } else { 0.0 };
    let before: f64 = odds.iter().map(|odds| surprise(*odds)).sum();
    let after = |sheets: &Vec<f64>| {
        let seen: f64 = sheets.iter().sum();
        sheets.iter().map(|share| seen * surprise(share / seen)).sum::<f64>()
    };
    before - joint.values().map(after).sum::<f64>()
}

/// What is told apart: words and what lies beyond the limit as they are; numbers in steps of about a quarter of their
/// size, and small ones together.
fn class(probe: &Probe, cell: Cell) -> i64 {
    const OVER: i64 = i64::MAX;
    const NOTHING: i64 = i64::MIN;
    let small = match probe.dimension() {
        Dimension::Voltage => 0.5,
        Dimension::Resistance => 1.0,
        Dimension::Current => 0.1,
        _ => 1e-3,
    };
    match cell {
        cell if cell.low.is_nan() => NOTHING,
        cell if cell.is_over() => OVER,
        cell if !probe.words().is_empty() => cell.low as i64,
        cell => floor(4.0 * asinh(cell.middle() / small) + 0.5) as i64,
    }
}

/// Middle, lower and upper limit of what a sheet shows on a probe.
fn shown(desk: &Desk, cases: &[f64], column: usize) -> [f64; 3] {
    let column = &desk.atlas().columns[column];
    let mut seen: Vec<(f64, f64)> = cases
        .iter()
        .enumerate()
        .filter(|(_, weight)| **weight > 0.0)
        .map(|(case, weight)| (column.cell(case).middle(), *weight))
        .filter(|(value, _)| !value.is_nan())
        .collect();
    seen.sort_by(|left, right| left.0.total_cmp(&right.0));
    let whole: f64 = seen.iter().map(|(_, weight)| weight).sum();
    let at = |share: f64| {
        let mut sum = 0.0;
        let beyond = seen.iter().find(|(_, weight)| {
            sum += weight;
            sum >= share * whole
        });
        beyond.map_or(f64::NAN, |(value, _)| *value)
    };
    [at(0.5), at(TAIL), at(1.0 - TAIL)]
}
