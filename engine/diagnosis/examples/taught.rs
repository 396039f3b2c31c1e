//! What learning is worth in minutes: jobs on one machine by a technician whose starting odds are wrong by e^N(0, 1) for
//! each fault, before and after 300 of his own jobs have taught him; beside them the true odds.
//! Usage: `cargo run --release -p diagnosis --example taught [SHEET] [JOBS TO LEARN] [JOBS TO SCORE]`.
#![allow(missing_docs, clippy::unwrap_used, clippy::print_stdout, clippy::disallowed_methods)]

use std::collections::BTreeMap;

use diagnosis::Atlas;
use diagnosis::learned::{Taught, learn, starts};
use diagnosis::trial::{Chance, Ending, Options, Planting, Run, Technician, Trial, mean, paired};
use machine::Machine;

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let path = arguments.first().map_or("machines/curlew.toml", String::as_str);
    let count = |at: usize, usual: u64| arguments.get(at).map_or(usual, |text| text.parse().unwrap());
    let (lessons, scored) = (count(1, 300), count(2, 200));
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
        .map(|(at, odds)| if at == 0 { *odds } else { odds * libm::exp(chance.normal()) })
        .collect();
    // The faults together weigh as much as before: only their shares are wrong.
    let scale = truth[1..].iter().sum::<f64>() / wrong[1..].iter().sum::<f64>();
    let wrong: Vec<f64> =
        wrong.iter().enumerate().map(|(at, odds)| if at == 0 { *odds } else { scale * odds }).collect();

    let worked = |trial: &mut Trial, planting: &Planting| trial.run(planting, &options, Technician::Method).unwrap();
    let mut taught = Vec::new();
    trial.desk().set_odds(&wrong);
    for seed in 0..lessons {
        let Some(planting) = trial.planting(seed, &options) else { continue };
        let run = worked(&mut trial, &planting);
        let (Ending::Proven { .. }, Some(first)) = (run.ending, &run.first) else { continue };
        // As in the journal: what was named and proven, right or not, shared by the odds that were held.
        let faults: Vec<&String> = first.faults.iter().collect();
        let names: Vec<String> =
            trial.desk().atlas().cast.suspects.iter().map(|suspect| suspect.name.clone()).collect();
        let held = |name: &str| names.iter().position(|known| known == name).map_or(0.0, |at| wrong[at]);
        let all: f64 = faults.iter().map(|name| held(name)).sum();
        let odds = faults.iter().map(|name| ((*name).clone(), held(name) / all)).collect();
        taught.push(Taught { model: "a".into(), odds, proven: true, years: 0.0 });
    }
    let mut own = starts(&machine);
    let total: f64 = wrong[1..].iter().sum();
    own.iter_mut().zip(&wrong[1..]).for_each(|(start, odds)| start.share = odds / total);
    let models = BTreeMap::from([("a".to_owned(), own)]);
    let learned = learn("a", &models, &taught).unwrap();
    let learned: Vec<f64> = std::iter::once(wrong[0]).chain(learned.iter().map(|fault| total * fault.share)).collect();
    let off = |odds: &[f64]| {
        let all: f64 = truth[1..].iter().sum();
        truth[1..].iter().zip(&odds[1..]).map(|(truth, odds)| (truth - odds).abs()).sum::<f64>() / (2.0 * all)
    };
    println!("{}: {} of {lessons} jobs have taught", machine.sheet.id, taught.len());
    println!("odds off by (half the sum of differences): wrong {:.3}, learned {:.3}", off(&wrong), off(&learned));

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
