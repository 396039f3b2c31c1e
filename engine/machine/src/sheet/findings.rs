//! Everything that is wrong with a sheet, collected while it is read.
//! Promise: a line that is no TOML is reported once, and what is only wrong because of it is not reported at all.

use std::collections::BTreeSet;
use std::ops::Range;

use super::Named;
use super::near::{listed, nearest};
use crate::problem::{Problem, Weight, locate};

/// What to say of a finding.
#[derive(Default)]
pub(super) struct Said {
    pub message: String,
    pub found: String,
    pub allowed: String,
    pub hint: Option<String>,
}

/// The findings so far.
pub(super) struct Findings<'t> {
    text: &'t str,
    list: Vec<Problem>,
    /// Where each line begins, so that a text of nothing but mistakes is read in time that grows with its length.
    line_starts: Vec<usize>,
    /// Lines that are no TOML; the rest of such a line is not judged.
    torn_lines: BTreeSet<usize>,
    /// Whether entries may have been lost with those lines, so that nothing can be said to be missing.
    torn: bool,
}

impl<'t> Findings<'t> {
    pub fn new(text: &'t str) -> Self {
        let behind_newlines = text.bytes().enumerate().filter(|(_, byte)| *byte == b'\n').map(|(at, _)| at + 1);
        let line_starts = std::iter::once(0).chain(behind_newlines).collect();
        Self { text, list: Vec::new(), line_starts, torn_lines: BTreeSet::new(), torn: false }
    }

    /// The line, from 1, of a byte of the text.
    fn line(&self, at: usize) -> usize {
        self.line_starts.partition_point(|start| *start <= at)
    }

    /// The text at a place, without the quotes round it.
    pub fn written(&self, span: &Range<usize>) -> String {
        let text = self.text.get(span.clone()).unwrap_or_default();
        shortened(text)
    }

    /// Text that is no TOML; `torn` when entries may be lost with it.
    pub fn syntax(&mut self, span: Range<usize>, torn: bool, said: Said) {
        let line = self.line(span.start);
        if self.torn_lines.insert(line) {
            self.add(Weight::Problem, span, said);
        }
        self.torn |= torn;
    }

    /// Something wrong in itself.
    pub fn problem(&mut self, span: &Range<usize>, said: Said) {
        let line = self.line(span.start);
        if !self.torn_lines.contains(&line) {
            self.add(Weight::Problem, span.clone(), said);
        }
    }

    /// Something wrong only if nothing was lost: a missing entry, a reference to nowhere.
    pub fn absence(&mut self, span: &Range<usize>, said: Said) {
        if !self.torn {
            self.problem(span, said);
        }
    }

    /// A name that means nothing here; `allowed` says what would, and the known names are listed behind it.
    pub fn unknown<'a>(
        &mut self,
        what: &str,
        named: &Named,
        allowed: &str,
        known: impl Iterator<Item = &'a str> + Clone,
    ) {
        let hint = nearest(&named.name, known.clone());
        let allowed = match listed(known) {
            None => format!("{allowed} (this sheet has none)"),
            Some(names) => format!("{allowed}: {names}"),
        };
        self.absence(
            &named.span,
            Said {
                message: format!("no {what} is called `{}`", shortened(&named.name)),
                found: shortened(&named.name),
                allowed,
                hint: Some(hint.map_or_else(
                    || "correct the name, or add what it names to the sheet".to_owned(),
                    |name| format!("did you mean `{name}`?"),
                )),
            },
        );
    }

    /// Worth a look, never in the way.
    pub fn note(&mut self, span: &Range<usize>, said: Said) {
        if self.torn_lines.is_empty() {
            self.add(Weight::Note, span.clone(), said);
        }
    }

    fn add(&mut self, weight: Weight, span: Range<usize>, said: Said) {
        let line = self.line(span.start);
        let start = self.line_starts.get(line - 1).copied().unwrap_or_default();
        let (_, column) = locate(self.text.get(start..).unwrap_or_default(), span.start - start);
        self.list.push(Problem {
            weight,
            span,
            line,
            column,
            message: said.message,
            found: said.found,
            allowed: said.allowed,
            hint: said.hint,
        });
    }

    /// All findings in the order of the text; of two at one place the problem comes first.
    pub fn finish(self) -> Vec<Problem> {
        let mut list = self.list;
        list.sort_by_key(|problem| (problem.span.start, std::cmp::Reverse(problem.weight)));
        list
    }
}

/// Text for a message: one line, at most a few dozen characters, nothing that upsets a terminal.
pub(super) fn shortened(text: &str) -> String {
    const LONGEST: usize = 60;
    let mut short: String =
        text.trim().chars().take(LONGEST).map(|letter| if letter.is_control() { ' ' } else { letter }).collect();
    if text.trim().chars().nth(LONGEST).is_some() {
        short.push('…');
    }
    short
}
