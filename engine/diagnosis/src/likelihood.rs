//! How well a reading fits what a world shows: an exact density, never binned.
//! Law: L = (1 − p_wild − p_place)·clean + p_wild/range + p_place·(mean of the same at neighboring points);
//! clean is normal about the predicted value, σ² = (accuracy/2)² + (spread of the point)². A word may be misheard, too:
//! then it is any of the others. What was read twice alike was so by one mishap a time: their shares are squared.
//! Source of the shares and of the spread in σ: simulation, docs/oracles.md; spreads are estimates.
//! Limit: readings are taken as independent given the world.

use libm::{erfc, exp, log};
use machine::probe::Sort;
use machine::{Instrument, Probe};
use quantity::{Dimension, Reading};

use crate::cell::Cell;
use crate::column::Column;
use crate::spread::Spread;

/// Share of readings that are wild.
pub const WILD: f64 = 0.02;
/// Share of readings that are right but of a neighboring point.
pub const MISPLACED: f64 = 0.02;
/// Share of words that are misheard or mistyped.
pub(crate) const MISHEARD: f64 = 0.03;
/// An ohmmeter's number above this counts as beyond the limit of the test current.
const FAR_OHMS: f64 = 6000.0;

/// One reading in every world: log likelihood, and the probability that it is wild if that world is the truth.
#[derive(Clone, Debug)]
pub struct Weighed {
    /// Natural log of the likelihood.
    pub log_likelihood: Vec<f64>,
    /// Probability of being wild, misplaced or misheard.
    pub wild: Vec<f64>,
    /// Log density of a wild reading.
    pub log_uniform: f64,
}

/// Weighs a reading in every world; `neighbors` are the columns of points that a tip could slip to.
/// `careful` squares the shares of mishaps: the reading was taken twice and agreed.
pub fn weigh(probe: &Probe, reading: &Reading, column: &Column, neighbors: &[&Column], careful: bool) -> Weighed {
    let words = probe.words().len();
    let share = |share: f64| if careful { share * share } else { share };
    let [wild, misplaced, misheard] = [WILD, MISPLACED, if words > 0 { MISHEARD } else { 0.0 }].map(share);
    let uniform = wild_density(probe, reading);
    let spread = Spread::of(probe);
    let mut weighed = Weighed {
        log_likelihood: Vec::with_capacity(column.len()),
        wild: Vec::with_capacity(column.len()),
        log_uniform: log(uniform),
    };
    for world in 0..column.len() {
        let clean = clean(probe, &spread, reading, column.cell(world), uniform);
        let astray = if words > 0 || neighbors.is_empty() {
            uniform
        } else {
            let sum: f64 = neighbors
                .iter()
                .map(|neighbor| self::clean(probe, &spread, reading, neighbor.cell(world), uniform))
                .sum();
            sum / neighbors.len() as f64
        };
        let other_word = if words > 1 { (1.0 - clean) / (words - 1) as f64 } else { 0.0 };
        let good = (1.0 - wild - misplaced - misheard) * clean;
        let bad = wild * uniform + misplaced * astray + misheard * other_word;
        weighed.log_likelihood.push(log(good + bad));
        weighed.wild.push((bad / (good + bad)).clamp(0.0, 1.0));
    }
    weighed
}

/// Density of a wild reading: uniform over what the instrument could show, or over the words.
fn wild_density(probe: &Probe, reading: &Reading) -> f64 {
    let words = probe.words().len();
    if words > 0 {
        return 1.0 / words as f64;
    }
    let span = match (probe.sort, probe.dimension()) {
        (Sort::Meter(Instrument::Clamp, _), _) => 300.0,
        (_, Dimension::Voltage) => 16.0,
        (_, Dimension::Current) => 10.0,
        (_, Dimension::Resistance) => 200.0,
        _ => 1e-3,
    };
    match reading {
        Reading::Range { .. } => 1.0 / (span * span),
        Reading::Number(value) if is_far_ohms(probe, *value) => 0.2,
        Reading::Number(_) => 1.0 / span,
        _ => 0.2,
    }
}

fn is_far_ohms(probe: &Probe, value: f64) -> bool {
    probe.dimension() == Dimension::Resistance && value.abs() >= FAR_OHMS
}

fn clean(probe: &Probe, spread: &Spread, reading: &Reading, cell: Cell, neutral: f64) -> f64 {
    if cell.low.is_nan() {
        return neutral;
    }
    if let (Reading::Word(word), words) = (reading, probe.words())
        && !words.is_empty()
    {
        let said = words.iter().position(|known| known == word);
        return if said == Some(cell.low as usize) { 1.0 } else { 0.0 };
    }
    let unsigned = probe.dimension() == Dimension::Current;
    let (mut low, mut high) = (f64::from(cell.low), f64::from(cell.high));
    if unsigned && low.is_finite() {
        let both = (low.abs(), high.abs());
        (low, high) = (both.0.min(both.1), both.0.max(both.1));
    }
    let size = |value: f64| if unsigned { value.abs() } else { value };
    match reading {
        Reading::Overload => if_over(cell, 0.98, 1e-3),
        Reading::Number(value) if is_far_ohms(probe, *value) => if_over(cell, 0.98, 1e-3),
        Reading::Number(_) if cell.is_over() => 1e-9,
        Reading::Number(value) => number(spread, size(*value), low, high),
        Reading::Range { .. } if cell.is_over() => 1e-12,
        Reading::Range { low: from, high: to } => {
            // Without their signs the ends of a negative range change places.
            let (from, to) = if size(*from) <= size(*to) { (from, to) } else { (to, from) };
            let ends =
                |end: f64, shown: f64| normal(size(end), shown, spread.at(shown) + 0.1 * (high - low).abs() + 0.05);
            ends(*from, low) * ends(*to, high)
        }
        Reading::Above(limit) if cell.is_over() => if_over(cell, if limit.is_finite() { 0.98 } else { 1.0 }, 0.0),
        Reading::Above(limit) => above(spread, *limit, high).max(1e-4),
        Reading::Below(_) if cell.is_over() => 1e-3,
        Reading::Below(limit) => (1.0 - above(spread, *limit, low)).max(1e-4),
        Reading::Word(_) | Reading::Skip => neutral,
    }
}

fn if_over(cell: Cell, yes: f64, no: f64) -> f64 {
    if cell.is_over() { yes } else { no }
}

/// A number: normal about a steady value, uniform within a chattering range, its edges softened.
fn number(spread: &Spread, value: f64, low: f64, high: f64) -> f64 {
    if high == low || high - low < 4.0 * spread.at(low) {
        let middle = 0.5 * (low + high);
        return normal(value, middle, spread.at(middle));
    }
    let (left, right) = (spread.at(low), spread.at(high));
    let beyond = |x: f64| 0.5 * erfc(x * std::f64::consts::FRAC_1_SQRT_2);
    (beyond((low - value) / left) - beyond((high - value) / right)).max(0.0) / (high - low)
}

fn above(spread: &Spread, limit: f64, shown: f64) -> f64 {
    0.5 * erfc((limit - shown) / spread.at(shown) * std::f64::consts::FRAC_1_SQRT_2)
}

fn normal(value: f64, mean: f64, sigma: f64) -> f64 {
    const ROOT_TWO_PI: f64 = 2.506_628_274_631_000_2;
    let z = (value - mean) / sigma;
    // Beyond, the density is far below the share of wild readings and only costs time.
    if z.abs() > 12.0 {
        return 0.0;
    }
    exp(-0.5 * z * z) / (sigma * ROOT_TWO_PI)
}
