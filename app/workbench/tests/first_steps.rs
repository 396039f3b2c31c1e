//! The program by itself: help, mistakes in arguments, colors.

use super::bench::{run, tiny};

#[test]
fn a_mistyped_command_is_a_usage_error_with_a_suggestion() {
    let said = run(&["slove", tiny()]);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("'solve'"), "{}", said.err);
}

#[test]
fn help_teaches_by_examples_within_80_columns() {
    for command in ["check", "solve", "read", "export", "schema", "man", "completions", "serve", "job"] {
        let said = run(&[command, "--help"]);
        assert_eq!(said.code, 0, "{command}: {}", said.err);
        let examples = said.out.split("Examples:").nth(1).unwrap_or_default();
        assert!(examples.contains(&format!("probewright {command}")), "{command}: {}", said.out);
        let before = said.out.split("Examples:").next().unwrap_or_default();
        assert!(before.lines().all(|line| line.chars().count() <= 80), "{command}: {before}");
    }
}

#[test]
fn color_comes_only_when_it_is_asked_for_or_a_terminal_is_there() {
    assert!(!run(&["solve", tiny()]).out.contains('\u{1b}'));
    assert!(run(&["solve", tiny(), "--color", "always"]).out.contains('\u{1b}'));
    assert!(!run(&["solve", tiny(), "--color", "never"]).out.contains('\u{1b}'));
    assert!(!run(&["solve", tiny(), "--state", "no", "--color=never"]).err.contains('\u{1b}'));
}
