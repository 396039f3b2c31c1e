//! `probewright atlas`.

use super::bench::{run, tiny};

const OUT: &str = "volts@held:out,source.minus";

#[test]
fn without_a_probe_it_is_a_summary() {
    let first = run(&["atlas", tiny(), "--worlds", "16"]);
    assert_eq!(first.code, 0, "{}", first.err);
    assert!(first.out.contains("16 each"), "{}", first.out);
    assert!(first.out.contains(" bit  "), "{}", first.out);
    let again = run(&["atlas", tiny(), "--worlds", "16"]);
    assert!(again.out.contains("read from the cache"), "{}", again.out);
}

#[test]
fn json_gives_every_fault_on_every_probe() {
    let table = run(&["atlas", tiny(), "--worlds", "32", "--json"]).json();
    let suspects = table["suspects"].as_array().unwrap();
    assert_eq!(table["worlds"].as_u64().unwrap() as usize, 32 * suspects.len());
    assert_eq!(suspects[0]["fault"], "healthy");
    let odds: f64 = suspects.iter().map(|suspect| suspect["odds"].as_f64().unwrap()).sum();
    assert!((odds - 1.0).abs() < 1e-9);
    for probe in table["probes"].as_array().unwrap() {
        let readings = probe["readings"].as_array().unwrap();
        assert_eq!(readings.len(), suspects.len());
        for reading in readings.iter().filter(|reading| reading["median"].is_number()) {
            let [low, median, high] = ["low", "median", "high"].map(|field| reading[field].as_f64().unwrap());
            assert!(low <= median && median <= high, "{reading}");
        }
    }
}

#[test]
fn a_fault_shows_what_read_shows() {
    let table =
        run(&["atlas", tiny(), "--worlds", "32", "--probe", OUT, "--probe", "listen@held:relay", "--json"]).json();
    let of = |probe: usize, fault: &str| {
        let readings = table["probes"][probe]["readings"].as_array().unwrap();
        readings.iter().find(|reading| reading["fault"] == fault).unwrap().clone()
    };
    assert_eq!(of(0, "relay:coil-open")["median"], 0.0);
    assert_eq!(of(1, "relay:coil-open")["word"], "silent");
    let read = run(&["read", tiny(), OUT, "--json"]).json()["value"].as_f64().unwrap();
    let healthy = of(0, "healthy");
    assert!(
        healthy["low"].as_f64().unwrap() - 0.2 < read && read < healthy["high"].as_f64().unwrap() + 0.2,
        "{healthy}"
    );
}

#[test]
fn text_is_a_table_of_the_faults_that_differ() {
    let said = run(&["atlas", tiny(), "--worlds", "32", "--probe", OUT]);
    assert_eq!(said.code, 0, "{}", said.err);
    assert!(
        said.out.lines().any(|line| line.starts_with("relay:coil-open") && line.contains("0.000 V")),
        "{}",
        said.out
    );
    assert!(said.out.contains("other faults show what a healthy machine shows"), "{}", said.out);
    // Any pair of points can be asked for, not only what the wiring suggests.
    let said = run(&["atlas", tiny(), "--worlds", "32", "--probe", "volts@held:feed,out", "--probe", OUT]);
    assert!(said.out.contains("[2] volts@held:out"), "{}", said.out);
    assert!(said.out.lines().all(|line| line.chars().count() <= 80), "{}", said.out);
}

#[test]
fn a_wrong_probe_is_refused_with_the_nearest_name() {
    let said = run(&["atlas", tiny(), "--probe", "volts@held:relay.lod,source.minus"]);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("did you mean `relay.load`"), "{}", said.err);
}
