//! `probewright export`.

use super::bench::{run, tiny};

#[test]
fn a_netlist_names_nodes_and_branches_and_ends() {
    let said = run(&["export", tiny(), "--format", "spice", "--bridge", "out,feed=1 ohm"]);
    assert_eq!(said.code, 0, "{}", said.err);
    for part in ["* tiny, held", "\"source.plus\"", "\"bridge-1\"", "*@ relay", "*@ fuse", "\n.end\n"] {
        assert!(said.out.contains(part), "no {part} in {}", said.out);
    }
}

#[test]
fn another_format_or_state_is_a_usage_error() {
    assert_eq!(run(&["export", tiny(), "--format", "abacus"]).code, 2);
    assert_eq!(run(&["export", tiny(), "--state", "hold"]).code, 2);
}
