//! `check`: is a sheet sound?

use std::io::Write;
use std::path::PathBuf;

use clap::Args;

use super::Ending;
use super::failure::Failure;
use super::findings::{counted, drawn};
use super::print::Page;
use crate::shop::answer::Finding;
use crate::shop::sheets::{self, OpenSheet};

/// Look for problems in sheets
///
/// Every problem is shown with its line, what is allowed there and what to
/// write instead; notes are worth a look and never in the way. The exit code
/// is 1 when there is a problem.
#[derive(Debug, Args)]
#[command(after_long_help = EXAMPLES)]
pub struct Check {
    /// The sheets; `-` reads standard input
    #[arg(required = true, value_name = "SHEET")]
    sheets: Vec<PathBuf>,
    /// Print a JSON array of findings
    #[arg(long)]
    json: bool,
}

const EXAMPLES: &str = "\
Examples:
  probewright check curlew.toml
  probewright check machines/*.toml
  probewright check --json curlew.toml
  cat curlew.toml | probewright check -";

impl Check {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        let mut opened = Vec::new();
        let mut worst = None;
        for path in &self.sheets {
            match sheets::open(path).map_err(|error| Failure::opening(path, error)) {
                Ok(sheet) => opened.push(sheet),
                // The others are still looked at; the last failure ends the command.
                Err(failure) => {
                    if let Some(before) = worst.replace(failure) {
                        page.fail(&before);
                    }
                }
            }
        }
        if self.json {
            let findings =
                opened.iter().flat_map(|sheet| sheet.findings.iter().map(|found| Finding::new(&sheet.path, found)));
            page.json(&findings.collect::<Vec<_>>())?;
        } else {
            for sheet in &opened {
                print(sheet, page)?;
            }
        }
        let problems: usize = opened.iter().map(OpenSheet::problems).sum();
        match worst {
            Some(failure) => Err(failure),
            None if problems > 0 => Ok(Ending::No),
            None => Ok(Ending::Done),
        }
    }
}

fn print(sheet: &OpenSheet, page: &mut Page) -> Result<(), Failure> {
    for finding in &sheet.findings {
        writeln!(page.out(), "{}", drawn(sheet, finding))?;
    }
    let notes = sheet.findings.len() - sheet.problems();
    let contents = match &sheet.sheet {
        Some(read) => format!(" ({} parts, {} states)", read.parts.len(), read.states.len()),
        None => String::new(),
    };
    Ok(writeln!(page.out(), "{}: {}{contents}", sheet.path, counted(sheet.problems(), notes))?)
}
