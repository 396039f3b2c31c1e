//! `owner`: the page is whole by itself, and its answers come back as one line.

use std::path::Path;

use crate::bench::{machine, run};

#[test]
fn answers_go_from_the_page_by_a_line_into_the_job_once() {
    let curlew = machine("curlew");
    let page = run(&["owner", &curlew]);
    assert_eq!(page.code, 0, "{}", page.err);
    assert!(page.out.contains("default-src 'none'") && !page.out.contains("://"), "nothing is loaded from elsewhere");
    let asked = run(&["owner", &curlew, "--json"]).json();
    let questions = asked["questions"].as_array().unwrap();
    let code = |question: usize, answer: usize| questions[question]["answers"][answer]["code"].as_str().unwrap();
    let chosen = [code(0, 1), code(1, 4), code(2, 2), code(3, 0)];
    for code in chosen {
        assert!(page.out.contains(&format!("<code>{code}</code>")), "{code} stands beside its answer");
    }
    let line = format!("{} {}", asked["head"].as_str().unwrap(), chosen.join(" "));
    let journal = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("owner-{}.db", std::process::id()));
    let _ = std::fs::remove_file(&journal);
    let job = |arguments: &[&str]| run(&[&["job", "--journal", journal.to_str().unwrap()], arguments].concat());
    assert_eq!(job(&["new", &curlew, "--name", "far"]).code, 0);
    let mistyped = job(&["answers", "far", &line.replace(chosen[1], "2zzz")]);
    assert!(mistyped.code == 2 && mistyped.err.contains("`2zzz` is no code"), "{} {}", mistyped.code, mistyped.err);
    for _ in 0..2 {
        assert_eq!(job(&["answers", "far", &line]).code, 0);
    }
    let kept: Vec<String> = job(&["show", "far", "--json"]).out.lines().skip(1).map(str::to_owned).collect();
    assert_eq!(kept.len(), 4, "each answer once, and nothing of the mistyped line: {kept:?}");
    assert!(kept[0].contains("\"entry\":\"complaint\"") && kept[2].contains("\"entry\":\"air\""), "{kept:?}");
    let other = job(&["answers", "far", &line.replace("curlew", "dunlin")]);
    assert!(other.code == 2 && other.err.contains("another machine"), "{}", other.err);
}
