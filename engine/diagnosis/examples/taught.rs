//! What learning is worth in minutes: jobs on one machine by a technician whose starting odds are wrong for each fault by
//! e^N(0, σ), before and after 1,000 proven verdicts on faults that came by the true odds; beside them the true odds.
//! Usage: `cargo run --release -p diagnosis --example taught [SHEET] [VERDICTS TO LEARN FROM] [JOBS TO SCORE] [σ]`.
#![allow(missing_docs, clippy::unwrap_used, clippy::print_stdout, clippy::disallowed_methods)]

use std::collections::BTreeMap;

use diagnosis::Atlas;
use diagnosis::learned::{Taught, learn, starts};
use diagnosis::trial::{Chance, Options, Planting, Run, Technician, Trial, mean, paired};
use machine::Machine;

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let path = arguments.first().map_or("machines/curlew.toml", String::as_str);
    let count = |at: usize, usual: u64| arguments.get(at).map_or(usual, |text| text.parse().unwrap());
    let (lessons, scored) = (count(1, 1000), count(2, 200));
    let sigma: f64 = arguments.get(3).map_or(1.0, |text| text.parse().unwrap());
    let text = std::fs::read_to_string(path).unwrap();
    let machine = Machine::new(machine::sheet::read(&text).sheet.unwrap());
    let options = Options::default();
    let mut trial = Trial::new(machine.clone(), Atlas::build(&machine, 64));
    let of_desk = |trial: &mut Trial| -> Vec<f64> {
        trial.desk().atlas().cast.suspects.iter().map(|suspect| suspect.odds).collect()
    };
    let truth = of_desk(&mut trial);
    let mut chance = Chance::of(7, "wrong");
    let wrong: Vec<f64> = truth
        .iter()
        .enumerate()
        .map(|(at, odds)| if at == 0 { *odds } else { odds * libm::exp(sigma * chance.normal()) })
        .collect();
    // The faults together weigh as much as before: only their shares are wrong.
    let scale = truth[1..].iter().sum::<f64>() / wrong[1..].iter().sum::<f64>();
    let wrong: Vec<f64> =
        wrong.iter().enumerate().map(|(at, odds)| if at == 0 { *odds } else { scale * odds }).collect();

    let worked = |trial: &mut Trial, planting: &Planting| trial.run(planting, &options, Technician::Method).unwrap();
    let verdict = |seed: u64| {
        let planting = trial.planting(seed, &options)?;
        let odds = planting.faults.iter().map(|(fault, _)| (fault.name.clone(), 1.0)).collect();
        Some(Taught { model: "a".into(), odds, proven: true, years: 0.0 })
    };
    let taught: Vec<Taught> = (0..lessons).filter_map(verdict).collect();
    // Shares of jobs are off as the odds are.
    let of_jobs = starts(&machine);
    let mut own = of_jobs.clone();
    own.iter_mut()
        .zip(wrong[1..].iter().zip(&truth[1..]))
        .for_each(|(start, (wrong, truth))| start.share *= wrong / truth);
    let all: f64 = own.iter().map(|start| start.share).sum();
    own.iter_mut().for_each(|start| start.share /= all);
    let models = BTreeMap::from([("a".to_owned(), own.clone())]);
    let after = learn("a", &models, &taught).unwrap();
    let moved = after.iter().zip(&wrong[1..]).map(|(fault, wrong)| wrong * fault.share / fault.start.share);
    let learned: Vec<f64> = std::iter::once(wrong[0]).chain(moved).collect();
    let off = |shares: &mut dyn Iterator<Item = f64>| {
        of_jobs.iter().zip(shares).map(|(truth, share)| (truth.share - share).abs()).sum::<f64>() / 2.0
    };
    println!("{}: {} verdicts have taught", machine.sheet.id, taught.len());
    println!(
        "shares of jobs off by (half the sum of differences): wrong {:.3}, learned {:.3}",
        off(&mut own.iter().map(|start| start.share)),
        off(&mut after.iter().map(|fault| fault.share))
    );

    let plantings: Vec<Planting> = (0..scored).filter_map(|seed| trial.planting(1_000_000 + seed, &options)).collect();
    let mut minutes = Vec::new();
    for (name, odds) in [("wrong", &wrong), ("learned", &learned), ("true", &truth)] {
        trial.desk().set_odds(odds);
        let runs: Vec<Run> = plantings.iter().map(|planting| worked(&mut trial, planting)).collect();
        let of = |run: fn(&Run) -> f64| runs.iter().map(run).collect::<Vec<f64>>();
        let right = runs.iter().filter(|run| run.first.as_ref().is_some_and(|first| first.right)).count();
        println!(
            "{name:>8}: {:.1} min mean, {:.1} to the first verdict, first verdict right in {right} of {}",
            mean(&of(|run| run.minutes)),
            mean(&of(|run| run.to_verdict)),
            runs.len()
        );
        minutes.push(of(|run| run.minutes));
    }
    for (name, at) in [("learned", 1), ("true", 2)] {
        let pair = paired(&minutes[at], &minutes[0], 1);
        let of = |interval: diagnosis::trial::Interval| {
            format!("{:.3} [{:.3}, {:.3}]", interval.value, interval.low, interval.high)
        };
        println!("{name} less wrong: {} min; ratio {}", of(pair.difference), of(pair.ratio));
    }
}
