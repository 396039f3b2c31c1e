//! Every sheet in `machines/broken` gives exactly the findings that it states beside the lines that cause them.
//!
//! A statement is a comment: `#! MESSAGE; found FOUND; allowed ALLOWED; hint HINT` for a problem, `#?` for a note.
//! MESSAGE, ALLOWED and HINT are pieces of the finding's texts, FOUND is all of it (`nothing` when it is empty).
//! It speaks of its own line; on a line of its own it speaks of the next, for lines that can bear no comment.
#![expect(clippy::disallowed_methods, reason = "a test that reads a folder of sheets")]

use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use machine::problem::{Problem, Weight};
use machine::sheet::read;

const FOLDER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../machines/broken");

/// What a sheet says of one of its lines.
#[derive(Debug)]
struct Stated {
    line: usize,
    weight: Weight,
    message: String,
    found: String,
    allowed: String,
    hint: String,
}

impl Stated {
    /// Reads `MESSAGE; found FOUND; allowed ALLOWED; hint HINT`.
    fn new(line: usize, weight: Weight, text: &str) -> Option<Self> {
        let (message, rest) = text.split_once("; found ")?;
        let (found, rest) = rest.split_once("; allowed ")?;
        let (allowed, hint) = rest.split_once("; hint ")?;
        Some(Self {
            line,
            weight,
            message: message.trim().to_owned(),
            found: if found == "nothing" { String::new() } else { found.to_owned() },
            allowed: allowed.to_owned(),
            hint: hint.trim().to_owned(),
        })
    }

    fn is(&self, problem: &Problem) -> bool {
        self.line == problem.line
            && self.weight == problem.weight
            && problem.message.contains(&self.message)
            && problem.found == self.found
            && problem.allowed.contains(&self.allowed)
            && problem.hint.as_deref().is_some_and(|hint| hint.contains(&self.hint))
    }
}

/// Everything that a sheet states, or the line that states it wrongly.
fn stated(text: &str) -> Result<Vec<Stated>, String> {
    let mut all = Vec::new();
    for (index, line) in text.lines().enumerate() {
        let marks = line.match_indices("#!").map(|(at, _)| (at, Weight::Problem));
        let notes = line.match_indices("#?").map(|(at, _)| (at, Weight::Note));
        let mut marks: Vec<(usize, Weight)> = marks.chain(notes).collect();
        marks.sort();
        for (number, (at, weight)) in marks.iter().enumerate() {
            let end = marks.get(number + 1).map_or(line.len(), |(next, _)| *next);
            let alone = line.starts_with("#!") || line.starts_with("#?");
            let of_line = index + 1 + usize::from(alone);
            let statement = Stated::new(of_line, *weight, &line[at + 2..end]);
            all.push(statement.ok_or_else(|| format!("line {}: not a statement", index + 1))?);
        }
    }
    Ok(all)
}

/// The differences between what a sheet states and what the reader finds; empty when there are none.
fn differences(text: &str) -> Result<String, String> {
    let mut expected = stated(text)?;
    if expected.is_empty() {
        return Err("states no problem".to_owned());
    }
    let reading = read(text);
    let mut report = String::new();
    for problem in &reading.findings {
        match expected.iter().position(|statement| statement.is(problem)) {
            Some(index) => drop(expected.remove(index)),
            None => writeln!(report, "  not stated: {problem:?}").map_err(|error| error.to_string())?,
        }
    }
    for statement in &expected {
        writeln!(report, "  not found: {statement:?}").map_err(|error| error.to_string())?;
    }
    let usable = !reading.findings.iter().any(Problem::is_in_the_way);
    if usable != reading.sheet.is_some() {
        report.push_str("  a sheet is given exactly when nothing is in its way\n");
    }
    Ok(report)
}

/// Names and texts of all sheets in the folder.
fn sheets() -> Vec<(String, String)> {
    let entries = fs::read_dir(Path::new(FOLDER)).expect("the folder of broken sheets");
    let mut sheets: Vec<(String, String)> = entries
        .map(|entry| entry.expect("an entry of the folder").path())
        .map(|path| {
            let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
            (name, fs::read_to_string(&path).expect("a sheet's text"))
        })
        .collect();
    sheets.sort();
    sheets
}

#[test]
fn every_broken_sheet_gives_exactly_its_findings() {
    let mut report = String::new();
    let sheets = sheets();
    for (name, text) in &sheets {
        match differences(text) {
            Ok(differences) if differences.is_empty() => {}
            Ok(differences) => report.push_str(&format!("{name}:\n{differences}")),
            Err(mistake) => report.push_str(&format!("{name}: {mistake}\n")),
        }
    }
    assert!(report.is_empty(), "\n{report}");
    assert!(sheets.len() >= 40, "only {} broken sheets", sheets.len());
}

#[test]
fn every_finding_names_the_thing_what_is_allowed_and_the_next_step() {
    for (name, text) in sheets() {
        for problem in read(&text).findings {
            let hint = problem.hint.as_deref().unwrap_or_default();
            assert!(!problem.message.is_empty() && !problem.message.ends_with('.'), "{name}: {problem:?}");
            assert!(!problem.allowed.is_empty() && !hint.is_empty(), "{name}: {problem:?}");
            assert!(text.get(problem.span.clone()).is_some(), "{name}: {problem:?}");
        }
    }
}
