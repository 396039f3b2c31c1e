//! `learned`: proven jobs move the odds, unproven ones half, and whoever uses them says so; one word switches it off.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use serde_json::{Value, json};

use crate::bench::{machine, run, run_with};

const FAULT: &str = "frame-bolt:corroded";

fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("learned-{name}-{}", std::process::id()));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

/// A journal of so many jobs that were told of one fault and closed, each with these entries between the two.
fn journal(name: &str, jobs: usize, proven: bool, between: &[Value]) -> String {
    let folder = folder(name);
    let (mut lines, mut key) = (String::new(), 0);
    for job in 0..jobs {
        let mut entries = vec![
            json!({ "entry": "opened", "machine": "curlew", "sheet": "0", "engine": "0" }),
            json!({ "entry": "told", "faults": [FAULT], "probability": 0.97, "proven": proven }),
        ];
        entries.extend(between.iter().cloned());
        entries.push(json!({ "entry": "closed", "proven": proven }));
        let today = run(&["job", "--journal", folder.join("day.db").to_str().unwrap(), "new", &machine("curlew")]);
        let day = today.out.trim().trim_start_matches("curlew-").get(..10).unwrap().to_owned();
        for (number, mut entry) in entries.into_iter().enumerate() {
            key += 1;
            entry["job"] = json!(format!("curlew-{job}"));
            entry["number"] = json!(number + 1);
            entry["key"] = json!(format!("{key:032x}"));
            entry["at"] = json!(format!("{day}T00:00:{number:02}Z"));
            writeln!(lines, "{entry}").unwrap();
        }
    }
    let (export, journal) = (folder.join("jobs.jsonl"), folder.join("journal.db"));
    std::fs::write(&export, lines).unwrap();
    let journal = journal.to_str().unwrap().to_owned();
    assert_eq!(run(&["job", "--journal", &journal, "import", export.to_str().unwrap()]).code, 0);
    journal
}

fn learned(journal: &str) -> Value {
    let told = run(&["learned", &machine("curlew"), "--journal", journal, "--json"]).json();
    told["faults"].as_array().unwrap().iter().find(|fault| fault["fault"] == FAULT).unwrap().clone()
}

#[test]
fn law_twenty_proven_jobs_weigh_as_much_as_the_starting_odds() {
    let told = learned(&journal("proven", 20, true, &[]));
    let of = |field: &str| told[field].as_f64().unwrap();
    // By hand: (20 · start + 20) / 40, the verdicts being of these days.
    assert!((of("learned") - 0.5 * (of("start") + 1.0)).abs() < 1e-3, "{told}");
    assert!(of("low") < of("learned") && of("learned") < of("high") && (of("verdicts") - 20.0).abs() < 0.1, "{told}");
}

#[test]
fn law_what_is_unproven_counts_half_and_what_came_back_not_at_all() {
    let count = |told: Value| told["verdicts"].as_f64().unwrap();
    assert!((count(learned(&journal("soft", 4, false, &[]))) - 2.0).abs() < 0.01);
    let same = json!({ "entry": "reading", "probe": "try:clean@frame-bolt", "value": "same" });
    assert_eq!(count(learned(&journal("vain", 4, false, &[same]))), 0.0);
    let back = json!({ "entry": "reading", "probe": "ask:held-up", "value": "no" });
    assert_eq!(count(learned(&journal("back", 4, true, &[back]))), 0.0);
    let reopened = json!({ "entry": "reopened" });
    let open = journal("open", 4, true, &[json!({ "entry": "closed", "proven": true }), reopened]);
    // Closed again after it was gone on with: it counts.
    assert!(count(learned(&open)) > 3.9);
}

