//! A fault's readings, severity by severity, and how far they lie from another machine's.
//! Law: d = |a − b| / max(σ_a, σ_b) with the σ of [`crate::spread`]; a word that differs, and `OL` against a number, lie
//! infinitely far apart; of chattering readings the ends are compared, with the tenth of their width that an eye is off.
//! Limit: between two severities a reading is taken as straight until it has been solved there.

use std::collections::BTreeMap;

use machine::{Edit, Fault, Machine, Observer, Probe, Program, Seen, Signs};
use quantity::{Celsius, Dimension};

use crate::cell::Cell;
use crate::spread::Spread;

/// Severities lie on quantiles that are multiples of this share of the whole.
pub(super) const FINEST: u32 = 4096;
/// Steps between the severities that are always solved.
const STEP: u32 = FINEST / 32;
/// The middle of a severity's spread.
pub(super) const MIDDLE: u32 = FINEST / 2;

/// One exact reading and its σ.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Point {
    low: f64,
    high: f64,
    sigma: f64,
}

/// What a machine shows on every probe.
pub(super) type Row = Vec<Point>;

/// Everything that exact readings are taken with; keeps the rows that were solved.
pub(super) struct Stand<'a> {
    machine: &'a Machine,
    probes: &'a [Probe],
    air: Option<Celsius>,
    program: Program,
    observer: Observer,
    spreads: Vec<Spread>,
}

/// The rows of one fault over the quantile of its severity; without a severity there is one, in the middle.
pub(super) struct Ladder {
    pub(super) rows: BTreeMap<u32, Row>,
    /// What the machine does at the middle severity.
    pub(super) signs: Signs,
}

impl Ladder {
    /// The severities that are always solved, as far as they have a solution.
    pub(super) fn base(&self) -> impl Iterator<Item = u32> + '_ {
        self.rows.keys().copied().filter(|quantile| quantile % STEP == 0)
    }
}

impl<'a> Stand<'a> {
    pub(super) fn new(machine: &'a Machine, probes: &'a [Probe], air: Option<Celsius>) -> Self {
        let program = Program::new(machine, probes);
        let mut observer = Observer::new();
        observer.start_from(machine, &program, &[], air);
        Self { machine, probes, air, program, observer, spreads: probes.iter().map(Spread::of).collect() }
    }

    /// The rows of a fault at the severities that are always solved; nothing where the network has no solution.
    pub(super) fn ladder(&mut self, fault: Option<&Fault>) -> Ladder {
        let mut ladder = Ladder { rows: BTreeMap::new(), signs: Signs::default() };
        let steps = if fault.is_some_and(Fault::has_severity) {
            (0..=FINEST).step_by(STEP as usize).collect()
        } else {
            vec![MIDDLE]
        };
        for quantile in steps {
            if let Some(row) = self.row(fault, quantile) {
                ladder.rows.insert(quantile, row);
                if quantile == MIDDLE {
                    ladder.signs = self.observer.signs();
                }
            }
        }
        ladder
    }

    /// What a fault shows at a severity; nothing when the network has no solution.
    pub(super) fn row(&mut self, fault: Option<&Fault>, quantile: u32) -> Option<Row> {
        let severity = |fault: &Fault| fault.severity_at(f64::from(quantile) / f64::from(FINEST));
        let edits: Vec<Edit> = fault.map_or_else(Vec::new, |fault| fault.edits(severity(fault)));
        let mut seen = vec![Seen::Nothing; self.probes.len()];
        self.observer.observe(self.machine, &self.program, self.probes, &edits, self.air, &mut seen).ok()?;
        Some(seen.iter().zip(self.probes.iter().zip(&self.spreads)).map(|(seen, of)| point(*seen, of)).collect())
    }

    /// How far two machines lie apart on the probe that splits them most, and that probe; `None` when no probe of
    /// those `open` says anything. Once beyond `enough` it looks no further.
    pub(super) fn apart(&self, left: &Row, right: &Row, open: &[bool], enough: f64) -> (f64, Option<usize>) {
        let mut most = (0.0, None);
        for probe in (0..open.len()).filter(|probe| open[*probe]) {
            let own = distance(&self.probes[probe], left[probe], right[probe]);
            if own > most.0 || most.1.is_none() {
                most = (own, Some(probe));
                if own > enough {
                    break;
                }
            }
        }
        most
    }

    /// How many σ two readings of a probe lie apart.
    pub(super) fn distance(&self, probe: usize, left: Point, right: Point) -> f64 {
        distance(&self.probes[probe], left, right)
    }

    /// The least distance that a target can have from any row straight between two rows; it looks no further than
    /// `enough`.
    pub(super) fn floor(&self, target: &Row, left: &Row, right: &Row, open: &[bool], enough: f64) -> f64 {
        let mut most: f64 = 0.0;
        for probe in (0..open.len()).filter(|probe| open[*probe]) {
            let (of, to, from) = (&self.probes[probe], target[probe], [left[probe], right[probe]]);
            let ends = from.map(|end| distance(of, to, end));
            let numbers = of.words().is_empty() && [to, from[0], from[1]].iter().all(|point| point.low.is_finite());
            let passes = |value: fn(&Point) -> f64| {
                (value(&from[0]) - value(&to)).signum() != (value(&from[1]) - value(&to)).signum()
            };
            if !(numbers && passes(|point| point.low) && passes(|point| point.high)) {
                most = most.max(ends[0].min(ends[1]));
            }
            if most > enough {
                break;
            }
        }
        most
    }

    /// A row between two rows of a fault, as if every reading went straight from one to the other.
    pub(super) fn between(&self, left: &Row, right: &Row, share: f64) -> Row {
        let straight = |from: f64, to: f64| from + share * (to - from);
        let near = |index: usize| if share < 0.5 { left[index] } else { right[index] };
        let point = |index: usize| {
            let (from, to) = (left[index], right[index]);
            let numbers = self.probes[index].words().is_empty() && from.low.is_finite() && to.low.is_finite();
            if !numbers {
                return near(index);
            }
            Point {
                low: straight(from.low, to.low),
                high: straight(from.high, to.high),
                sigma: straight(from.sigma, to.sigma),
            }
        };
        (0..left.len()).map(point).collect()
    }
}

fn point(seen: Seen, (probe, spread): (&Probe, &Spread)) -> Point {
    let cell = Cell::of(seen);
    let (mut low, mut high) = (f64::from(cell.low), f64::from(cell.high));
    // Nobody minds which way round a clamp or an ammeter sits.
    if probe.dimension() == Dimension::Current && low.is_finite() {
        (low, high) = (low.abs().min(high.abs()), low.abs().max(high.abs()));
    }
    let width = if high > low { 0.1 * (high - low) + 0.05 } else { 0.0 };
    Point { low, high, sigma: spread.at(low).max(spread.at(high)) + width }
}

/// How many σ two readings of a probe lie apart.
fn distance(probe: &Probe, left: Point, right: Point) -> f64 {
    if left.low.is_nan() || right.low.is_nan() {
        return 0.0;
    }
    if left.low == right.low && left.high == right.high {
        return 0.0;
    }
    if !probe.words().is_empty() || !left.low.is_finite() || !right.low.is_finite() {
        return f64::INFINITY;
    }
    (left.low - right.low).abs().max((left.high - right.high).abs()) / left.sigma.max(right.sigma)
}
