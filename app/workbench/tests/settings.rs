//! `settings`, and what prices change: what a job costs, what it may come to, the owner's limit.

use std::path::{Path, PathBuf};

use crate::bench::{file, machine, run, run_with};

/// The example, as a file.
fn example() -> String {
    file("settings-example.toml", &run(&["settings", "--example"]).out)
}

fn journal(name: &str) -> PathBuf {
    let file = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("settings-{name}-{}.db", std::process::id()));
    let _ = std::fs::remove_file(&file);
    file
}

/// What `work` says to these lines on curlew, with these settings.
fn worked(name: &str, settings: &str, lines: &str) -> String {
    let journal = journal(name);
    let curlew = machine("curlew");
    let arguments = ["work", &curlew, "--job", name, "--journal", journal.to_str().unwrap(), "--settings", settings];
    run_with(&arguments, lines).out
}

#[test]
fn the_example_is_read_and_a_mistake_is_told_with_its_place() {
    let settings = example();
    let shown = run(&["settings", "--settings", &settings]);
    assert!(shown.code == 0 && shown.out.contains("EUR 62.00"), "{}{}", shown.out, shown.err);
    assert!(shown.err.contains(&settings), "the file is named: {}", shown.err);
    let json = run(&["settings", "--settings", &settings, "--json"]).json();
    assert_eq!(json["money"]["hour"], 62.0);
    let nothing = run(&["settings"]);
    assert!(nothing.code == 0 && nothing.err.contains("--example"), "{}", nothing.err);
    let wrong = file("settings-wrong.toml", "[money]\ncurrency = \"EUR\"\nhours = 60\n");
    let refused = run(&["settings", "--settings", &wrong]);
    assert_eq!(refused.code, 78, "{}", refused.err);
    assert!(refused.err.contains("line 3") && refused.err.contains("hour"), "{}", refused.err);
    assert_eq!(run(&["settings", "--settings", "/nonexistent/s.toml"]).code, 66);
}

#[test]
fn a_step_beyond_the_owners_limit_is_asked_for_first() {
    let lines = "one-click\nnothing\n12\n0.2\nlimit 0,10\nlimit 500\ncost\nquit\n";
    let said = worked("limit", &example(), lines);
    let (before, after) = said.split_once("Ask the owner first").expect("the limit is asked for");
    assert!(before.contains("> limit 0,10"), "{said}");
    assert!(after.contains("EUR 0.10 at most are agreed"), "{said}");
    assert!(after.contains("healthy"), "the step itself comes after: {said}");
    assert_eq!(said.matches("Ask the owner first").count(), 1, "a higher limit is enough: {said}");
}

#[test]
fn without_prices_there_is_no_limit_and_minutes_are_the_cost() {
    let said = worked("minutes", "/dev/null", "one-click\nnothing\n12\n0.2\nlimit 2\nskip\ncost\nquit\n");
    assert!(!said.contains("Ask the owner first") && !said.contains("EUR"), "{said}");
    assert!(said.contains("together"), "{said}");
}

#[test]
fn a_quote_lies_above_the_minutes_and_is_kept_as_what_the_owner_was_told() {
    let (journal, settings, curlew) = (journal("quote"), example(), machine("curlew"));
    let place = journal.to_str().unwrap();
    let with = |arguments: &[&str]| run(&[&["job", "--journal", place], arguments].concat());
    assert_eq!(with(&["new", &curlew, "--name", "a"]).code, 0);
    let quote = with(&["quote", "a", "--settings", &settings, "--json", "--keep"]).json();
    let of = |name: &str| quote[name].as_f64().unwrap();
    assert!(of("worst") >= of("expected") && of("worst_minutes") >= of("expected_minutes"), "{quote}");
    let work = of("expected_minutes") / 60.0 * 62.0;
    assert!(of("expected") > work, "parts are dearer than nothing: {quote}");
    assert!(with(&["show", "a"]).out.contains("the owner was told: about EUR"));
    let refused = with(&["quote", "a"]);
    assert!(refused.code == 78 && refused.err.contains("--example"), "{}", refused.err);
}
