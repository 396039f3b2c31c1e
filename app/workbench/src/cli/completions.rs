//! `completions`: what a shell needs to complete commands and arguments.

use std::io::Write;

use clap::Args;
use clap_complete::Shell;

use super::failure::Failure;
use super::print::Page;
use super::{Ending, command_line};

/// Print completions for a shell
#[derive(Debug, Args)]
#[command(after_long_help = EXAMPLES)]
pub struct Completions {
    /// The shell
    shell: Shell,
}

const EXAMPLES: &str = "\
Examples:
  probewright completions bash > ~/.local/share/bash-completion/completions/probewright
  probewright completions fish > ~/.config/fish/completions/probewright.fish";

impl Completions {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        // Gathered first: the generator panics when writing fails, as it does when the reader has gone.
        let mut script = Vec::new();
        clap_complete::generate(self.shell, &mut command_line(), "probewright", &mut script);
        page.out().write_all(&script)?;
        Ok(Ending::Done)
    }
}
