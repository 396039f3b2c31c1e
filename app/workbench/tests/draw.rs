//! `probewright draw`.

use std::path::PathBuf;

use super::bench::{TINY, machine, run, run_with, tiny};

fn is_picture(text: &str) -> bool {
    text.starts_with("<svg ") && text.ends_with("</svg>\n")
}

#[test]
fn a_state_shows_its_potentials_and_a_picture_without_one_shows_none() {
    let held = run(&["draw", tiny(), "--state", "held"]);
    assert_eq!(held.code, 0, "{}", held.err);
    assert!(is_picture(&held.out), "{}", held.out);
    // 12 V behind 0.2 Ω into 4 Ω beside 10 Ω.
    assert!(held.out.contains("feed: 11.21 V"), "{}", held.out);
    let plain = run(&["draw", tiny()]);
    assert!(is_picture(&plain.out) && !plain.out.contains(" V<"), "{}", plain.out);
    let rest = run(&["draw", tiny(), "--state", "rest"]);
    assert!(rest.out.contains("island: floating"), "{}", rest.out);
}

#[test]
fn a_fault_is_marked_at_its_part() {
    let drawn = run(&["draw", &machine("curlew"), "--fault", "main-fuse:blown", "--air", "-5C"]);
    assert_eq!(drawn.code, 0, "{}", drawn.err);
    assert!(drawn.out.contains(r#"class="part fault" data-part="main-fuse""#), "{}", drawn.out);
    assert_eq!(drawn.out.matches("part fault").count(), 1);
}

#[test]
fn a_phone_gets_a_picture_of_its_own_width() {
    let drawn = run(&["draw", &machine("curlew"), "--width", "narrow"]);
    assert!(drawn.out.contains(r#" width="390" "#), "{}", drawn.out);
    assert_eq!(run(&["draw", tiny(), "--width", "huge"]).code, 2);
}

#[test]
fn a_picture_goes_to_a_file_and_a_sheet_comes_from_standard_input() {
    let path = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("drawn.svg");
    let said = run(&["draw", tiny(), "--output", path.to_str().unwrap()]);
    assert_eq!((said.code, said.out.as_str()), (0, ""), "{}", said.err);
    let written = std::fs::read_to_string(&path).unwrap();
    assert_eq!(run_with(&["draw", "-"], TINY).out, written);
    let nowhere = run(&["draw", tiny(), "--output", "/nowhere/at/all.svg"]);
    assert_eq!(nowhere.code, 73, "{}", nowhere.err);
}

#[test]
fn what_does_not_exist_is_said() {
    let said = run(&["draw", tiny(), "--state", "hold"]);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("held"), "{}", said.err);
    assert_eq!(run(&["draw", tiny(), "--fault", "relay:tired"]).code, 2);
    assert_eq!(run(&["draw", "no-such.toml"]).code, 66);
}
