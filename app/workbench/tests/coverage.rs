//! `probewright coverage`.

use super::bench::{run, tiny};

fn sheet(name: &str) -> String {
    format!("{}/../../machines/{name}.toml", env!("CARGO_MANIFEST_DIR"))
}

#[test]
fn the_page_names_groups_what_splits_them_and_what_shows_nothing() {
    let said = run(&["coverage", &sheet("dunlin")]);
    assert_eq!((said.code, said.err.as_str()), (0, ""));
    assert!(said.out.lines().all(|line| line.chars().count() <= 80), "{}", said.out);
    for part in ["same remedy", "only the repair tells", "shows nothing", "like a healthy machine", "sigma"] {
        assert!(said.out.contains(part) || part == "shows nothing" && said.out.contains("show nothing"), "{part}");
    }
}

#[test]
fn json_has_every_fault_in_one_group() {
    let covered = run(&["coverage", &sheet("curlew"), "--json"]).json();
    let names = |value: &serde_json::Value, field: &str| -> Vec<String> {
        value.as_array().unwrap().iter().map(|one| one[field].as_str().unwrap().to_owned()).collect()
    };
    let mut faults = names(&covered["faults"], "fault");
    let groups = covered["groups"].as_array().unwrap();
    let mut members: Vec<String> = groups
        .iter()
        .flat_map(|group| group["members"].as_array().unwrap())
        .map(|name| name.as_str().unwrap().to_owned())
        .filter(|name| name != "healthy")
        .collect();
    faults.sort();
    members.sort();
    assert_eq!(faults, members);
    assert!(groups.iter().all(|group| group["members"].as_array().unwrap().len() == 1 || group["split"].is_object()));
}

#[test]
fn fewer_instruments_make_larger_groups_and_name_the_one_that_pays() {
    let mean = |more: &[&str]| {
        let covered = run(&[&["coverage", &sheet("curlew"), "--json"], more].concat()).json();
        (covered["mean"].as_f64().unwrap(), covered)
    };
    let ((all, _), (none, blind)) = (mean(&[]), mean(&["--instruments", "eyes"]));
    assert!(none > 2.0 * all, "{none} with eyes alone, {all} with all");
    let groups = blind["groups"].as_array().unwrap();
    assert!(groups.iter().any(|group| group["split"]["by"] == "probe" && group["split"]["at_hand"] == false));
}

#[test]
fn a_part_stands_for_its_faults_and_the_rest_stays_as_it_was() {
    let of = |more: &[&str]| run(&[&["coverage", &sheet("curlew"), "--json"], more].concat()).json();
    let (part, whole) = (of(&["--faults", "frame-bolt,horn:open"]), of(&[]));
    let faults = part["faults"].as_array().unwrap();
    assert!(faults.len() > 2);
    for fault in faults {
        let same = whole["faults"].as_array().unwrap().iter().find(|known| known["fault"] == fault["fault"]).unwrap();
        assert_eq!(same["from_healthy"], fault["from_healthy"]);
    }
}

#[test]
fn what_does_not_exist_is_refused_by_name() {
    let said = run(&["coverage", tiny(), "--instruments", "meter,stethoscope"]);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("stethoscope") && said.err.contains("allowed: "), "{}", said.err);
    let said = run(&["coverage", tiny(), "--faults", "main-fuse:blwn"]);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("--faults") && said.err.contains("main-fuse:blown"), "{}", said.err);
}
