//! `[guess]`, values that nobody has read off the machine, each between two others, and `[question.NAME]`, what a person
//! at the machine can answer to know them. A sheet with questions is a pattern: other sheets are made from it.

use toml::de::DeValue;

use super::fault::{SETTINGS, field_of, setting};
use super::findings::{Findings, Said, shortened};
use super::names::Names;
use super::value::value;
use super::walk::{Block, Entry, item_of, scalar};
use super::{Answer, Guess, Part, Question};
use crate::kind::spec::{Kind, Want};

const BETWEEN: &str = "two values, the lesser first, as in [\"1.5 Ah\", \"4 Ah\"]";

/// `[guess]` with `"part.field" = ["low", "high"]`.
pub(super) fn guesses(top: &mut Block<'_>, names: &Names, parts: &[Part], findings: &mut Findings<'_>) -> Vec<Guess> {
    let Some(mut table) = top.table("guess", "[guess] with \"part.field\" = [\"low\", \"high\"] under it", findings)
    else {
        return Vec::new();
    };
    table.of = "[guess]".to_owned();
    let mut guesses = Vec::new();
    for entry in table.rest() {
        let Some(guess) = guess(&entry, &table, names, findings) else { continue };
        let written = parts.iter().find(|part| part.name.name == names.parts[guess.part].name);
        let written = written.map_or(f64::NAN, |part| part.values[guess.field]);
        if written < guess.low || written > guess.high {
            findings.problem(
                &entry.span,
                Said {
                    message: format!("`{}` as written is not between the two of its guess", entry.key.name),
                    found: findings.written(&entry.span),
                    allowed: "two values with the part's own between them".to_owned(),
                    hint: Some("widen the guess, or correct the part's value".to_owned()),
                },
            );
        }
        guesses.push(guess);
    }
    guesses
}

fn guess(entry: &Entry<'_>, table: &Block<'_>, names: &Names, findings: &mut Findings<'_>) -> Option<Guess> {
    let (part, field) = field_of(&entry.key, names, findings)?;
    let kind = names.parts[part].kind?;
    if !matches!(kind.fields[field].want, Want::Quantity(_) | Want::Ratio { .. }) {
        findings.problem(
            &entry.key.span,
            Said {
                message: format!("`{}` is no number that could lie between two others", shortened(&entry.key.name)),
                found: shortened(&entry.key.name),
                allowed: "a field that holds a quantity or a number".to_owned(),
                hint: Some("ask for it by a question with `answers`".to_owned()),
            },
        );
        return None;
    }
    let DeValue::Array(list) = entry.value else {
        table.wrong_type(entry, BETWEEN, None, findings);
        return None;
    };
    let ends: Vec<f64> =
        list.iter().filter_map(|item| end(&item_of(entry, item), table, kind, field, findings)).collect();
    match ends.as_slice() {
        [low, high] if low < high && list.len() == 2 => Some(Guess { part, field, low: *low, high: *high }),
        // An end that cannot be read has been told.
        _ if ends.len() < list.len() => None,
        _ => {
            table.wrong_type(entry, BETWEEN, None, findings);
            None
        }
    }
}

fn end(entry: &Entry<'_>, table: &Block<'_>, kind: &Kind, field: usize, findings: &mut Findings<'_>) -> Option<f64> {
    let Some(text) = scalar(entry, findings) else {
        table.wrong_type(entry, BETWEEN, None, findings);
        return None;
    };
    value(kind, &kind.fields[field], &text).map_err(|wrong| table.wrong(entry, wrong, findings)).ok()
}

/// All `[question.NAME]`.
pub(super) fn questions(top: &mut Block<'_>, names: &Names, findings: &mut Findings<'_>) -> Vec<Question> {
    let mut questions = Vec::new();
    for (name, mut block) in top.sections("question", findings) {
        let asks = block.text("asks", findings).map(|asks| asks.name);
        if !block.was_given("asks") {
            block.missing("asks", "text in quotes", "write the question as it is put to a person", findings);
        }
        let hint = block.text_or_empty("hint", findings);
        let sets = block.texts("sets", findings).unwrap_or_default();
        let sets: Vec<(usize, usize)> = sets.iter().filter_map(|field| field_of(field, names, findings)).collect();
        let answers = answers(&mut block, names, findings);
        if block.was_given("sets") == block.was_given("answers") {
            block.missing(
                "sets",
                "either `sets` or `answers`",
                "write `sets = \"part.field\"` for a value, or `answers` with a table of settings for each word",
                findings,
            );
        }
        questions.push(Question { name, asks: asks.unwrap_or_default(), hint, sets, answers });
        block.finish(findings);
    }
    questions
}

/// `answers = { word = { "part.field" = "value", "part.other" = ["low", "high"] } }`.
fn answers(block: &mut Block<'_>, names: &Names, findings: &mut Findings<'_>) -> Vec<Answer> {
    let Some(mut table) = block.table("answers", "{ word = { \"part.field\" = \"value\" } }", findings) else {
        return Vec::new();
    };
    let mut answers = Vec::new();
    for entry in table.rest() {
        let Some(mut settings) = table.as_table(&entry, SETTINGS, findings) else { continue };
        let mut answer = Answer { word: entry.key.name, sets: Vec::new(), guesses: Vec::new() };
        for entry in settings.rest() {
            if let DeValue::Array(_) = entry.value {
                answer.guesses.extend(guess(&entry, &settings, names, findings));
            } else {
                answer.sets.extend(setting(&entry, &settings, names, findings));
            }
        }
        answers.push(answer);
    }
    answers
}
