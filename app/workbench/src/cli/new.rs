//! `new`: a sheet from a pattern and a few questions.

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::Args;
use machine::sheet::is_name;

use super::Ending;
use super::failure::{Failure, Kind};
use super::input::Input;
use super::print::Page;
use super::say;
use crate::shop::patterns::{Draft, PATTERNS, Pattern, called};
use crate::shop::written::{Unwritten, keep};

/// Make a sheet for a machine that has none
///
/// Pick the pattern that the machine is wired like and answer at most seven
/// questions: what is printed on the battery, how thick the cable is. A
/// question that you cannot answer is left empty. What nobody knows stays
/// guessed between two values; advice reckons with all of that range, so it
/// takes a few readings more but is no less right. `fit` narrows the guesses
/// from readings of the machine when it is healthy.
///
/// When it is not known which of several patterns it is, make a sheet of each
/// and let `which` say, from a reading or two, which of them fits.
#[derive(Debug, Args)]
#[command(after_long_help = EXAMPLES)]
pub struct New {
    /// The pattern, as in quad; asked when left out
    pattern: Option<String>,
    /// Where to write the sheet; NAME.toml when left out, `-` prints it
    #[arg(long, short, value_name = "FILE")]
    output: Option<PathBuf>,
    /// What the machine is called, in letters, digits and hyphens
    #[arg(long, value_name = "NAME")]
    name: Option<String>,
    /// A title in plain words
    #[arg(long, value_name = "TEXT")]
    title: Option<String>,
    /// An answer beforehand, as in capacity=2.3Ah (repeatable)
    #[arg(long = "answer", value_name = "QUESTION=ANSWER")]
    answers: Vec<String>,
    /// Ask nothing: what is not answered stays guessed
    #[arg(long)]
    unasked: bool,
    /// Write over a sheet that is there
    #[arg(long)]
    replace: bool,
    /// List the patterns with their questions
    #[arg(long)]
    list: bool,
}

const EXAMPLES: &str = "\
Examples:
  probewright new --list
  probewright new
  probewright new quad --name dotterel
  probewright new mower --name plot-mower --answer capacity=18Ah --unasked";