#[test]
fn law_advice_says_whose_odds_it_starts_from_and_one_word_goes_back() {
    let journal = journal("advice", 20, true, &[]);
    let curlew = machine("curlew");
    let line = ["advise", &curlew, "--complaint", "cranks-slowly"];
    let plain = run(&[&line[..], &["--json"]].concat()).out;
    let with = run(&[&line[..], &["--json", "--journal", &journal]].concat()).json();
    let off = run(&[&line[..], &["--json", "--journal", &journal, "--odds", "sheet"]].concat()).out;
    assert_eq!(plain, off);
    assert_eq!(with["odds"], json!({ "from": "learned", "jobs_of_model": 20, "jobs_of_others": 0, "timed": 0 }));
    assert_eq!(with["suspects"][0]["fault"], FAULT, "{with}");
    let text = run(&[&line[..], &["--journal", &journal]].concat()).out;
    assert!(text.starts_with("odds learned from 20"), "{text}");
    let told = run(&["learned", &curlew, "--journal", &journal]).out;
    assert!(told.contains(FAULT) && told.lines().all(|line| line.chars().count() <= 80), "{told}");
}

#[test]
fn law_how_bad_it_was_is_learned_from_proven_verdicts_alone() {
    // What was told says nothing of it; each job then tells once more, with what its readings say.
    let bad = |proven: bool| json!({ "entry": "told", "faults": [FAULT], "probability": 0.97, "proven": proven, "severities": [[0.0, 0.0, 0.0, 1.0]] });
    let told = |journal: &str| run(&["learned", &machine("curlew"), "--journal", journal, "--json"]).json();
    let proven = told(&journal("bad", 20, true, &[bad(true)]));
    let severity = &proven["severities"][0];
    // By hand: (5 + 20)/40.
    assert_eq!(severity["class"], "joint:corroded", "{proven}");
    assert!((severity["shares"][3].as_f64().unwrap() - 0.625).abs() < 1e-9, "{severity}");
    assert_eq!(told(&journal("unproven-bad", 20, false, &[bad(false)]))["severities"], json!([]));
    let text = run(&["learned", &machine("curlew"), "--journal", &journal("bad-text", 20, true, &[bad(true)])]).out;
    assert!(text.contains("How bad it was") && text.contains("joint:corroded"), "{text}");
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
}

/// Looks and volts at certain times of the day, and how long they took over what the catalogue has.
#[test]
fn law_minutes_are_learned_from_the_clock_and_not_from_what_is_typed_in_afterwards() {
    let folder = folder("clock");
    let curlew = run(&["probes", &machine("curlew"), "--json"]).json();
    let minutes = |name: &str| {
        let probe = curlew.as_array().unwrap().iter().find(|probe| probe["id"] == name);
        probe.unwrap_or_else(|| panic!("{name}"))["minutes"].as_f64().unwrap()
    };
    // The seat is off only then.
    const SEAT: f64 = 2.0;
    let volts = "volts@rest:battery.plus,battery.minus";
    let listen = "listen@held:starter-relay";
    let jobs = |name: &str, slow: f64| {
        let mut lines = String::new();
        for job in 0..12 {
            let mut second = 8.0 * 3600.0;
            let mut put = |number: i32, seconds: f64, mut entry: Value| {
                second += seconds;
                let (hour, minute) = ((second / 3600.0) as u32, (second / 60.0) as u32 % 60);
                entry["at"] = json!(format!("2026-01-{:02}T{hour:02}:{minute:02}:{:02}Z", job + 1, second as u32 % 60));
                entry["job"] = json!(format!("curlew-{name}-{job}"));
                entry["key"] = json!(format!("{:032x}", number + 1000 * job));
                entry["number"] = json!(number);
                writeln!(lines, "{entry}").unwrap();
            };
            put(1, 0.0, json!({ "entry": "opened", "machine": "curlew", "sheet": "0", "engine": "0" }));
            put(2, 5.0, json!({ "entry": "complaint", "value": "one-click" }));
            put(3, 60.0 * slow * minutes(listen), json!({ "entry": "reading", "probe": listen, "value": "click" }));
            put(
                4,
                60.0 * slow * (SEAT + minutes(volts)),
                json!({ "entry": "reading", "probe": volts, "value": "12.6 V" }),
            );
        }
        let (export, journal) = (folder.join(format!("{name}.jsonl")), folder.join(format!("{name}.db")));
        std::fs::write(&export, lines).unwrap();
        let journal = journal.to_str().unwrap().to_owned();
        assert_eq!(run(&["job", "--journal", &journal, "import", export.to_str().unwrap()]).code, 0);
        journal
    };
    let told = |journal: &str| run(&["learned", &machine("curlew"), "--journal", journal, "--json"]).json();
    let slow = told(&jobs("slow", 3.0));
    assert_eq!(slow["timed"], 24, "{slow}");
    for act in ["listen", "open:under-seat@curlew"] {
        let learned = slow["minutes"].as_array().unwrap().iter().find(|known| known["act"] == act).unwrap();
        assert!((learned["factor"].as_f64().unwrap() - 3.0).abs() < 0.6, "{slow}");
    }
    assert_eq!(told(&jobs("typed", 0.01))["timed"], 0);
    let line = ["advise", &machine("curlew"), "--complaint", "one-click", "--json"];
    let first = |arguments: &[&str]| {
        let advice = run(arguments).json();
        let volts =
            advice["next"].as_array().unwrap().iter().find(|step| step["probe"].as_str().unwrap().starts_with("volts"));
        volts.unwrap()["minutes"].as_f64().unwrap()
    };
    let (plain, slowed) =
        (first(&line), first(&[&line[..], &["--journal", &folder.join("slow.db").to_string_lossy()]].concat()));
    assert!(slowed > 2.0 * plain, "{plain} {slowed}");
}

