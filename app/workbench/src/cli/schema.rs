//! `schema`: what a sheet may hold, for editors.

use std::io::Write;

use clap::Args;

use super::Ending;
use super::failure::Failure;
use super::print::Page;

/// Print the JSON Schema of a sheet, for editors that complete it
#[derive(Debug, Args)]
#[command(after_long_help = EXAMPLES)]
pub struct Schema {}

const EXAMPLES: &str = "\
Examples:
  probewright schema > sheet.schema.json

Then name it in the sheet's first line, where the editor looks for it:
  #:schema ./sheet.schema.json";

impl Schema {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        serde_json::to_writer_pretty(page.out(), &machine::schema::schema())?;
        page.out().write_all(b"\n")?;
        Ok(Ending::Done)
    }
}
