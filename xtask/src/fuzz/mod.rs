//! Spoiled text for everything that reads text: sheets, quantities and readings, names of probes, request lines.
//! Promise to check: no input panics, none takes longer than a second, every refusal names what was found and what is
//! allowed. The same seed gives the same inputs, so that `--from NUMBER` with a COUNT of 1 brings a failure about again.

mod entries;
mod requests;
mod sheets;
mod spoil;

use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use crate::workspace::{MACHINES, Trouble, files, program, root, say, shipped};
use spoil::Dice;

/// No input may take longer.
const LONGEST: Duration = Duration::from_secs(1);
/// After this an input hangs; the run is given up.
const HANGS: Duration = Duration::from_secs(20);
/// Sheets are the slowest to read: one input in so many is one.
const SHEET_EVERY: u64 = 12;
/// Inputs for the program's request lines, of twelve.
const REQUESTS_OF_TWELVE: u64 = 6;

/// What came of an input that was read without breaking anything.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Came {
    /// It was understood.
    Understood,
    /// It was refused, by name.
    Refused,
}

/// What one hand found.
#[derive(Default)]
struct Tally {
    inputs: u64,
    refused: u64,
    slowest: Duration,
    failures: BTreeMap<String, (u64, usize)>,
}

impl Tally {
    fn fail(&mut self, number: u64, what: String) {
        self.failures.entry(what).or_insert((number, 0)).1 += 1;
    }

    fn add(&mut self, came: Came) {
        self.inputs += 1;
        self.refused += u64::from(came == Came::Refused);
    }
}

struct Run {
    seed: u64,
    from: u64,
    count: u64,
}

/// Runs the command.
pub fn run(arguments: &[String]) -> Result<bool, Trouble> {
    let run = read(arguments)?;
    let binary = program()?;
    let started = Instant::now();
    let (library, lines) = std::thread::scope(|scope| {
        let library = scope.spawn(|| in_process(&run));
        let lines = scope.spawn(|| over_a_pipe(&run, &binary));
        (library.join(), lines.join())
    });
    let gone = |_| Trouble::Said("the fuzzer itself broke off".to_owned());
    let (library, lines) = (library.map_err(gone)??, lines.map_err(gone)??);
    let mut good = true;
    for (name, tally) in library.iter().chain(&lines) {
        say(&format!(
            "{name}: {} inputs, {} refused by name, slowest {:.0} ms",
            tally.inputs,
            tally.refused,
            tally.slowest.as_secs_f64() * 1e3
        ));
        for (what, (number, times)) in &tally.failures {
            good = false;
            say(&format!(
                "FAILURE {what}\n  {times} times, first: cargo xtask fuzz 1 --seed {} --from {number}",
                run.seed
            ));
        }
    }
    let inputs: u64 = library.iter().chain(&lines).map(|(_, tally)| tally.inputs).sum();
    say(&format!("{inputs} inputs of seed {} in {:.0} s", run.seed, started.elapsed().as_secs_f64()));
    Ok(good)
}

fn read(arguments: &[String]) -> Result<Run, Trouble> {
    let mut run = Run { seed: 1, from: 0, count: 20_000 };
    let mut words = arguments.iter();
    while let Some(word) = words.next() {
        let option = word.starts_with("--");
        let value = if option { words.next() } else { Some(word) };
        let number = value.and_then(|value| value.replace(['_', ','], "").parse().ok());
        let number = number.ok_or_else(|| Trouble::Said(format!("`{word}`: a whole number is wanted")))?;
        match word.as_str() {
            "--seed" => run.seed = number,
            "--from" => run.from = number,
            _ if option => return Err(Trouble::Said(format!("no option is called `{word}`; allowed: --seed, --from"))),
            _ => run.count = number,
        }
    }
    Ok(run)
}

/// The texts of all sheets that ship, the spoiled ones too.
fn sheet_texts() -> Result<Vec<String>, Trouble> {
    let all = files(&root().join("machines"), ".toml")?;
    all.iter().map(|file| Ok(std::fs::read_to_string(file)?)).collect()
}

