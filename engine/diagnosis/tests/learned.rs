//! Laws of what jobs teach a desk: odds, severities, minutes; nothing taught changes nothing, and all can be taken back.
#![expect(clippy::disallowed_methods, reason = "a test that reads a sheet")]
#![allow(clippy::unwrap_used, reason = "a test")]

use diagnosis::learned::{Act, EVEN, Lessons, Pace, Taught, Usual, learn, starts};
use diagnosis::trial::{Mishaps, Options, Planting, Technician, Trial};
use diagnosis::{Advice, Atlas, Request};
use machine::Machine;
use quantity::Celsius;

fn curlew() -> Trial {
    let path = format!("{}/../../machines/curlew.toml", env!("CARGO_MANIFEST_DIR"));
    let machine = Machine::new(machine::sheet::read(&std::fs::read_to_string(path).unwrap()).sheet.unwrap());
    let atlas = Atlas::build(&machine, 64);
    Trial::new(machine, atlas)
}

/// A ground cable that lets a slow starter have 60 A.
fn request() -> Request {
    let readings =
        [("volts@rest:battery.plus,battery.minus", "13.29 V"), ("volts@held:ground-eyelet,battery.minus", "1.34 V")];
    let readings = readings.map(|(name, value)| (name.to_owned(), value.to_owned())).to_vec();
    Request { complaint: Some("cranks-slowly".to_owned()), readings, ..Request::default() }
}

fn bits(advice: &Advice) -> Vec<(String, u64)> {
    let shares = advice.suspects.iter().map(|suspect| (suspect.fault.clone(), suspect.probability.to_bits()));
    let steps = advice.next.iter().map(|step| (step.probe.clone(), step.minutes.to_bits()));
    shares.chain(steps).collect()
}

fn share(advice: &Advice, fault: &str) -> f64 {
    advice.suspects.iter().find(|suspect| suspect.fault == fault).map_or(0.0, |suspect| suspect.probability)
}

/// All of it on one desk, which is built once.
#[test]
fn law_a_desk_takes_what_it_is_taught_and_gives_it_back() {
    let mut trial = curlew();
    let machine = trial.desk().machine.clone();
    let before = trial.desk().advise(&request()).unwrap();
    trial.desk().learn(&Lessons::default());
    assert_eq!(bits(&before), bits(&trial.desk().advise(&request()).unwrap()));

    // Odds: a fault that was proven again and again gains, whoever else explains the readings loses.
    let leader = before.suspects[1].fault.clone();
    let taught =
        vec![Taught { model: "curlew".into(), odds: vec![(leader.clone(), 1.0)], proven: true, years: 0.0 }; 30];
    let models = [("curlew".to_owned(), starts(&machine))].into();
    let faults = learn("curlew", &models, &taught).unwrap();
    trial.desk().learn(&Lessons { faults: faults.clone(), ..Lessons::default() });
    let odds = trial.desk().advise(&request()).unwrap();
    assert!(share(&odds, &leader) > share(&before, &leader), "{leader}");

    // Severities: what this reading wants is rarer than the sheet has it, so its fault loses; even ones change nothing.
    let first = before.suspects[0].fault.clone();
    let class = faults.iter().find(|fault| fault.start.fault == first).unwrap().start.class.clone();
    let plain = learn("curlew", &models, &[]).unwrap();
    let with = |shares: [f64; 4]| Lessons {
        faults: plain.clone(),
        severities: vec![Usual { class: class.clone(), shares, verdicts: 60.0 }],
        pace: Pace::default(),
    };
    let mut of = |shares: [f64; 4]| {
        trial.desk().learn(&with(shares));
        share(&trial.desk().advise(&request()).unwrap(), &first)
    };
    let even = of([0.25; 4]);
    assert!((even - share(&before, &first)).abs() < 1e-9, "{even}");
    let tilted = [[0.94, 0.02, 0.02, 0.02], [0.02, 0.02, 0.02, 0.94]].map(&mut of);
    assert!(tilted.iter().any(|share| *share < even - 0.02), "{even}: {tilted:?}");

    // Minutes: who is slow with the probe that is next is told so, and is sent elsewhere where there is as good a way.
    let next = before.next[0].clone();
    let act = next.probe.split('@').next().unwrap().to_owned();
    let slow = Act { act, factor: 8.0, low: 6.0, high: 10.0, times: 40 };
    trial.desk().learn(&Lessons { pace: Pace { any: None, acts: vec![slow] }, ..Lessons::default() });
    let slowed = trial.desk().advise(&request()).unwrap();
    let again = slowed.next.iter().find(|step| step.probe == next.probe);
    assert!(again.is_none_or(|step| step.minutes > 2.0 * next.minutes), "{next:?} {again:?}");
    assert_ne!(slowed.next[0].probe, next.probe);

    trial.desk().learn(&Lessons::default());
    assert_eq!(bits(&before), bits(&trial.desk().advise(&request()).unwrap()));
}

