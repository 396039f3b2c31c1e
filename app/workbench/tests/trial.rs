//! `trial`: the same seed gives the same bytes, whatever the number of hands; a shown job can be read.

use std::sync::OnceLock;

use assert_cmd::Command;

use crate::bench::{file, machine, run, tiny};

/// A button, a relay and a motor.
fn motor() -> &'static str {
    static PATH: OnceLock<String> = OnceLock::new();
    const SHEET: &str = r#"
sheet = 1
[machine]
id = "motor"
[control.button]
positions = ["free", "pressed"]
[part.source]
kind = "source"
voltage = "12.6 V"
resistance = "30 mohm"
[part.contact]
kind = "switch"
from = "source.plus"
to = "signal"
closed-when = { button = "pressed" }
[part.relay]
kind = "relay"
coil = "5 ohm"
coil-a = "signal"
coil-b = "source.minus"
line = "source.plus"
load = "motor.plus"
[part.motor]
kind = "motor"
minus = "source.minus"
resistance = "60 mohm"
constant = "0.02 V s/rad"
friction-torque = "0.15 N m"
drag = "5e-4 N m s/rad"
[state.rest]
[state.on]
[state.held]
controls = { button = "pressed" }
rotor = "free"
"#;
    PATH.get_or_init(|| file("motor.toml", SHEET))
}

fn with_hands(hands: &str) -> Vec<u8> {
    let arguments = ["trial", motor(), "--jobs", "6", "--seed", "9", "--worlds", "16", "--json"];
    let mut command = Command::new(env!("CARGO_BIN_EXE_probewright"));
    let ran = command.args(arguments).env("RAYON_NUM_THREADS", hands).env("XDG_CACHE_HOME", "/nonexistent");
    let output = ran.output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    assert!(output.stderr.is_empty(), "{}", String::from_utf8_lossy(&output.stderr));
    output.stdout
}

#[test]
fn law_the_same_seed_gives_the_same_bytes_with_one_hand_and_with_two() {
    assert_eq!(with_hands("1"), with_hands("2"));
}

#[test]
fn every_technician_is_scored_on_the_same_jobs() {
    let said = run(&["trial", motor(), "--jobs", "6", "--worlds", "16", "--json"]);
    assert_eq!(said.code, 0, "{}", said.err);
    let report = said.json();
    assert_eq!(report["jobs"], 6);
    let technicians = report["technicians"].as_array().unwrap();
    let names: Vec<&str> = technicians.iter().map(|scored| scored["technician"].as_str().unwrap()).collect();
    assert_eq!(names, ["method", "list", "halving"]);
    for scored in technicians {
        let verdicts = ["right", "confident_wrong", "none_of_these", "no_verdict"];
        let sum: f64 = verdicts.iter().map(|share| scored[share].as_f64().unwrap()).sum();
        assert!((sum - 1.0).abs() < 1e-9, "{scored}");
    }
    assert_eq!(report["against"].as_array().unwrap().len(), 2);
    let jobs: u64 = report["by_fault"].as_array().unwrap().iter().map(|row| row["jobs"].as_u64().unwrap()).sum();
    assert_eq!(jobs, 6);
}

#[test]
fn a_shown_job_tells_what_was_planted_and_every_step() {
    let said = run(&["trial", &machine("curlew"), "--show", "4", "--worlds", "16"]);
    assert_eq!(said.code, 0, "{}", said.err);
    assert!(said.out.contains("curlew, job 4\nplanted: "), "{}", said.out);
    for part in ["the owner says: ", "\nmethod\n", "\nlist\n", "\nhalving\n", "   1. "] {
        assert!(said.out.contains(part), "no `{part}` in {}", said.out);
    }
    assert!(said.out.lines().any(|line| line.trim_start().starts_with("verdict: ")), "{}", said.out);
}

#[test]
fn one_wrong_number_a_job_is_scored_by_what_was_wrong_and_where() {
    let arguments = ["trial", motor(), "--jobs", "12", "--worlds", "16", "--mishap", "zero", "--mishap-at", "1"];
    let said = run(&[&arguments[..], &["--json"]].concat());
    assert_eq!(said.code, 0, "{}", said.err);
    let report = said.json();
    let rows = report["by_slip"].as_array().unwrap();
    let jobs = |row: &serde_json::Value| row["jobs"].as_u64().unwrap();
    assert_eq!(rows.iter().map(jobs).sum::<u64>(), 12);
    let slipped = rows.iter().find(|row| row["name"] == "zero at number 1").unwrap();
    assert!(jobs(slipped) > 6, "{rows:?}");
    assert!(run(&arguments).out.contains("By the wrong number"));
    assert!(run(&["trial", motor(), "--jobs", "6", "--worlds", "16", "--json"]).json().get("by_slip").is_none());
}

#[test]
fn a_machine_on_which_no_fault_would_be_noticed_is_told_so() {
    let said = run(&["trial", tiny(), "--jobs", "2", "--worlds", "16"]);
    assert_eq!(said.code, 1);
    assert!(said.err.contains("would be noticed"), "{}", said.err);
}

#[test]
fn shares_and_places_out_of_range_are_refused() {
    for wrong in [["--intermittent", "1.5"], ["--mishap-at", "6"], ["--mishap", "often"], ["--jobs", "0"]] {
        let said = run(&["trial", tiny(), wrong[0], wrong[1]]);
        assert_eq!(said.code, 2, "{}", said.err);
        assert!(said.err.contains(wrong[0]), "{}", said.err);
    }
}
