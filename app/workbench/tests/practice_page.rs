//! The page of practice by plain requests: a planted fault is found by forms alone, the meter is `read`, a session is kept
//! through a restart and gives no minute back, and what must be refused is.

use std::time::Duration;

use crate::bench::{machine, run, run_with};
use crate::serve::{Answer, Served, hidden};

/// Begins a session; its address.
fn begun(served: &Served, machine: &str, fields: &[(&str, &str)]) -> String {
    served.post("/machines/demo", &[]);
    let seal = served.seal();
    let begun = served.form(&format!("/machine/{machine}/practice"), &[fields, &[("seal", &seal)]].concat(), "");
    assert_eq!(begun.status, 303, "{}", begun.body);
    begun.location()
}

/// Does one thing, and waits for what comes of it.
fn done(served: &Served, session: &str, act: &str, of: &str) -> Answer {
    let mut answer = served.post(&format!("{session}/act"), &[("act", act), ("of", of)]);
    while answer.body.contains(" data-again") {
        std::thread::sleep(Duration::from_millis(300));
        answer = served.get(session);
    }
    answer
}

fn waited(served: &Served, session: &str) -> Answer {
    let mut answer = served.get(session);
    while answer.body.contains(" data-again") {
        std::thread::sleep(Duration::from_millis(300));
        answer = served.get(session);
    }
    answer
}

fn between<'a>(page: &'a str, before: &str, after: &str) -> &'a str {
    let rest = page.split(before).nth(1).unwrap_or_else(|| panic!("no {before}: {page}"));
    rest.split(after).next().unwrap()
}

fn clock(page: &str) -> f64 {
    between(page, "The clock: ", " min").parse().unwrap()
}

/// The meter's display.
fn display(page: &str) -> String {
    between(page, "class=\"display\" data-said>", "</p>").to_owned()
}

/// What the terminal says was planted by a seed: `part:mode`, with its severity where it has one.
fn planted(sheet: &str, more: &[&str]) -> String {
    let path = machine(sheet);
    let said = run_with(&[["practice", path.as_str(), "--reveal"].as_slice(), more].concat(), "quit\n");
    let told = between(&said.out, "  planted", "\n\n").split_whitespace().collect::<Vec<_>>().join(" ");
    told.rsplit('(').next().unwrap().trim_end_matches(')').to_owned()
}

fn fault_of(planted: &str) -> &str {
    planted.split('=').next().unwrap()
}

/// Follows the hints by their forms alone; the page at the end.
fn by_the_hints(served: &Served, session: &str) -> String {
    let mut before = 0.0;
    for _ in 0..40 {
        let page = done(served, session, "hint", "");
        assert_eq!(page.status, 200, "{}", page.body);
        let told = between(&page.body, "id=\"told\"", "<section class=\"draw\"").to_owned();
        let page = done(served, session, &hidden(&told, "act"), &hidden(&told, "of"));
        assert_eq!(page.status, 200, "{}", page.body);
        assert!(clock(&page.body) > before, "{}", page.body);
        before = clock(&page.body);
        if page.body.contains("Do the repair check") {
            assert!(served.post(&format!("{session}/check"), &[]).status == 200);
            return waited(served, session).body;
        }
        if page.body.contains("Again with the same seed") {
            return page.body;
        }
    }
    panic!("no end in sight");
}

#[test]
fn law_who_follows_the_hints_by_forms_alone_finds_what_was_planted() {
    let served = Served::new("practice-hints");
    let session = begun(&served, "curlew", &[("seed", "5"), ("complaint", "cranks-slowly"), ("air", "12 C")]);
    let end = by_the_hints(&served, &session);
    assert!(end.contains("Found, mended and proven"), "{end}");
    let known = planted("curlew", &["--seed", "5", "--complaint", "cranks-slowly", "--air", "12C"]);
    let fault = fault_of(&known);
    assert!(end.contains(&format!("<code>{fault}</code>")), "{fault}: {end}");
    // Hints apart it is the best plan that was followed.
    let minutes = |what: &str| -> f64 {
        let row = end.split("<tr>").find(|row| row.contains(what)).unwrap_or_else(|| panic!("no {what}: {end}"));
        let cell = row.split("class=\"n\">").nth(1).unwrap().trim_start_matches("<b>");
        cell.split('<').next().unwrap().parse().unwrap()
    };
    let (all, hints, best) = (minutes("you, in all"), minutes(">hints<"), minutes("the best plan"));
    assert!((all - hints - best).abs() < 0.16, "{all} less {hints} of hints, the best plan {best}");
    assert!(end.contains("rests on") && end.contains("a fixed list of checks"), "{end}");
}

