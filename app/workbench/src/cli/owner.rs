//! `owner`: questions for an owner who is far away, as a page; the answers come back as one line.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;

use super::Ending;
use super::failure::Failure;
use super::findings;
use super::print::Page;
use crate::report;
use crate::shop::owner::OwnersSheet;
use crate::shop::sheets;
use crate::shop::tables::fingerprint;

/// Write the questions for an owner who is far away, as one page
///
/// What the machine does, what happened before, and what can be heard and seen
/// at the controls: a page in one file that a telephone shows without a network
/// and a printer prints. The answers come back as one line of text; `job
/// answers JOB 'LINE'` takes it, and tells a mistyped code.
#[derive(Debug, Args)]
#[command(after_long_help = EXAMPLES)]
pub struct Owner {
    /// The machine's sheet; `-` reads standard input
    sheet: PathBuf,
    /// Write to FILE instead of standard output
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    /// Print the questions and the codes of their answers as JSON
    #[arg(long)]
    json: bool,
}

const EXAMPLES: &str = "\
Examples:
  probewright owner curlew.toml --output curlew-questions.html
  probewright job new curlew.toml --name saturday
  probewright job answers saturday 'pw1 curlew 7f3a 1bkp 2ahx'";

impl Owner {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        let sheet = sheets::open(&self.sheet).map_err(|error| Failure::opening(&self.sheet, error))?;
        let mark = fingerprint(&sheet.text);
        let machine = findings::usable(sheet, page)?;
        let asked = OwnersSheet::new(&machine, &mark);
        if self.json {
            page.json(&asked)?;
            return Ok(Ending::Done);
        }
        let text = report::owner::page(&asked).into_string();
        match &self.output {
            Some(file) => std::fs::write(file, text).map_err(|error| Failure::file(file, error))?,
            None => page.out().write_all(text.as_bytes())?,
        }
        Ok(Ending::Done)
    }
}
