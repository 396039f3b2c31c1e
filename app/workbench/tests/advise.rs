//! `probewright advise`.

use machine::Machine;
use serde_json::Value;

use super::bench::{machine, run, tiny};

fn advise(sheet: &str, more: &[&str]) -> Value {
    let said = run(&[&["advise", sheet, "--json"], more].concat());
    assert_eq!((said.code, said.err.as_str()), (0, ""));
    said.json()
}

#[test]
fn json_has_the_form_of_advice() {
    let advice = advise(&machine("curlew"), &["--complaint", "one-click", "--air", "-5C"]);
    let keys = |value: &Value| value.as_object().unwrap().keys().cloned().collect::<Vec<_>>().join(" ");
    assert_eq!(keys(&advice), "suspects unexplained next stop verdict keystone outliers reasons");
    assert_eq!(keys(&advice["suspects"][0]), "fault title probability");
    let next = &advice["next"][0];
    assert_eq!(keys(next), "probe title minutes elapsed hands value_per_minute band outcomes caution");
    assert!(next["outcomes"][0]["when"].is_string() && next["outcomes"][0]["means"].is_string());
    assert!(advice["stop"].is_null() && advice["verdict"].is_null() && advice["keystone"].is_null());
    assert_eq!(keys(&advice["reasons"][0]), "reading text weight");
    assert_eq!(advice["reasons"].as_array().unwrap().len(), 2);
}

#[test]
fn law_probabilities_and_the_unexplained_sum_to_one() {
    let known: [&[&str]; 3] = [
        &[],
        &["--complaint", "nothing-happens"],
        &["--complaint", "chatters", "--reading", "volts@rest:battery.plus,battery.minus=12.1", "--air", "30C"],
    ];
    for known in known {
        let advice = advise(&machine("curlew"), known);
        let suspects = advice["suspects"].as_array().unwrap();
        let sum: f64 = suspects.iter().map(|suspect| suspect["probability"].as_f64().unwrap()).sum();
        assert!((sum + advice["unexplained"].as_f64().unwrap() - 1.0).abs() < 1e-9, "{sum}");
    }
}

#[test]
fn law_the_order_of_readings_does_not_change_a_byte() {
    let readings = [
        "volts@rest:battery.plus,battery.minus=13.2 V",
        "volts@held:starter.plus,battery.minus=0.02 V",
        "listen@held:starter-relay=click",
    ];
    let ordered = |order: [usize; 3]| {
        let [first, second, third] = order.map(|index| readings[index]);
        run(&["advise", &machine("curlew"), "--json", "--reading", first, "--reading", second, "--reading", third]).out
    };
    let first = ordered([0, 1, 2]);
    assert!(first.len() > 1000);
    assert_eq!(first, ordered([2, 0, 1]));
    assert_eq!(first, ordered([1, 2, 0]));
}

#[test]
fn every_probe_that_is_advised_can_be_read() {
    let curlew = machine("curlew");
    let advice = advise(&curlew, &["--complaint", "nothing-happens"]);
    let probes: Vec<&str> =
        advice["next"].as_array().unwrap().iter().map(|step| step["probe"].as_str().unwrap()).collect();
    assert!((1..=8).contains(&probes.len()));
    let measured: Vec<&str> = probes.into_iter().filter(|probe| !probe.starts_with("try:")).collect();
    let said = run(&[&["read", curlew.as_str()], measured.as_slice()].concat());
    assert_eq!(said.code, 0, "{}", said.err);
}

#[test]
fn instruments_at_hand_bound_what_is_advised_and_a_skipped_probe_is_not_advised_again() {
    let curlew = machine("curlew");
    let steps = |advice: &Value| -> Vec<String> {
        advice["next"].as_array().unwrap().iter().map(|step| step["probe"].as_str().unwrap().to_owned()).collect()
    };
    let eyes = steps(&advise(&curlew, &["--complaint", "one-click", "--instruments", "eyes"]));
    assert!(
        !eyes.is_empty() && eyes.iter().all(|probe| !probe.contains("volts@") && !probe.contains("ohms@")),
        "{eyes:?}"
    );
    let all = steps(&advise(&curlew, &["--complaint", "one-click"]));
    let skip = format!("{}=skip", all[0]);
    let without = steps(&advise(&curlew, &["--complaint", "one-click", "--reading", &skip]));
    assert!(!without.contains(&all[0]), "{without:?}");
}

