//! `probewright probes`.

use std::collections::BTreeSet;

use super::bench::{machine, run};

#[test]
fn json_has_the_form_of_the_list_and_ids_are_unique() {
    let listed = run(&["probes", &machine("curlew"), "--json"]).json();
    let probes = listed.as_array().unwrap();
    let keys: Vec<&String> = probes[0].as_object().unwrap().keys().collect();
    let wanted =
        ["id", "title", "instrument", "mode", "red", "black", "state", "setup", "place", "minutes", "hazard", "band"];
    assert_eq!(keys, wanted);
    let ids: BTreeSet<&str> = probes.iter().map(|probe| probe["id"].as_str().unwrap()).collect();
    assert_eq!(ids.len(), probes.len());
    let battery = probes.iter().find(|probe| probe["id"] == "volts@rest:battery.plus,battery.minus").unwrap();
    assert_eq!((&battery["mode"], &battery["red"]), (&"volts".into(), &"battery.plus".into()));
    let (low, high) = (battery["band"]["low"].as_f64().unwrap(), battery["band"]["high"].as_f64().unwrap());
    assert!(12.5 < low && low < high && high < 14.0, "{low} to {high}");
    let relay = probes.iter().find(|probe| probe["id"] == "listen@held:starter-relay").unwrap();
    assert_eq!((&relay["band"]["expected"], relay["red"].is_null()), (&"click".into(), true));
}

#[test]
fn all_but_the_owners_answers_can_be_read() {
    for name in ["curlew", "moorhen"] {
        let listed = run(&["probes", &machine(name), "--json"]).json();
        let ids = listed.as_array().unwrap().iter().map(|probe| probe["id"].as_str().unwrap());
        let ids: Vec<&str> = ids.filter(|id| !id.starts_with("ask:")).collect();
        let sheet = machine(name);
        let said = run(&[&["read", sheet.as_str(), "--json"], ids.as_slice()].concat());
        assert_eq!(said.code, 0, "{}", said.err);
        assert!(said.lines().iter().all(|read| read["display"] != "nothing"));
    }
}

#[test]
fn text_is_grouped_by_state_and_place_within_80_columns() {
    let said = run(&["probes", &machine("curlew")]);
    assert_eq!(said.code, 0, "{}", said.err);
    assert!(said.out.lines().all(|line| line.chars().count() <= 80), "{}", said.out);
    assert!(said.out.contains("\nheld, ") && said.out.contains("  under the seat, 2 min"), "{}", said.out);
}
