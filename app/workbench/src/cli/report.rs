//! `report`: a job told to its owner and to the workshop's file.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use journal::Place;

use super::Ending;
use super::document::{keep, without_pdf};
use super::failure::Failure;
#[cfg(feature = "pdf")]
use super::failure::Kind;
use super::print::Page;
use crate::report::job::{JobReport, gather};
use crate::report::{job_html, job_text};
use crate::shop::journals;
use crate::shop::learned::{Odds, VARIABLE};
use crate::shop::settings::{self, Settings};

/// Write the report of a job: what was said, measured, found, done and proven
///
/// Every reading stands beside what a healthy machine shows, with the points
/// of both leads; the cause on the schematic; the repair check, or what is
/// still wanted for a proof. A page holds all it needs in one file; text is a
/// short message for the owner. The machine is that of the sheet with which
/// the job was begun.
#[derive(Debug, Args)]
#[command(after_long_help = EXAMPLES)]
pub struct Report {
    /// The job's name, as `probewright job list` shows it
    job: String,
    /// A page, a PDF, or a short message
    #[arg(long, value_name = "FORMAT", default_value = "html")]
    format: Format,
    /// Where to; `-` is standard output
    #[arg(long, short, value_name = "FILE", default_value = "-")]
    output: PathBuf,
    /// The journal, a file or postgres://USER@HOST/DATABASE; your own when left out
    #[arg(long, value_name = "PLACE", env = journals::VARIABLE, hide_env_values = true)]
    journal: Option<Place>,
    /// Heading and prices; your own when left out
    #[arg(long, value_name = "FILE", env = settings::VARIABLE, hide_env_values = true)]
    settings: Option<PathBuf>,
    /// Whose odds the job is told by: learned from the journal's verdicts before it, or the sheet's
    #[arg(long, value_name = "WHOSE", default_value = "learned", env = VARIABLE, hide_env_values = true, hide_possible_values = true)]
    odds: Odds,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Format {
    /// A page in one file
    Html,
    /// A tagged PDF
    Pdf,
    /// A short message
    Text,
}

const EXAMPLES: &str = "\
Examples:
  probewright report curlew-2026-01-31-1 --output report.html
  probewright report curlew-2026-01-31-1 --format pdf --output report.pdf
  probewright report curlew-2026-01-31-1 --format text";

impl Report {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        if self.format == Format::Pdf && !cfg!(feature = "pdf") {
            return Err(without_pdf());
        }
        let journal = journals::open(self.journal.as_ref())?;
        let (settings, _) = Settings::open(self.settings.as_deref())?;
        let report = gather(&journal, &settings, &self.job, self.odds)?.report();
        let bytes = match self.format {
            Format::Html => job_html::html(&report).into_bytes(),
            Format::Text => job_text::text(&report).into_bytes(),
            Format::Pdf => pdf(&report)?,
        };
        keep(&self.output, &bytes, page)?;
        Ok(Ending::Done)
    }
}

#[cfg(feature = "pdf")]
fn pdf(report: &JobReport) -> Result<Vec<u8>, Failure> {
    crate::report::job_pdf::pdf(report).map_err(|error| Failure::new(Kind::Internal, error))
}

#[cfg(not(feature = "pdf"))]
fn pdf(_: &JobReport) -> Result<Vec<u8>, Failure> {
    Err(without_pdf())
}
