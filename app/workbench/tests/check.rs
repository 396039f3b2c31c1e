//! `probewright check`.

use super::bench::{BROKEN, TINY, file, run, run_with, tiny};

#[test]
fn a_sound_sheet_is_done() {
    let said = run(&["check", tiny()]);
    assert_eq!(said.code, 0, "{}{}", said.out, said.err);
    assert!(said.out.contains("no problems"), "{}", said.out);
}

#[test]
fn a_problem_is_shown_with_its_line_what_is_allowed_and_a_hint() {
    let path = file("broken.toml", BROKEN);
    let said = run(&["check", &path]);
    assert_eq!(said.code, 1);
    for part in ["broken.toml:8:", "12 ohm", "^^^", "allowed:", "hint:", "1 problem"] {
        assert!(said.out.contains(part), "no {part} in {}", said.out);
    }
}

#[test]
fn json_is_one_array_for_all_sheets() {
    let said = run(&["check", "--json", tiny(), &file("broken-too.toml", BROKEN)]);
    assert_eq!(said.code, 1);
    let findings = said.json();
    let problem = findings.as_array().unwrap().iter().find(|finding| finding["weight"] == "problem").unwrap();
    assert_eq!(problem["line"], 8);
    let keys: Vec<&String> = problem.as_object().unwrap().keys().collect();
    assert_eq!(keys, ["sheet", "weight", "line", "column", "message", "found", "allowed", "hint"]);
}

#[test]
fn a_sheet_comes_from_standard_input_too() {
    let said = run_with(&["check", "-"], TINY);
    assert_eq!(said.code, 0);
    assert!(said.out.starts_with("standard input") || said.out.contains("\nstandard input"), "{}", said.out);
}

#[test]
fn a_missing_sheet_is_no_input_and_the_others_are_still_looked_at() {
    let said = run(&["check", "nowhere.toml", tiny()]);
    assert_eq!(said.code, 66);
    assert!(said.err.contains("cannot find `nowhere.toml`"), "{}", said.err);
    assert!(said.out.contains("no problems"), "{}", said.out);
}

#[test]
fn what_is_no_text_is_bad_data() {
    let path = file("bytes.toml", "");
    std::fs::write(&path, [0x66, 0xff, 0xfe]).unwrap();
    let said = run(&["check", &path]);
    assert_eq!(said.code, 65);
    assert!(said.err.contains("byte 1 is not UTF-8"), "{}", said.err);
}
