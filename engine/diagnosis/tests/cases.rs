//! Every story in `cases/` is worked from complaint to its end by the desk's own advice, on a machine with the story's
//! faults planted. `STORY=part-of-a-file's-name` works only those; `cases/open/` holds stories that the desk still gets
//! wrong.
#![expect(
    clippy::disallowed_methods,
    clippy::panic,
    clippy::print_stdout,
    reason = "a test that reads a folder of stories, shows how they went and stops at a bad one"
)]

mod story;

use std::collections::BTreeMap;
use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;

use diagnosis::advice::Pending;
use diagnosis::planted::{Done, Planted};
use diagnosis::{Advice, Atlas, Desk, Request, Verdict};
use machine::{Fault, Machine};

use story::Story;

/// Fewest and usual what-if cases a fault.
const WORLDS: usize = 64;
const MORE_WORLDS: usize = 128;
/// A story that needs more steps than this is lost.
const MOST_STEPS: usize = 40;

fn folder(name: &str) -> PathBuf {
    PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/../..")).join(name)
}

fn stories(of: &str) -> Vec<Story> {
    let entries = fs::read_dir(folder(of)).expect("the folder of stories");
    let mut paths: Vec<PathBuf> = entries.map(|entry| entry.expect("a file").path()).collect();
    paths.retain(|path| path.extension().is_some_and(|kind| kind == "toml"));
    paths.sort();
    let name = |path: &PathBuf| path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let wanted = std::env::var("STORY").unwrap_or_default();
    paths.retain(|path| name(path).contains(&wanted));
    paths.iter().map(|path| story::read(&name(path), &fs::read_to_string(path).expect("text"))).collect()
}

/// The machine of that name, with more lines on its sheet.
fn machine(id: &str, more: &str) -> Machine {
    let text = fs::read_to_string(folder("machines").join(format!("{id}.toml"))).expect("a machine's sheet");
    let read = machine::sheet::read(&format!("{text}\n{more}"));
    Machine::new(read.sheet.unwrap_or_else(|| panic!("a sheet with problems: {:?}", read.findings)))
}

/// `part:mode=severity`, the severity with its unit, or a bare factor.
fn fault(machine: &Machine, text: &str) -> (Fault, f64) {
    let (name, severity) = text.split_once('=').unwrap_or((text, ""));
    let fault = machine.fault(name.trim()).unwrap_or_else(|error| panic!("{error}"));
    let severity = match fault.dimension {
        _ if severity.is_empty() => fault.severity_at(0.5),
        Some(dimension) => quantity::read(severity.trim(), dimension).expect("a severity"),
        None => severity.trim().parse().expect("a factor"),
    };
    (fault, severity)
}

/// The machine of a story, and the person who stands before it.
struct Scene<'a> {
    story: &'a Story,
    machine: Machine,
    sick: Planted,
    healthy: Planted,
    misread: Vec<String>,
    /// Numbers measured since the desk was first asked.
    measured: usize,
}

impl<'a> Scene<'a> {
    fn set(story: &'a Story) -> Self {
        let machine = machine(&story.machine, &story.own);
        let faults: Vec<_> = story.faults.iter().map(|text| fault(&machine, text)).collect();
        let plant = |faults: &[(Fault, f64)]| Planted::new(&machine, faults, story.air).expect("an operating point");
        let (sick, healthy) = (plant(&faults), plant(&[]));
        Self { story, machine, sick, healthy, misread: Vec::new(), measured: 0 }
    }

    fn complaint(&mut self) -> Option<String> {
        match self.story.complaint.as_deref() {
            Some("none") => None,
            Some(given) => Some(given.to_owned()),
            None => self.sick.complaint(&self.machine).expect("an operating point").map(str::to_owned),
        }
    }

    /// What is typed as the answer at a step.
    fn answer(&mut self, name: &str, step: usize) -> String {
        if self.story.skip.iter().any(|skipped| matches(skipped, name)) {
            return "skip".to_owned();
        }
        if let Some(wrong) = self.story.wrong.get(name).filter(|_| !self.misread.iter().any(|known| known == name)) {
            self.misread.push(name.to_owned());
            return wrong.clone();
        }
        let nothing_between = name.split_once('@').and_then(|(instrument, _)| match instrument {
            "volts" | "lowz" => Some("0.000 V"),
            "ohms" => Some("OL"),
            "clamp" => Some("0.0 A"),
            _ => None,
        });
        self.measured += usize::from(nothing_between.is_some() && step > 0);
        if let Some(nothing) = nothing_between.filter(|_| step > 0 && self.story.slips.contains(&self.measured)) {
            return nothing.to_owned();
        }
        let away = self.story.away.contains(&step) && !name.starts_with("try:");
        let planted = if away { &mut self.healthy } else { &mut self.sick };
        planted.answer(&self.machine, name).unwrap_or_else(|error| panic!("{}: {error}", self.story.file))
    }
}

