//! `probewright read`.

use super::bench::{BROKEN, file, run, tiny};

#[test]
fn a_reading_is_a_line_with_its_display() {
    let said = run(&["read", tiny(), "volts@held:out,source.minus", "clamp@held:heater"]);
    assert_eq!(said.code, 0, "{}", said.err);
    assert_eq!(said.out, "volts@held:out,source.minus  11.21 V\nclamp@held:heater  2.80 A\n");
    assert_eq!(said.err, "");
}

#[test]
fn json_has_the_form_of_a_reading() {
    let said = run(&["read", tiny(), "volts@rest:source.plus,source.minus", "--json"]);
    let read = said.json();
    let keys: Vec<&String> = read.as_object().unwrap().keys().collect();
    assert_eq!(keys, ["probe", "value", "unit", "display", "overload", "floating", "outcome", "positions"]);
    assert_eq!(read["probe"], "volts@rest:source.plus,source.minus");
    assert!((read["value"].as_f64().unwrap() - 12.0).abs() < 1e-3);
    assert_eq!((read["unit"].as_str(), read["outcome"].as_str()), (Some("V"), Some("steady")));
}

#[test]
fn an_ohmmeter_on_a_live_circuit_and_an_ammeter_beyond_its_fuse_are_warned_about() {
    let said = run(&["read", tiny(), "ohms@held:out,source.minus"]);
    assert_eq!(said.code, 0);
    assert!(said.err.contains("alive"), "{}", said.err);
    let short = ["--set", "main-fuse.rating=30 A", "--bridge", "out,source.minus=0.2ohm"];
    let said = run(&[&["read", tiny(), "amps@held:relay.contact", "--json"], short.as_slice()].concat());
    let read = said.json();
    assert_eq!((&read["overload"], read["display"].as_str()), (&true.into(), Some("OL")));
    assert!(read["value"].as_f64().unwrap() > 10.0, "the value is still given: {read}");
    assert!(said.err.contains("beyond 10 A"), "{}", said.err);
}

#[test]
fn a_floating_point_and_overload_are_told() {
    let read = run(&["read", tiny(), "volts@rest:tail-end,source.minus", "--json"]).json();
    assert_eq!(read["floating"], true);
    let read = run(&["read", tiny(), "ohms@rest:tail-end,source.minus", "--json"]).json();
    assert_eq!((read["value"].is_null(), read["display"].as_str()), (true, Some("OL")));
}

#[test]
fn leads_are_in_the_ohms_unless_nulled() {
    let value = |extra: &[&str]| {
        let arguments = [&["read", tiny(), "ohms@rest:island,tail-end", "--json"], extra].concat();
        run(&arguments).json()["value"].as_f64().unwrap()
    };
    assert!((value(&[]) - value(&["--nulled", "0.14ohm"]) - 0.14).abs() < 1e-9);
}

#[test]
fn faults_and_edits_count() {
    let said = run(&["read", tiny(), "volts@held:out,source.minus", "--fault", "relay:coil-open"]);
    assert_eq!(said.out, "volts@held:out,source.minus  0.000 V\n");
    let said = run(&["read", tiny(), "volts@rest:source.plus,source.minus", "--set", "source.voltage=9,5 V"]);
    assert_eq!(said.out, "volts@rest:source.plus,source.minus  9.50 V\n");
}

#[test]
fn eyes_ears_and_hands_answer_with_a_word() {
    let read = run(&["read", tiny(), "listen@held:relay", "--json"]).json();
    assert_eq!((read["value"].as_str(), read["unit"].as_str()), (Some("click"), Some("")));
    assert_eq!((read["display"].as_str(), read["outcome"].as_str()), (Some("click"), Some("steady")));
    let said = run(&["read", tiny(), "listen@held:relay", "--fault", "relay:coil-open"]);
    assert_eq!(said.out, "listen@held:relay  silent\n");
    let said = run(&["read", tiny(), "look@rest:main-fuse", "--bridge", "out,source.minus=0.2ohm"]);
    assert_eq!(said.out, "look@rest:main-fuse  blown\n", "who presses start first blows it");
}

#[test]
fn what_the_owner_answers_is_not_computed() {
    let said = run(&["read", tiny(), "ask:since"]);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("owner") && said.err.contains("hint:"), "{}", said.err);
}

#[test]
fn a_wrong_name_is_a_usage_error_that_names_the_nearest() {
    let said = run(&["read", tiny(), "volts@held:heater.fron,source.minus"]);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("no node is called `heater.fron`"), "{}", said.err);
    assert!(said.err.contains("did you mean `heater.from`"), "{}", said.err);
    assert_eq!(run(&["read", tiny(), "volts@hold:feed,source.minus"]).code, 2);
    assert_eq!(run(&["read", tiny(), "volts"]).code, 2);
    let said = run(&["read", tiny(), "listen@held:heater"]);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("listen wants a relay"), "{}", said.err);
    let said = run(&["read", tiny(), "clamp@held:relay"]);
    assert!(said.err.contains("relay.coil, relay.contact"), "{}", said.err);
}

#[test]
fn a_bad_sheet_is_bad_data_and_shows_the_line() {
    let said = run(&["read", &file("bad-to-read.toml", BROKEN), "volts@rest:source.plus,source.minus"]);
    assert_eq!(said.code, 65);
    assert!(said.err.contains(":8:") && said.out.is_empty(), "{}", said.err);
}
