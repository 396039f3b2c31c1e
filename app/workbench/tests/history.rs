//! `history`: readings of several years become a line with a range of dates; a repair begins anew; too few say so.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use serde_json::{Value, json};

use crate::bench::{Said, machine, run};

const DROP: &str = "volts@held:frame,ground-eyelet";
const REST: &str = "volts@rest:battery.plus,battery.minus";

/// Its day, the air in °C, names and values.
pub type Job<'a> = (&'a str, i32, &'a [(&'a str, &'a str)]);

fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("history-{name}-{}", std::process::id()));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

/// A journal of these jobs.
pub fn journal(name: &str, jobs: &[Job<'_>]) -> String {
    let folder = folder(name);
    let (mut lines, mut key) = (String::new(), 0);
    for (day, air, readings) in jobs {
        let mut entries = vec![
            json!({ "entry": "opened", "machine": "curlew", "sheet": "0", "engine": "0" }),
            json!({ "entry": "air", "value": format!("{air} C") }),
        ];
        let reading = |(probe, value): &(&str, &str)| json!({ "entry": "reading", "probe": probe, "value": value });
        entries.extend(readings.iter().map(reading));
        for (number, mut entry) in entries.into_iter().enumerate() {
            key += 1;
            entry["job"] = json!(format!("curlew-{day}-1"));
            entry["number"] = json!(number + 1);
            entry["key"] = json!(format!("{key:032x}"));
            entry["at"] = json!(format!("{day}T08:{number:02}:00Z"));
            writeln!(lines, "{entry}").unwrap();
        }
    }
    let (export, journal) = (folder.join("jobs.jsonl"), folder.join("journal.db"));
    std::fs::write(&export, lines).unwrap();
    let journal = journal.to_str().unwrap().to_owned();
    let said = run(&["job", "--journal", &journal, "import", export.to_str().unwrap()]);
    assert_eq!(said.code, 0, "{}", said.err);
    journal
}

fn history(journal: &str, more: &[&str]) -> Said {
    let said = run(&[&["history", &machine("curlew"), "--journal", journal], more].concat());
    assert_eq!(said.code, 0, "{}", said.err);
    said
}

fn series(journal: &str, probe: &str) -> Value {
    history(journal, &["--probe", probe, "--json"]).json()["series"][0].clone()
}

const YEARS: [Job<'static>; 7] = [
    ("2025-01-10", 20, &[(DROP, "20 mV")]),
    ("2025-03-12", 20, &[(DROP, "22 mV")]),
    ("2025-05-11", 20, &[(DROP, "23 mV")]),
    ("2025-07-20", 20, &[(DROP, "25.5 mV")]),
    ("2025-09-15", 20, &[(DROP, "26.5 mV")]),
    ("2025-11-10", 20, &[(DROP, "28 mV")]),
    ("2026-01-20", 20, &[(DROP, "30.5 mV")]),
];

#[test]
fn law_a_drift_has_a_rate_a_limit_with_its_source_and_dates() {
    let journal = journal("drift", &YEARS);
    let told = series(&journal, DROP);
    let rate = told["forecast"]["a_year"].as_f64().unwrap();
    assert!((rate - 10e-3).abs() < 1.5e-3, "{told}");
    assert!(told["limit"]["source"].as_str().unwrap().contains("what healthy machines show"), "{told}");
    assert_eq!(told["limit"]["good_below"], true);
    assert_eq!(told["forecast"]["share"], 0.8);
    let text = history(&journal, &["--probe", DROP]).out;
    assert!(text.contains("Drifts") && text.contains("in four cases of five"), "{text}");
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    assert!(history(&journal, &[]).out.contains(DROP));
}

#[test]
fn law_a_repair_begins_a_new_series_and_an_unrelated_one_does_not() {
    let mended: &[(&str, &str)] = &[(DROP, "31 mV"), ("try:clean@frame-bolt", "fixed"), (DROP, "18 mV")];
    let with = |last: &'static [(&str, &str)]| [&YEARS[..], &[("2026-02-20", 20, last)]].concat();
    let after = series(&journal("repair", &with(mended)), DROP);
    assert_eq!(after["forecast"], Value::Null, "{after}");
    assert!(after["said"].as_str().unwrap().contains("Counted anew"), "{after}");
    let current = after["readings"].as_array().unwrap().iter().filter(|taken| taken["current"] == true);
    assert_eq!(current.count(), 1);
    // The horn is not on the way.
    let other: &[(&str, &str)] = &[(DROP, "31 mV"), ("try:replace@horn", "same"), (DROP, "31 mV")];
    let after = series(&journal("other", &with(other)), DROP);
    assert!(after["forecast"].is_object() && after["repairs"] == json!([]), "{after}");
}

#[test]
fn law_four_readings_are_too_few_and_say_so() {
    let journal = journal("few", &YEARS[..4]);
    let told = series(&journal, DROP);
    assert_eq!(told["forecast"], Value::Null);
    assert!(told["said"].as_str().unwrap().contains("4 of the 5 readings"), "{told}");
    assert!(history(&journal, &[]).out.contains("Too few readings"));
}

/// Clean readings of the sheet's own machine in the cold and the warm are one level line once the air is taken out.
#[test]
fn law_readings_in_the_cold_are_compared_at_20_degrees() {
    let probe = "volts@held:battery.plus,battery.minus";
    let sheet = machine("curlew");
    let shown = |air: i32| {
        let air = format!("{air}C");
        let read = run(&["read", &sheet, probe, "--air", &air, "--json"]).json();
        format!("{} V", read["value"].as_f64().unwrap())
    };
    let airs = [20, -5, 18, 0, 22, -8];
    let values: Vec<String> = airs.iter().map(|air| shown(*air)).collect();
    let days = ["2025-01-10", "2025-03-10", "2025-05-10", "2025-07-10", "2025-09-10", "2025-11-10"];
    let readings: Vec<[(&str, &str); 1]> = values.iter().map(|value| [(probe, value.as_str())]).collect();
    let jobs: Vec<Job<'_>> = (0..6).map(|index| (days[index], airs[index], readings[index].as_slice())).collect();
    let told = series(&journal("cold", &jobs), probe);
    let of = |field: &str| -> Vec<f64> {
        told["readings"].as_array().unwrap().iter().map(|taken| taken[field].as_f64().unwrap()).collect()
    };
    let spread = |values: Vec<f64>| {
        values.iter().copied().fold(f64::MIN, f64::max) - values.iter().copied().fold(f64::MAX, f64::min)
    };
    assert!(spread(of("value")) > 0.2 && spread(of("compared")) < 0.02, "{told}");
    assert!(told["said"].as_str().unwrap().contains("compared at 20 °C"), "{told}");
}

#[test]
fn law_the_inner_resistance_is_what_the_worksheet_says() {
    let clamp = "clamp@held:battery-cable";
    let held = "volts@held:battery.plus,battery.minus";
    let journal = journal("inner", &[("2025-01-10", 20, &[(REST, "13.2 V"), (held, "11.2 V"), (clamp, "60 A")])]);
    let told = series(&journal, "inner-resistance");
    let line = ["battery", &machine("curlew"), "--rest", "13.2V", "--loaded", "11.2V", "--current", "60A", "--json"];
    let worksheet = run(&line).json();
    let of = |name: &str| worksheet[name].as_f64().unwrap();
    let times = told["readings"][0]["value"].as_f64().unwrap();
    assert!(of("times_new_low") < times && times < of("times_new_high"), "{told}");
    assert_eq!(told["limit"]["value"], 2.0);
}

#[test]
fn a_plot_is_a_picture_with_its_words_and_what_was_never_read_is_refused() {
    let journal = journal("plot", &YEARS);
    let file = folder("plot-file").join("drop.svg");
    history(&journal, &["--probe", DROP, "--plot", file.to_str().unwrap()]);
    let svg = std::fs::read_to_string(file).unwrap();
    assert!(svg.starts_with("<svg") && svg.contains("role=\"img\"") && svg.contains("<desc>"), "{svg}");
    let none = run(&["history", "curlew", "--journal", &journal, "--probe", REST]);
    assert!(none.code != 0, "{}", none.out);
    let nobody = run(&["history", "dotterel", "--journal", &journal]);
    assert!(nobody.code == 66 && nobody.err.contains("job list"), "{}", nobody.err);
}
