//! Findings about a sheet, shown with the lines that they are about.

use std::path::Path;

use annotate_snippets::renderer::DecorStyle;
use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};
use machine::Machine;
use machine::problem::{Problem, Weight};

use super::failure::{Failure, Kind};
use super::print::{Page, WIDTH};
use crate::shop::sheets::{self, OpenSheet};

/// A finding with its line, what is allowed and a hint.
pub fn drawn(sheet: &OpenSheet, finding: &Problem) -> String {
    let level = match finding.weight {
        Weight::Problem => Level::ERROR.with_name("problem"),
        Weight::Note => Level::NOTE,
    };
    let end = finding.span.end.min(sheet.text.len());
    let span = finding.span.start.min(end)..end;
    let mut group = level.primary_title(finding.message.as_str()).element(
        Snippet::source(sheet.text.as_str()).path(sheet.path.as_str()).annotation(AnnotationKind::Primary.span(span)),
    );
    if !finding.allowed.is_empty() {
        group = group.element(Level::INFO.with_name("allowed").message(finding.allowed.as_str()));
    }
    if let Some(hint) = &finding.hint {
        group = group.element(Level::HELP.with_name("hint").message(hint.as_str()));
    }
    let renderer = Renderer::styled().term_width(WIDTH).decor_style(DecorStyle::Ascii);
    let mut text = renderer.render(&[group]);
    text.push('\n');
    text
}

/// "2 problems and 1 note".
pub fn counted(problems: usize, notes: usize) -> String {
    let many = |count: usize, thing: &str| format!("{count} {thing}{}", if count == 1 { "" } else { "s" });
    match (problems, notes) {
        (0, 0) => "no problems".to_owned(),
        (problems, 0) => many(problems, "problem"),
        (0, notes) => format!("no problems, {}", many(notes, "note")),
        (problems, notes) => format!("{} and {}", many(problems, "problem"), many(notes, "note")),
    }
}

/// The machine of a sheet; the problems of a bad one are shown first.
pub fn machine_of(path: &Path, page: &mut Page) -> Result<Machine, Failure> {
    usable(sheets::open(path).map_err(|error| Failure::opening(path, error))?, page)
}

/// The machine of an open sheet; the problems of a bad one are shown first.
pub fn usable(sheet: OpenSheet, page: &mut Page) -> Result<Machine, Failure> {
    sheet.into_machine().map_err(|sheet| {
        for finding in sheet.findings.iter().filter(|finding| finding.weight == Weight::Problem) {
            page.remark(&drawn(&sheet, finding));
        }
        let problems = counted(sheet.problems(), 0);
        Failure::new(Kind::BadData, format!("`{}` has {problems} and cannot be used", sheet.path))
    })
}
