//! `probewright guide`: the courses are the desk's, the document is the same every time and holds all it needs.

use std::collections::BTreeMap;

use serde_json::Value;

use super::bench::{machine, paper, run, tiny};

/// A course of two probes of a machine, as JSON.
fn guide(sheet: &str, complaint: &str) -> Value {
    run(&["guide", sheet, "--complaint", complaint, "--depth", "3", "--json"]).json()
}

/// The places of the only chapter.
fn places(guide: &Value) -> &Vec<Value> {
    guide["chapters"][0]["places"].as_array().unwrap()
}

/// What the desk says for the readings of a place, asked afresh.
fn advised(sheet: &str, complaint: &str, place: &Value) -> Value {
    let mut arguments = vec!["advise", sheet, "--complaint", complaint, "--json"];
    for reading in place["readings"].as_array().unwrap() {
        arguments.extend(["--reading", reading.as_str().unwrap()]);
    }
    run(&arguments).json()
}

/// Oracle: `advise`, a desk of its own for each place. Whatever a course says at a step or at an end, the desk says for the
/// readings that the place stands for: the same leading suspects, the same next probe, the same verdict.
#[test]
fn law_every_place_of_a_course_says_what_the_desk_says() {
    for (name, complaint) in [("curlew", "one-click"), ("dunlin", "goes-flat")] {
        let sheet = machine(name);
        let guide = guide(&sheet, complaint);
        let mut ends = 0;
        for place in places(&guide) {
            let desk = advised(&sheet, complaint, place);
            let said = |suspect: &Value| (suspect[0].clone(), suspect[1].clone());
            for (told, own) in place["suspects"].as_array().unwrap().iter().zip(desk["suspects"].as_array().unwrap()) {
                assert_eq!(said(told), (own["title"].clone(), own["probability"].clone()), "{place} {desk}");
            }
            let what = &place["what"];
            if let Some(verdict) = what.get("verdict") {
                ends += 1;
                assert_eq!(verdict["faults"], desk["verdict"]["faults"], "{place}");
                assert_eq!(verdict["remedy"], desk["verdict"]["remedy"], "{place}");
                assert_eq!(desk["verdict"]["settled"], true, "{place}");
            } else if let Some(step) = what.get("step") {
                assert_eq!(step["probe"], desk["next"][0]["probe"], "{place}");
                assert!(desk["stop"].is_null() && desk["verdict"]["settled"] != true, "{place}");
            } else if let Some(open) = what.get("open") {
                ends += 1;
                assert_eq!(open["next"][0], desk["next"][0]["probe"], "{place}");
                assert!(desk["stop"].is_null() && desk["verdict"]["settled"] != true, "{place}");
            } else {
                ends += 1;
                assert!(!desk["stop"].is_null(), "{place}");
            }
        }
        assert!(ends >= 4, "{name}: {ends} ends");
    }
}

/// Probability: at each step the branches are all there is; along a way odds multiply and minutes add.
#[test]
fn law_odds_sum_to_one_and_minutes_add_up() {
    let sheet = machine("curlew");
    let guide = guide(&sheet, "cranks-slowly");
    let by_number: BTreeMap<u64, &Value> =
        places(&guide).iter().map(|place| (place["number"].as_u64().unwrap(), place)).collect();
    assert_eq!(by_number.len(), places(&guide).len());
    let number = |value: &Value| value.as_f64().unwrap();
    let mut steps = 0;
    for (own, place) in &by_number {
        let Some(step) = place["what"].get("step") else { continue };
        steps += 1;
        let ways = step["ways"].as_array().unwrap();
        let sum: f64 = ways.iter().map(|way| number(&way["odds"])).sum();
        assert!((sum - 1.0).abs() < 1e-9, "step {own}: {sum}");
        assert!(ways.iter().all(|way| way["to"].is_null() || number(&way["odds"]) >= 0.03 || way["to"] == *own));
        for way in ways.iter().filter(|way| way["to"].as_u64().is_some_and(|to| to != *own)) {
            let next = by_number[&way["to"].as_u64().unwrap()];
            assert_eq!((&next["from"][0], &next["from"][1]), (&(*own).into(), &way["when"]), "{next}");
            assert!((number(&next["spent"]) - number(&place["spent"]) - number(&step["minutes"])).abs() < 1e-9);
            assert!((number(&next["reach"]) - number(&place["reach"]) * number(&way["odds"])).abs() < 1e-12);
        }
    }
    assert!(steps >= 4, "{steps}");
    let ends: f64 = guide["chapters"][0]["ends"].as_array().unwrap().iter().map(number).sum();
    assert!((ends - 1.0).abs() < 1e-9);
}

