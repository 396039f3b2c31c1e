//! `practice`: a player who follows the hints finds what was planted; the virtual meter is `read`; what is typed wrongly
//! is told; a kept session can be looked at again.

use std::fs::DirEntry;
use std::io::{BufRead, BufReader, Write};
use std::path::PathBuf;
use std::process::{Command, Stdio};

use serde_json::Value;

use crate::bench::{file, machine, run, run_with};

struct Played {
    printed: String,
    code: i32,
}

/// Where the tables of readings are that the other tests have computed.
fn warm() -> PathBuf {
    let caches = std::fs::read_dir(concat!(env!("CARGO_TARGET_TMPDIR"), "/caches")).unwrap();
    let made = |entry: &DirEntry| entry.metadata().and_then(|about| about.modified()).ok();
    caches.flatten().max_by_key(made).unwrap().path()
}

/// Plays by the hints alone: each names a probe or a remedy, which is typed.
fn by_the_hints(sheet: &str, more: &[&str]) -> Played {
    let path = machine(sheet);
    let mut child = Command::new(env!("CARGO_BIN_EXE_probewright"))
        .args(["practice", &path])
        .args(more)
        .env("XDG_CACHE_HOME", warm())
        .env("NO_COLOR", "1")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut input = child.stdin.take().unwrap();
    writeln!(input, "hint").unwrap();
    let (mut printed, mut hints) = (String::new(), 0);
    for line in BufReader::new(child.stdout.take().unwrap()).lines() {
        let line = line.unwrap();
        assert!(line.chars().count() <= 80, "too wide: {line}");
        printed += &format!("{line}\n");
        let named = line.strip_prefix("  name     ").or_else(|| line.strip_prefix("  type     "));
        if let Some(name) = named {
            hints += 1;
            assert!(hints < 40, "no end in sight:\n{printed}");
            // The session may have ended with that.
            let _ = writeln!(input, "{name}\nhint");
        }
    }
    drop(input);
    Played { printed, code: child.wait().unwrap().code().unwrap() }
}

fn finds(sheet: &str, fault: &str) {
    let played = by_the_hints(sheet, &["--fault", fault, "--air", "15C", "--seed", "1"]);
    assert_eq!(played.code, 0, "{}", played.printed);
    assert!(played.printed.contains("\nFound, mended and proven\n"), "{}", played.printed);
    let name = fault.split('=').next().unwrap();
    let told = played.printed.split("Found, mended and proven").nth(1).unwrap();
    assert!(told.replace("\n           ", " ").contains(name), "{told}");
    // Hints apart, it is the best plan that was followed.
    let minutes = |what: &str| -> f64 {
        let line = told.lines().find(|line| line.trim_start().starts_with(what)).unwrap_or_else(|| panic!("{told}"));
        line.trim_start()[what.len()..].trim().split(' ').next().unwrap().parse().unwrap()
    };
    let (all, hints, best) = (minutes("in all"), minutes("hints"), minutes("the best plan"));
    assert!((all - hints - best).abs() < 0.11, "{all} less {hints} of hints, the best plan {best}\n{told}");
}

#[test]
fn law_who_follows_the_hints_finds_a_corroded_ground_cable_on_curlew() {
    finds("curlew", "ground-cable:corroded=60mohm");
}

#[test]
fn law_who_follows_the_hints_finds_a_dead_start_button_on_curlew() {
    finds("curlew", "button-contact:open");
}

#[test]
fn law_who_follows_the_hints_finds_spoiled_relay_contacts_on_moorhen() {
    finds("moorhen", "starter-relay:contacts-dead");
}

/// What is shown in a session is what `read` prints for the same leads and fault.
#[test]
fn law_the_virtual_meter_is_read() {
    let path = machine("moorhen");
    let fault = "ground-cable:corroded=0.05";
    let probes = run(&["probes", &path, "--json"]).json();
    let names: Vec<String> = probes
        .as_array()
        .unwrap()
        .iter()
        .filter(|probe| probe["state"] != "running")
        .map(|probe| probe["id"].as_str().unwrap().to_owned())
        .filter(|name| !name.starts_with("mohm@") && name != "ask:since")
        .step_by(7)
        .collect();
    let session = run_with(&["practice", &path, "--fault", fault, "--air", "5C", "--json"], &names.join("\n"));
    let kept: Value = serde_json::from_str(session.out.lines().last().unwrap()).unwrap();
    let mut arguments = vec!["read", &path, "--fault", fault, "--air", "5C", "--json"];
    arguments.extend(names.iter().map(String::as_str));
    let read = run(&arguments).lines();
    let shown: Vec<&Value> = kept["notes"].as_array().unwrap().iter().map(|note| &note["shown"]).collect();
    let expected: Vec<&Value> = read.iter().map(|read| &read["display"]).collect();
    assert_eq!(shown, expected);
    assert!(names.len() > 12, "{names:?}");
}

