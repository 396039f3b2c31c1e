//! How fast it is, beside a circuit simulator: one table for the README, every number measured now.
//! Operating points come from `cargo bench -p circuit`; the simulator's from `referee/ngspice.py --time` on the same
//! starter circuit; tables of readings, advice and request lines are timed here, on the machines that ship.
//! Limit: a shared machine makes every one of them slower, none faster; run it when nothing else runs.

use std::collections::BTreeMap;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use diagnosis::advice::Band;
use diagnosis::{Atlas, Desk, Request, Survey};
use machine::Machine;

use crate::asked;
use crate::workspace::{MACHINES, Trouble, cargo, program, root, say, shipped};

/// Different request lines that are timed.
const LINES: usize = 40_000;

/// Runs the command.
pub fn run() -> Result<bool, Trouble> {
    let binary = program()?;
    let ours = benches()?;
    let (operating, altered) = simulator()?;
    let bench = |name: &str| ours.get(name).copied().unwrap_or(f64::NAN);
    say("| what | ours | circuit simulator | ratio |");
    say("|---|---|---|---|");
    for (what, ours, theirs) in [
        ("one operating point from cold, 39 nodes", bench("from_cold_with_a_fresh_solver"), operating),
        ("the same with a warm solver", bench("from_released_with_a_warm_solver"), operating),
        ("one more fault, solved anew", bench("one_more_fault_of_any_severity"), altered),
        ("one more fault on a factored network", bench("one_more_fault_near_a_base"), altered),
        ("one more meter, by the slope", bench("one_more_meter_by_the_slope"), altered),
        ("one more meter on a factored network", bench("one_more_meter_near_a_base"), altered),
    ] {
        say(&format!("| {what} | {ours:.2} µs | {theirs:.0} µs | {:.0} × |", theirs / ours));
    }
    for id in MACHINES {
        let (file, machine) = shipped(id)?;
        for each in [64, 256] {
            let begun = Instant::now();
            let atlas = built(&machine, each);
            let (worlds, probes) = (atlas.cast.len(), atlas.probes.len());
            row(&format!("{id}: table of {worlds} cases × {probes} probes"), begun.elapsed());
            if each == 256 {
                let (median, slowest) = advice(&machine, atlas)?;
                row(&format!("{id}: advice after a reading, median"), median);
                row(&format!("{id}: advice after a reading, slowest"), slowest);
            }
        }
        let (seconds, answered) = requests(&binary, &file, &machine)?;
        say(&format!(
            "| {id}: request lines, one hand | {:.0} a second | | |",
            answered as f64 / seconds.as_secs_f64()
        ));
    }
    Ok(true)
}

fn row(what: &str, took: Duration) {
    say(&format!("| {what} | {:.1} ms | | |", took.as_secs_f64() * 1e3));
}

/// Medians of the circuit's benches by name, microseconds.
fn benches() -> Result<BTreeMap<String, f64>, Trouble> {
    let said = cargo().args(["bench", "--quiet", "--package", "circuit", "--bench", "operating_point"]).output()?;
    let text = String::from_utf8_lossy(&said.stdout).into_owned();
    let median = |line: &str| {
        let line = line.trim_start_matches(['│', '├', '╰', '─', ' ']);
        let (name, rest) = line.split_once(' ')?;
        // fastest │ slowest │ median │ mean
        let cell = rest.split('│').nth(2)?.trim();
        let (number, unit) = cell.split_once(' ')?;
        let scale = match unit {
            "ns" => 1e-3,
            "µs" => 1.0,
            "ms" => 1e3,
            _ => return None,
        };
        Some((name.to_owned(), number.parse::<f64>().ok()? * scale))
    };
    let found: BTreeMap<String, f64> = text.lines().filter_map(median).collect();
    if found.is_empty() {
        return Err(Trouble::Said(format!("the benches say nothing: {}", String::from_utf8_lossy(&said.stderr))));
    }
    Ok(found)
}