#[test]
fn the_document_is_the_same_every_time_and_holds_all_it_needs() {
    let sheet = machine("curlew");
    let page = |format: &str| {
        let said = run(&["guide", &sheet, "--format", format, "--complaint", "one-click", "--depth", "2"]);
        assert_eq!(said.code, 0, "{}", said.err);
        said.out
    };
    let html = page("html");
    assert_eq!(html, page("html"));
    for outside in ["<script", "<link", "src=", "http:", "https:", "url(", "@import"] {
        // A name space of the drawings, and their own hatches.
        let found = html.replace("http://www.w3.org/", "").replace("url(#", "").contains(outside);
        assert!(!found, "{outside}");
    }
    // Every number that a line sends to is a place of the document.
    for target in html.split("href=\"#").skip(1).map(|rest| rest.split('"').next().unwrap()) {
        assert!(html.contains(&format!("id=\"{target}\"")), "#{target}");
    }
    let text = page("text");
    assert_eq!(text, page("text"));
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    let unbroken = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(unbroken.contains("HOW THE CIRCUIT WORKS") && unbroken.contains("go to step 2"), "{text}");
}

#[test]
fn paper_is_set_where_it_is_built_in_and_refused_with_a_way_out_elsewhere() {
    let file = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("guide-{}.pdf", std::process::id()));
    let arguments =
        ["guide", &machine("curlew"), "--complaint", "one-click", "--depth", "1", "--format", "pdf", "--output"];
    let said = run(&[&arguments[..], &[file.to_str().unwrap()]].concat());
    paper(&said, &file);
}

#[test]
fn only_what_the_machine_can_have_gets_a_chapter() {
    // A heater behind a relay: nothing cranks, nothing is charged.
    let guide = run(&["guide", tiny(), "--depth", "1", "--json"]).json();
    let chapters = guide["chapters"].as_array().unwrap();
    assert!(chapters.iter().all(|chapter| chapter["complaint"] != "cranks-slowly"), "{guide}");
    assert!(guide["absent"].as_array().unwrap().iter().any(|title| title == "it cranks slowly"));
    let refused = run(&["guide", tiny(), "--complaint", "sulks"]);
    assert_eq!(refused.code, 2);
    assert!(refused.err.contains("sulks") && refused.err.contains("cranks-slowly"), "{}", refused.err);
}

/// The words of a state are those of its solution: at rest the relay is released, while start is held it is pulled.
#[test]
fn a_state_is_told_as_it_is_solved() {
    let guide = guide(&machine("curlew"), "one-click");
    let told = |name: &str| {
        let state = guide["states"].as_array().unwrap().iter().find(|state| state["name"] == name).unwrap();
        state["told"].as_array().unwrap().iter().map(|line| line.as_str().unwrap()).collect::<Vec<_>>().join(" ")
    };
    assert!(told("rest").contains("starter relay has nothing on its coil and is released"), "{}", told("rest"));
    assert!(told("held").contains("and is pulled in") && told("held").contains("turns the engine"), "{}", told("held"));
    assert!(told("key-off-start").contains("must be refused"), "{}", told("key-off-start"));
}

/// The workbench works it out in the background and serves it with the document's own rules for browsers.
#[test]
fn the_workbench_serves_the_document() {
    let served = super::serve::Served::new("guide");
    served.post("/machines/demo", &[]);
    let machine = served.get("/machine/curlew");
    assert!(machine.body.contains("href=\"/machine/curlew/guide\""), "{}", machine.body);
    // Each look waits a while by itself.
    let page =
        (0..60).map(|_| served.get("/machine/curlew/guide")).find(|page| page.body.contains("What does the owner"));
    let page = page.unwrap();
    assert_eq!(page.status, 200);
    assert!(page.head.to_lowercase().contains("style-src 'unsafe-inline'"), "{}", page.head);
    assert!(!page.body.contains("<script"));
}