impl New {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        if self.list {
            return list(page);
        }
        let mut input = Input::new();
        let Some(pattern) = self.pattern(&mut input, page)? else { return Ok(Ending::No) };
        // Before anything is asked: nobody answers seven questions for nothing.
        let (name, path) = self.place(pattern)?;
        let mut draft = Draft::of(pattern).map_err(unwritten)?;
        for answer in &self.answers {
            let (name, text) = answer.split_once('=').ok_or_else(|| {
                Failure::new(Kind::Usage, format!("`{answer}` is not of the form QUESTION=ANSWER"))
                    .hint("write it as in --answer capacity=2.3Ah")
            })?;
            draft.answer(name, text)?;
        }
        if !self.unasked {
            ask(&mut draft, &mut input, page)?;
        }
        let title = self.title.clone().unwrap_or_else(|| format!("{name}: {}", draft.title()));
        let (text, guessed) = draft.written(&name, &title).map_err(unwritten)?;
        if path == Path::new("-") {
            page.out().write_all(text.as_bytes())?;
            return Ok(Ending::Done);
        }
        keep(&path, &text).map_err(|source| {
            Failure::new(Kind::CannotCreate, format!("cannot write `{}`: {source}", path.display()))
        })?;
        say::paragraph(page, &format!("Written: {}, {guessed} values in it are guesses.", path.display()))?;
        say::paragraph(page, &format!("Next: probewright work {}", path.display()))?;
        Ok(Ending::Done)
    }

    /// The pattern that is meant; nothing when the person leaves.
    fn pattern(&self, input: &mut Input, page: &mut Page) -> Result<Option<Pattern>, Failure> {
        let mut choice: Vec<Pattern> = match &self.pattern {
            Some(word) => {
                let found = called(word);
                if found.is_empty() {
                    let names = PATTERNS.iter().map(|pattern| pattern.name).collect::<Vec<_>>().join(", ");
                    return Err(Failure::new(Kind::Usage, format!("no pattern is called `{word}`"))
                        .hint(format!("allowed: {names}"))
                        .hint("`probewright new --list` says what each is"));
                }
                found
            }
            None => PATTERNS.to_vec(),
        };
        while choice.len() > 1 {
            say::heading(page, "Which of these is the machine most like?")?;
            for (index, pattern) in choice.iter().enumerate() {
                let title = Draft::of(*pattern).map_err(unwritten)?.title().to_owned();
                say::paragraph(page, &format!("{:>3}  {title}", index + 1))?;
            }
            let Some(line) = input.line(page, "> ")? else { return Ok(None) };
            let number = line.parse::<usize>().ok().and_then(|number| choice.get(number.checked_sub(1)?));
            let found = number.map_or_else(|| called(&line), |pattern| vec![*pattern]);
            if found.is_empty() {
                page.fail(
                    &Failure::new(Kind::Usage, format!("`{line}` is none of these"))
                        .hint("type its number; `Ctrl-D` leaves"),
                );
            } else {
                choice = found;
            }
        }
        Ok(choice.first().copied())
    }

    /// What the sheet is called and where it goes.
    fn place(&self, pattern: Pattern) -> Result<(String, PathBuf), Failure> {
        let of_file = self.output.as_deref().filter(|path| *path != Path::new("-")).and_then(Path::file_stem);
        let name = match (&self.name, of_file) {
            (Some(name), _) => name.clone(),
            (None, Some(stem)) => stem.to_string_lossy().into_owned(),
            (None, None) => format!("my-{}", pattern.name),
        };
        if !is_name(&name) {
            return Err(Failure::new(Kind::Usage, format!("`{name}` cannot be the name of a machine"))
                .hint("allowed: letters, digits, - and _")
                .hint("write it as in --name plot-mower"));
        }
        let path = self.output.clone().unwrap_or_else(|| PathBuf::from(format!("{name}.toml")));
        if path != Path::new("-") && path.exists() && !self.replace {
            return Err(Failure::new(Kind::CannotCreate, format!("`{}` is there already", path.display()))
                .hint("give another --output or --name, or --replace to write over it"));
        }
        Ok((name, path))
    }
}

/// Asks what is not answered; at the end of the lines the rest stays guessed.
fn ask(draft: &mut Draft, input: &mut Input, page: &mut Page) -> Result<(), Failure> {
    for question in 0..draft.questions().len() {
        if draft.is_answered(question) {
            continue;
        }
        let asked = draft.questions()[question].clone();
        say::heading(page, &asked.asks)?;
        if !asked.hint.is_empty() {
            say::paragraph(page, &asked.hint)?;
        }
        say::labeled(page, "answer", &draft.allowed(question))?;
        let otherwise = draft.unanswered(question).unwrap_or_else(|| "as usual in this class".to_owned());
        say::labeled(page, "empty", &format!("not known: {otherwise}"))?;
        loop {
            let Some(line) = input.line(page, "> ")? else { return Ok(()) };
            if line.is_empty() || line == "skip" {
                break;
            }
            match draft.answer(&asked.name.name, &line) {
                Ok(()) => break,
                Err(refusal) => page.fail(&refusal.into()),
            }
        }
    }
    Ok(())
}

fn list(page: &mut Page) -> Result<Ending, Failure> {
    for pattern in PATTERNS {
        let draft = Draft::of(*pattern).map_err(unwritten)?;
        say::heading(page, pattern.name)?;
        say::paragraph(page, draft.title())?;
        for (index, question) in draft.questions().iter().enumerate() {
            let text = format!("{}: {}", question.name.name, draft.allowed(index));
            say::labeled(page, if index == 0 { "asks" } else { "" }, &text)?;
        }
    }
    Ok(Ending::Done)
}

fn unwritten(error: Unwritten) -> Failure {
    Failure::new(Kind::BadData, error)
}
