//! `docs/kinds.md` says of every kind what the catalogue says: terminals, fields with their defaults, ways to fail.
//! A catalogue that has changed fails here, and the text that it wants lies in the test's folder for temporary files.
#![expect(clippy::disallowed_methods, reason = "a test that reads the documentation")]

use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use machine::kind::CATALOGUE;
use machine::kind::spec::{Effect, Fallback, Field, Kind, Mode, Severity, Terminals, Want};

const FILE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/kinds.md");

#[test]
fn every_kind_is_documented_as_the_catalogue_has_it() {
    let wanted = document();
    let found = fs::read_to_string(FILE).unwrap_or_default();
    if found != wanted {
        let copy = Path::new(env!("CARGO_TARGET_TMPDIR")).join("kinds.md");
        fs::write(&copy, &wanted).expect("a folder for temporary files");
        let line = found.lines().zip(wanted.lines()).position(|(left, right)| left != right);
        panic!("docs/kinds.md differs from line {line:?} on; wanted is {}", copy.display());
    }
}

fn document() -> String {
    let mut text = String::from(HEAD);
    for kind in CATALOGUE {
        write!(text, "\n## {}\n\n{}\n\n{}\n", kind.name, kind.summary, terminals(kind)).expect("text");
        if !kind.fields.is_empty() {
            text += "\n| field | written | when left out | what it says |\n|---|---|---|---|\n";
            for field in kind.fields {
                writeln!(text, "| `{}` | {} | {} | {} |", field.name, written(field), left_out(field), safe(field.doc))
                    .expect("text");
            }
        }
        text += "\n| way to fail | in words | odds | severity | mended by | more after |\n|---|---|---|---|---|---|\n";
        let weights: f64 = kind.modes.iter().map(|mode| mode.odds).sum();
        for mode in kind.modes {
            let share = kind.share * mode.odds / weights;
            writeln!(
                text,
                "| `{}`{} | … {}{} | {share:.2} | {} | {} | {} |",
                mode.name,
                if mode.consequence { " (has a cause)" } else { "" },
                mode.title,
                only(mode),
                severity(kind, mode),
                mode.remedy.title,
                since(mode)
            )
            .expect("text");
        }
    }
    text
}

const HEAD: &str = "# Kinds of parts

What a sheet can say of each kind, and how each fails. Written from the catalogue in `engine/machine/src/kind/`; a test
compares. Odds are the kind's share of starting jobs in percent, split over its ways to fail (as if all of them applied)
and then over the parts of that kind (`from memory`; shares of kinds `common practice, no source`); `[odds]` of a sheet
overrides them. A way to fail that \"has a cause\" cannot close a job alone. Severities are drawn evenly, or evenly in the
logarithm (log).
";

fn terminals(kind: &Kind) -> String {
    match kind.terminals {
        Terminals::Ends { rings: true } => {
            "Ends `from`, `to`; a ring joint is implied at an end that names a part's terminal.".to_owned()
        }
        Terminals::Ends { .. } => "Ends `from`, `to`.".to_owned(),
        Terminals::Named(names) => format!("Terminals {}.", listed(names)),
        Terminals::Ways => "`ways = [\"1\", \"2\"]`; terminals `1-in`, `1-out` and so on.".to_owned(),
        Terminals::None => "No terminals.".to_owned(),
    }
}

fn listed(names: &[&str]) -> String {
    names.iter().map(|name| format!("`{name}`")).collect::<Vec<_>>().join(", ")
}

fn written(field: &Field) -> String {
    match field.want {
        Want::Quantity(dimension) => format!("`\"{}\"`", dimension.example()),
        Want::Ratio { low, high } => format!("a number, {low} to {high}"),
        Want::Choice(words) => listed(words),
        Want::Flag => "`true`, `false`".to_owned(),
        Want::Controls => "`{ key = \"on\" }`".to_owned(),
        Want::Part(kinds) => format!("a part: {}", listed(kinds)),
    }
}

fn left_out(field: &Field) -> String {
    match field.fallback {
        Fallback::Required => "must be given".to_owned(),
        Fallback::Text(text) => text.to_owned(),
        Fallback::Absent => String::new(),
        Fallback::Or(sets) => {
            let sets: Vec<String> = sets.iter().map(|set| listed(set)).collect();
            format!("then {}", sets.join(" or "))
        }
    }
}

fn severity(kind: &Kind, mode: &Mode) -> String {
    let unit = mode.effects.iter().find_map(|effect| match *effect {
        Effect::Scale(_) => Some("×".to_owned()),
        Effect::SetTo(name) | Effect::Add(name) => {
            let field = kind.fields.iter().find(|field| field.name == name)?;
            match field.want {
                Want::Quantity(dimension) => Some(dimension.symbol().to_owned()),
                _ => Some(String::new()),
            }
        }
        Effect::ToGround(_) | Effect::Across(..) | Effect::AcrossWays | Effect::ToLoom(_) => Some("Ω".to_owned()),
        _ => None,
    });
    let unit = unit.unwrap_or_default();
    match mode.severity {
        Severity::None => String::new(),
        Severity::Even { low, high } => format!("{low} to {high} {unit}").trim().to_owned(),
        Severity::Log { low, high } => format!("{low} to {high} {unit}, log").replace(" ,", ","),
    }
}

fn only(mode: &Mode) -> String {
    mode.only.map_or_else(String::new, |(field, words)| format!(" (`{field}` {})", words.join(" or ")))
}

fn since(mode: &Mode) -> String {
    mode.since.iter().map(|(word, factor)| format!("{word} ×{factor}")).collect::<Vec<_>>().join(", ")
}

fn safe(text: &str) -> String {
    text.replace('|', "\\|")
}
