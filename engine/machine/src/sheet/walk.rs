//! Typed access to the tables of a sheet: each question names its key, so that what nobody asked for is unknown.
//! Promise: a value of the wrong type is a finding with what was found and what is allowed, never a silent nothing.

use std::ops::Range;

use quantity::Dimension;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::Named;
use super::findings::{Findings, Said, shortened};
use super::near::{listed, nearest};
use super::value::{Limit, Wrong, quantity, range_words, ratio, wanted_quantity};

/// A table of the sheet.
pub(super) struct Block<'d> {
    /// For messages: ``part `motor-cable` ``.
    pub of: String,
    /// Where its name stands, for what is missing.
    pub span: Range<usize>,
    entries: Vec<Entry<'d>>,
    asked: Vec<String>,
    given: Vec<String>,
}

/// A key with its value.
#[derive(Clone)]
pub(super) struct Entry<'d> {
    pub key: Named,
    pub value: &'d DeValue<'d>,
    pub span: Range<usize>,
}

impl<'d> Block<'d> {
    pub fn new(of: String, span: Range<usize>, table: &'d DeTable<'d>) -> Self {
        Self { of, span, entries: entries(table), asked: Vec::new(), given: Vec::new() }
    }

    /// The entry of that key, if the sheet has it.
    pub fn take(&mut self, key: &str) -> Option<Entry<'d>> {
        self.asked.push(key.to_owned());
        let index = self.entries.iter().position(|entry| entry.key.name == key)?;
        self.given.push(key.to_owned());
        Some(self.entries.remove(index))
    }

    /// Whether an entry of that key is there to be asked for.
    pub fn has(&self, key: &str) -> bool {
        self.entries.iter().any(|entry| entry.key.name == key)
    }

    /// Whether the sheet had an entry of that key, usable or not.
    pub fn was_given(&self, key: &str) -> bool {
        self.given.iter().any(|given| given == key)
    }

    /// Every entry that was not asked for, in the order of the text.
    pub fn rest(&mut self) -> Vec<Entry<'d>> {
        std::mem::take(&mut self.entries)
    }

    /// Every entry that was not asked for is unknown.
    pub fn finish(self, findings: &mut Findings<'_>) {
        let asked = || self.asked.iter().map(String::as_str);
        for entry in &self.entries {
            let key = &entry.key;
            let hint = nearest(&key.name, asked()).map(|near| format!("did you mean `{near}`?"));
            findings.absence(
                &key.span,
                Said {
                    message: format!("{} has no `{}`", self.of, shortened(&key.name)),
                    found: shortened(&key.name),
                    allowed: listed(asked()).unwrap_or_default(),
                    hint: hint.or_else(|| Some("correct the word, or delete the line".to_owned())),
                },
            );
        }
    }

    /// A key that has to be there is not.
    pub fn missing(&self, key: &str, allowed: &str, hint: &str, findings: &mut Findings<'_>) {
        findings.absence(
            &self.span,
            Said {
                message: format!("`{key}` of {} is missing", self.of),
                found: String::new(),
                allowed: allowed.to_owned(),
                hint: Some(hint.to_owned()),
            },
        );
    }

    /// Text that is not empty.
    pub fn text(&mut self, key: &str, findings: &mut Findings<'_>) -> Option<Named> {
        let entry = self.take(key)?;
        self.as_text(&entry, "text in quotes", findings)
    }

    /// Text, or nothing said.
    pub fn text_or_empty(&mut self, key: &str, findings: &mut Findings<'_>) -> String {
        self.text(key, findings).map_or_else(String::new, |named| named.name)
    }

    /// `true` or `false`; `false` when nothing is said.
    pub fn flag(&mut self, key: &str, findings: &mut Findings<'_>) -> bool {
        let Some(entry) = self.take(key) else {
            return false;
        };
        match entry.value {
            DeValue::Boolean(flag) => *flag,
            _ => {
                self.wrong_type(
                    &entry,
                    "true or false, without quotes",
                    Some(format!("write `{key} = true`")),
                    findings,
                );
                false
            }
        }
    }

    /// A list of texts; one text alone is a list of one.
    pub fn texts(&mut self, key: &str, findings: &mut Findings<'_>) -> Option<Vec<Named>> {
        let entry = self.take(key)?;
        Some(self.as_texts(&entry, findings))
    }

    pub fn as_texts(&self, entry: &Entry<'d>, findings: &mut Findings<'_>) -> Vec<Named> {
        const ALLOWED: &str = "a list of texts in quotes, as in [\"one\", \"two\"]";
        match entry.value {
            DeValue::String(_) => self.as_text(entry, ALLOWED, findings).into_iter().collect(),
            DeValue::Array(list) => {
                list.iter().filter_map(|item| self.as_text(&item_of(entry, item), ALLOWED, findings)).collect()
            }
            _ => {
                self.wrong_type(entry, ALLOWED, None, findings);
                Vec::new()
            }
        }
    }

    pub fn as_text(&self, entry: &Entry<'d>, allowed: &str, findings: &mut Findings<'_>) -> Option<Named> {
        match entry.value {
            DeValue::String(text) if text.trim().is_empty() => {
                findings.problem(
                    &entry.span,
                    Said {
                        message: format!("`{}` of {} is empty", entry.key.name, self.of),
                        found: findings.written(&entry.span),
                        allowed: allowed.to_owned(),
                        hint: Some("write something, or delete the line".to_owned()),
                    },
                );
                None
            }
            DeValue::String(text) => Some(Named { name: text.to_string(), span: entry.span.clone() }),
            DeValue::Integer(_) | DeValue::Float(_) if allowed.contains("text") => {
                let hint = format!("write \"{}\"", findings.written(&entry.span));
                self.wrong_type(entry, allowed, Some(hint), findings);
                None
            }
            _ => {
                self.wrong_type(entry, allowed, None, findings);
                None
            }
        }
    }

    /// A table, for instance `{ key = "on" }`.
    pub fn table(&mut self, key: &str, example: &str, findings: &mut Findings<'_>) -> Option<Block<'d>> {
        let entry = self.take(key)?;
        self.as_table(&entry, example, findings)
    }

    pub fn as_table(&self, entry: &Entry<'d>, example: &str, findings: &mut Findings<'_>) -> Option<Block<'d>> {
        if let DeValue::Table(table) = entry.value {
            let of = format!("`{}` of {}", entry.key.name, self.of);
            return Some(Block::new(of, entry.key.span.clone(), table));
        }
        self.wrong_type(entry, &format!("a table, as in {example}"), None, findings);
        None
    }

    /// The tables `[SECTION.NAME]`, each name checked, in the order of the text.
    pub fn sections(&mut self, section: &str, findings: &mut Findings<'_>) -> Vec<(Named, Block<'d>)> {
        let Some(entry) = self.take(section) else {
            return Vec::new();
        };
        let allowed = format!("tables [{section}.NAME]");
        let DeValue::Table(table) = entry.value else {
            self.wrong_type(&entry, &allowed, None, findings);
            return Vec::new();
        };
        let mut blocks = Vec::new();
        for entry in entries(table) {
            check_name(section, &entry.key, findings);
            let of = format!("{section} `{}`", shortened(&entry.key.name));
            match entry.value {
                DeValue::Table(table) => {
                    let block = Block::new(of, entry.key.span.clone(), table);
                    blocks.push((entry.key, block));
                }
                other => {
                    let hint = match other {
                        DeValue::Array(_) => format!("write [{section}.{}]", entry.key.name),
                        _ => format!("give it a name: [{section}.NAME], and this line under it"),
                    };
                    findings.problem(
                        &entry.key.span,
                        Said {
                            message: format!("{of} is {}", type_of(other)),
                            found: findings.written(&entry.span),
                            allowed: allowed.clone(),
                            hint: Some(hint),
                        },
                    );
                }
            }
        }
        blocks
    }

    /// A quantity with its unit; NaN when the sheet gives none that can be used.
    pub fn quantity(
        &mut self,
        key: &str,
        dimension: Dimension,
        limit: Limit,
        findings: &mut Findings<'_>,
    ) -> Option<f64> {
        let entry = self.take(key)?;
        let written = scalar(&entry, findings);
        let read = match written {
            Some(text) => quantity(&text, dimension, limit),
            None => {
                let allowed = wanted_quantity(dimension);
                self.wrong_type(&entry, &allowed, None, findings);
                return None;
            }
        };
        read.map_err(|wrong| self.wrong(&entry, wrong, findings)).ok()
    }

    /// A bare number within limits.
    pub fn number(&mut self, key: &str, low: f64, high: f64, findings: &mut Findings<'_>) -> Option<f64> {
        let entry = self.take(key)?;
        self.as_number(&entry, low, high, findings)
    }

    pub fn as_number(&self, entry: &Entry<'d>, low: f64, high: f64, findings: &mut Findings<'_>) -> Option<f64> {
        let text = match entry.value {
            DeValue::Integer(_) | DeValue::Float(_) => scalar(entry, findings).unwrap_or_default(),
            DeValue::String(text) => text.to_string(),
            _ => {
                self.wrong_type(entry, &range_words(low, high), None, findings);
                return None;
            }
        };
        ratio(&text, low, high).map_err(|wrong| self.wrong(entry, wrong, findings)).ok()
    }

    /// A value that cannot be used, with the reader's reason.
    pub fn wrong(&self, entry: &Entry<'d>, wrong: Wrong, findings: &mut Findings<'_>) {
        findings.problem(
            &entry.span,
            Said {
                message: format!("`{}` of {}: {}", entry.key.name, self.of, wrong.message),
                found: wrong.found,
                allowed: wrong.allowed,
                hint: wrong.hint,
            },
        );
    }

    /// A value of a type that is not allowed here.
    pub fn wrong_type(&self, entry: &Entry<'d>, allowed: &str, hint: Option<String>, findings: &mut Findings<'_>) {
        let key = shortened(&entry.key.name);
        findings.problem(
            &entry.span,
            Said {
                message: format!("`{key}` of {} is {}", self.of, type_of(entry.value)),
                found: findings.written(&entry.span),
                hint: hint.or_else(|| Some(format!("write {allowed}"))),
                allowed: allowed.to_owned(),
            },
        );
    }
}

