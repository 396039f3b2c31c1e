//! `guide`: a machine's own fault-finding guide, as a document.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::Ending;
use super::document::{keep, without_pdf};
use super::failure::Failure;
#[cfg(feature = "pdf")]
use super::failure::Kind;
use super::findings::usable;
use super::print::Page;
use crate::report::{guide, guide_text};
use crate::shop::guide::{Asked, guide as worked_out};
use crate::shop::sheets;

/// Write a machine's own fault-finding guide, to be followed without a program
///
/// How the circuit works in each state, what a healthy machine shows at each
/// point, and for each complaint a course of numbered steps: where the leads
/// go, what each outcome means, which step comes next, the remedy and its
/// repair check. All of it is computed from the sheet; the courses are those
/// of `advise`, asked ahead of time.
#[derive(Debug, Args)]
#[command(after_long_help = EXAMPLES)]
pub struct Guide {
    /// The sheet; `-` reads standard input
    sheet: PathBuf,
    /// As what it is written
    #[arg(long, value_name = "FORMAT", default_value = "html")]
    format: Format,
    /// Where to; `-` is standard output
    #[arg(long, short, value_name = "FILE", default_value = "-")]
    output: PathBuf,
    /// Probes one after the other, at most, in a course; 8 when left out
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u8).range(1..=12))]
    depth: Option<u8>,
    /// Only the course of this complaint (repeatable)
    #[arg(long, value_name = "NAME")]
    complaint: Vec<String>,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Format {
    /// One file for a browser or a printer
    Html,
    /// A tagged PDF
    Pdf,
    /// Plain text, 80 columns
    Text,
}

const EXAMPLES: &str = "\
Examples:
  probewright guide curlew.toml --output curlew.html
  probewright guide curlew.toml --format pdf --output curlew.pdf
  probewright guide curlew.toml --format text --complaint one-click
  probewright guide curlew.toml --depth 4 --complaint cranks-slowly \\
    --complaint goes-flat > curlew.html";

impl Guide {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        if self.format == Format::Pdf && !cfg!(feature = "pdf") {
            return Err(without_pdf());
        }
        let sheet = sheets::open(&self.sheet).map_err(|error| Failure::opening(&self.sheet, error))?;
        let text = sheet.text.clone();
        let machine = usable(sheet, page)?;
        let asked = Asked { depth: self.depth.map(usize::from), complaints: self.complaint.clone() };
        let told = worked_out(machine, &text, &asked)?;
        if self.json {
            page.json(&told)?;
            return Ok(Ending::Done);
        }
        let document = match self.format {
            Format::Html => guide::page(&told).into_string().into_bytes(),
            Format::Pdf => pdf(&told)?,
            Format::Text => guide_text::text(&told).into_bytes(),
        };
        keep(&self.output, &document, page)?;
        Ok(Ending::Done)
    }
}

#[cfg(feature = "pdf")]
fn pdf(told: &crate::shop::guide::Guide) -> Result<Vec<u8>, Failure> {
    crate::report::guide_pdf::pdf(told).map_err(|error| Failure::new(Kind::Internal, error))
}

#[cfg(not(feature = "pdf"))]
fn pdf(_: &crate::shop::guide::Guide) -> Result<Vec<u8>, Failure> {
    Err(without_pdf())
}
