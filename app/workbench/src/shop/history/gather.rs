//! The journal's readings by probe, its repairs, and what the sheet's own machine, healthy or with a part's faults, shows.
//! Promise: only what still stands counts; a repair is what the technician says was done to a part, whether it helped or
//! not, and what a job that was closed as proven was told, since either way the part is no longer the one from before.

use std::collections::BTreeMap;

use diagnosis::request::{self, Entry as Read, part_name};
use journal::{Entry, Job};
use machine::{Edit, Fault, Machine, Observer, Probe, Program, Seen};
use quantity::{Celsius, Dimension, Reading};

use super::{MILD, Repair, Taken};

/// All readings of one probe.
pub struct Raw {
    pub name: String,
    pub title: String,
    /// Nothing for what is computed from several readings.
    pub probe: Option<Probe>,
    pub dimension: Dimension,
    /// The earliest first.
    pub taken: Vec<Taken>,
}

/// What the jobs tell.
pub struct Gathered {
    pub series: Vec<Raw>,
    /// The earliest first.
    pub repairs: Vec<Repair>,
}

/// Days since 1970 of a time as the journal keeps it.
pub fn day(at: &str) -> Option<f64> {
    at.parse::<jiff::Timestamp>().ok().map(|at| at.as_second() as f64 / 86_400.0)
}

/// Readings and repairs of all jobs.
pub fn all(machine: &Machine, jobs: &[Job]) -> Gathered {
    let faults = machine.faults();
    let mut series: BTreeMap<String, Raw> = BTreeMap::new();
    let mut repairs = Vec::new();
    for job in jobs {
        let air_c = job.request(None).air.map(|air| air.0);
        for kept in job.standing() {
            let (Entry::Reading { probe: name, value }, Some(day)) = (&kept.entry, day(&kept.at)) else { continue };
            match request::entry(machine, &faults, name, value) {
                Ok(Read::Took(probe, Reading::Number(value))) => {
                    let taken = Taken {
                        at: kept.at.clone(),
                        day,
                        value,
                        shown: probe.show(&Reading::Number(value)),
                        air_c,
                        compared: value,
                        job: job.id.clone(),
                        current: true,
                    };
                    let raw = series.entry(probe.name.clone()).or_insert_with(|| Raw {
                        name: probe.name.clone(),
                        title: format!("{} ({})", probe.title, probe.state),
                        dimension: probe.dimension(),
                        probe: Some(probe),
                        taken: Vec::new(),
                    });
                    raw.taken.push(taken);
                }
                Ok(Read::Tried { part, .. }) => {
                    let (at, remedy, job) = (kept.at.clone(), name.clone(), job.id.clone());
                    repairs.push(Repair { at, day, part, remedy, job });
                }
                _ => {}
            }
        }
        repairs.extend(proven(machine, &faults, job, &repairs));
    }
    let mut series: Vec<Raw> = series.into_values().collect();
    series.iter_mut().for_each(|raw| raw.taken.sort_by(|left, right| left.day.total_cmp(&right.day)));
    repairs.sort_by(|left, right| left.day.total_cmp(&right.day));
    Gathered { series, repairs }
}

/// The parts of what a proven job was told last, where nobody entered what was done to them.
fn proven(machine: &Machine, faults: &[Fault], job: &Job, known: &[Repair]) -> Vec<Repair> {
    if job.closed() != Some(true) {
        return Vec::new();
    }
    let closed = job.entries.iter().rev().find(|kept| matches!(kept.entry, Entry::Closed { .. }));
    let told = job.entries.iter().rev().find_map(|kept| match &kept.entry {
        Entry::Told { faults, .. } => Some(faults),
        _ => None,
    });
    let (Some(closed), Some(told)) = (closed, told) else { return Vec::new() };
    let Some(day) = day(&closed.at) else { return Vec::new() };
    let parts = told.iter().filter_map(|name| {
        let fault = faults.iter().find(|fault| fault.name == *name)?;
        Some((part_name(machine, fault).to_owned(), name))
    });
    let new = parts.filter(|(part, _)| !known.iter().any(|repair| repair.job == job.id && repair.part == *part));
    new.map(|(part, fault)| Repair { at: closed.at.clone(), day, part, remedy: fault.clone(), job: job.id.clone() })
        .collect()
}

/// The sheet's own machine, asked for what it shows.
pub struct Healthy<'a> {
    machine: &'a Machine,
    faults: Vec<Fault>,
    shown: BTreeMap<(String, i64), Option<f64>>,
    showing: BTreeMap<(String, String), bool>,
}

impl<'a> Healthy<'a> {
    pub fn new(machine: &'a Machine) -> Self {
        Self { machine, faults: machine.faults(), shown: BTreeMap::new(), showing: BTreeMap::new() }
    }

    /// A reading as it would be at [`MILD`]: of ohms by the ratio of what the healthy machine shows at both, of all else
    /// by the difference.
    pub fn at_mild(&mut self, probe: &Probe, value: f64, air: Celsius) -> f64 {
        let (Some(there), Some(mild)) = (self.at(probe, air), self.at(probe, MILD)) else { return value };
        let ratio = mild / there;
        match probe.dimension() {
            Dimension::Resistance if ratio.is_finite() && ratio > 0.0 => value * ratio,
            Dimension::Voltage | Dimension::Current => value + mild - there,
            _ => value,
        }
    }

    /// Whether a part's faults show on a probe by more than its instrument leaves open: then a repair of that part
    /// begins a new series.
    pub fn shows(&mut self, probe: &Probe, part: &str) -> bool {
        let key = (probe.name.clone(), part.to_owned());
        if let Some(known) = self.showing.get(&key) {
            return *known;
        }
        let healthy = self.at(probe, MILD);
        let of_part = self.faults.iter().filter(|fault| part_name(self.machine, fault) == part);
        let differs = |fault: &Fault| {
            [0.25, 0.75].into_iter().any(|share| {
                let shown = observe(self.machine, probe, &fault.edits(fault.severity_at(share)), MILD);
                match (healthy, shown) {
                    (Some(healthy), Some(shown)) => {
                        (shown - healthy).abs() > 2.0 * diagnosis::spread::sigma(probe, healthy)
                    }
                    // A number turns into `OL`, or into none.
                    (healthy, shown) => healthy.is_some() != shown.is_some(),
                }
            })
        };
        let shows = of_part.into_iter().any(differs);
        self.showing.insert(key, shows);
        shows
    }

    fn at(&mut self, probe: &Probe, air: Celsius) -> Option<f64> {
        let key = (probe.name.clone(), (10.0 * air.0).round() as i64);
        let machine = self.machine;
        *self.shown.entry(key).or_insert_with(|| observe(machine, probe, &[], air))
    }
}

fn observe(machine: &Machine, probe: &Probe, edits: &[Edit], air: Celsius) -> Option<f64> {
    let probes = std::slice::from_ref(probe);
    let mut seen = [Seen::Nothing];
    let program = Program::new(machine, probes);
    Observer::new().observe(machine, &program, probes, edits, Some(air), &mut seen).ok()?;
    match seen[0] {
        Seen::Number(value) => Some(value),
        Seen::Range(low, high) => Some(0.5 * (low + high)),
        _ => None,
    }
}