/// The simulator's medians on the starter circuit: `op`, and `alter` then `op`; microseconds.
fn simulator() -> Result<(f64, f64), Trouble> {
    let file = std::env::temp_dir().join(format!("starter-{}.jsonl", std::process::id()));
    let example = ["run", "--quiet", "--release", "--package", "circuit", "--example", "netlists", "--", "starter"];
    if !cargo().args(example).arg(&file).status()?.success() {
        return Err(Trouble::Said("the starter circuit cannot be written".to_owned()));
    }
    let said = Command::new("python3").arg(root().join("referee/ngspice.py")).arg("--time").arg(&file).output()?;
    std::fs::remove_file(&file)?;
    let text = String::from_utf8_lossy(&said.stdout).into_owned();
    let after = |word: &str| text.split_once(word)?.1.split_whitespace().next()?.parse().ok();
    match (after(", op "), after("alter + op ")) {
        (Some(operating), Some(altered)) => Ok((operating, altered)),
        _ => Err(Trouble::Said(format!("no times from the referee: {}", String::from_utf8_lossy(&said.stderr)))),
    }
}

/// A table of readings, by all hands.
fn built(machine: &Machine, each: usize) -> Atlas {
    const PIECE: usize = 256;
    let survey = Survey::new(machine, each);
    let (worlds, next) = (survey.len(), AtomicUsize::new(0));
    let hands = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let work = || {
        let mut pieces = Vec::new();
        loop {
            let start = next.fetch_add(PIECE, Ordering::Relaxed);
            if start >= worlds {
                return pieces;
            }
            pieces.push(survey.piece(start..worlds.min(start + PIECE)));
        }
    };
    let pieces = std::thread::scope(|scope| {
        let all: Vec<_> = (0..hands).map(|_| scope.spawn(work)).collect();
        all.into_iter().filter_map(|hand| hand.join().ok()).flatten().collect()
    });
    survey.assemble(pieces)
}

/// Median and slowest time of the advice after each reading of some jobs: what is proposed is taken, on a machine without a
/// fault, until there is a verdict or six readings.
fn advice(machine: &Machine, atlas: Atlas) -> Result<(Duration, Duration), Trouble> {
    let mut desk = Desk::new(machine.clone(), atlas);
    let mut times = Vec::new();
    for complaint in ["nothing-happens", "one-click", "cranks-slowly", "goes-flat"] {
        let mut request = Request { complaint: Some(complaint.to_owned()), ..Request::default() };
        for _ in 0..6 {
            let begun = Instant::now();
            let advice = desk.advise(&request).map_err(|error| Trouble::Said(error.to_string()))?;
            times.push(begun.elapsed());
            let taken = advice.next.iter().find_map(|step| Some((step.probe.clone(), usual(step.band.as_ref()?))));
            match taken {
                Some(reading) if advice.verdict.is_none() => request.readings.push(reading),
                _ => break,
            }
        }
    }
    times.sort();
    Ok((times[times.len() / 2], times[times.len() - 1]))
}

/// What a healthy machine shows, as text that can be typed.
fn usual(band: &Band) -> String {
    match band {
        Band::Between { low, high, unit } => format!("{} {unit}", (low + high) / 2.0),
        Band::Expected(word) => word.clone(),
    }
}

/// Time for many different request lines in one process, start and all.
fn requests(binary: &Path, sheet: &Path, machine: &Machine) -> Result<(Duration, usize), Trouble> {
    let lines = asked::lines(machine, LINES).join("\n");
    let begun = Instant::now();
    let mut child = Command::new(binary)
        .arg("solve")
        .arg(sheet)
        .args(["--requests", "-"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()?;
    let mut questions = child.stdin.take();
    let answered = std::thread::scope(|scope| {
        scope.spawn(move || questions.as_mut().map(|door| door.write_all(lines.as_bytes())));
        child.wait_with_output()
    })?;
    let took = begun.elapsed();
    let answers = answered.stdout.iter().filter(|byte| **byte == b'\n').count();
    if answers < LINES {
        return Err(Trouble::Said(format!("{LINES} request lines, {answers} answers")));
    }
    Ok((took, answers))
}
