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

/// The series; nothing where no job read all three.
pub fn series(machine: &Machine, jobs: &[Job]) -> Option<Raw> {
    let supply = machine.battery_branch()?;
    let (faults, whole) = (machine.faults(), carrying(machine, supply));
    let mut taken = Vec::new();
    for job in jobs {
        let (mut rest, mut loaded, mut amps, mut at) = (None, None, None, None);
        let air = job.request(None).air;
        for kept in job.standing() {
            let Entry::Reading { probe, value } = &kept.entry else { continue };
            // After a repair it may be another battery.
            if probe.starts_with("try:") {
                break;
            }
            let read = diagnosis::request::entry(machine, &faults, probe, value);
            let Ok(diagnosis::request::Entry::Took(probe, Reading::Number(value))) = read else { continue };
            match what(machine, supply, &whole, &probe) {
                Some(What::Rest) => rest = rest.or(Some(value)),
                Some(What::Loaded) => loaded = loaded.or(Some(value)),
                Some(What::Amps) => amps = amps.or(Some(value.abs())),
                None => continue,
            }
            at = Some(&kept.at);
        }
        let (Some(rest), Some(loaded), Some(amps), Some(at)) = (rest, loaded, amps, at) else { continue };
        let celsius = air.unwrap_or(MILD).0;
        let (Some(times), Some(day)) = (times_new(machine, rest, loaded, amps, celsius), day(at)) else { continue };
        taken.push(Taken {
            at: at.clone(),
            day,
            value: times,
            shown: format!("{times:.2}"),
            air_c: air.map(|air| air.0),
            compared: times,
            job: job.id.clone(),
            current: true,
        });
    }
    taken.sort_by(|left, right| left.day.total_cmp(&right.day));
    let title = "battery: inner resistance, times a new one's".to_owned();
    (!taken.is_empty()).then(|| Raw { name: NAME.to_owned(), title, probe: None, dimension: Dimension::Ratio, taken })
}

enum What {
    Rest,
    Loaded,
    Amps,
}

/// The branches in which nearly all of what a healthy battery gives flows while start is held.
fn carrying(machine: &Machine, supply: usize) -> Vec<usize> {
    const NEARLY: f64 = 0.9;
    let mut bench = Bench::new();
    let Ok(held) = machine.state("held") else { return Vec::new() };
    let Ok(point) = bench.solve(machine, &Setting { state: &held, edits: &[], air: None }) else { return Vec::new() };
    let solution = &point.pulled().unwrap_or(&point.state).solution;
    let given = solution.current(supply).0.abs();
    (0..machine.branches().len()).filter(|branch| solution.current(*branch).0.abs() > NEARLY * given).collect()
}

/// What a probe tells of the battery.
fn what(machine: &Machine, supply: usize, whole: &[usize], probe: &Probe) -> Option<What> {
    let branch = &machine.branches()[supply];
    let posts = [branch.from, branch.to];
    match (&probe.sort, probe.state.as_str()) {
        (Sort::Meter(Instrument::Volts, Hookup::Between { red, black }), state)
            if posts.contains(red) && posts.contains(black) =>
        {
            match state {
                "rest" => Some(What::Rest),
                "held" => Some(What::Loaded),
                _ => None,
            }
        }
        (Sort::Meter(Instrument::Clamp, Hookup::In(branch)), "held") => whole.contains(branch).then_some(What::Amps),
        _ => None,
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
