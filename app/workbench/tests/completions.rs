//! `probewright completions`.

use super::bench::run;

#[test]
fn shells_get_their_script_and_others_are_refused() {
    for shell in ["bash", "zsh", "fish"] {
        let said = run(&["completions", shell]);
        assert_eq!(said.code, 0);
        assert!(said.out.contains("probewright") && said.out.contains("solve"), "{shell}");
    }
    assert_eq!(run(&["completions", "abacus"]).code, 2);
}
