//! Every story in `cases/` is worked from complaint to proven repair by the desk's own advice, on a machine with the
//! story's faults planted. A key that is not known, or a story without an expectation, fails.
#![expect(
    clippy::disallowed_methods,
    clippy::panic,
    clippy::print_stdout,
    reason = "a test that reads a folder of stories, shows how they went and stops at a bad one"
)]

use std::collections::BTreeMap;
use std::fs;
use std::path::PathBuf;

use diagnosis::planted::{Planted, Worked, work};
use diagnosis::{Atlas, Desk, Request};
use machine::{Fault, Machine};
use quantity::{Celsius, Dimension};
use toml::{Table, Value};

/// Fewest and usual what-if cases a fault.
const WORLDS: usize = 64;
const MORE_WORLDS: usize = 128;
/// A story that needs more steps than this is lost.
const MOST_STEPS: usize = 40;

/// A story, read.
struct Story {
    file: String,
    title: String,
    machine: String,
    complaint: Option<String>,
    faults: Vec<String>,
    air: Option<Celsius>,
    opening: Vec<(String, String)>,
    skip: Vec<String>,
    expect: Expect,
}

struct Expect {
    verdict: Vec<String>,
    proven: bool,
    most_steps: usize,
    because: String,
}

fn folder(name: &str) -> PathBuf {
    PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/../..")).join(name)
}

fn texts(list: &Value) -> Option<Vec<String>> {
    list.as_array()?.iter().map(|text| Some(text.as_str()?.to_owned())).collect()
}

/// Readings of the form `NAME = VALUE`.
fn readings(list: Value) -> Option<Vec<(String, String)>> {
    let split = |text: &String| {
        let (name, value) = text.split_once(" = ")?;
        Some((name.trim().to_owned(), value.trim().to_owned()))
    };
    texts(&list)?.iter().map(split).collect()
}

fn read(file: &str, text: &str) -> Story {
    let mut table: Table = text.parse().unwrap_or_else(|error| panic!("{file}: {error}"));
    let mut expect = match table.remove("expect") {
        Some(Value::Table(expect)) => expect,
        _ => panic!("{file}: no [expect]"),
    };
    let wanted = |what: &str| -> ! { panic!("{file}: `{what}` is missing or of the wrong kind") };
    let string = |table: &mut Table, key: &str| match table.remove(key) {
        Some(Value::String(text)) => text,
        _ => wanted(key),
    };
    let list =
        |table: &mut Table, key: &str| table.remove(key).map(|value| texts(&value).unwrap_or_else(|| wanted(key)));
    let pairs = |table: &mut Table, key: &str| {
        table.remove(key).map(|value| readings(value).unwrap_or_else(|| wanted(key))).unwrap_or_default()
    };
    assert_eq!(table.remove("case"), Some(Value::Integer(1)), "{file}: `case = 1` is missing");
    let story = Story {
        file: file.to_owned(),
        title: string(&mut table, "title"),
        machine: string(&mut table, "machine"),
        complaint: table.contains_key("complaint").then(|| string(&mut table, "complaint")),
        faults: list(&mut table, "faults").unwrap_or_else(|| wanted("faults")),
        air: table
            .contains_key("air")
            .then(|| quantity::read(&string(&mut table, "air"), Dimension::Temperature).expect("a temperature"))
            .map(Celsius),
        opening: pairs(&mut table, "opening"),
        skip: list(&mut table, "skip").unwrap_or_default(),
        expect: Expect {
            verdict: list(&mut expect, "verdict").unwrap_or_else(|| wanted("verdict")),
            proven: expect.remove("proven").and_then(|value| value.as_bool()).unwrap_or_else(|| wanted("proven")),
            most_steps: match expect.remove("most_steps") {
                Some(Value::Integer(steps)) => steps as usize,
                _ => wanted("most_steps"),
            },
            because: string(&mut expect, "because"),
        },
    };
    let left: Vec<&String> = table.keys().chain(expect.keys()).collect();
    assert!(left.is_empty(), "{file}: unknown keys {left:?}");
    assert!(!story.expect.because.is_empty(), "{file}: `because` says nothing");
    story
}

fn stories() -> Vec<Story> {
    let entries = fs::read_dir(folder("cases")).expect("the folder `cases`");
    let mut paths: Vec<PathBuf> = entries.map(|entry| entry.expect("a file").path()).collect();
    paths.sort();
    let name = |path: &PathBuf| path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    paths.iter().map(|path| read(&name(path), &fs::read_to_string(path).expect("text"))).collect()
}

