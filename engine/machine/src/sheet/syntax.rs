//! Text that is no TOML, explained to someone who has never heard of TOML.
//! The parser's wording is only looked at to find ours; what is not in the list keeps the parser's.

use std::ops::Range;

use toml::de::Error;

use super::findings::{Findings, Said, shortened};

/// One of the parser's errors in our words.
struct Explained {
    /// How the parser's message begins.
    begins: &'static str,
    message: &'static str,
    allowed: &'static str,
    /// What to do; empty: put what was found in quotes.
    hint: &'static str,
    /// Whether entries may be lost with it.
    torn: bool,
}

/// Message and hint where nothing stands where a value is due.
const NO_VALUE: (&str, &str) = ("a value is missing", "write a value behind the equals sign, or delete the line");

const EXPLAINED: &[Explained] = &[
    soft("string values must be quoted", "text without quotes", "text in quotes", ""),
    soft("invalid boolean", "a word without quotes", "text in quotes, or true or false", ""),
    soft("duplicate key", "a name is given twice", "each name once", "delete one of the two, or rename it"),
    torn(
        "unexpected key or value",
        "something stands behind the end of the entry",
        "one entry a line, then a # comment at most",
        "put text and quantities in quotes, and each entry on a line of its own",
    ),
    torn(
        "invalid basic string",
        "a quote is not closed, or its text holds what it may not",
        "text between two quotes on one line",
        "close the quote with \"",
    ),
    torn(
        "invalid literal string",
        "a quote is not closed",
        "text between two quotes on one line",
        "close the quote with '",
    ),
    torn("unclosed table", "a header is not closed", "[section.name] on a line of its own", "close the header with ]"),
    torn("key with no value", "a name without a value", "name = value", "write `name = \"value\"` with an equals sign"),
    torn("unclosed array", "a list is not closed", "[\"one\", \"two\"]", "close the list with ]"),
    torn(
        "missing comma between array",
        "a list is not closed, or lacks a comma",
        "[\"one\", \"two\"]",
        "close the list with ], or put a comma between its items",
    ),
    torn("unclosed inline table", "a table is not closed", "{ name = \"value\" }", "close the table with }"),
    torn(
        "missing comma between key",
        "a table is not closed, or lacks a comma",
        "{ name = \"value\", name = \"value\" }",
        "close the table with }, or put a comma between its entries",
    ),
    torn(
        "cannot extend",
        "a name is used both for a value and for a table",
        "each name once",
        "rename one of the two, or delete it",
    ),
];

const fn soft(begins: &'static str, message: &'static str, allowed: &'static str, hint: &'static str) -> Explained {
    Explained { begins, message, allowed, hint, torn: false }
}

const fn torn(begins: &'static str, message: &'static str, allowed: &'static str, hint: &'static str) -> Explained {
    Explained { torn: true, ..soft(begins, message, allowed, hint) }
}

/// Reports the parser's errors, one a line.
pub(super) fn report(text: &str, errors: &[Error], findings: &mut Findings<'_>) {
    // Entries under a header that was given twice clash with those under the first; the header says it all.
    let mut second_block = 0..0;
    for error in errors {
        let span = error.span().unwrap_or(0..0);
        if second_block.contains(&span.start) {
            continue;
        }
        if error.message().starts_with("duplicate key") {
            second_block = block_of(text, span.start);
        }
        let known = EXPLAINED.iter().find(|known| error.message().starts_with(known.begins));
        let said = known.map_or_else(|| unexplained(text, error), |known| explained(text, &span, known));
        findings.syntax(span, known.is_none_or(|known| known.torn), said);
    }
}

fn explained(text: &str, span: &Range<usize>, known: &Explained) -> Said {
    let found = found(text, span);
    let (message, hint) = match (known.hint, span.is_empty()) {
        ("", true) => (NO_VALUE.0, NO_VALUE.1.to_owned()),
        ("", false) => (known.message, format!("write \"{found}\"")),
        (hint, _) => (known.message, hint.to_owned()),
    };
    Said { message: format!("{message}: `{found}`"), found, allowed: known.allowed.to_owned(), hint: Some(hint) }
}

fn unexplained(text: &str, error: &Error) -> Said {
    let (first, expected) = error.message().split_once(", expected ").unwrap_or((error.message(), "name = value"));
    let found = found(text, &error.span().unwrap_or(0..0));
    Said {
        message: format!("this is not TOML ({first}): `{found}`"),
        found,
        allowed: expected.to_owned(),
        hint: Some("write [section.name] for a header, and `name = \"value\"` for an entry".to_owned()),
    }
}

/// The lines under the header at this place, up to the next header; empty when there is no header here.
fn block_of(text: &str, at: usize) -> Range<usize> {
    let before = text.get(..at).unwrap_or_default();
    let line = before.rfind('\n').map_or(0, |newline| newline + 1);
    let is_header = text.get(line..).is_some_and(|text| text.trim_start().starts_with('['));
    let behind = text.get(at..).unwrap_or_default();
    let next = behind.find("\n[").map_or(text.len(), |next| at + next);
    if is_header { at..next } else { 0..0 }
}

/// What stands at the place: the text itself, else what follows on the line, else the line up to there.
fn found(text: &str, span: &Range<usize>) -> String {
    let behind = text.get(span.start..).unwrap_or_default();
    let before = text.get(..span.start).unwrap_or_default();
    let candidates = [
        text.get(span.clone()).unwrap_or_default(),
        without_comment(behind.lines().next().unwrap_or_default()),
        before.lines().next_back().unwrap_or_default(),
    ];
    let found = candidates.into_iter().map(shortened).find(|text| !text.is_empty());
    found.unwrap_or_default()
}

/// A piece of a line up to a comment behind it; a `#` within a word is none.
fn without_comment(line: &str) -> &str {
    line.split_once(" #").map_or(line, |(entry, _)| entry)
}
