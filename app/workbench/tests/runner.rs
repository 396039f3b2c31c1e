//! All integration tests of the command line, one file a command; a command without a file, or a file without a line
//! here, is a failure.
#![expect(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

mod advise;
mod atlas;
mod bench;
mod check;
mod completions;
mod coverage;
mod draw;
mod expect;
mod export;
mod first_steps;
mod fit;
mod fleet;
mod guide;
mod history;
mod job;
mod learned;
mod man;
mod new;
mod owner;
mod practice;
mod practice_page;
mod probes;
mod read;
mod report;
mod schema;
mod serve;
mod settings;
mod solve;
mod trial;
mod work;
mod worksheets;

use std::collections::BTreeSet;

/// Files that are no command's.
const OTHERS: [&str; 5] = ["bench", "first_steps", "practice_page", "runner", "worksheets"];
/// Commands that `worksheets.rs` runs: they are one command line over one list of descriptions.
const WORKSHEETS: [&str; 9] = ["cold", "drop", "crank", "drain", "charge", "wear", "battery", "shunt", "what-if"];

#[test]
fn every_command_has_a_test_file_and_every_file_is_run() {
    let help = bench::run(&["--help"]);
    let commands: BTreeSet<String> = help
        .out
        .lines()
        .skip_while(|line| *line != "Commands:")
        .skip(1)
        .take_while(|line| !line.is_empty())
        .filter(|line| line.starts_with("  ") && !line.starts_with("   "))
        .filter_map(|line| line.split_whitespace().next())
        .filter(|command| *command != "help")
        .map(str::to_owned)
        .collect();
    assert!(commands.contains("solve"), "{}", help.out);
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests");
    let files: BTreeSet<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|extension| extension == "rs"))
        .map(|path| path.file_stem().unwrap().to_str().unwrap().to_owned())
        .collect();
    let listed = std::fs::read_to_string(format!("{folder}/runner.rs")).unwrap();
    for file in files.iter().filter(|file| *file != "runner") {
        assert!(listed.contains(&format!("\nmod {file};\n")), "tests/{file}.rs is not listed in tests/runner.rs");
    }
    for command in &commands {
        // `which` compares what `new` makes.
        if WORKSHEETS.contains(&command.as_str()) || command == "which" {
            continue;
        }
        let file = command.replace('-', "_");
        assert!(files.contains(&file), "the command `{command}` has no tests/{file}.rs");
    }
    for file in files.iter().filter(|file| !OTHERS.contains(&file.as_str())) {
        assert!(commands.contains(&file.replace('_', "-")), "tests/{file}.rs is no command's");
    }
}