fn machine(id: &str) -> Machine {
    let text = fs::read_to_string(folder("machines").join(format!("{id}.toml"))).expect("a machine's sheet");
    Machine::new(machine::sheet::read(&text).sheet.expect("a sheet without problems"))
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

fn work_story(story: &Story, desk: &mut Desk) -> Worked {
    let planted: Vec<_> = story.faults.iter().map(|text| fault(&desk.machine, text)).collect();
    let mut planted = Planted::new(&desk.machine, &planted, story.air).expect("a machine with an operating point");
    let computed = planted.complaint(&desk.machine).expect("a machine with an operating point");
    let request = Request {
        complaint: story.complaint.clone().or(computed.map(str::to_owned)),
        readings: story.opening.clone(),
        air: story.air,
        ..Request::default()
    };
    let cannot = |name: &str| story.skip.iter().any(|skipped| skipped == name);
    work(desk, &mut planted, request, MOST_STEPS, cannot).unwrap_or_else(|error| panic!("{}: {error}", story.file))
}

/// Everything that is not as the story expects.
fn judge(story: &Story, worked: &Worked) -> Vec<String> {
    let mut wrong = Vec::new();
    match &worked.end {
        Some(end) => {
            let leader = end.faults.first().map_or("", String::as_str);
            if !story.expect.verdict.iter().any(|accepted| accepted == leader) {
                wrong.push(format!("the verdict is {:?}", end.faults));
            }
            if end.proven != story.expect.proven {
                wrong.push(format!("proven is {}", end.proven));
            }
        }
        None => wrong.push(format!(
            "no verdict; stop {:?}, leader {:?}",
            worked.stop,
            worked.last.suspects.first().map(|suspect| (&suspect.fault, suspect.probability))
        )),
    }
    if worked.steps.len() > story.expect.most_steps {
        wrong.push(format!("{} steps", worked.steps.len()));
    }
    wrong
}

fn run(worlds: usize) {
    let mut desks: BTreeMap<String, Desk> = BTreeMap::new();
    let mut failures = Vec::new();
    for story in stories() {
        let desk = desks.entry(story.machine.clone()).or_insert_with(|| {
            let machine = machine(&story.machine);
            let atlas = Atlas::build(&machine, worlds);
            Desk::new(machine, atlas)
        });
        let worked = work_story(&story, desk);
        println!("{}: {} — {} steps, {:.1} min", story.file, story.title, worked.steps.len(), worked.minutes());
        for (name, value) in &story.opening {
            println!("        {name} = {value}   (opening)");
        }
        for (index, done) in worked.steps.iter().enumerate() {
            if let Some((verdict, _)) = worked.verdict.as_ref().filter(|(_, steps)| *steps == index) {
                println!("        verdict {:?} {:.3}", verdict.faults, verdict.probability);
            }
            println!("   {:4.1} {} = {}", done.minutes, done.name, done.value);
        }
        if let Some(end) = &worked.end {
            println!("        {:?} {:.3} proven {}", end.faults, end.probability, end.proven);
        }
        for (name, value) in worked.checked.iter().filter(|_| worked.end.as_ref().is_none_or(|end| !end.proven)) {
            println!("        check {name} = {value}");
        }
        let wrong = judge(&story, &worked);
        if !wrong.is_empty() {
            failures.push(format!(
                "{}: {}; expected {:?} {}",
                story.file,
                wrong.join("; "),
                story.expect.verdict,
                story.expect.because
            ));
        }
    }
    assert!(failures.is_empty(), "{worlds} what-if cases a fault:\n{}", failures.join("\n"));
}

#[test]
fn every_story_ends_as_it_should() {
    run(WORLDS);
}

#[test]
fn twice_the_what_if_cases_end_alike() {
    run(MORE_WORLDS);
}

#[test]
#[should_panic(expected = "unknown keys")]
fn a_key_that_no_story_has_is_refused() {
    read(
        "misspelled",
        "case = 1\ntitle = \"\"\nmachine = \"curlew\"\nfaults = []\nfualts = []\n[expect]\nverdict = []\nproven = true\nmost_steps = 1\nbecause = \"x\"",
    );
}