/// The entries of a table in the order of the text.
pub(super) fn entries<'d>(table: &'d DeTable<'d>) -> Vec<Entry<'d>> {
    let mut entries: Vec<Entry<'d>> = table
        .iter()
        .map(|(key, value)| Entry {
            key: Named { name: key.get_ref().to_string(), span: key.span() },
            value: value.get_ref(),
            span: value.span(),
        })
        .collect();
    entries.sort_by_key(|entry| entry.key.span.start);
    entries
}

/// An item of a list, under the list's key.
pub(super) fn item_of<'d>(entry: &Entry<'d>, item: &'d Spanned<DeValue<'d>>) -> Entry<'d> {
    Entry { key: entry.key.clone(), value: item.get_ref(), span: item.span() }
}

/// Text or a number as text; nothing for the other types.
pub(super) fn scalar(entry: &Entry<'_>, findings: &Findings<'_>) -> Option<String> {
    match entry.value {
        DeValue::String(text) => Some(text.to_string()),
        DeValue::Integer(_) | DeValue::Float(_) => Some(findings.written(&entry.span)),
        _ => None,
    }
}

/// A value's type in plain words.
pub(super) fn type_of(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "text",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

/// Whether this can be a name: letters, digits, `-`, `_`.
pub fn is_name(text: &str) -> bool {
    let fits = |letter: char| letter.is_alphanumeric() || matches!(letter, '-' | '_');
    !text.is_empty() && text.chars().all(fits)
}

/// Finds fault with a name that has other characters than a name may have.
pub(super) fn check_name(what: &str, named: &Named, findings: &mut Findings<'_>) {
    if is_name(&named.name) {
        return;
    }
    let fits = |letter: char| letter.is_alphanumeric() || matches!(letter, '-' | '_');
    let mended: String = named.name.trim().chars().map(|letter| if fits(letter) { letter } else { '-' }).collect();
    findings.problem(
        &named.span,
        Said {
            message: format!("`{}` cannot be the name of a {what}", shortened(&named.name)),
            found: shortened(&named.name),
            allowed: "letters, digits, - and _".to_owned(),
            hint: Some(format!("write `{}`", shortened(&mended))).filter(|_| is_name(&mended)),
        },
    );
}
