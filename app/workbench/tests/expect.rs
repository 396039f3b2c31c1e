//! `probewright expect`.

use super::bench::{machine, run, tiny};

#[test]
fn the_card_fits_80_columns_and_goes_the_way_of_the_current() {
    for sheet in [machine("curlew"), machine("moorhen"), tiny().to_owned()] {
        let said = run(&["expect", &sheet, "--air", "-5C"]);
        assert_eq!(said.code, 0, "{}", said.err);
        assert!(said.out.lines().all(|line| line.chars().count() <= 80), "{}", said.out);
    }
    let card = run(&["expect", &machine("curlew")]).out;
    let headings = ["\nBattery\n", "\nMain path", "\nControl\n", "\nGround"].map(|heading| card.find(heading));
    assert!(headings.iter().all(Option::is_some) && headings.is_sorted(), "{card}");
    let lines = ["starter-relay.line  ", "starter-relay.load  ", "starter.plus  ", "starter.minus  ", "\n  frame  "];
    assert!(lines.map(|line| card.find(line)).is_sorted(), "{card}");
}

#[test]
fn json_gives_each_line_with_its_band() {
    let card = run(&["expect", &machine("curlew"), "--air", "20C", "--json"]).json();
    assert_eq!((&card["sheet"], &card["air_c"]), (&"curlew".into(), &20.0.into()));
    let lines = card["lines"].as_array().unwrap();
    let rest = lines.iter().find(|line| line["probe"] == "volts@rest:battery.plus,battery.minus").unwrap();
    assert_eq!(rest["group"], "battery");
    assert!(rest["display"].as_str().unwrap().ends_with(" V") && rest["band"]["low"].is_number(), "{rest}");
}

#[test]
fn cold_lowers_the_cranking_volts() {
    let at = |air: &str| {
        let card = run(&["expect", &machine("curlew"), "--air", air, "--json"]).json();
        let lines = card["lines"].as_array().unwrap();
        let held = lines.iter().find(|line| line["probe"] == "volts@held:battery.plus,battery.minus").unwrap();
        held["band"]["high"].as_f64().unwrap()
    };
    assert!(at("-10C") < at("25C"));
}

#[test]
fn a_temperature_that_is_none_is_refused() {
    let said = run(&["expect", tiny(), "--air", "cold"]);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("--air") && said.err.contains("allowed: "), "{}", said.err);
}
