//! `export`: the circuit for another program.

use std::io::Write;
use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::Ending;
use super::changes::ChangeArguments;
use super::failure::Failure;
use super::findings::machine_of;
use super::print::Page;
use crate::shop::stand::{Request, Stand};

/// Print the circuit of an operating state for another program
///
/// Contacts are written closed, fuses whole and motors at rest; what changes
/// state is told in comments that begin with `*@`.
#[derive(Debug, Args)]
#[command(after_long_help = EXAMPLES)]
pub struct Export {
    /// The sheet; `-` reads standard input
    sheet: PathBuf,
    /// What to write
    #[arg(long, value_name = "FORMAT", default_value = "spice")]
    format: Format,
    /// Operating state; `held` if there is one, else `rest`
    #[arg(long, value_name = "STATE")]
    state: Option<String>,
    #[command(flatten)]
    changes: ChangeArguments,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Format {
    /// A netlist for a circuit simulator
    Spice,
}

const EXAMPLES: &str = "\
Examples:
  probewright export curlew.toml --format spice > curlew.cir
  probewright export curlew.toml --state rest --fault battery:flat";

impl Export {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        let changes = self.changes.changes()?;
        let request = Request { state: self.state.clone(), changes, ..Request::default() };
        let mut stand = Stand::new(machine_of(&self.sheet, page)?);
        let text = match self.format {
            Format::Spice => stand.netlist(&request)?,
        };
        page.out().write_all(text.as_bytes())?;
        Ok(Ending::Done)
    }
}
