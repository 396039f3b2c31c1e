//! A job's report on paper: the report as one JSON file, drawings and pictures as files, set by a template.
//! Promise: nothing that was typed is read as markup; the same report gives the same bytes.

use paper::{File, PaperError};
use serde_json::json;

use super::job::JobReport;

const TEMPLATE: &str = include_str!("job.typ");

/// The PDF.
///
/// # Errors
/// When it cannot be set.
pub fn pdf(report: &JobReport) -> Result<Vec<u8>, PaperError> {
    let mut report = report.clone();
    let (taken, broken) =
        std::mem::take(&mut report.photos.taken).into_iter().partition(|photo| paper::can_show(&photo.bytes));
    report.photos.taken = taken;
    let broken: Vec<_> = broken;
    report.photos.left_out.extend(broken.into_iter().map(|photo| format!("{}: cannot be shown on paper", photo.text)));
    let strips = report.readings.iter().filter_map(|line| line.strip.as_ref());
    let drawings = strips.chain(report.drawn.as_ref().map(|drawn| &drawn.paper));
    let drawings = drawings.map(|figure| File { name: figure.name.clone(), bytes: figure.svg.clone().into_bytes() });
    let pictures =
        report.photos.taken.iter().map(|photo| File { name: photo.name.clone(), bytes: photo.bytes.clone() });
    let files = drawings.chain(pictures).collect();
    let title = format!("{}: report on job {}", report.machine, report.job);
    paper::pdf(TEMPLATE, &json!({ "title": title, "report": report }).to_string(), files)
}