/// Another model's jobs teach the kind; one of them that was begun later takes nothing away.
#[test]
fn law_a_job_starts_from_what_was_known_when_it_was_begun() {
    let folder = folder("before");
    let at = |name: &str| folder.join(name).to_str().unwrap().to_owned();
    assert_eq!(run(&["job", "--journal", &at("sheet.db"), "new", &machine("moorhen")]).code, 0);
    let export = run(&["job", "--journal", &at("sheet.db"), "export"]).out;
    let sheet = export.lines().next().unwrap().to_owned();
    let opened: Value = serde_json::from_str(export.lines().nth(1).unwrap()).unwrap();
    let mut lines = format!("{sheet}\n");
    let mut put = |job: &str, number: i32, day: u32, mut entry: Value| {
        entry["job"] = json!(job);
        entry["number"] = json!(number);
        entry["key"] = json!(format!("{:032x}", lines.len()));
        entry["at"] = json!(format!("2026-0{day}-01T08:00:0{number}Z"));
        writeln!(lines, "{entry}").unwrap();
    };
    let begun =
        |machine: &str| json!({ "entry": "opened", "machine": machine, "sheet": opened["sheet"], "engine": "0" });
    for job in ["moorhen-1", "moorhen-2", "moorhen-3"] {
        put(job, 1, 1, begun("moorhen"));
        put(job, 2, 1, json!({ "entry": "told", "faults": ["battery:aged"], "probability": 0.97, "proven": true }));
        put(job, 3, 1, json!({ "entry": "closed", "proven": true }));
    }
    put("curlew-1", 1, 2, begun("curlew"));
    put("moorhen-4", 1, 3, begun("moorhen"));
    std::fs::write(at("jobs.jsonl"), lines).unwrap();
    assert_eq!(run(&["job", "--journal", &at("day.db"), "import", &at("jobs.jsonl")]).code, 0);
    let work = ["work", &machine("curlew"), "--journal", &at("day.db"), "--job", "curlew-1"];
    let said = run_with(&work, "cranks-slowly\nnothing\n12 C\n0.14\nquit\n");
    let flat = said.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("from 0 of this model's jobs and 3 of others"), "{}{}", said.out, said.err);
}
