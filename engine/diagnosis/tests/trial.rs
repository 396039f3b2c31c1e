//! Laws of trials: what is simulated is the same for everyone, and what is counted adds up.
#![allow(clippy::unwrap_used, reason = "a test")]

use std::sync::OnceLock;

use diagnosis::Atlas;
use diagnosis::trial::{Ending, Job, Mishaps, Options, Run, Technician, Trial, calibration, score};
use machine::Machine;

const JOBS: u64 = 6;

/// A button, a relay and a motor.
const SHEET: &str = r#"
    sheet = 1
    [machine]
    id = "small"
    [place.box]
    access = "3 min"
    [control.button]
    positions = ["free", "pressed"]
    [part.source]
    kind = "source"
    voltage = "12.6 V"
    resistance = "30 mohm"
    [part.fuse]
    kind = "fuse"
    from = "source.plus"
    to = "feed"
    rating = "10 A"
    at = "box"
    [part.contact]
    kind = "switch"
    from = "feed"
    to = "signal"
    closed-when = { button = "pressed" }
    [part.relay]
    kind = "relay"
    coil = "5 ohm"
    coil-a = "signal"
    coil-b = "source.minus"
    line = "source.plus"
    at = "box"
    [part.cable]
    kind = "cable"
    from = "relay.load"
    to = "motor.plus"
    length = "0.5 m"
    area = "10 mm2"
    [part.seat]
    kind = "joint"
    from = "motor.minus"
    to = "source.minus"
    [part.motor]
    kind = "motor"
    resistance = "60 mohm"
    constant = "0.02 V s/rad"
    friction-torque = "0.15 N m"
    drag = "5e-4 N m s/rad"
    [state.rest]
    [state.on]
    [state.held]
    controls = { button = "pressed" }
    rotor = "free"
    [state.dead]
    open = ["seat"]
"#;

fn ground() -> Trial {
    static BUILT: OnceLock<(Machine, Atlas)> = OnceLock::new();
    let (machine, atlas) = BUILT.get_or_init(|| {
        let machine = Machine::new(machine::sheet::read(SHEET).sheet.unwrap());
        let atlas = Atlas::build(&machine, 16);
        (machine, atlas)
    });
    Trial::new(machine.clone(), atlas.clone())
}

fn jobs(options: &Options) -> Vec<Job> {
    let mut trial = ground();
    (1..=JOBS).map(|seed| trial.job(seed, options).unwrap().unwrap()).collect()
}

fn usual() -> &'static [Job] {
    static WORKED: OnceLock<Vec<Job>> = OnceLock::new();
    WORKED.get_or_init(|| jobs(&Options::default()))
}

/// Readings taken before the machine was altered, each the first of its probe.
fn first_readings(run: &Run) -> Vec<(&str, &str)> {
    let mut readings: Vec<(&str, &str)> = Vec::new();
    for step in run.steps.iter().take_while(|step| !step.name.starts_with("try:")) {
        if readings.iter().all(|(name, _)| *name != step.name) {
            readings.push((&step.name, &step.value));
        }
    }
    readings
}

fn slips(run: &Run) -> usize {
    run.steps.iter().filter(|step| step.slip.is_some()).count()
}

#[test]
fn law_a_job_depends_on_its_seed_alone() {
    let again = ground().job(3, &Options::default()).unwrap().unwrap();
    let before = &usual()[2];
    assert_eq!(again.planting.complaint, before.planting.complaint);
    assert_eq!(again.runs, before.runs);
    assert!(usual()[0].runs != before.runs);
}

#[test]
fn law_everyone_reads_the_same_on_the_same_probe() {
    let mut compared = 0;
    for job in usual() {
        let all: Vec<_> = job.runs.iter().map(first_readings).collect();
        for (one, other) in [(0, 1), (0, 2), (1, 2)] {
            for (name, value) in &all[one] {
                if let Some((_, same)) = all[other].iter().find(|(known, _)| known == name) {
                    assert_eq!(same, value, "{name} in job {}", job.planting.seed);
                    compared += 1;
                }
            }
        }
    }
    assert!(compared >= 10, "only {compared} readings were taken by two technicians");
}

