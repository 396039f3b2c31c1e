//! A column of the atlas in a dozen bins, for planning only: which outcomes a probe has, and which worlds give them.
//! Idea: edges half at quantiles of the worlds, half evenly spaced, none closer than 2σ; noise at an edge leaks into
//! the neighbor. Source: binning compared by simulation, docs/oracles.md. Limit: a reading itself is never binned.

use machine::Probe;

use crate::cell::Cell;
use crate::inference::Kernel;
use crate::spread::Spread;

/// What an outcome of a probe is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Outcome {
    /// A number from here to there.
    Between(f64, f64),
    /// Beyond the instrument's limit.
    Over,
    /// Not steady: it chatters.
    Unsteady,
    /// One of the probe's words, by index.
    Word(usize),
}

/// A column's classes, outcomes and the way noise mixes them.
#[derive(Clone, Debug, PartialEq)]
pub struct Bins {
    /// Class of each world.
    pub classes: Vec<u8>,
    /// What each class is.
    pub outcomes: Vec<Outcome>,
    /// P(outcome | class); nothing when the probe cannot be planned with.
    pub kernel: Option<Kernel>,
}

const MOST: usize = 12;
/// Share that may show as any outcome.
const WILD: f64 = 0.04;

impl Bins {
    /// Bins a column.
    pub fn new(probe: &Probe, column: &[Cell]) -> Self {
        let words = probe.words().len();
        if words > 0 {
            let classes = column.iter().map(word).collect();
            let outcomes = (0..words).map(Outcome::Word).collect();
            return Self { classes, outcomes, kernel: Kernel::symmetric(words, WILD).ok() };
        }
        let spread = Spread::of(probe);
        let mut values: Vec<f64> =
            column.iter().filter(|cell| steady(&spread, cell)).map(|cell| cell.middle()).collect();
        values.sort_by(f64::total_cmp);
        let edges = edges(&spread, &values);
        let numbers = edges.len() + 1;
        let mut outcomes: Vec<Outcome> = (0..numbers)
            .map(|bin| {
                let low = if bin == 0 { f64::NEG_INFINITY } else { edges[bin - 1] };
                Outcome::Between(low, edges.get(bin).copied().unwrap_or(f64::INFINITY))
            })
            .collect();
        outcomes.extend([Outcome::Over, Outcome::Unsteady]);
        let mut bins = Self { classes: Vec::new(), kernel: leaky(&spread, &edges, &values), outcomes };
        bins.classes = column.iter().map(|cell| bins.numbered(&spread, cell)).collect();
        bins
    }

    /// The classes of cells that are not of the column that was binned.
    pub(crate) fn classes_of(&self, probe: &Probe, cells: impl Iterator<Item = Cell>) -> Vec<u8> {
        if !probe.words().is_empty() {
            return cells.map(|cell| word(&cell)).collect();
        }
        let spread = Spread::of(probe);
        cells.map(|cell| self.numbered(&spread, &cell)).collect()
    }

    /// The class of a number: the bin that holds it, beyond the limit, or unsteady.
    fn numbered(&self, spread: &Spread, cell: &Cell) -> u8 {
        // The last two outcomes are `Over` and `Unsteady`.
        let numbers = self.outcomes.len() - 2;
        let class = if cell.is_over() {
            numbers
        } else if cell.low.is_nan() {
            0
        } else if steady(spread, cell) {
            let above = |outcome: &Outcome| matches!(outcome, Outcome::Between(low, _) if *low <= cell.middle());
            self.outcomes[1..numbers].partition_point(above)
        } else {
            numbers + 1
        };
        class as u8
    }
}

fn word(cell: &Cell) -> u8 {
    if cell.low.is_nan() { 0 } else { cell.low as u8 }
}

fn steady(spread: &Spread, cell: &Cell) -> bool {
    cell.low.is_finite()
        && (cell.high == cell.low || f64::from(cell.high - cell.low) < 6.0 * spread.at(f64::from(cell.low)))
}

fn edges(spread: &Spread, sorted: &[f64]) -> Vec<f64> {
    let (Some(low), Some(high)) = (sorted.first(), sorted.last()) else { return Vec::new() };
    let half = MOST / 2;
    let mut wanted: Vec<f64> = (1..half)
        .flat_map(|step| {
            let share = step as f64 / half as f64;
            let quantile = sorted[((sorted.len() - 1) as f64 * share) as usize];
            [quantile, low + share * (high - low)]
        })
        .collect();
    wanted.sort_by(f64::total_cmp);
    let mut edges: Vec<f64> = Vec::new();
    let mut last = *low;
    for edge in wanted {
        let edge = in_a_gap(spread, sorted, edge);
        let width = 2.0 * spread.at(edge);
        if edge - last >= width && high - edge >= 0.5 * width {
            edges.push(edge);
            last = edge;
        }
    }
    edges
}

/// The middle of the widest gap between worlds near a wanted edge, so that no edge cuts through worlds that agree.
fn in_a_gap(spread: &Spread, sorted: &[f64], edge: f64) -> f64 {
    let reach = 2.0 * spread.at(edge);
    let first = sorted.partition_point(|value| *value < edge - reach).saturating_sub(1);
    let end = (sorted.partition_point(|value| *value <= edge + reach) + 1).min(sorted.len());
    let gaps = sorted[first..end].windows(2);
    let widest = gaps.max_by(|left, right| (left[1] - left[0]).total_cmp(&(right[1] - right[0])));
    widest.map_or(edge, |pair| (0.5 * (pair[0] + pair[1])).clamp(edge - reach, edge + reach))
}

/// Noise carries a reading over an edge with a probability of about 0.4 σ/width on either side.
fn leaky(spread: &Spread, edges: &[f64], sorted: &[f64]) -> Option<Kernel> {
    let numbers = edges.len() + 1;
    let size = numbers + 2;
    let (low, high) = (sorted.first().copied().unwrap_or(0.0), sorted.last().copied().unwrap_or(0.0));
    let mut rows = vec![WILD / size as f64; size * size];
    for class in 0..size {
        let mut own = 1.0 - WILD;
        if class < numbers {
            let from = if class == 0 { low } else { edges[class - 1] };
            let to = edges.get(class).copied().unwrap_or(high);
            let share = (0.4 * spread.at(0.5 * (from + to)) / (to - from).max(1e-12)).min(0.2) * (1.0 - WILD);
            for neighbor in [class.checked_sub(1), Some(class + 1)].into_iter().flatten() {
                if neighbor < numbers {
                    rows[class * size + neighbor] += share;
                    own -= share;
                }
            }
        }
        rows[class * size + class] += own;
    }
    Kernel::new(size, rows).ok()
}