/// Inputs that are no request lines, in this process.
fn in_process(run: &Run) -> Result<Vec<(&'static str, Tally)>, Trouble> {
    let sheets = sheets::Seeds::new(sheet_texts()?);
    let machines = MACHINES.iter().map(|id| Ok(shipped(id)?.1)).collect::<Result<Vec<_>, Trouble>>()?;
    let entries = entries::Seeds::new(machines);
    let said = Arc::new(Mutex::new(String::new()));
    listen(&said);
    let clock = watch();
    let (mut of_sheets, mut of_entries) = (Tally::default(), Tally::default());
    for number in run.from..run.from + run.count {
        let sort = number % SHEET_EVERY;
        if sort >= SHEET_EVERY - REQUESTS_OF_TWELVE {
            continue;
        }
        let tally = if sort == 0 { &mut of_sheets } else { &mut of_entries };
        let once = || {
            let mut dice = Dice::new(run.seed, number);
            let begun = Instant::now();
            clock.begin(number);
            let came = catch_unwind(AssertUnwindSafe(|| match sort {
                0 => sheets.read_one(&mut dice),
                _ => entries.read_one(&mut dice),
            }));
            clock.end();
            (came, begun.elapsed())
        };
        let (came, mut took) = once();
        // A shared machine may stop for a second by itself; an input that is slow is slow every time.
        for _ in 0..2 {
            if took > LONGEST {
                took = took.min(once().1);
            }
        }
        tally.slowest = tally.slowest.max(took);
        if took > LONGEST {
            tally.fail(number, "takes longer than a second".to_owned());
        }
        match came {
            Ok(Ok(came)) => tally.add(came),
            Ok(Err(what)) => tally.fail(number, what),
            Err(_) => tally.fail(number, said.lock().map(|said| said.clone()).unwrap_or_default()),
        }
    }
    Ok(vec![("sheets", of_sheets), ("readings and probes", of_entries)])
}

/// Keeps what a panic says instead of printing it.
fn listen(said: &Arc<Mutex<String>>) {
    let said = Arc::clone(said);
    std::panic::set_hook(Box::new(move |panic| {
        if let Ok(mut said) = said.lock() {
            *said = format!("panic: {panic}");
        }
    }));
}

/// The input being read, and since when.
struct Clock {
    start: Instant,
    since_ms: AtomicU64,
    number: AtomicU64,
}

impl Clock {
    fn begin(&self, number: u64) {
        self.number.store(number, Ordering::Relaxed);
        self.since_ms.store(self.start.elapsed().as_millis() as u64, Ordering::Relaxed);
    }

    fn end(&self) {
        self.since_ms.store(u64::MAX, Ordering::Relaxed);
    }
}

/// Gives the run up when an input hangs.
fn watch() -> Arc<Clock> {
    let clock =
        Arc::new(Clock { start: Instant::now(), since_ms: AtomicU64::new(u64::MAX), number: AtomicU64::new(0) });
    let watched = Arc::clone(&clock);
    std::thread::spawn(move || {
        loop {
            std::thread::sleep(Duration::from_millis(250));
            let since = watched.since_ms.load(Ordering::Relaxed);
            if since != u64::MAX && watched.start.elapsed().as_millis() as u64 > since + HANGS.as_millis() as u64 {
                say(&format!("FAILURE input {} hangs", watched.number.load(Ordering::Relaxed)));
                std::process::exit(1);
            }
        }
    });
    clock
}

/// Request lines, through the program's own door.
fn over_a_pipe(run: &Run, binary: &std::path::Path) -> Result<Vec<(&'static str, Tally)>, Trouble> {
    let mut tally = Tally::default();
    let mut stands = Vec::new();
    for id in MACHINES {
        let (file, machine) = shipped(id)?;
        stands.push(requests::Seeds::new(binary, &file, &machine)?);
    }
    let numbers = run.from..run.from + run.count;
    let mine: Vec<u64> = numbers.filter(|number| number % SHEET_EVERY >= SHEET_EVERY - REQUESTS_OF_TWELVE).collect();
    for (turn, batch) in mine.chunks(requests::BATCH).enumerate() {
        let stand = turn % stands.len();
        stands[stand].ask(run.seed, batch, &mut tally)?;
    }
    Ok(vec![("request lines", tally)])
}
