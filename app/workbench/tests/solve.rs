//! `probewright solve`, one question at a time and many.

use serde_json::{Value, json};

use super::bench::{BROKEN, TINY, file, run, run_with, tiny};

fn near(value: &Value, expected: f64) {
    let found = value.as_f64().unwrap_or(f64::NAN);
    assert!((found - expected).abs() < 1e-9 * expected.abs().max(1.0), "{value} is not {expected}");
}

fn keys(value: &Value) -> Vec<&str> {
    value.as_object().unwrap().keys().map(String::as_str).collect()
}

/// 12 V behind 0.2 Ω (source and fuse) into 4 Ω beside 10 Ω.
const FEED: f64 = 12.0 / (1.0 + 0.2 / 4.0 + 0.2 / 10.0);

#[test]
fn textbook_divider_by_hand() {
    let solved = run(&["solve", tiny(), "--json"]).json();
    assert_eq!(solved["state"], "held");
    near(&solved["nodes"]["feed"], FEED);
    near(&solved["currents"]["heater"], FEED / 4.0);
    near(&solved["currents"]["source"], -(FEED / 4.0 + FEED / 10.0));
    near(&solved["coil_volts"]["relay"], FEED);
}

#[test]
fn json_keeps_the_order_of_the_form() {
    let solved = run(&["solve", tiny(), "--json"]).json();
    let form =
        "sheet state faults edits outcome nodes currents coil_volts relays fuses motors cranking_rpm engaged read";
    assert_eq!(keys(&solved), form.split(' ').collect::<Vec<_>>());
    assert_eq!(
        keys(&solved["currents"]),
        ["source", "main-fuse", "button-contact", "relay.coil", "relay.contact", "heater", "bridge-plug", "tail"]
    );
    assert_eq!(solved["relays"], json!({"relay": "pulled"}));
    assert_eq!(solved["fuses"], json!({"main-fuse": "whole"}));
    assert_eq!((&solved["cranking_rpm"], &solved["engaged"]), (&json!(0.0), &json!(false)));
}

#[test]
fn what_floats_is_null_and_what_is_open_carries_nothing() {
    let solved = run(&["solve", tiny(), "--state", "rest", "--json"]).json();
    for node in ["relay.coil-a", "out", "island", "tail-end"] {
        let expected = matches!(node, "island" | "tail-end");
        assert_eq!(solved["nodes"][node].is_null(), expected, "{node}: {}", solved["nodes"]);
    }
    assert_eq!(solved["currents"]["button-contact"], json!(0.0));
    let open = run(&["solve", tiny(), "--json", "--open", "relay.coil"]).json();
    assert_eq!(open["coil_volts"], json!({}));
    assert_eq!(open["relays"]["relay"], "released");
    assert_eq!(open["currents"]["relay.coil"], json!(0.0));
}

#[test]
fn a_fuse_that_opens_keeps_what_was_before() {
    let solved = run(&["solve", tiny(), "--json", "--bridge", "out,source.minus=50 mohm"]).json();
    assert_eq!(solved["fuses"]["main-fuse"], "blown");
    assert!(solved["before_blow"]["currents"]["main-fuse"].as_f64().unwrap() > 15.0);
    assert_eq!(keys(&solved["before_blow"]), ["currents", "nodes"]);
    assert_eq!(solved["edits"], json!(["out,source.minus=50 mohm"]));
    let blown = run(&["solve", tiny(), "--json", "--fault", "main-fuse:blown"]).json();
    assert_eq!(blown["fuses"]["main-fuse"], "blown");
    assert!(blown.get("before_blow").is_none());
}

#[test]
fn a_chattering_relay_has_both_positions() {
    let solved =
        run(&["solve", tiny(), "--json", "--set", "main-fuse.resistance=5 ohm", "--set", "heater.resistance=1 ohm"]);
    let solved = solved.json();
    assert_eq!((&solved["outcome"], &solved["relays"]["relay"]), (&json!("chatter"), &json!("chatter")));
    let halves = solved["positions"].as_array().unwrap();
    assert_eq!(
        keys(&halves[0]),
        "position nodes currents coil_volts relays fuses motors".split(' ').collect::<Vec<_>>()
    );
    assert_eq!((&halves[0]["position"], &halves[1]["position"]), (&json!("released"), &json!("pulled")));
    assert_eq!((&halves[0]["relays"]["relay"], &halves[1]["relays"]["relay"]), (&json!("released"), &json!("pulled")));
    assert_eq!(solved["nodes"], halves[0]["nodes"]);
    let text = run(&["solve", tiny(), "--set", "main-fuse.resistance=5 ohm", "--set", "heater.resistance=1 ohm"]).out;
    assert!(text.contains("released / pulled") && text.contains("relay  chatter"), "{text}");
}

