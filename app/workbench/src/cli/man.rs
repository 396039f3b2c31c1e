//! `man`: the manual page, made from the same text as the help.

use clap::Args;

use super::failure::{Failure, Kind};
use super::print::Page;
use super::{Ending, command_line};

/// Print the manual page, of one command if named
#[derive(Debug, Args)]
#[command(after_long_help = EXAMPLES)]
pub struct Man {
    /// A command
    command: Option<String>,
}

const EXAMPLES: &str = "\
Examples:
  probewright man > probewright.1
  probewright man solve | man -l -";

impl Man {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        let mut whole = command_line();
        whole.build();
        let command = match &self.command {
            None => whole,
            Some(name) => match whole.find_subcommand(name) {
                Some(found) => found.clone(),
                None => {
                    let names: Vec<&str> = whole.get_subcommands().map(clap::Command::get_name).collect();
                    return Err(Failure::new(Kind::Usage, format!("no command is called `{name}`"))
                        .hint(format!("allowed: {}", names.join(", "))));
                }
            },
        };
        clap_mangen::Man::new(command).render(page.out())?;
        Ok(Ending::Done)
    }
}
