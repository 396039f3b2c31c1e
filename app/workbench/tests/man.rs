//! `probewright man`.

use super::bench::run;

#[test]
fn the_page_names_every_command() {
    let said = run(&["man"]);
    assert_eq!(said.code, 0);
    assert!(said.out.contains(".TH") && said.out.contains("solve"), "{}", said.out);
}

#[test]
fn a_command_has_a_page_of_its_own_and_an_unknown_one_is_refused() {
    assert!(run(&["man", "solve"]).out.contains("requests"));
    let said = run(&["man", "slove"]);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("allowed: check, solve, read"), "{}", said.err);
}