#[test]
fn law_the_meter_on_the_page_shows_what_read_prints_for_the_same_leads() {
    let served = Served::new("practice-read");
    let settings = [("seed", "11"), ("complaint", "cranks-slowly"), ("air", "9 C")];
    let session = begun(&served, "moorhen", &settings);
    let fault = planted("moorhen", &["--seed", "11", "--complaint", "cranks-slowly", "--air", "9C"]);
    let path = machine("moorhen");
    let mut compared = 0;
    for (mode, state, red, black) in [
        ("volts", "rest", "battery.plus", "battery.minus"),
        ("volts", "held", "battery.plus", "battery.minus"),
        ("volts", "held", "battery.minus", "frame"),
        ("volts", "held", "starter.plus", "battery.minus"),
        ("ohms", "dead", "battery.minus", "frame"),
        ("lamp", "on", "battery.plus", "frame"),
    ] {
        let probe = format!("{mode}@{state}:{red},{black}");
        let read = run(&["read", &path, &probe, "--fault", &fault, "--air", "9C", "--json"]);
        if read.code != 0 {
            continue;
        }
        for (act, of) in [("mode", mode), ("state", state), ("red", red), ("black", black)] {
            assert_eq!(done(&served, &session, act, of).status, 200, "{act} {of}");
        }
        let page = done(&served, &session, "read", "");
        assert_eq!(display(&page.body), read.json()["display"].as_str().unwrap(), "{probe} with {fault}");
        compared += 1;
    }
    assert!(compared >= 4, "{compared}");
}

#[test]
fn law_a_restart_loses_nothing_and_the_terminal_goes_on_with_the_same_session() {
    let mut served = Served::new("practice-restart");
    let session = begun(&served, "curlew", &[("seed", "5")]);
    for (act, of) in [("red", "battery.plus"), ("black", "frame"), ("mode", "volts"), ("state", "held"), ("read", "")] {
        assert_eq!(done(&served, &session, act, of).status, 200);
    }
    let before = served.get(&session).body;
    served.again();
    let after = served.get(&session).body;
    assert_eq!(without_keys(&before), without_keys(&after));
    assert!(clock(&after) > 0.0 && after.contains("battery.plus"));
    assert!(served.get("/practice").body.contains(&session), "it can be gone on with");
    let file = served.folder.join(format!("probewright{session}.json"));
    let replayed =
        run_with(&["practice", &machine("curlew"), "--replay", file.to_str().unwrap()], "notes\nclock\nquit\n");
    assert!(replayed.out.contains(&display(&after)), "{} {}", replayed.out, replayed.err);
    assert!(replayed.out.contains(&format!("{:.1} min", clock(&after))), "{}", replayed.out);
}

/// The page without what differs from one time to the next by intention.
fn without_keys(page: &str) -> String {
    let mut parts = page.split("name=\"key\" value=\"");
    let first = parts.next().unwrap_or_default().to_owned();
    parts.fold(first, |all, part| all + part.get(32..).unwrap_or_default())
}

#[test]
fn law_a_page_of_an_untouched_session_gives_nothing_away() {
    let served = Served::new("practice-mute");
    let page = |seed: &str| {
        let session = begun(&served, "curlew", &[("seed", seed), ("complaint", "nothing-happens"), ("air", "12 C")]);
        let page = without_keys(&served.get(&session).body);
        page.replace(&session, "").replace(&format!("seed {seed}"), "")
    };
    let seeds = ["1", "2", "3", "4"];
    let faults: Vec<String> = seeds
        .iter()
        .map(|seed| planted("curlew", &["--seed", seed, "--complaint", "nothing-happens", "--air", "12C"]))
        .collect();
    assert!(faults.iter().any(|known| *known != faults[0]), "the seeds plant the same");
    let first = page(seeds[0]);
    for seed in &seeds[1..] {
        assert_eq!(page(seed), first, "{seed}");
    }
}

#[test]
fn law_time_is_never_given_back_and_a_form_sent_twice_counts_once() {
    let served = Served::new("practice-time");
    let session = begun(&served, "curlew", &[("seed", "3")]);
    let (seal, key) = (served.seal(), "0123456789abcdef0123456789abcdef");
    let look = [("seal", seal.as_str()), ("key", key), ("act", "probe"), ("of", "look@rest:main-fuse")];
    for _ in 0..2 {
        assert_eq!(served.form(&format!("{session}/act"), &look, "").status, 303);
    }
    let once = served.get(&session).body;
    assert_eq!(once.matches("<tr>").count(), 2, "one line and its heading: {once}");
    let mut before = clock(&once);
    assert!(before > 0.0);
    for (act, of, status) in [
        ("read", "", 422),
        ("red", "nowhere-at-all", 422),
        ("probe", "volts@held:<b>,frame", 422),
        ("state", "../../etc/passwd", 422),
        ("remedy", "replace@nothing", 422),
        ("fly", "", 422),
        ("odds", "", 200),
        ("probe", "look@rest:main-fuse", 200),
        ("null", "", 200),
    ] {
        let page = done(&served, &session, act, of);
        assert_eq!(page.status, status, "{act} {of}: {}", page.body);
        assert!(!page.body.contains("<b>,frame"), "{}", page.body);
        let now = clock(&served.get(&session).body);
        assert!(if status == 200 { now > before } else { now == before }, "{act} {of}: {now} after {before}");
        before = now;
    }
    let wrong = served.post(&format!("{session}/act"), &[("act", "red"), ("of", "batery.plus")]);
    assert!(wrong.body.contains("batery.plus") && wrong.body.contains("did you mean `battery.plus`"), "{}", wrong.body);
}

