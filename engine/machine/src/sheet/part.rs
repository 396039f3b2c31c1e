//! `[part.NAME]`: kind, connections, and the fields that the kind's table asks for.
//! Two passes: the headers first (which part has which terminals), then everything that refers to other parts.

use toml::de::DeValue;

use super::findings::{Findings, Said, shortened};
use super::machine::{title, unique_names};
use super::names::{Names, PartName};
use super::near::{listed, nearest};
use super::value::{range_words, value, wanted_quantity};
use super::walk::{Block, Entry};
use super::{Condition, Named, Part};
use crate::kind::spec::{Fallback, Field, Kind, Terminals, Want};
use crate::kind::{CATALOGUE, find};

/// Kinds and ways of all parts.
pub(super) fn headers(blocks: &mut [(Named, Block<'_>)], findings: &mut Findings<'_>) -> Vec<PartName> {
    let mut parts = Vec::new();
    for (name, block) in blocks {
        let kind = kind(block, findings);
        let ways = match kind.map(|kind| kind.terminals) {
            Some(Terminals::Ways) => unique_names("ways", "way", "[\"1\", \"2\"]", block, findings),
            _ => Vec::new(),
        };
        parts.push(PartName { name: name.name.clone(), kind, ways, rings: Vec::new() });
    }
    parts
}

fn kind(block: &mut Block<'_>, findings: &mut Findings<'_>) -> Option<&'static Kind> {
    let Some(entry) = block.take("kind") else {
        let allowed = format!("one of {}", all_kinds());
        block.missing("kind", &allowed, "write `kind = \"cable\"`, or another kind", findings);
        return None;
    };
    let named = block.as_text(&entry, "the name of a kind in quotes", findings)?;
    let found = find(&named.name);
    if found.is_none() {
        let near = nearest(&named.name, CATALOGUE.iter().map(|kind| kind.name));
        findings.problem(
            &named.span,
            Said {
                message: format!("no kind is called `{}`", shortened(&named.name)),
                found: shortened(&named.name),
                allowed: format!("one of {}", all_kinds()),
                hint: Some(near.map_or_else(
                    || "write one of these; what fits no kind is a resistance or a load".to_owned(),
                    |near| format!("did you mean \"{near}\"?"),
                )),
            },
        );
    }
    found
}

fn all_kinds() -> String {
    let names: Vec<&str> = CATALOGUE.iter().map(|kind| kind.name).collect();
    names.join(", ")
}

/// All parts in full; a part of unknown kind is left out, which is no loss since the sheet then has a problem.
pub(super) fn parts(blocks: Vec<(Named, Block<'_>)>, names: &mut Names, findings: &mut Findings<'_>) -> Vec<Part> {
    let mut parts = Vec::new();
    for (index, (name, mut block)) in blocks.into_iter().enumerate() {
        let title = title(&mut block, &name, findings);
        let place = block.text("at", findings);
        let place = place.and_then(|named| names.place(&named, findings));
        let color = block.text_or_empty("color", findings);
        let cavity = block.text_or_empty("cavity", findings);
        let loom = block.text_or_empty("loom", findings);
        let Some(kind) = names.parts[index].kind else {
            continue;
        };
        let terminals = terminals(index, kind, &mut block, names, findings);
        let mut values = Vec::new();
        let mut conditions = Vec::new();
        for (field_index, field) in kind.fields.iter().enumerate() {
            if let Want::Controls = field.want {
                values.push(f64::NAN);
                if let Some(condition) = condition(field, &mut block, names, findings) {
                    conditions.push((field_index, condition));
                }
            } else {
                values.push(self::field(kind, field, &mut block, names, findings));
            }
        }
        alternatives(kind, &values, &block, findings);
        block.finish(findings);
        parts.push(Part {
            name,
            title,
            kind,
            place,
            terminals,
            ways: names.parts[index].ways.iter().map(|way| way.name.clone()).collect(),
            values,
            conditions,
            color,
            cavity,
            loom,
        });
    }
    parts
}

fn terminals(
    index: usize,
    kind: &'static Kind,
    block: &mut Block<'_>,
    names: &mut Names,
    findings: &mut Findings<'_>,
) -> Vec<(String, Option<Named>)> {
    const ALLOWED: &str = "`part.terminal` of another part, or a splice's name";
    let owner = names.parts[index].name.clone();
    let mut terminals = Vec::new();
    for terminal in names.parts[index].terminals() {
        let entry = block.take(&terminal);
        if entry.is_none() && matches!(kind.terminals, Terminals::Ends { .. }) {
            let hint = format!("write `{terminal} = \"battery.plus\"`, or a splice's name");
            block.missing(&terminal, ALLOWED, &hint, findings);
        }
        let other = entry.and_then(|entry| block.as_text(&entry, ALLOWED, findings));
        if let Some(other) = &other {
            names.meet(&owner, &terminal, other, findings);
        }
        terminals.push((terminal, other));
    }
    terminals
}

/// The value of one field; NaN when absent or when it cannot be used.
fn field(kind: &Kind, field: &Field, block: &mut Block<'_>, names: &Names, findings: &mut Findings<'_>) -> f64 {
    let Some(entry) = block.take(field.name) else {
        return fallback(kind, field, block, findings);
    };
    if let Want::Part(kinds) = field.want {
        return part(&entry, kinds, block, names, findings);
    }
    let text = match (entry.value, field.want) {
        (DeValue::Boolean(flag), Want::Flag) => return f64::from(u8::from(*flag)),
        (DeValue::String(text), Want::Quantity(_) | Want::Ratio { .. } | Want::Choice(_)) => text.to_string(),
        (DeValue::Integer(_) | DeValue::Float(_), Want::Quantity(_) | Want::Ratio { .. }) => {
            findings.written(&entry.span)
        }
        _ => {
            let (allowed, hint) = wanted(field);
            block.wrong_type(&entry, &allowed, hint, findings);
            return f64::NAN;
        }
    };
    match value(kind, field, &text) {
        Ok(value) => value,
        Err(wrong) => {
            block.wrong(&entry, wrong, findings);
            f64::NAN
        }
    }
}

fn fallback(kind: &Kind, field: &Field, block: &Block<'_>, findings: &mut Findings<'_>) -> f64 {
    match field.fallback {
        // That every default can be read is a test of `value`.
        Fallback::Text(text) => value(kind, field, text).unwrap_or(f64::NAN),
        Fallback::Absent | Fallback::Or(_) => f64::NAN,
        Fallback::Required => {
            let (allowed, hint) = wanted(field);
            let hint = hint.unwrap_or_else(|| "see the kind's fields".to_owned());
            block.missing(field.name, &allowed, &hint, findings);
            f64::NAN
        }
    }
}

/// What a field wants, and how it is written.
fn wanted(field: &Field) -> (String, Option<String>) {
    let name = field.name;
    let write = |example: &str| Some(format!("write `{name} = {example}`"));
    match field.want {
        Want::Quantity(dimension) => (wanted_quantity(dimension), write(&format!("\"{}\"", dimension.example()))),
        Want::Ratio { low, high } => (range_words(low, high), write(&low.max(1.0).min(high).to_string())),
        Want::Choice(words) => {
            (format!("one of the words {}", words.join(", ")), write(&format!("\"{}\"", words.last().unwrap_or(&""))))
        }
        Want::Flag => ("true or false, without quotes".to_owned(), write("true")),
        Want::Controls => (CONDITION.to_owned(), write("{ key = \"on\" }")),
        Want::Part(kinds) => (
            format!("the name of a part of kind {}", kinds.join(" or ")),
            write(&format!("\"{}\"", kinds.first().unwrap_or(&""))),
        ),
    }
}

/// A reference to a part of certain kinds; the value is its index.
fn part(entry: &Entry<'_>, kinds: &[&str], block: &Block<'_>, names: &Names, findings: &mut Findings<'_>) -> f64 {
    let allowed = format!("the name of a part of kind {}", kinds.join(" or "));
    let Some(named) = block.as_text(entry, &allowed, findings) else {
        return f64::NAN;
    };
    let fits = |part: &&PartName| part.kind.is_none_or(|kind| kinds.contains(&kind.name));
    match names.parts.iter().position(|part| part.name == named.name) {
        Some(index) if fits(&&names.parts[index]) => index as f64,
        Some(index) => {
            let kind = names.parts[index].kind.map_or("", |kind| kind.name);
            let candidates = names.parts.iter().filter(fits).map(|part| part.name.as_str());
            findings.problem(
                &named.span,
                Said {
                    message: format!("`{}` of {}: part `{}` is of kind {kind}", entry.key.name, block.of, named.name),
                    found: named.name,
                    allowed,
                    hint: Some(listed(candidates).map_or_else(
                        || "add such a part to the sheet".to_owned(),
                        |names| format!("this sheet has {names}"),
                    )),
                },
            );
            f64::NAN
        }
        None => {
            let known = names.parts.iter().filter(fits).map(|part| part.name.as_str());
            findings.unknown("part", &named, &allowed, known);
            f64::NAN
        }
    }
}

const CONDITION: &str = "a table of controls and positions, as in { key = \"on\" } or { key = [\"on\", \"start\"] }";

/// A condition on the controls.
fn condition(
    field: &Field,
    block: &mut Block<'_>,
    names: &mut Names,
    findings: &mut Findings<'_>,
) -> Option<Condition> {
    let Some(entry) = block.take(field.name) else {
        if let Fallback::Required = field.fallback {
            block.missing(field.name, CONDITION, &format!("write `{} = {{ key = \"on\" }}`", field.name), findings);
        }
        return None;
    };
    let DeValue::Table(_) = entry.value else {
        block.wrong_type(&entry, CONDITION, None, findings);
        return None;
    };
    let mut table = block.as_table(&entry, CONDITION, findings)?;
    let rest = table.rest();
    if rest.is_empty() {
        findings.problem(
            &entry.span,
            Said {
                message: format!("`{}` of {} names no control", field.name, block.of),
                found: findings.written(&entry.span),
                allowed: CONDITION.to_owned(),
                hint: Some("name a control, or delete the line".to_owned()),
            },
        );
    }
    let mut condition = Condition::new();
    for entry in rest {
        let positions = table.as_texts(&entry, findings);
        if matches!(entry.value, DeValue::Array(list) if list.is_empty()) {
            let hint = Some("name at least one position".to_owned());
            table.wrong_type(&entry, CONDITION, hint, findings);
        }
        let Some(control) = names.control(&entry.key, findings) else {
            continue;
        };
        names.control_used[control] = true;
        let indexes = positions.iter().filter_map(|word| names.position(control, word, findings));
        condition.push((control, indexes.collect()));
    }
    Some(condition)
}

/// Fields that may stand for one another: one of them, or all of a set of others, must be given.
fn alternatives(kind: &Kind, values: &[f64], block: &Block<'_>, findings: &mut Findings<'_>) {
    let given = |name: &str| {
        let index = kind.fields.iter().position(|field| field.name == name);
        index.is_some_and(|index| !values[index].is_nan()) || block.was_given(name)
    };
    for field in kind.fields {
        let Fallback::Or(sets) = field.fallback else {
            continue;
        };
        if given(field.name) || sets.iter().any(|set| set.iter().all(|other| given(other))) {
            continue;
        }
        let words = |set: &&[&str]| set.iter().map(|other| format!("`{other}`")).collect::<Vec<_>>().join(" and ");
        let others = sets.iter().map(words).collect::<Vec<_>>().join(", or ");
        // A set that was begun wants its rest; else the field itself is the shortest way.
        let begun = sets.iter().find(|set| set.iter().any(|other| given(other)));
        let key = begun.and_then(|set| set.iter().find(|other| !given(other))).unwrap_or(&field.name);
        let of_key = kind.fields.iter().find(|known| known.name == *key);
        let hint = of_key.and_then(|field| wanted(field).1);
        let allowed = format!("`{}`, or else {others}", field.name);
        block.missing(key, &allowed, &hint.unwrap_or_default(), findings);
        // The others ask for this one in turn: one lack, one finding.
        return;
    }
}
