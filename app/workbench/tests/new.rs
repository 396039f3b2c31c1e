//! `new` and `which`: sheets from patterns, and which of them a machine is wired like.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use diagnosis::planted::Planted;
use machine::Machine;
use machine::sheet::{Sheet, read};

const ROOT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../..");

fn program(arguments: &[&str], folder: &Path) -> Output {
    Command::new(env!("CARGO_BIN_EXE_probewright"))
        .args(arguments)
        .current_dir(folder)
        .env("XDG_CACHE_HOME", concat!(env!("CARGO_TARGET_TMPDIR"), "/cache"))
        .env("NO_COLOR", "1")
        .stdin(std::process::Stdio::null())
        .output()
        .unwrap()
}

fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("new-{name}-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

/// The sheet that `new` prints.
fn made(arguments: &[&str]) -> (Sheet, String) {
    let mut all = vec!["new", "--output", "-", "--unasked"];
    all.extend(arguments);
    let output = program(&all, Path::new("."));
    let text = String::from_utf8(output.stdout).unwrap();
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    let sheet = read(&text).sheet.unwrap_or_else(|| panic!("{arguments:?}: {said}\n{text}"));
    (sheet, text)
}

fn patterns() -> Vec<(String, Sheet)> {
    let mut all: Vec<(String, Sheet)> = std::fs::read_dir(format!("{ROOT}/machines/patterns"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .map(|path| {
            let sheet = read(&std::fs::read_to_string(&path).unwrap()).sheet.unwrap();
            (path.file_stem().unwrap().to_string_lossy().into_owned(), sheet)
        })
        .collect();
    all.sort_by(|left, right| left.0.cmp(&right.0));
    all
}

#[test]
fn law_every_pattern_gives_a_sound_sheet_whatever_is_answered() {
    for (name, pattern) in patterns() {
        assert!((1..=7).contains(&pattern.questions.len()), "{name}: {} questions", pattern.questions.len());
        let (plain, text) = made(&[&name]);
        assert_eq!(plain.guesses.len(), pattern.guesses.len(), "{name}");
        assert!(plain.questions.is_empty(), "{name}");
        assert_eq!(text.matches("  # a guess").count(), plain.guesses.len(), "{name}");
        // What a question would have set and nobody answered is told apart from what is known.
        assert!(text.contains("  # assumed"), "{name}");
        for question in &pattern.questions {
            for answer in &question.answers {
                made(&[&name, "--answer", &format!("{}={}", question.name.name, answer.word)]);
            }
        }
    }
}

#[test]
fn law_an_answer_ends_a_guess_and_the_order_of_answers_does_not_matter() {
    let pattern = "trail-bike-feed-switched";
    let one = made(&[pattern, "--answer", "capacity=2,3", "--answer", "cells=lithium"]).1;
    let two = made(&[pattern, "--answer", "cells=lith", "--answer", "capacity=2.3 Ah"]).1;
    let capacity =
        |text: &str| text.lines().filter(|line| line.contains("capacity")).map(str::to_owned).collect::<Vec<_>>();
    let lines = capacity(&one);
    assert_eq!(lines, capacity(&two).iter().map(|line| line.replace("2.3 Ah", "2,3 Ah")).collect::<Vec<_>>());
    assert_eq!(lines.len(), 1, "the guess of the capacity is gone: {lines:?}");
}

#[test]
fn what_cannot_be_taken_is_refused_with_what_could() {
    let folder = folder("refused");
    for (arguments, said) in [
        (vec!["new", "submarine"], "no pattern is called `submarine`"),
        (vec!["new", "quad", "--unasked", "--answer", "capacity=3 V"], "is a voltage"),
        (vec!["new", "quad", "--unasked", "--answer", "colour=red"], "asks no question `colour`"),
        (vec!["new", "quad", "--unasked", "--answer", "capacity"], "QUESTION=ANSWER"),
        (vec!["new", "quad", "--unasked", "--answer", "cable=10"], "10"),
        // Told before anything is asked.
        (vec!["new", "quad", "--name", "two words"], "cannot be the name"),
    ] {
        let output = program(&arguments, &folder);
        let error = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(!output.status.success() && error.contains(said), "{arguments:?}: {error}");
        assert!(error.contains("hint") || error.contains("allowed"), "{arguments:?}: {error}");
    }
    assert!(program(&["new", "quad", "--unasked", "--name", "dotterel"], &folder).status.success());
    let again = program(&["new", "quad", "--unasked", "--name", "dotterel"], &folder);
    assert_eq!(again.status.code(), Some(73), "a sheet that is there is not written over");
}

/// `common practice, no source`: with key on and button up both coil pins of a feed-switched relay are at 0 V, those of a
/// ground-switched one at the supply.
#[test]
fn the_two_coil_pins_tell_how_the_relay_is_switched() {
    let patterns = ["trail-bike-feed-switched", "trail-bike-ground-switched"];
    let sheets = patterns.map(|name| format!("{ROOT}/machines/patterns/{name}.toml"));
    for (truth, wanted) in patterns.iter().zip(&sheets) {
        let machine = Machine::new(read(&std::fs::read_to_string(wanted).unwrap()).sheet.unwrap());
        let fault = (machine.fault("starter:brushes-worn").unwrap(), 0.08);
        let mut planted = Planted::new(&machine, &[fault], None).unwrap();
        let mut arguments = vec!["which".to_owned(), "--json".to_owned(), sheets[0].clone(), sheets[1].clone()];
        for probe in ["volts@on:starter-relay.coil-a,battery.minus", "volts@on:starter-relay.coil-b,battery.minus"] {
            arguments.extend(["--reading".to_owned(), format!("{probe}={}", planted.answer(&machine, probe).unwrap())]);
        }
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        let output = program(&arguments, Path::new("."));
        let answer: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
        let odds = |sheet: &str| -> f64 {
            let known = answer["sheets"].as_array().unwrap().iter().find(|known| known["sheet"] == sheet);
            known.unwrap()["probability"].as_f64().unwrap()
        };
        assert!(odds(truth) > 0.8, "{truth}: {answer}");
        assert!((patterns.iter().map(|name| odds(name)).sum::<f64>() - 1.0).abs() < 1e-12);
    }
}

#[test]
fn law_a_fitted_value_is_a_guess_no_more() {
    let folder = folder("fitted");
    assert!(program(&["new", "trail-bike-feed-switched", "--unasked", "--name", "heron"], &folder).status.success());
    let text = std::fs::read_to_string(folder.join("heron.toml")).unwrap();
    let machine = Machine::new(read(&text).sheet.unwrap());
    let mut healthy = Planted::new(&machine, &[], None).unwrap();
    let mut arguments = vec!["fit".to_owned(), "heron.toml".to_owned(), "--write".to_owned(), "fitted.toml".to_owned()];
    for probe in [
        "volts@rest:battery.plus,battery.minus",
        "volts@held:battery.plus,battery.minus",
        "volts@held:starter.plus,starter.minus",
        "clamp@held:motor-cable",
        "ohms@dead~relay-plug:starter-relay.coil-a,starter-relay.coil-b",
    ] {
        arguments.extend(["--reading".to_owned(), format!("{probe}={}", healthy.answer(&machine, probe).unwrap())]);
    }
    let output = program(&arguments.iter().map(String::as_str).collect::<Vec<_>>(), &folder);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let fitted = read(&std::fs::read_to_string(folder.join("fitted.toml")).unwrap()).sheet.unwrap();
    let guesses = |sheet: &Sheet| sheet.guesses.len();
    assert!(guesses(&fitted) < guesses(&machine.sheet), "{} of {}", guesses(&fitted), guesses(&machine.sheet));
}