#[test]
fn law_looking_at_a_point_a_probe_or_a_remedy_does_nothing_and_says_what_to_mind() {
    let served = Served::new("practice-looking");
    let session = begun(&served, "curlew", &[("seed", "3")]);
    let at = served.get(&format!("{session}?at=battery.plus")).body;
    for lead in ["red", "black"] {
        let form = at.split("id=\"at\"").nth(1).unwrap().split("</section>").next().unwrap();
        assert!(form.contains(&format!("value=\"{lead}\"")) && form.contains("value=\"battery.plus\""), "{form}");
    }
    let probe = served.get(&format!("{session}?probe=listen%40held%3Astarter-relay")).body;
    let panel = between(&probe, "id=\"probe\"", "</section>");
    assert!(panel.contains("mind") && panel.contains("rear wheel off the ground"), "{panel}");
    let remedy = served.get(&format!("{session}?remedy=replace%40motor-cable")).body;
    assert!(between(&remedy, "id=\"remedy\"", "</section>").contains("Do it and try to start"), "{remedy}");
    let found = served.get(&format!("{session}?find=main+fuse&point=%3Cb%3E")).body;
    assert!(found.contains("look%40rest%3Amain-fuse") && !found.contains("<b>\""), "{found}");
    for path in ["?at=%3Cscript%3E", "?at=..%2f", "?probe=%00", "?remedy=%3Cscript%3E"] {
        let page = served.get(&format!("{session}{path}"));
        assert!(page.status == 200 && !page.body.contains("<script>"), "{path}");
    }
    assert_eq!(clock(&served.get(&session).body), 0.0);
    assert!(!served.get(&session).body.contains("class=\"lead\"><path"), "no lead was put anywhere");
}

#[test]
fn law_the_same_seed_plays_the_same_again_and_another_is_another() {
    let served = Served::new("practice-again");
    let session = begun(&served, "curlew", &[("seed", "7")]);
    done(&served, &session, "give-up", "");
    let end = waited(&served, &session).body;
    assert!(end.contains("Given up") && end.contains("Again with the same seed"), "{end}");
    let code = between(&end, "<code>", "</code>").to_owned();
    assert_eq!(code, fault_of(&planted("curlew", &["--seed", "7"])));
    let seed = hidden(&end, "seed");
    let again = begun(&served, "curlew", &[("seed", &seed)]);
    assert_ne!(again, session);
    done(&served, &again, "give-up", "");
    assert!(waited(&served, &again).body.contains(&format!("<code>{code}</code>")));
    assert_eq!(done(&served, &again, "hint", "").status, 422, "it is over");
}

#[test]
fn forged_and_unknown_names_are_refused() {
    let served = Served::new("practice-forged");
    let session = begun(&served, "curlew", &[("seed", "7")]);
    let act = format!("{session}/act");
    assert_eq!(served.form(&act, &[("act", "hint")], "").status, 403);
    let seal = served.seal();
    let fields = [("seal", seal.as_str()), ("act", "hint")];
    assert_eq!(served.form(&act, &fields, "Origin: http://evil.example\r\n").status, 403);
    assert_eq!(clock(&served.get(&session).body), 0.0);
    for path in [
        "/practice/aaaaaaaa",
        "/practice/..%2fjournal",
        "/practice/%2e%2e",
        "/practice/a%00aaaaaa",
        "/practice/AAAAAAAA",
    ] {
        let answer = served.get(path);
        assert!(matches!(answer.status, 400 | 404), "{path}: {} {}", answer.status, answer.body);
        assert!(matches!(served.post(&format!("{path}/act"), &[("act", "hint")]).status, 400 | 404), "{path}");
    }
    assert_eq!(served.post("/machine/nobody/practice", &[]).status, 404);
    assert_eq!(served.post("/machine/..%2fcurlew/practice", &[]).status, 404);
    for (field, typed) in [("seed", "-1"), ("seed", "<b>"), ("complaint", "too-slow<b>")] {
        let wrong = served.post("/machine/curlew/practice", &[(field, typed)]);
        assert!(wrong.status == 422 && !wrong.body.contains("<b>\""), "{typed}: {} {}", wrong.status, wrong.body);
    }
    assert!(served.post("/machine/curlew/practice", &[("seed", "1e9")]).body.contains("value=\"1e9\""));
}
