//! `learned`: proven jobs move the odds, unproven ones half, and whoever uses them says so; one word switches it off.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use serde_json::{Value, json};

use crate::bench::{machine, run};

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
    assert_eq!(with["odds"], json!({ "from": "learned", "jobs_of_model": 20, "jobs_of_others": 0 }));
    assert_eq!(with["suspects"][0]["fault"], FAULT, "{with}");
    let text = run(&[&line[..], &["--journal", &journal]].concat()).out;
    assert!(text.starts_with("odds learned from 20"), "{text}");
    let told = run(&["learned", &curlew, "--journal", &journal]).out;
    assert!(told.contains(FAULT) && told.lines().all(|line| line.chars().count() <= 80), "{told}");
}
