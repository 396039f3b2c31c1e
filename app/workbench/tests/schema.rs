//! `probewright schema`.

use super::bench::run;

#[test]
fn it_is_json_and_knows_a_relay() {
    let said = run(&["schema"]);
    assert_eq!(said.code, 0, "{}", said.err);
    let schema = said.json();
    assert!(schema["$schema"].is_string() && said.out.contains("pull-in"), "{}", said.out);
}