#[test]
fn the_table_has_units_and_fits_80_columns() {
    let said = run(&["solve", tiny(), "--fault", "main-fuse:spread-holder=0.5 ohm", "--air", "-5C"]);
    assert_eq!(said.code, 0, "{}", said.err);
    for part in
        ["Tiny: a button", "state held: steady", "(500 mΩ)", "air -5C", "Potentials against source.minus", " V", " A"]
    {
        assert!(said.out.contains(part), "no {part} in {}", said.out);
    }
    assert!(said.out.lines().all(|line| line.chars().count() <= 80), "{}", said.out);
    assert!(run(&["solve", tiny(), "--state", "rest"]).out.contains("floating"));
}

#[test]
fn severity_is_with_unit_or_in_si() {
    let with_unit = run(&["solve", tiny(), "--json", "--fault", "main-fuse:spread-holder=500 mohm"]).json();
    let bare = run(&["solve", tiny(), "--json", "--fault", "main-fuse:spread-holder=0.5"]).json();
    assert_eq!(with_unit["nodes"], bare["nodes"]);
    assert_eq!(bare["faults"], json!(["main-fuse:spread-holder=0.5"]));
}

#[test]
fn mistakes_are_usage_errors_that_say_what_is_allowed() {
    let check = |arguments: &[&str], parts: &[&str]| {
        let said = run(&[&["solve", tiny()], arguments].concat());
        assert_eq!(said.code, 2, "{arguments:?}: {}", said.err);
        for part in parts {
            assert!(said.err.contains(part), "no {part} in {}", said.err);
        }
        assert_eq!(said.out, "");
    };
    check(&["--state", "hold"], &["--state: no state is called `hold`", "allowed: rest, held", "did you mean `held`"]);
    check(&["--fault", "relay:coil-opn"], &["no fault is called `relay:coil-opn`", "did you mean `relay:coil-open`"]);
    check(&["--fault", "relay:coil-open=2"], &["all or nothing"]);
    check(&["--fault", "main-fuse:spread-holder=2 V"], &["is a voltage", "a resistance"]);
    check(&["--fault", "main-fuse:spread-holder=-1"], &["below zero", "usual are 50.0 mΩ to 10.0 Ω"]);
    check(&["--set", "relay.pull-in"], &["gives no value", "PART.FIELD=VALUE"]);
    check(&["--set", "relay.pull-in=8"], &["has no unit", "write \"8 V\""]);
    check(&["--set", "relay.pullin=8 V"], &["no field is called `pullin`", "pull-in"]);
    check(&["--set", "rely.pull-in=8 V"], &["no part is called `rely`", "did you mean `relay`"]);
    check(&["--set", "relay.stuck=shut"], &["shut", "closed"]);
    check(&["--open", "heatr"], &["did you mean `heater`"]);
    check(&["--bridge", "feed=1ohm"], &["NODE,NODE=0.05ohm"]);
    check(&["--bridge", "feed,nowhere=1ohm"], &["no node is called `nowhere`"]);
    check(&["--bridge", "feed,out=-1ohm"], &["below zero"]);
    check(&["--air", "warm"], &["--air:", "a temperature is wanted"]);
    check(&["--nulled", "0.1ohm"], &["--requests"]);
}

#[test]
fn a_bad_sheet_and_a_missing_one_have_codes_of_their_own() {
    let said = run(&["solve", &file("bad-to-solve.toml", BROKEN)]);
    assert_eq!(said.code, 65);
    assert!(said.err.contains(":8:") && said.err.contains("cannot be used"), "{}", said.err);
    assert_eq!(run(&["solve", "nowhere.toml"]).code, 66);
    assert_eq!(run(&["solve", tiny(), "--requests", "nowhere.jsonl"]).code, 66);
    assert_eq!(run_with(&["solve", "-", "--requests", "-"], TINY).code, 2);
}

#[test]
fn a_circuit_without_a_solution_is_bad_data() {
    let said =
        run(&["solve", tiny(), "--set", "source.resistance=0 ohm", "--bridge", "source.plus,source.minus=0 ohm"]);
    assert_eq!(said.code, 65, "{}{}", said.out, said.err);
    assert!(said.err.contains("out of balance"), "{}", said.err);
}

#[test]
fn requests_are_answered_as_single_calls_are() {
    let questions = [
        (json!({}), vec![]),
        (json!({"state": "rest"}), vec!["--state", "rest"]),
        (json!({"state": "held", "faults": ["relay:coil-open"]}), vec!["--fault", "relay:coil-open"]),
        (
            json!({"set": {"main-fuse.resistance": "5 ohm", "heater.resistance": "1 ohm"}}),
            vec!["--set", "main-fuse.resistance=5 ohm", "--set", "heater.resistance=1 ohm"],
        ),
        (
            json!({"open": ["tail", "relay.coil"], "bridge": ["out,feed=0.05ohm"], "faults": []}),
            vec!["--open", "tail", "--open", "relay.coil", "--bridge", "out,feed=0.05ohm"],
        ),
        (json!({"bridge": ["out,source.minus=50 mohm"]}), vec!["--bridge", "out,source.minus=50 mohm"]),
    ];
    let lines: String = questions.iter().map(|(question, _)| format!("{question}\n")).collect();
    // Twice, so that nothing that one question leaves behind can change the next.
    let many = run_with(&["solve", tiny(), "--requests", "-"], &format!("{lines}{lines}"));
    let answers: Vec<&str> = many.out.lines().collect();
    assert_eq!(answers.len(), 2 * questions.len());
    for (index, (_, arguments)) in questions.iter().enumerate() {
        let single = run(&[&["solve", tiny(), "--json"], arguments.as_slice()].concat());
        assert_eq!(single.out.trim_end(), answers[index]);
        assert_eq!(single.out.trim_end(), answers[index + questions.len()]);
    }
}

