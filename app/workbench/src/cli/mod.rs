//! The command line: one file a command, one line in the list below.
//! Doc comments are the help text; answers go to standard output, all else to standard error.
//! Not here: what is computed (see `shop`), how failures become exit codes (see `failure`).

mod advise;
mod atlas;
mod changes;
mod check;
mod completions;
mod coverage;
mod document;
mod draw;
mod expect;
mod export;
mod failure;
mod findings;
mod fit;
mod fleet;
mod guide;
mod history;
mod input;
mod job;
mod learned;
mod man;
mod new;
mod owner;
mod practice;
mod print;
mod probes;
mod read;
mod report;
mod say;
mod schema;
mod serve;
mod settings;
mod solve;
mod trial;
mod which;
mod work;
mod worksheet;

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::process::ExitCode;

use clap::{ColorChoice, CommandFactory, Parser, Subcommand, ValueEnum};

use failure::{Failure, Kind};
use print::Page;

/// Find the proven cause of a 12 V starting fault by computing
///
/// A machine's wiring is a text file, called a sheet. From it probewright
/// computes every voltage and current, with any fault planted, and what a
/// meter would show.
#[derive(Debug, Parser)]
#[command(name = "probewright", version, max_term_width = 80, after_long_help = EXAMPLES)]
struct Arguments {
    /// When to use color: auto, always or never
    ///
    /// `auto` looks at the terminal, NO_COLOR, CLICOLOR_FORCE and TERM.
    #[arg(long, global = true, value_name = "WHEN", default_value = "auto", hide_possible_values = true)]
    color: When,
    #[command(subcommand)]
    command: Option<Command>,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum When {
    Auto,
    Always,
    Never,
}

/// Makes the list of commands: each a name and the file that holds its arguments and its `run`.
macro_rules! commands {
    ($($name:ident in $file:ident),+ $(,)?) => {
        #[derive(Debug, Subcommand)]
        enum Command {
            $($name($file::$name),)+
        }

        impl Command {
            fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
                match self {
                    $(Self::$name(command) => command.run(page),)+
                }
            }
        }
    };
}

commands! {
    Check in check,
    Solve in solve,
    Read in read,
    Probes in probes,
    Expect in expect,
    Coverage in coverage,
    Fit in fit,
    Atlas in atlas,
    Advise in advise,
    Work in work,
    Job in job,
    History in history,
    Learned in learned,
    Report in report,
    Owner in owner,
    Fleet in fleet,
    Trial in trial,
    Practice in practice,
    Cold in worksheet,
    Drop in worksheet,
    Crank in worksheet,
    Drain in worksheet,
    Charge in worksheet,
    Wear in worksheet,
    Battery in worksheet,
    Shunt in worksheet,
    WhatIf in worksheet,
    New in new,
    Which in which,
    Guide in guide,
    Draw in draw,
    Export in export,
    Serve in serve,
    Settings in settings,
    Schema in schema,
    Man in man,
    Completions in completions,
}

/// How a command ends when nothing failed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Ending {
    /// Done.
    Done,
    /// Done, and the answer is no.
    No,
}

const EXAMPLES: &str = "\
Examples:
  probewright check curlew.toml
  probewright solve curlew.toml --state held
  probewright solve curlew.toml --fault motor-cable:corroded=30mohm
  probewright read curlew.toml volts@held:starter.plus,battery.minus
  probewright advise curlew.toml --complaint nothing-happens

Exit codes: 0 done, 1 the answer is no, 2 usage, 65 bad data in a sheet,
66 no such file, 70 a fault in probewright itself, 74 reading or writing
broke off, 77 not allowed.";

/// Runs what the arguments say; the exit code is the program's.
pub fn main() -> ExitCode {
    let arguments = match Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(refusal) => {
            // Help and version go to standard output and are no failure; nothing can be done when printing fails.
            let _ = refusal.print();
            return ExitCode::from(if refusal.use_stderr() { Kind::Usage.exit_code() } else { 0 });
        }
    };
    match arguments.color {
        When::Auto => anstream::ColorChoice::Auto,
        When::Always => anstream::ColorChoice::Always,
        When::Never => anstream::ColorChoice::Never,
    }
    .write_global();
    let mut page = Page::new();
    let run = AssertUnwindSafe(|| match &arguments.command {
        Some(command) => command.run(&mut page),
        None => serve::Serve::default().run(&mut page),
    });
    let ended = catch_unwind(run).unwrap_or_else(|_| {
        Err(Failure::new(Kind::Internal, "probewright broke off; the fault is its own, not the sheet's")
            .hint("keep the sheet and the arguments: they show how to bring it about"))
    });
    match ended.and_then(|ending| Ok(page.finish().map(|()| ending)?)) {
        Ok(Ending::Done) => ExitCode::SUCCESS,
        Ok(Ending::No) => ExitCode::from(1),
        Err(failure) => {
            page.fail(&failure);
            ExitCode::from(failure.kind.exit_code())
        }
    }
}

/// The whole command line as clap sees it, for man pages and completions.
fn command_line() -> clap::Command {
    Arguments::command().color(ColorChoice::Auto)
}
