//! Text that is no TOML, explained to someone who has never heard of TOML.
//! The parser's wording is only looked at to find ours; what is not in the list keeps the parser's.

use std::ops::Range;

use toml::de::Error;

use super::findings::{Findings, Said, shortened};

/// Beginning of the parser's message, our message, what is allowed, what to do; whether entries may be lost.
const EXPLAINED: &[(&str, &str, &str, &str, bool)] = &[
    ("string values must be quoted", "text without quotes", "text in quotes", "", false),
    ("invalid boolean", "a word without quotes", "text in quotes, or true or false", "", false),
    ("duplicate key", "a name is given twice", "each name once", "delete one of the two, or rename it", false),
    (
        "invalid basic string",
        "a quote is not closed, or its text holds what it may not",
        "text between two quotes on one line",
        "close the quote with \"",
        true,
    ),
    (
        "invalid literal string",
        "a quote is not closed",
        "text between two quotes on one line",
        "close the quote with '",
        true,
    ),
    (
        "unclosed table",
        "a header is not closed",
        "[section.name] on a line of its own",
        "close the header with ]",
        true,
    ),
    (
        "key with no value",
        "a name without a value",
        "name = value",
        "write `name = \"value\"` with an equals sign",
        true,
    ),
    (
        "unexpected key or value",
        "something stands behind the end of the entry",
        "one entry a line, then a # comment at most",
        "put text and quantities in quotes, and each entry on a line of its own",
        false,
    ),
    ("unclosed array", "a list is not closed", "[\"one\", \"two\"]", "close the list with ]", true),
    (
        "missing comma between array",
        "a list is not closed, or lacks a comma",
        "[\"one\", \"two\"]",
        "close the list with ], or put a comma between its items",
        true,
    ),
    ("unclosed inline table", "a table is not closed", "{ name = \"value\" }", "close the table with }", true),
    (
        "missing comma between key",
        "a table is not closed, or lacks a comma",
        "{ name = \"value\", name = \"value\" }",
        "close the table with }, or put a comma between its entries",
        true,
    ),
    (
        "cannot extend",
        "a name is used both for a value and for a table",
        "each name once",
        "rename one of the two",
        true,
    ),
];

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
        let found = found(text, &span);
        let (first, expected) = error.message().split_once(", expected ").unwrap_or((error.message(), ""));
        let known = EXPLAINED.iter().find(|(begins, ..)| first.starts_with(begins));
        let said = match known {
            Some((begins, message, allowed, hint, _)) => Said {
                hint: Some(match *begins {
                    "string values must be quoted" | "invalid boolean" if found.is_empty() => {
                        "write a value behind the equals sign, or delete the line".to_owned()
                    }
                    "string values must be quoted" | "invalid boolean" => format!("write \"{found}\""),
                    _ => (*hint).to_owned(),
                }),
                message: format!("{message}: {}", quoted(&found)),
                allowed: (*allowed).to_owned(),
                found,
            },
            None => Said {
                message: format!("this is not TOML ({first}): {}", quoted(&found)),
                found,
                allowed: if expected.is_empty() { "name = value".to_owned() } else { expected.to_owned() },
                hint: Some("write [section.name] for a header, and `name = \"value\"` for an entry".to_owned()),
            },
        };
        let torn = known.is_none_or(|(.., torn)| *torn);
        findings.syntax(span, torn, said);
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

fn quoted(found: &str) -> String {
    if found.is_empty() { "nothing".to_owned() } else { format!("`{found}`") }
}

/// What stands at the place: the text itself, else what follows on the line, else the line up to there.
fn found(text: &str, span: &Range<usize>) -> String {
    let exact = shortened(text.get(span.clone()).unwrap_or_default());
    if !exact.is_empty() {
        return exact;
    }
    let first_line = |text: &str| shortened(text.lines().next().unwrap_or_default());
    let behind = first_line(text.get(span.start..).unwrap_or_default());
    if !behind.is_empty() {
        return behind;
    }
    let before = text.get(..span.start).unwrap_or_default();
    shortened(before.lines().next_back().unwrap_or_default())
}
