//! A battery's inner resistance over the years: of each job that read volts at rest, volts and amperes while cranking.
//! Law and source: the battery worksheet, (V₀ − V)/I, held against a new one's at the job's temperature, so that warm and
//! cold days compare. Limit: the first such readings of a job; no number where the clamp was not round the battery's cable.

use calculator::{Cell, find};
use journal::{Entry, Job};
use machine::probe::Sort;
use machine::{Bench, Hookup, Instrument, Machine, Probe, Setting};
use quantity::{Dimension, Reading};

use super::gather::{Raw, day};
use super::{MILD, Taken};

/// The series' name.
pub const NAME: &str = "inner-resistance";
/// Times a new one's from which the battery worksheet calls it worn out.
pub const WORN: f64 = 2.0;

/// What one job read of its battery while start was held.
pub struct Cranked {
    /// When, UTC.
    pub at: String,
    /// When, days since 1970.
    pub day: f64,
    /// Air of the job, °C.
    pub air_c: Option<f64>,
    /// Inner resistance, times a new one's.
    pub times_new: f64,
    /// Resistance from posts to motor, Ω, where the volts at the motor were read too.
    pub path: Option<f64>,
    job: String,
}

/// A rest voltage.
pub struct Rested {
    /// When, UTC.
    pub at: String,
    /// When, days since 1970.
    pub day: f64,
    /// Air of the job, °C.
    pub air_c: Option<f64>,
    /// V.
    pub value: f64,
}

/// The series; nothing where no job read all three.
pub fn series(machine: &Machine, jobs: &[Job]) -> Option<Raw> {
    let mut taken: Vec<Taken> = all_cranked(machine, jobs)
        .into_iter()
        .map(|cranked| Taken {
            at: cranked.at,
            day: cranked.day,
            value: cranked.times_new,
            shown: format!("{:.2}", cranked.times_new),
            air_c: cranked.air_c,
            compared: cranked.times_new,
            job: cranked.job,
            current: true,
        })
        .collect();
    taken.sort_by(|left, right| left.day.total_cmp(&right.day));
    let title = "battery: inner resistance, times a new one's".to_owned();
    (!taken.is_empty()).then(|| Raw { name: NAME.to_owned(), title, probe: None, dimension: Dimension::Ratio, taken })
}

/// What was last read of the battery while start was held.
pub fn cranked(machine: &Machine, jobs: &[Job]) -> Option<Cranked> {
    all_cranked(machine, jobs).into_iter().max_by(|one, other| one.day.total_cmp(&other.day))
}

/// The rest voltage that was read last.
pub fn latest_rest(machine: &Machine, jobs: &[Job]) -> Option<Rested> {
    let wiring = Wiring::of(machine)?;
    let faults = machine.faults();
    let mut latest: Option<Rested> = None;
    for job in jobs {
        let air_c = job.request(None).air.map(|air| air.0);
        for kept in job.standing() {
            let Entry::Reading { probe, value } = &kept.entry else { continue };
            let read = diagnosis::request::entry(machine, &faults, probe, value);
            let Ok(diagnosis::request::Entry::Took(probe, Reading::Number(value))) = read else { continue };
            let (Some(What::Rest), Some(day)) = (wiring.what(&probe), day(&kept.at)) else { continue };
            if latest.as_ref().is_none_or(|latest| latest.day <= day) {
                latest = Some(Rested { at: kept.at.clone(), day, air_c, value });
            }
        }
    }
    latest
}