#[test]
fn law_a_kept_session_can_be_looked_at_again_and_gone_on_with() {
    let path = machine("curlew");
    let typed =
        "key on\npress start-button\nred frame\nblack battery.minus\nread\nlook@rest:main-fuse\nremedy replace@horn\n";
    let first = run_with(&["practice", &path, "--seed", "5", "--json"], typed);
    assert_eq!(first.code, 1, "{}", first.err);
    let line = first.out.lines().last().unwrap();
    let kept: Value = serde_json::from_str(line).unwrap();
    assert_eq!(kept["ending"], "given-up");
    let again = run_with(&["practice", &path, "--replay", &file("game.json", line), "--json"], "");
    assert_eq!(again.out.lines().last().unwrap(), line, "{}", again.err);
    // Left instead of given up it tells nothing of what was planted, and goes on where it was.
    let left = run_with(&["practice", &path, "--seed", "5", "--json"], &format!("{typed}quit\n"));
    let fault = kept["planted"]["fault"].as_str().unwrap();
    assert!(left.code == 1 && !left.out.contains(fault) && !left.out.contains("planted "), "{}", left.out);
    let open = file("open.json", &left.out);
    let remedy = format!("remedy {}\n", kept["planted"]["remedy"].as_str().unwrap());
    let on = run_with(&["practice", &path, "--replay", &open, "--json"], &remedy);
    let done: Value = serde_json::from_str(on.out.lines().last().unwrap()).unwrap();
    assert!(done["total_min"].as_f64() > kept["total_min"].as_f64());
    assert!(done["ending"] == "proven" || done["ending"] == "fixed", "{}", done["ending"]);
    let other = run(&["practice", &machine("moorhen"), "--replay", &open]);
    assert!(other.code == 2 && other.err.contains("a session of `curlew`, not of `moorhen`"), "{}", other.err);
}

/// Mended by luck is not proven: no reading pointed at it.
#[test]
fn law_a_lucky_guess_is_mended_and_not_proven() {
    let path = machine("curlew");
    let lucky = run_with(
        &["practice", &path, "--fault", "motor-cable:open"],
        "remedy motor-cable\nremedy replace@motor-cable\n",
    );
    assert_eq!(lucky.code, 1);
    assert!(lucky.out.contains("Mended, but the cause is not proven"), "{}", lucky.out);
    assert!(lucky.out.contains("Repair check"), "{}", lucky.out);
    // A reading that points elsewhere does not help.
    let blind = "volts@rest:battery.plus,battery.minus\nremedy replace@motor-cable\n";
    let blind = run_with(&["practice", &path, "--fault", "motor-cable:open"], blind);
    assert!(blind.code == 1 && blind.out.contains("Mended, but the cause is not proven"), "{}", blind.out);
}

#[test]
fn law_what_is_typed_wrongly_is_told_and_costs_nothing() {
    let path = machine("curlew");
    let typed = "red batery.plus\npress strat-button\nremdy\nremedy replace@motor-cabel\nvolts@hold:frame,ground-eyelet\n\
                 state running\nread\nname battery:flatt\nclock\n";
    let said = run_with(&["practice", &path, "--fault", "motor-cable:open"], typed);
    for hint in ["`battery.plus`", "`start-button`", "`remedy`", "`replace@motor-cable`", "`held`", "`battery:flat`"] {
        assert!(said.err.contains(hint), "{hint}: {}", said.err);
    }
    assert!(said.err.contains("the red lead is nowhere"), "{}", said.err);
    assert!(said.out.contains("in all                   0.0 min"), "{}", said.out);
    assert!(said.err.lines().chain(said.out.lines()).all(|line| line.chars().count() <= 80), "{}", said.err);
}

#[test]
fn law_what_cannot_be_planted_is_a_usage_mistake() {
    let path = machine("curlew");
    for (arguments, hint) in [
        (["--fault", "motor-cabel:open"], "motor-cable:open"),
        (["--complaint", "crank-slow"], "cranks-slowly"),
        (["--air", "warm"], "allowed"),
    ] {
        let said = run(&["practice", &path, arguments[0], arguments[1]]);
        assert!(said.code == 2 && said.err.contains(hint), "{arguments:?}: {} {}", said.code, said.err);
    }
}