/// Whether a name is the one meant, or begins as it does before its `*`.
fn matches(meant: &str, name: &str) -> bool {
    meant.strip_suffix('*').map_or(meant == name, |beginning| name.starts_with(beginning))
}

/// A job worked to its end.
struct Worked {
    complaint: Option<String>,
    opening: Vec<(String, String)>,
    steps: Vec<Done>,
    /// The first verdict, and after how many steps.
    verdict: Option<(Verdict, usize)>,
    /// What the repair check asked for, and the answers.
    checked: Vec<(String, String)>,
    /// The verdict when the repair check is done.
    shown: Option<Verdict>,
    /// The verdict at the very end, when a remedy has worked.
    end: Option<Verdict>,
    first: Option<String>,
    /// Steps that were proposed and must not be.
    forbidden: Vec<String>,
    last: Advice,
}

impl Worked {
    /// How the job ended without a verdict.
    fn stop(&self) -> &'static str {
        self.last.stop.map_or("undecided", |stop| stop.name())
    }
}

fn work(story: &Story, desk: &mut Desk) -> Worked {
    let mut scene = Scene::set(story);
    let measured = |(name, value): &(String, Option<String>)| {
        (name.clone(), value.clone().unwrap_or_else(|| scene.answer(name, 0)))
    };
    let opening: Vec<(String, String)> = story.opening.iter().map(measured).collect();
    let mut request = Request {
        complaint: scene.complaint(),
        readings: opening.clone(),
        air: story.air,
        instruments: story.instruments.clone(),
        ..Request::default()
    };
    let ask = |desk: &mut Desk, request: &Request| {
        desk.advise(request).unwrap_or_else(|error| panic!("{}: {error}", story.file))
    };
    let advice = ask(desk, &request);
    let mut worked = Worked {
        complaint: request.complaint.clone(),
        opening,
        steps: Vec::new(),
        verdict: None,
        checked: Vec::new(),
        shown: None,
        end: None,
        first: advice.next.first().map(|step| step.probe.clone()),
        forbidden: Vec::new(),
        last: advice,
    };
    loop {
        if let (None, Some(reached)) = (&worked.verdict, &worked.last.verdict) {
            worked.verdict = Some((reached.clone(), worked.steps.len()));
        }
        for step in &worked.last.next {
            if story.expect.never.iter().any(|never| matches(never, &step.probe)) {
                worked.forbidden.push(step.probe.clone());
            }
        }
        let (name, minutes) = match (&worked.last.verdict, worked.last.next.first()) {
            (Some(reached), _) => (reached.remedy.clone(), 0.0),
            (None, Some(step)) => (step.probe.clone(), step.minutes),
            (None, None) => return worked,
        };
        // A remedy may be botched once.
        let tried = worked.steps.iter().filter(|done| done.name == name).count();
        let tried_twice = name.starts_with("try:") && tried >= 2;
        if worked.last.stop.is_some() || worked.steps.len() >= MOST_STEPS || tried_twice {
            return worked;
        }
        let value = scene.answer(&name, worked.steps.len() + 1);
        request.readings.push((name.clone(), value.clone()));
        let fixed = name.starts_with("try:") && value == "fixed";
        worked.steps.push(Done { name, value, minutes });
        worked.last = ask(desk, &request);
        if fixed {
            break;
        }
    }
    if let (None, Some(reached)) = (&worked.verdict, &worked.last.verdict) {
        worked.verdict = Some((reached.clone(), worked.steps.len()));
    }
    for check in worked.last.verdict.iter().flat_map(|verdict| &verdict.proof) {
        worked.checked.push((check.probe.clone(), scene.answer(&check.probe, 0)));
    }
    request.readings.extend(worked.checked.iter().cloned());
    worked.last = ask(desk, &request);
    worked.shown = worked.last.verdict.clone();
    request.readings.extend(story.after.iter().cloned());
    worked.last = ask(desk, &request);
    worked.end = worked.last.verdict.clone();
    worked
}