#[test]
fn what_cannot_be_used_is_refused_with_what_is_allowed() {
    let refused: [(&[&str], &[&str]); 9] = [
        (&["--complaint", "does-nothing"], &["--complaint", "nothing-happens", "cranks-slowly"]),
        (&["--instruments", "meter,scope"], &["--instruments", "scope", "clamp", "caliper"]),
        (&["--reading", "volts@held:relay.lod,source.minus=3 V"], &["--reading", "relay.lod", "relay.load"]),
        (&["--reading", "volts@hold:relay.load,source.minus=3 V"], &["hold", "held"]),
        (&["--reading", "volts@held:relay.load,source.minus=3 A"], &["volts@held:relay.load", "current"]),
        (&["--reading", "listen@held:relay=loud"], &["loud", "chatter"]),
        (&["--reading", "listen@held:relay"], &["NAME=VALUE", "hint"]),
        (&["--reading", "try:polish@relay=fixed"], &["try:polish@relay", "did you mean `try:"]),
        (&["--confirm", "0.3"], &["--confirm", "above 0.5"]),
    ];
    for (arguments, told) in refused {
        let said = run(&[&["advise", tiny()], arguments].concat());
        assert_eq!((said.code, said.out.as_str()), (2, ""), "{arguments:?}");
        assert!(said.err.contains("allowed: "), "{}", said.err);
        for word in told {
            assert!(said.err.contains(word), "{arguments:?} should tell of {word}: {}", said.err);
        }
    }
}

#[test]
fn text_says_what_to_do_and_what_to_type_within_80_columns() {
    let reading = "listen@held:starter-relay=click";
    let said = run(&["advise", &machine("curlew"), "--complaint", "one click", "--reading", reading]);
    assert_eq!(said.code, 0, "{}", said.err);
    for heading in ["Odds", "Or else", "Why", "When it is read, type"] {
        assert!(said.out.contains(&format!("\n{heading}\n")), "{heading}: {}", said.out);
    }
    assert!(said.out.contains("=VALUE"), "{}", said.out);
    let lines = said.out.lines().filter(|line| !line.contains("machines/"));
    assert!(lines.clone().all(|line| line.chars().count() <= 80), "{}", said.out);
}

#[test]
fn a_complaint_that_cannot_be_computed_weighs_nothing_and_is_told() {
    let said = run(&["advise", tiny(), "--complaint", "kicks-back"]);
    assert_eq!(said.code, 0);
    assert!(said.err.contains("kicks-back cannot be computed"), "{}", said.err);
}

/// Plants a fault and answers whatever is advised with what is then read, until there is a verdict.
fn worked(fault: &str, complaint: &str) -> Value {
    let path = machine("curlew");
    let sheet = machine::sheet::read(&std::fs::read_to_string(&path).unwrap()).sheet.unwrap();
    let machine = Machine::new(sheet);
    let planted = machine.fault(fault).unwrap();
    let part = planted.part.map(|part| machine.sheet.parts[part].name.name.clone()).unwrap();
    let cure = format!("try:{}@{part}", planted.remedy.verb);
    let mut readings: Vec<String> = Vec::new();
    for _ in 0..25 {
        let mut arguments = vec!["--complaint", complaint, "--air", "20C"];
        arguments.extend(readings.iter().flat_map(|reading| ["--reading", reading]));
        let advice = advise(&path, &arguments);
        if !advice["verdict"].is_null() {
            return advice;
        }
        assert!(advice["stop"].is_null(), "{fault}: {} after {readings:?}", advice["stop"]);
        let probe = advice["next"][0]["probe"].as_str().unwrap();
        let value = if probe.starts_with("try:") {
            if probe == cure { "fixed" } else { "same" }.to_owned()
        } else {
            let read = run(&["read", &path, probe, "--fault", fault, "--air", "20C", "--json"]).json();
            read["display"].as_str().unwrap().to_owned()
        };
        readings.push(format!("{probe}={value}"));
    }
    panic!("{fault}: no verdict after {readings:?}");
}

#[test]
fn law_a_planted_fault_is_found_by_doing_what_is_advised() {
    for (fault, complaint) in [
        ("motor-cable:open", "one-click"),
        ("main-fuse:blown", "nothing-happens"),
        ("starter-relay:coil-open", "nothing-happens"),
    ] {
        let advice = worked(fault, complaint);
        let faults = advice["verdict"]["faults"].as_array().unwrap();
        assert!(faults.iter().any(|found| found == fault), "{fault}: {faults:?}");
        assert_eq!(advice["verdict"]["proven"], false, "not before the repair check");
        assert!(advice["verdict"]["remedy"].as_str().unwrap().starts_with("try:"));
    }
}
