//! Lines that the technician types: edited and remembered at a terminal, read plainly from a pipe.
//! A pipe's lines are shown after the prompt, so that what is printed reads like what was said.

use std::io::{self, BufRead, IsTerminal, Write};

use rustyline::DefaultEditor;
use rustyline::error::ReadlineError;

use super::print::Page;

/// Where lines come from.
pub enum Input {
    /// A terminal.
    Terminal(Box<DefaultEditor>),
    /// Anything else.
    Pipe(io::Lines<io::StdinLock<'static>>),
}

impl Input {
    /// Standard input, whatever it is.
    pub fn new() -> Self {
        let editor = if io::stdin().is_terminal() { DefaultEditor::new().ok() } else { None };
        match editor {
            Some(editor) => Self::Terminal(Box::new(editor)),
            None => Self::Pipe(io::stdin().lock().lines()),
        }
    }

    /// The next line, without blanks at its ends; nothing when there are no more.
    pub fn line(&mut self, page: &mut Page, prompt: &str) -> io::Result<Option<String>> {
        match self {
            Self::Terminal(editor) => {
                page.out().flush()?;
                match editor.readline(prompt) {
                    Ok(line) => {
                        // A history that cannot grow is no reason to stop.
                        let _ = editor.add_history_entry(&line);
                        Ok(Some(line.trim().to_owned()))
                    }
                    Err(ReadlineError::Eof | ReadlineError::Interrupted) => Ok(None),
                    Err(error) => Err(io::Error::other(error)),
                }
            }
            Self::Pipe(lines) => {
                page.out().flush()?;
                match lines.next().transpose()? {
                    Some(line) => {
                        let line = line.trim().to_owned();
                        writeln!(page.out(), "{prompt}{line}")?;
                        Ok(Some(line))
                    }
                    None => Ok(None),
                }
            }
        }
    }
}