#[test]
fn law_one_mishap_is_one_and_none_is_none() {
    for job in jobs(&Options { mishaps: Mishaps::None, ..Options::default() }) {
        assert!(job.runs.iter().all(|run| slips(run) == 0));
    }
    let one = Mishaps::One { slip: None, at: Some(1) };
    let all = jobs(&Options { mishaps: one, ..Options::default() });
    for run in all.iter().flat_map(|job| &job.runs) {
        let numbers = run.steps.iter().filter(|step| !step.check && step.name.contains(',')).count();
        assert_eq!(slips(run), usize::from(numbers > 0), "{:?} of {numbers} numbers", run.technician);
    }
}

#[test]
fn law_jobs_and_minutes_add_up() {
    for who in Technician::ALL {
        let runs = || usual().iter().flat_map(|job| &job.runs).filter(move |run| run.technician == who);
        let score = score(runs());
        assert_eq!(score.jobs, JOBS as usize);
        assert_eq!(score.right + score.wrong + score.none_of_these + score.no_verdict, score.jobs);
        assert_eq!(score.proven_right + score.proven_wrong + score.fixed_unproven + score.unfixed, score.jobs);
        for run in runs() {
            let paid: f64 = run.steps.iter().map(|step| step.minutes).sum();
            let handed_on = if run.ending == Ending::Unfixed { 90.0 } else { 0.0 };
            assert!((run.minutes - paid - handed_on).abs() < 1e-9);
            assert!(run.to_verdict <= run.minutes);
        }
    }
}

#[test]
fn law_the_reliability_table_holds_every_moment_once() {
    let moments: Vec<_> = usual().iter().flat_map(|job| job.runs[0].mids.iter().copied()).collect();
    let table = calibration(&moments);
    assert_eq!(table.bins.iter().map(|bin| bin.count).sum::<usize>(), moments.len());
    let weighed = |of: fn(&diagnosis::trial::Bin) -> f64| {
        table.bins.iter().map(|bin| bin.count as f64 * of(bin)).sum::<f64>() / moments.len() as f64
    };
    assert!((weighed(|bin| bin.stated) - table.stated).abs() < 1e-12);
    assert!((weighed(|bin| bin.correct) - table.correct).abs() < 1e-12);
    assert!(table.bins.iter().all(|bin| (0.0..=1.0).contains(&bin.correct) && bin.stated <= 1.0));
}

#[test]
fn law_a_fault_left_out_of_the_catalogue_is_never_named() {
    for job in jobs(&Options { left_out: true, ..Options::default() }) {
        let planted = &job.planting.faults[0].0.name;
        for run in &job.runs {
            assert!(run.first.as_ref().is_none_or(|first| !first.faults.contains(planted)));
            assert!(run.steps.iter().flat_map(|step| &step.odds).all(|(name, share)| name != planted || *share == 0.0));
        }
    }
}

#[test]
fn law_only_what_can_come_and_go_is_planted_so() {
    let comes = |job: &Job| job.planting.faults.iter().all(|(fault, _)| fault.comes_and_goes);
    assert!(jobs(&Options { presence: 0.5, ..Options::default() }).iter().all(comes));
    assert!(!usual().iter().all(comes), "no fault that stays was planted: the law is not tried");
}

#[test]
fn law_a_job_is_half_mended_only_where_there_are_two_faults() {
    assert!(usual().iter().flat_map(|job| &job.runs).all(|run| !run.half_mended));
    let doubles = jobs(&Options { doubles: true, ..Options::default() });
    for run in doubles.iter().flat_map(|job| &job.runs).filter(|run| run.half_mended) {
        let remedies = run.steps.iter().filter(|step| step.name.starts_with("try:")).count();
        assert!(remedies > 1 || run.left > 0);
    }
}