/// Everything that is not as the story expects.
fn judge(story: &Story, worked: &Worked) -> Vec<String> {
    let expect = &story.expect;
    let mut wrong = Vec::new();
    match &worked.end {
        Some(end) => {
            let leader = end.faults.first().map_or("", String::as_str);
            if !expect.verdict.iter().any(|accepted| accepted == leader) {
                wrong.push(format!("the verdict is {:?}", end.faults));
            }
            if end.proven != expect.proven {
                wrong.push(format!("proven is {}", end.proven));
            }
        }
        None => {
            let leader = worked.last.suspects.first().map(|suspect| (&suspect.fault, suspect.probability));
            if !expect.stop.iter().any(|accepted| accepted == worked.stop()) {
                wrong.push(format!("no verdict; {}, leader {leader:?}", worked.stop()));
            }
            if let Some(stands) = &worked.last.verdict {
                wrong.push(format!("the verdict {:?} still stands", stands.faults));
            }
        }
    }
    if let Some(first) = expect.first.as_ref().filter(|first| worked.first.as_ref() != Some(*first)) {
        wrong.push(format!("the first step is {:?}, not {first}", worked.first));
    }
    if !worked.forbidden.is_empty() {
        wrong.push(format!("proposed {:?}", worked.forbidden));
    }
    let waits = worked.shown.as_ref().and_then(|verdict| verdict.pending.as_ref()).map(pending_name);
    if waits != expect.pending.as_deref() {
        wrong.push(format!("the proof waits for {waits:?}"));
    }
    if worked.steps.len() > expect.most_steps {
        wrong.push(format!("{} steps", worked.steps.len()));
    }
    wrong
}

fn pending_name(pending: &Pending) -> &'static str {
    match pending {
        Pending::Starts(_) => "starts",
        Pending::Cold => "cold",
        Pending::Hot => "hot",
    }
}

fn tell(story: &Story, worked: &Worked) {
    let minutes: f64 = worked.steps.iter().map(|done| done.minutes).sum();
    println!("{}: {} — {} steps, {minutes:.1} min", story.file, story.title, worked.steps.len());
    println!("        complaint {:?}", worked.complaint.as_deref().unwrap_or("none"));
    for (name, value) in &worked.opening {
        println!("        {name} = {value}   (opening)");
    }
    let verdict = |at: usize| {
        if let Some((verdict, _)) = worked.verdict.as_ref().filter(|(_, steps)| *steps == at) {
            println!("        verdict {:?} {:.3}", verdict.faults, verdict.probability);
        }
    };
    for (index, done) in worked.steps.iter().enumerate() {
        verdict(index);
        println!("   {:4.1} {} = {}", done.minutes, done.name, done.value);
    }
    match &worked.end {
        Some(end) => println!("        {:?} {:.3} proven {}", end.faults, end.probability, end.proven),
        None => {
            verdict(worked.steps.len());
            println!("        {}, unexplained {:.3}", worked.stop(), worked.last.unexplained);
            for suspect in worked.last.suspects.iter().take(4) {
                println!("        suspect {} {:.3}", suspect.fault, suspect.probability);
            }
        }
    }
    for (name, value) in worked.checked.iter().filter(|_| worked.end.as_ref().is_none_or(|end| !end.proven)) {
        println!("        check {name} = {value}");
    }
}

/// Works a folder of stories and gives what went wrong.
fn run(of: &str, worlds: usize) -> Vec<String> {
    let mut desks: BTreeMap<String, Desk> = BTreeMap::new();
    let mut failures = Vec::new();
    for story in stories(of) {
        let desk = desks.entry(story.machine.clone()).or_insert_with(|| {
            let machine = machine(&story.machine, "");
            let atlas = Atlas::build(&machine, worlds);
            Desk::new(machine, atlas)
        });
        // A desk that panics fails its story, not the others.
        let Ok(worked) = catch_unwind(AssertUnwindSafe(|| work(&story, desk))) else {
            println!("{}: PANIC", story.file);
            failures.push(format!("{}: the desk panicked", story.file));
            desks.remove(&story.machine);
            continue;
        };
        tell(&story, &worked);
        let wrong = judge(&story, &worked);
        if !wrong.is_empty() {
            let expected = [&story.expect.verdict[..], &story.expect.stop[..]].concat();
            let wrong = wrong.join("; ");
            println!("        WRONG: {wrong}");
            failures.push(format!("{}: {wrong}; expected {expected:?} {}", story.file, story.expect.because));
        }
    }
    failures
}

#[test]
fn every_story_ends_as_it_should() {
    let failures = run("cases", WORLDS);
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn twice_the_what_if_cases_end_alike() {
    let failures = run("cases", MORE_WORLDS);
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// Stories that the desk still gets wrong, with as many what-if cases or with twice as many, are worked too: one that
/// ends well with both belongs into `cases/`.
#[test]
fn open_stories_are_still_open() {
    let failures = [run("cases/open", WORLDS), run("cases/open", MORE_WORLDS)].concat();
    let well = |story: &Story| !failures.iter().any(|failure| failure.starts_with(&story.file));
    let ended: Vec<String> = stories("cases/open").into_iter().filter(well).map(|story| story.file).collect();
    assert!(ended.is_empty(), "these end well now, move them into cases/: {ended:?}");
}
