//! `advise`: from complaint and readings to odds, the next probe, and the verdict.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;
use diagnosis::advice::{Advice, Stop, Verdict};
use diagnosis::complaint;
use journal::Place;
use machine::Machine;
use serde::Serialize;

use super::Ending;
use super::failure::Failure;
use super::findings::usable;
use super::print::{Page, WIDTH, wrapped};
use super::say;
use crate::shop::advice::{Advised, Asked, advise, desk};
use crate::shop::learned::{Lessons, Odds, OddsUsed, VARIABLE, lessons};
use crate::shop::{journals, sheets, words};

/// Find the odds and the next probe for what is known of a job
///
/// From the owner's complaint and the readings so far: which faults explain
/// them and how likely each is, what to measure next, what a healthy machine
/// shows there, what each outcome would mean, and the verdict when it is
/// reached. Nothing is kept; `work` keeps a whole job.
#[derive(Debug, Args)]
#[command(after_long_help = EXAMPLES)]
pub struct Advise {
    /// The sheet; `-` reads standard input
    sheet: PathBuf,
    /// What the owner says, as in cranks-slowly
    #[arg(long, value_name = "NAME")]
    complaint: Option<String>,
    /// A probe, remedy or answer with its value (repeatable, in order)
    ///
    /// VALUE is a number (`12.6 V`, `180 mohm`), a range (`2.4..12.2 V`), a
    /// bound (`>1 Mohm`), `OL`, a word, or `skip` when it cannot be taken.
    /// `try:VERB@PART=fixed` (or `same`) is a remedy that was tried.
    #[arg(long = "reading", value_name = "NAME=VALUE")]
    readings: Vec<String>,
    /// Instruments at hand, separated by commas; all when left out
    #[arg(long, value_delimiter = ',', value_name = "LIST")]
    instruments: Option<Vec<String>>,
    /// Air temperature, as in -5C
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    air: Option<String>,
    /// Probability that a verdict needs; .95 when left out
    #[arg(long, value_name = "PROBABILITY")]
    confirm: Option<String>,
    /// Start from the odds that this journal's proven verdicts have taught
    #[arg(long, value_name = "PLACE")]
    journal: Option<Place>,
    /// Whose odds to start from, with --journal: learned or sheet
    #[arg(long, value_name = "WHOSE", default_value = "learned", env = VARIABLE, hide_env_values = true, hide_possible_values = true)]
    odds: Odds,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

const EXAMPLES: &str = "\
Examples:
  probewright advise curlew.toml --complaint nothing-happens
  probewright advise curlew.toml --complaint one-click --air -5C \\
    --reading 'volts@held:battery.plus,battery.minus=11.9 V' \\
    --reading 'listen@held:starter-relay=click'
  probewright advise curlew.toml --complaint cranks-slowly \\
    --instruments meter,lamp --json";

/// Advice in its JSON form, and whose odds it started from where they are not the sheet's.
#[derive(Serialize)]
struct With<'a> {
    #[serde(flatten)]
    advised: Advised<'a>,
    #[serde(skip_serializing_if = "Option::is_none")]
    odds: Option<OddsUsed>,
}

/// No suspect below this is worth a line.
const WORTH_A_LINE: f64 = 0.001;