fn all_cranked(machine: &Machine, jobs: &[Job]) -> Vec<Cranked> {
    let Some(wiring) = Wiring::of(machine) else { return Vec::new() };
    let faults = machine.faults();
    let mut all = Vec::new();
    for job in jobs {
        let (mut rest, mut loaded, mut amps, mut motor, mut at) = (None, None, None, None, None);
        let air = job.request(None).air;
        for kept in job.standing() {
            let Entry::Reading { probe, value } = &kept.entry else { continue };
            // After a repair it may be another battery.
            if probe.starts_with("try:") {
                break;
            }
            let read = diagnosis::request::entry(machine, &faults, probe, value);
            let Ok(diagnosis::request::Entry::Took(probe, Reading::Number(value))) = read else { continue };
            match wiring.what(&probe) {
                Some(What::Rest) => rest = rest.or(Some(value)),
                Some(What::Loaded) => loaded = loaded.or(Some(value)),
                Some(What::Amps) => amps = amps.or(Some(value.abs())),
                Some(What::Motor) => motor = motor.or(Some(value.abs())),
                None => continue,
            }
            at = Some(&kept.at);
        }
        let (Some(rest), Some(loaded), Some(amps), Some(at)) = (rest, loaded, amps, at) else { continue };
        let celsius = air.unwrap_or(MILD).0;
        let (Some(times_new), Some(day)) = (times_new(machine, rest, loaded, amps, celsius), day(at)) else { continue };
        let path = motor.map(|motor| ((loaded.abs() - motor) / amps).max(0.0)).filter(|path| path.is_finite());
        all.push(Cranked { at: at.clone(), day, air_c: air.map(|air| air.0), times_new, path, job: job.id.clone() });
    }
    all
}

enum What {
    Rest,
    Loaded,
    Amps,
    Motor,
}

/// Where on a machine the battery's and the starter's readings are taken.
struct Wiring<'a> {
    machine: &'a Machine,
    supply: usize,
    /// The branches in which nearly all of what a healthy battery gives flows while start is held.
    whole: Vec<usize>,
    motor: Option<usize>,
}

impl<'a> Wiring<'a> {
    fn of(machine: &'a Machine) -> Option<Self> {
        const NEARLY: f64 = 0.9;
        let supply = machine.battery_branch()?;
        let mut bench = Bench::new();
        let none = Self { machine, supply, whole: Vec::new(), motor: None };
        let Ok(held) = machine.state("held") else { return Some(none) };
        let Ok(point) = bench.solve(machine, &Setting { state: &held, edits: &[], air: None }) else {
            return Some(none);
        };
        let solution = &point.pulled().unwrap_or(&point.state).solution;
        let given = solution.current(supply).0.abs();
        let carries = |branch: &usize| solution.current(*branch).0.abs() > NEARLY * given;
        let whole = (0..machine.branches().len()).filter(carries).collect();
        let motor = bench.network.motors.first().map(|motor| motor.branch);
        Some(Self { whole, motor, ..none })
    }

    /// What a probe tells of the battery or of the starter.
    fn what(&self, probe: &Probe) -> Option<What> {
        let ends = |branch: usize| [self.machine.branches()[branch].from, self.machine.branches()[branch].to];
        match (&probe.sort, probe.state.as_str()) {
            (Sort::Meter(Instrument::Volts, Hookup::Between { red, black }), state) => {
                let across = |branch: usize| ends(branch).contains(red) && ends(branch).contains(black);
                match state {
                    "rest" if across(self.supply) => Some(What::Rest),
                    "held" if across(self.supply) => Some(What::Loaded),
                    "held" if self.motor.is_some_and(across) => Some(What::Motor),
                    _ => None,
                }
            }
            (Sort::Meter(Instrument::Clamp, Hookup::In(branch)), "held") => {
                self.whole.contains(branch).then_some(What::Amps)
            }
            _ => None,
        }
    }
}

/// How many times a new one's the resistance is: the geometric middle of what the worksheet gives.
fn times_new(machine: &Machine, rest: f64, loaded: f64, amps: f64, celsius: f64) -> Option<f64> {
    let written = |name: &str| match name {
        "rest" => vec![format!("{rest} V")],
        "loaded" => vec![format!("{loaded} V")],
        "current" => vec![format!("{amps} A")],
        "temperature" => vec![format!("{celsius} C")],
        _ => Vec::new(),
    };
    let (_, answer) = find("battery")?.answer(Some(machine), written).ok()?;
    let figure = |name: &str| {
        answer.figures.iter().find(|figure| figure.name == name).and_then(|figure| match figure.value {
            Cell::Number(number, _) => Some(number),
            _ => None,
        })
    };
    Some((figure("times_new_low")? * figure("times_new_high")?).sqrt()).filter(|times| *times > 0.0)
}
