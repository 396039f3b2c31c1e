//! `probewright fit`.

use super::bench::{file, run, run_with};

fn sheet(name: &str) -> String {
    format!("{}/../../machines/{name}.toml", env!("CARGO_MANIFEST_DIR"))
}

/// Readings of a healthy curlew, some with its motor cable at six times the sheet's resistance.
const PROBES: [&str; 8] = [
    "volts@rest:battery.plus,battery.minus",
    "volts@held:battery.plus,battery.minus",
    "volts@held:starter-relay.load,starter.plus",
    "volts@held:battery.plus,starter-relay.line",
    "volts@held:starter.plus,starter.minus",
    "volts@held:starter-relay.line,starter-relay.load",
    "clamp@held:motor-cable",
    "ohms@dead:starter-relay.coil-a,starter-relay.coil-b",
];

/// What `read` shows, as lines of a file.
fn readings(more: &[&str]) -> String {
    let mut lines = String::from("# a healthy machine\n\n");
    for probe in PROBES {
        let said = run(&[&["read", &sheet("curlew"), probe], more].concat());
        let json = run(&[&["read", &sheet("curlew"), probe, "--json"], more].concat());
        assert_eq!(said.code, 0, "{}", said.err);
        let value = json.json();
        let value = if value.is_array() { value[0].clone() } else { value };
        lines += &format!("{probe} = {} {}\n", value["value"].as_f64().unwrap(), value["unit"].as_str().unwrap());
    }
    lines
}

#[test]
fn a_wrong_cable_is_told_and_the_written_sheet_is_right() {
    let readings = file("wrong-cable.txt", &readings(&["--set", "motor-cable.resistance=4.8 mohm"]));
    let written = file("curlew-mine.toml", "");
    let said = run(&["fit", &sheet("curlew"), "--readings", &readings, "--write", &written]);
    assert_eq!((said.code, said.err.as_str()), (0, ""));
    assert!(said.out.lines().all(|line| line.chars().count() <= 80), "{}", said.out);
    assert!(said.out.contains("motor-cable.resistance: the sheet says"), "{}", said.out);
    let (before, after) =
        (std::fs::read_to_string(sheet("curlew")).unwrap(), std::fs::read_to_string(&written).unwrap());
    for comment in before.lines().filter(|line| line.starts_with('#')) {
        assert!(after.contains(comment), "{comment}");
    }
    assert_eq!(run(&["check", &written]).code, 0);
    let again = run(&["fit", &written, "--readings", &readings, "--json"]).json();
    assert!(again["before"].as_f64().unwrap() < 0.5, "{again}");
    assert!(again["values"].as_array().unwrap().iter().all(|value| value["flagged"] == false), "{again}");
}

#[test]
fn json_has_values_and_readings() {
    let told =
        run(&["fit", &sheet("curlew"), "--reading", "volts@held:battery.plus,battery.minus=10.1 V", "--json"]).json();
    let keys = |value: &serde_json::Value| value.as_object().unwrap().keys().cloned().collect::<Vec<_>>().join(" ");
    assert_eq!(keys(&told), "sheet air_c before after settled values readings");
    assert_eq!(keys(&told["values"][0]), "name unit sheet fitted sigma information apart flagged");
    assert_eq!(keys(&told["readings"][0]), "probe read sheet fitted sheet_sigma fitted_sigma explained");
}

#[test]
fn the_order_of_readings_does_not_matter() {
    let (one, two) = ("volts@held:battery.plus,battery.minus=10.1 V", "clamp@held:motor-cable=80 A");
    let of = |first: &str, second: &str| {
        run(&["fit", &sheet("curlew"), "--reading", first, "--reading", second, "--json"]).out
    };
    assert_eq!(of(one, two), of(two, one));
}

#[test]
fn a_word_that_differs_and_a_reading_that_nothing_explains_are_named() {
    let mut arguments =
        vec!["fit".to_owned(), sheet("curlew"), "--reading".into(), "listen@held:starter-relay=silent".into()];
    let clean = readings(&[]);
    for line in clean.lines().filter(|line| line.contains('@')) {
        let wild = line.starts_with("volts@held:starter.plus");
        let line = if wild { "volts@held:starter.plus,starter.minus = 4 V" } else { line };
        arguments.extend(["--reading".to_owned(), line.to_owned()]);
    }
    let said = run(&arguments.iter().map(String::as_str).collect::<Vec<_>>());
    assert_eq!(said.code, 0, "{}", said.err);
    assert_eq!(said.out.matches("no value explains it").count(), 2, "{}", said.out);
}

#[test]
fn what_cannot_be_used_is_refused_by_name() {
    let said = run(&["fit", &sheet("curlew")]);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("number") && said.err.contains("hint: "), "{}", said.err);
    let said = run(&["fit", &sheet("curlew"), "--reading", "volts@rest:battery.plus,batery.minus=12 V"]);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("battery.minus"), "{}", said.err);
    let said = run(&["fit", &sheet("curlew"), "--readings", "/nowhere/readings.txt"]);
    assert_eq!(said.code, 66, "{}", said.err);
    let said =
        run_with(&["fit", &sheet("curlew"), "--readings", "-"], "volts@held:battery.plus,battery.minus = soon\n");
    assert_eq!(said.code, 2, "{}", said.err);
}