impl Advise {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        let sheet = sheets::open(&self.sheet).map_err(|error| Failure::opening(&self.sheet, error))?;
        let text = sheet.text.clone();
        let machine = usable(sheet, page)?;
        let asked = Asked {
            complaint: self.complaint.clone(),
            readings: self.readings.clone(),
            instruments: self.instruments.clone(),
            air: self.air.clone(),
            confirm: self.confirm.clone(),
        };
        let request = asked.request(&machine)?;
        let known = request.complaint.as_deref().and_then(complaint::find);
        if let Some(known) = known.filter(|known| !known.computed) {
            page.warn(&format!("{} cannot be computed from the wiring yet and weighs nothing", known.name));
        }
        let lessons = match (&self.journal, self.odds) {
            (Some(journal), Odds::Learned) => Some(lessons(&journals::open(Some(journal))?, &machine, None)?),
            _ => None,
        };
        let lessons = lessons.filter(Lessons::taught);
        let mut desk = desk(machine, &text);
        if let Some(lessons) = &lessons {
            desk.learn(&lessons.learned);
        }
        let advice = advise(&mut desk, &request)?;
        if self.json {
            let odds = lessons.as_ref().map(OddsUsed::from);
            page.json(&With { advised: Advised::from(&advice), odds })?;
        } else {
            if let Some(lessons) = &lessons {
                writeln!(page.out(), "{}", wrapped(&lessons.said(), WIDTH))?;
            }
            self.print(&desk.machine, &advice, page)?;
        }
        Ok(Ending::Done)
    }

    fn print(&self, machine: &Machine, advice: &Advice, page: &mut Page) -> Result<(), Failure> {
        suspects(page, advice)?;
        if let Some(verdict) = &advice.verdict {
            return self.concluded(machine, advice, verdict, page);
        }
        if let Some(stop) = advice.stop {
            say::heading(page, stopped(stop))?;
        }
        if let Some(step) = advice.next.first() {
            say::step(page, machine, step)?;
        }
        others(page, advice)?;
        say::heading(page, "Why")?;
        say::reasons(page, advice)?;
        let next = advice.next.first().map(|step| step.probe.as_str());
        match (advice.stop, next) {
            (None, Some(probe)) => self.type_next(page, "When it is read, type", &[(probe, "VALUE")]),
            _ => self.type_next(page, "With another reading, type", &[("NAME", "VALUE")]),
        }
    }

    fn concluded(&self, machine: &Machine, advice: &Advice, verdict: &Verdict, page: &mut Page) -> Result<(), Failure> {
        if verdict.proven {
            say::heading(page, "Proven: a reading isolates it, and the repaired machine shows what it must.")?;
        }
        say::verdict(page, machine, advice, verdict)?;
        say::heading(page, "Why")?;
        say::reasons(page, advice)?;
        let fixed = |reading: &String| reading.replace(' ', "") == format!("{}=fixed", verdict.remedy);
        if let (false, Some(step)) = (verdict.settled, advice.next.first()) {
            say::heading(page, "Before the remedy, this reading is worth its minutes")?;
            say::step(page, machine, step)?;
            return self.type_next(page, "When it is read, type", &[(step.probe.as_str(), "VALUE")]);
        }
        if verdict.proven {
            Ok(())
        } else if self.readings.iter().any(fixed) {
            let missing: Vec<(&str, &str)> =
                verdict.proof.iter().map(|check| (check.probe.as_str(), "VALUE")).collect();
            self.type_next(page, "Put together again, the machine must show the above; type what it shows", &missing)
        } else {
            self.type_next(page, "Do it, try to start, then type (fixed or same)", &[(&verdict.remedy, "fixed")])
        }
    }

    /// The command for the next turn: what was asked this time, with one thing more.
    fn type_next(&self, page: &mut Page, heading: &str, more: &[(&str, &str)]) -> Result<(), Failure> {
        let mut words = vec!["probewright advise".to_owned(), quoted(&self.sheet.display().to_string())];
        let mut option = |name: &str, value: &str| words.push(format!("--{name} {}", quoted(value)));
        self.complaint.iter().for_each(|complaint| option("complaint", complaint));
        self.instruments.iter().for_each(|all| option("instruments", &all.join(",")));
        self.air.iter().for_each(|air| option("air", air));
        self.confirm.iter().for_each(|confirm| option("confirm", confirm));
        self.readings.iter().for_each(|reading| option("reading", reading));
        more.iter().for_each(|(name, value)| option("reading", &format!("{name}={value}")));
        say::heading(page, heading)?;
        let mut line = String::from(" ");
        for (index, word) in words.iter().enumerate() {
            if index > 1 && line.chars().count() + 1 + word.chars().count() + 2 > WIDTH {
                writeln!(page.out(), "{line} \\")?;
                line = String::from("   ");
            }
            line.push(' ');
            line.push_str(word);
        }
        Ok(writeln!(page.out(), "{line}")?)
    }
}

fn suspects(page: &mut Page, advice: &Advice) -> Result<(), Failure> {
    say::heading(page, "Odds")?;
    for suspect in advice.suspects.iter().filter(|suspect| suspect.probability >= WORTH_A_LINE) {
        say::labeled(page, &percent(suspect.probability), &format!("{} ({})", suspect.title, suspect.fault))?;
    }
    if advice.unexplained >= WORTH_A_LINE {
        say::labeled(page, &percent(advice.unexplained), "something that is not in the catalogue")?;
    }
    Ok(())
}

/// Whole percent, tenths where there is little, never 0 or 100.
fn percent(probability: f64) -> String {
    match probability {
        p if p > 0.995 => " >99 %".to_owned(),
        p if p < 0.0995 => format!("{:4.1} %", p * 100.0),
        p => format!("{:4.0} %", p * 100.0),
    }
}

/// What could be done instead of the first.
fn others(page: &mut Page, advice: &Advice) -> Result<(), Failure> {
    if advice.next.len() > 1 {
        say::heading(page, "Or else")?;
    }
    for step in advice.next.iter().skip(1) {
        say::labeled(page, &words::minutes(step.minutes), &step.title)?;
        writeln!(page.out(), "          {}", wrapped(&step.probe, WIDTH - 10))?;
    }
    Ok(())
}

fn stopped(stop: Stop) -> &'static str {
    match stop {
        Stop::NoneOfThese => "No fault in the catalogue explains these readings: measure again, then doubt the sheet.",
        Stop::NotWorthMore => "No probe is worth its minutes any more.",
        Stop::Unsafe => "What is left to be measured would not be safe.",
    }
}

/// A word as a shell takes it.
fn quoted(word: &str) -> String {
    let plain = |letter: char| letter.is_ascii_alphanumeric() || "-_./,:@=%+".contains(letter);
    if !word.is_empty() && word.chars().all(plain) {
        word.to_owned()
    } else {
        format!("'{}'", word.replace('\'', r"'\''"))
    }
}