/// A ground ring corroded as badly as a twentieth or as nineteen twentieths of them are: the verdict says so, and says the
/// same to a desk that was taught otherwise.
#[test]
fn law_a_verdict_tells_how_bad_the_fault_is() {
    let mut trial = curlew();
    let machine = trial.desk().machine.clone();
    let fault = machine.faults().into_iter().find(|fault| fault.name == "frame-bolt:corroded").unwrap();
    let options = Options { mishaps: Mishaps::Perfect, ..Options::default() };
    let class = starts(&machine).into_iter().find(|start| start.fault == fault.name).unwrap().class;
    for quantile in [0.6, 0.95] {
        let planted = vec![(fault.clone(), fault.severity_at(quantile))];
        let planting = Planting::as_written(0, planted, Celsius(20.0), "cranks-slowly");
        trial.desk().learn(&Lessons::default());
        let run = trial.run(&planting, &options, Technician::Method).unwrap();
        let first = run.first.unwrap();
        assert!(first.right, "{first:?}");
        let readings = run.steps[..first.after].iter().map(|did| (did.name.clone(), did.value.clone()));
        let readings = readings.chain([(first.remedy.clone(), "fixed".to_owned())]).collect();
        let request = Request { complaint: Some("cranks-slowly".to_owned()), readings, ..Request::default() };
        let mut fits = |lessons: &Lessons| {
            trial.desk().learn(lessons);
            let verdict = trial.desk().advise(&request).unwrap().verdict.unwrap();
            let at = verdict.faults.iter().position(|name| *name == fault.name).unwrap();
            verdict.severities[at].unwrap()
        };
        let plain = fits(&Lessons::default());
        assert!((plain.iter().sum::<f64>() - 1.0).abs() < 1e-9);
        let part = (4.0 * quantile) as usize;
        assert!(plain[part] > 0.7, "{quantile}: {plain:?}");
        let usual = Usual { class: class.clone(), shares: [0.4, 0.3, 0.2, 0.1], verdicts: 9.0 };
        assert_ne!(usual.density(), EVEN);
        let faults = learn("curlew", &[("curlew".to_owned(), starts(&machine))].into(), &[]).unwrap();
        let tilted = fits(&Lessons { faults, severities: vec![usual], pace: Pace::default() });
        assert!(plain.iter().zip(tilted).all(|(plain, tilted)| (plain - tilted).abs() < 0.1), "{plain:?} {tilted:?}");
    }
}

/// Jobs drawn by the sheet's odds, each brought by an owner who noticed something: every fault comes as often as its
/// starting share of jobs says, so that such verdicts teach nothing new.
#[test]
fn law_starting_shares_of_jobs_are_those_that_simulated_owners_bring() {
    let mut trial = curlew();
    let starts = starts(&trial.desk().machine);
    let drawn: Vec<_> = (0..3000).filter_map(|seed| trial.planting(seed, &Options::default())).collect();
    let came =
        |fault: &str| drawn.iter().filter(|job| job.faults[0].0.name == fault).count() as f64 / drawn.len() as f64;
    let apart: f64 = starts.iter().map(|start| (start.share - came(&start.fault)).abs()).sum::<f64>() / 2.0;
    // Counting 3,000 alone is off by 0.05 on the mean: half the sum of √(2p/(3000·π)) over the faults.
    let by_luck: f64 = starts.iter().map(|start| (start.share / 3000.0).sqrt()).sum::<f64>() * 0.4;
    assert!(drawn.len() > 2900 && apart < 1.5 * by_luck + 0.02, "{apart} {by_luck}");
    // Odds alone would be far off: what nobody notices brings no job.
    let all: f64 = trial.desk().machine.faults().iter().map(|fault| fault.odds).sum();
    let odds = trial.desk().machine.faults();
    let naive: f64 = odds.iter().map(|fault| (fault.odds / all - came(&fault.name)).abs()).sum::<f64>() / 2.0;
    assert!(naive > 2.0 * apart, "{naive} {apart}");
}
