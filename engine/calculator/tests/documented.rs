//! `docs/worksheets.md` says of every worksheet what its description says: inputs, limits, what holds when left out.
//! A description that has changed fails here, and the text that it wants lies in the test's folder for temporary files.
#![expect(clippy::disallowed_methods, reason = "a test that reads the documentation")]

use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use calculator::{CATALOGUE, Fallback, Input, Sheet, Want, Worksheet};
use quantity::{Dimension, show};

const FILE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/worksheets.md");

const HEAD: &str = "\
# Worksheets

What each worksheet asks for and what it leaves out. Written from the descriptions in
`engine/calculator/src/worksheets/`; a test compares. Each answer names its sources and shows its working; the module's
head gives the law and its range. `--json` prints the same numbers for programs, `--plot FILE` draws the plot.
";

#[test]
fn every_worksheet_is_documented_as_it_describes_itself() {
    let wanted = CATALOGUE.iter().fold(HEAD.to_owned(), |text, worksheet| text + &section(worksheet));
    let found = fs::read_to_string(FILE).unwrap_or_default();
    if found != wanted {
        let copy = Path::new(env!("CARGO_TARGET_TMPDIR")).join("worksheets.md");
        fs::write(&copy, &wanted).expect("a folder for temporary files");
        let line = found.lines().zip(wanted.lines()).position(|(left, right)| left != right);
        panic!("docs/worksheets.md differs from line {line:?} on; wanted is {}", copy.display());
    }
}

fn section(worksheet: &Worksheet) -> String {
    let sheet = match worksheet.sheet {
        Sheet::Unused => "",
        Sheet::Welcome => " [SHEET]",
        Sheet::Needed => " SHEET",
    };
    let mut text = format!("\n## {}\n\n{}. {}\n\n", worksheet.name, worksheet.title, worksheet.about);
    text += "```\n";
    for example in worksheet.examples {
        writeln!(text, "probewright {} {example}", worksheet.name).expect("text");
    }
    text += "```\n\n";
    writeln!(text, "`probewright {}{sheet}`, and:\n", worksheet.name).expect("text");
    text += "| input | from | to | when left out | what it is |\n|---|---|---|---|---|\n";
    for input in worksheet.inputs {
        let (low, high) = limits(input);
        writeln!(text, "| `--{}` | {low} | {high} | {} | {} |", input.name, left_out(input), input.doc).expect("text");
    }
    text
}

fn limits(input: &Input) -> (String, String) {
    match input.want {
        Want::Quantity(dimension, low, high) => (show(low, dimension), show(high, dimension)),
        Want::Ratio(low, high) => (show(low, Dimension::Ratio), show(high, Dimension::Ratio)),
        Want::Choice(words) => (words.join(", "), String::new()),
        Want::Changes => ("any number of them".to_owned(), String::new()),
    }
}

fn left_out(input: &Input) -> String {
    match input.fallback {
        Fallback::Required => "it must be given".to_owned(),
        Fallback::Absent => "–".to_owned(),
        Fallback::Text(text) => text.to_owned(),
        Fallback::OfMachine(_, text) => format!("the machine's, else {text}"),
    }
}
