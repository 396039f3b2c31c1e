//! The odds of a start held against the share of drawn machines that start, each cranked in time until it fires.
//!
//! usage: mornings [DRAWN [SHEET…]]   2,000 of curlew, moorhen and dabchick unless told otherwise
//!
//! A drawn machine has a charge, a wear, frictions, a least firing speed and a patience of its own, by pseudo-random numbers
//! and not by the sequence that the odds are computed with; it fires in the instant in which the time for which it was
//! turned fast enough, by the speed of the last quarter of a second, has lasted long enough. The laws of firing are written
//! here a second time. Exits with 1 when odds and share differ by more than 0.03, or when warmer air lowers the odds.
#![expect(clippy::print_stdout, clippy::disallowed_methods, reason = "a table for a person, from sheets on the disk")]

use std::error::Error;
use std::path::PathBuf;
use std::process::ExitCode;

use calculator::morning::{Evening, FIRES_IN, USUAL, fires_above, morning, stand};
use machine::{Machine, sheet};
use physics::cranking::{Course, Sample};
use quantity::Celsius;

/// Air of the mornings that machines are drawn for.
const DRAWN_AT: [f64; 4] = [-10.0, -3.0, 5.0, 15.0];
/// What odds and share may differ by.
const APART: f64 = 0.03;
/// Odds nearer to each other than this are alike: no more bursts are made once they are that near to certain.
const ALIKE: f64 = 2e-6;

fn main() -> Result<ExitCode, Box<dyn Error>> {
    let mut words = std::env::args().skip(1);
    let drawn: u64 = words.next().map_or(Ok(2000), |word| word.replace(',', "").parse())?;
    let mut sheets: Vec<PathBuf> = words.map(PathBuf::from).collect();
    if sheets.is_empty() {
        let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../machines");
        sheets = ["curlew", "moorhen", "dabchick"].map(|id| folder.join(id).with_extension("toml")).to_vec();
    }
    let mut good = true;
    for path in sheets {
        let read = sheet::read(&std::fs::read_to_string(&path)?);
        let machine = Machine::new(read.sheet.ok_or_else(|| format!("{}: not a sheet", path.display()))?);
        good &= rises(&machine)?;
        for air in DRAWN_AT {
            good &= is_share(&machine, Celsius(air), drawn)?;
        }
    }
    Ok(if good { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}

/// Whether the odds rise with the air, from -10 to 25 °C.
fn rises(machine: &Machine) -> Result<bool, Box<dyn Error>> {
    let evening = Evening::of(machine);
    let at = |step: u32| morning(machine, &evening, Celsius(-10.0 + 2.5 * f64::from(step)), &USUAL);
    let odds: Vec<f64> = (0..15).map(|step| Ok(at(step)?.odds)).collect::<Result<_, Box<dyn Error>>>()?;
    let rises = odds.is_sorted_by(|colder, warmer| *warmer > colder - ALIKE);
    let verdict = if rises { "never lower in warmer air" } else { "LOWER IN WARMER AIR" };
    println!("{:<10} -10 to 25 °C: {odds:.3?}, {verdict}", machine.sheet.id);
    Ok(rises)
}

/// Whether the odds of a morning are the share of drawn machines that start.
fn is_share(machine: &Machine, air: Celsius, drawn: u64) -> Result<bool, Box<dyn Error>> {
    let odds = morning(machine, &Evening::of(machine), air, &USUAL)?.odds;
    let started = std::thread::scope(|scope| {
        let halves = [0, 1].map(|half| {
            scope.spawn(move || (half..drawn).step_by(2).filter(|number| starts(machine, air, *number)).count())
        });
        halves.into_iter().map(|half| half.join().unwrap_or(0)).sum::<usize>()
    });
    let share = started as f64 / drawn as f64;
    let off = (odds - share).abs();
    let verdict = if off <= APART { "" } else { "  TOO FAR APART" };
    println!(
        "{:<10} {air:>6}: odds {odds:.3}, {started} of {drawn} start: {share:.3}, apart by {off:.3}{verdict}",
        machine.sheet.id
    );
    Ok(off <= APART)
}

/// Whether one drawn machine starts.
fn starts(machine: &Machine, air: Celsius, number: u64) -> bool {
    let mut dice = fastrand::Rng::with_seed(0xd1ce ^ (number << 8));
    let shares = [0; 5].map(|_: i32| dice.f64());
    let Ok(stand) = stand(machine, &Evening::of(machine), air, shares) else { return false };
    // Box and Muller's normal number.
    let normal = (-2.0 * (1.0 - dice.f64()).ln()).sqrt() * (std::f64::consts::TAU * dice.f64()).cos();
    let least = fires_above(machine).0 * (1.0 + 0.12 * normal);
    let colder = ((20.0 - air.0) / 15.0).max(0.0);
    let patience = -(1.0 - dice.f64()).ln() * FIRES_IN.0 * colder.exp2();
    let (mut exposed, mut now) = (0.0, stand.start);
    for burst in 0..USUAL.tries {
        let course = stand.rig.crank(now, USUAL.on);
        let at_limit = course.end.winding > USUAL.hottest || course.end.held.charge < 0.1;
        if at_limit && burst > 0 {
            return false;
        }
        exposed += turned_above(&course, least);
        if exposed > patience {
            return true;
        }
        if at_limit {
            return false;
        }
        now = course.end.after_rest(&stand.rig, USUAL.rest);
    }
    false
}

/// Time for which the crankshaft was faster, by its mean over the last quarter of a second.
fn turned_above(course: &Course, least: f64) -> f64 {
    let samples = &course.samples;
    // Angle turned up to each sample.
    let mut turned = vec![0.0];
    for pair in samples.windows(2) {
        let over = 0.5 * (pair[0].crank.0 + pair[1].crank.0) * (pair[1].at.0 - pair[0].at.0);
        turned.push(turned[turned.len() - 1] + over);
    }
    let (mut back, mut time) = (0, 0.0);
    for (index, pair) in samples.windows(2).enumerate() {
        let now = &pair[1];
        let since = |sample: &Sample| now.at.0 - sample.at.0;
        while since(&samples[back]) > 0.25 {
            back += 1;
        }
        let mean = (turned[index + 1] - turned[back]) / since(&samples[back]).max(1e-6);
        if mean > least {
            time += now.at.0 - pair[0].at.0;
        }
    }
    time
}