#[test]
fn readings_come_in_the_order_asked_and_as_read_gives_them() {
    let question = json!({"state": "held", "read": [
        {"mode": "volts", "red": "out", "black": "source.minus"},
        {"mode": "amps", "in": "heater"},
        {"mode": "clamp", "in": "relay.contact"},
        {"mode": "lamp", "red": "feed", "black": "source.minus"},
        {"mode": "low-z", "red": "tail-end", "black": "source.minus"},
    ]});
    let answer = run_with(&["solve", tiny(), "--requests", "-"], &format!("{question}\n")).json();
    let names = [
        "volts@held:out,source.minus",
        "amps@held:heater",
        "clamp@held:relay.contact",
        "lamp@held:feed,source.minus",
        "low-z@held:tail-end,source.minus",
    ];
    let read = answer["read"].as_array().unwrap();
    assert_eq!(read.len(), names.len());
    let singles = run(&[&["read", tiny(), "--json"], names.as_slice()].concat()).lines();
    assert_eq!(read, &singles);
}

#[test]
fn a_line_that_is_wrong_is_answered_by_an_error_and_stops_nothing() {
    let lines = [
        ("not json", "bad-form"),
        ("[1]", "bad-form"),
        (r#"{"stat":"held"}"#, "unknown-field"),
        (r#"{"state":7}"#, "bad-form"),
        (r#"{"state":"hold"}"#, "unknown-name"),
        (r#"{"faults":"relay:coil-open"}"#, "bad-form"),
        (r#"{"faults":["relay:nothing"]}"#, "unknown-name"),
        (r#"{"set":{"relay.pull-in":8}}"#, "bad-value"),
        (r#"{"set":["relay.pull-in"]}"#, "bad-form"),
        (r#"{"read":[{"mode":"volts","red":"feed"}]}"#, "bad-form"),
        (r#"{"read":[{"mode":"volts","in":"heater"}]}"#, "bad-form"),
        (r#"{"read":[{"mode":"volt","red":"feed","black":"out"}]}"#, "unknown-name"),
        (r#"{"read":[{"mode":"amps","in":"relay"}]}"#, "unknown-name"),
        (r#"{"read":[{"mode":"amps","on":"relay"}]}"#, "unknown-field"),
        (r#"{"bridge":[["feed","out","zero"]]}"#, "bad-value"),
        (r#"{"set":{"source.resistance":"0 ohm"},"bridge":["source.plus,source.minus=0 ohm"]}"#, "no-solution"),
    ];
    let mut input: String = lines.iter().map(|(line, _)| format!("{line}\n\n")).collect();
    input.push_str("{\"state\":\"rest\"}");
    let said = run_with(&["solve", tiny(), "--requests", "-"], &input);
    assert_eq!(said.code, 0);
    let answers = said.lines();
    assert_eq!(answers.len(), lines.len() + 1);
    for ((line, kind), answer) in lines.iter().zip(&answers) {
        assert_eq!(keys(&answer["error"]), ["kind", "message", "found", "allowed", "hint"], "{line}");
        assert_eq!(answer["error"]["kind"], *kind, "{line}: {answer}");
        assert!(!answer["error"]["allowed"].as_str().unwrap().is_empty(), "{line}");
    }
    assert_eq!(answers[lines.len()]["state"], "rest");
}

#[test]
fn an_answer_comes_before_the_next_question_is_asked() {
    use std::io::{BufRead, BufReader, Write};
    use std::process::{Command, Stdio};
    let mut child = Command::new(env!("CARGO_BIN_EXE_probewright"))
        .args(["solve", tiny(), "--requests", "-"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut questions = child.stdin.take().unwrap();
    let mut answers = BufReader::new(child.stdout.take().unwrap());
    for state in ["rest", "held"] {
        writeln!(questions, "{{\"state\":\"{state}\"}}").unwrap();
        let mut answer = String::new();
        answers.read_line(&mut answer).unwrap();
        assert!(answer.contains(&format!("\"state\":\"{state}\"")), "{answer}");
    }
    drop(questions);
    assert!(child.wait().unwrap().success());
}

#[test]
fn a_reader_that_leaves_ends_it_quietly() {
    use std::process::{Command, Stdio};
    let lines = "{}\n".repeat(20_000);
    let path = file("many.jsonl", &lines);
    let mut child = Command::new(env!("CARGO_BIN_EXE_probewright"))
        .args(["solve", tiny(), "--requests", &path])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let ended = child.wait_with_output().unwrap();
    assert_eq!((ended.status.code(), String::from_utf8_lossy(&ended.stderr).as_ref()), (Some(0), ""));
}
