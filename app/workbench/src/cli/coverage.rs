//! `coverage`: which faults cannot be told apart with the instruments at hand, and what would.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;
use diagnosis::coverage::{Group, Matrix, Question, Split};
use machine::Machine;

use super::Ending;
use super::failure::Failure;
use super::findings::machine_of;
use super::print::{DIM, Page, WIDTH, wrapped};
use super::say;
use crate::shop::coverage::{Covered, question};
use crate::shop::words;

/// Show which faults cannot be told apart, and what would split them
///
/// Each fault is planted at the middle of its severity and read on every probe
/// that the wiring suggests, without any noise. Where another fault, at some
/// severity of its own, reads the same within 2 sigma everywhere, no reading
/// will ever tell the two apart: they are shown as a group. sigma is half the
/// meter's accuracy and the spread of clean contacts together.
///
/// For each group: the probe that comes nearest to splitting it, and what
/// would: a probe that the list does not have, an instrument that is not at
/// hand, or only the repair. Faults of one part with one remedy need no
/// splitting. A fault that shows nothing reads like a healthy machine.
///
/// This looks at the wiring alone, not at odds: with few instruments the
/// groups grow, and it says which instrument would pay.
#[derive(Debug, Args)]
#[command(after_long_help = EXAMPLES)]
pub struct Coverage {
    /// The sheet; `-` reads standard input
    sheet: PathBuf,
    /// Instruments at hand, separated by commas; all when left out
    ///
    /// meter, clamp, lamp, jumper, caliper; eyes and ears are always there.
    #[arg(long, value_delimiter = ',', value_name = "LIST")]
    instruments: Option<Vec<String>>,
    /// Air temperature, as in -5C; as the sheet says when left out
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    air: Option<String>,
    /// Only these faults or parts, separated by commas
    #[arg(long, value_delimiter = ',', value_name = "LIST")]
    faults: Vec<String>,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

const EXAMPLES: &str = "\
Examples:
  probewright coverage curlew.toml
  probewright coverage curlew.toml --instruments meter
  probewright coverage curlew.toml --faults starter,drive,engine --air -5C
  probewright coverage curlew.toml --json";

impl Coverage {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        let machine = machine_of(&self.sheet, page)?;
        let question = question(&machine, self.instruments.as_deref(), self.air.as_deref(), &self.faults)?;
        let mut matrix = Matrix::answer(&machine, &question);
        matrix.look_further(&machine, &question);
        if self.json {
            page.json(&Covered::new(&machine, &question, &matrix))?;
        } else {
            print(&machine, &question, &matrix, page)?;
        }
        Ok(Ending::Done)
    }
}

fn print(machine: &Machine, question: &Question, matrix: &Matrix, page: &mut Page) -> Result<(), Failure> {
    let count = |count: usize, thing: &str| format!("{count} {thing}{}", if count == 1 { "" } else { "s" });
    let (largest, mean) = matrix.sizes();
    let groups = matrix.groups_by_name();
    say::heading(page, &machine.sheet.title)?;
    let with = question.instruments.as_ref().map_or_else(|| "all instruments".to_owned(), |all| all.join(", "));
    let air = question.air.map_or_else(String::new, |air| format!(", air {air}"));
    let faults = count(matrix.subjects.len() - 1, "fault");
    say::labeled(page, "read", &format!("{faults} on {} with {with}{air}", count(matrix.at_hand, "probe")))?;
    let told = format!("{}; largest {largest}, mean {mean:.2}", count(groups.len(), "group"));
    say::labeled(page, "groups", &told)?;
    let nothing: Vec<usize> = matrix.shows_nothing().collect();
    say::labeled(page, "silent", &format!("{} nothing", count_shows(nothing.len())))?;
    for group in matrix.groups.iter().filter(|group| group.members.len() > 1) {
        self::group(question, matrix, group, page)?;
    }
    unnoticed(matrix, page)?;
    if !matrix.unsolved.is_empty() {
        say::heading(page, "No operating point, so nothing can be said")?;
        writeln!(page.out(), "  {}", wrapped(&matrix.unsolved.join(", "), WIDTH - 2))?;
    }
    Ok(())
}

fn count_shows(count: usize) -> String {
    if count == 1 { "1 fault shows".to_owned() } else { format!("{count} faults show") }
}

fn group(question: &Question, matrix: &Matrix, group: &Group, page: &mut Page) -> Result<(), Failure> {
    let faults = group.members.iter().filter(|member| **member > 0).count();
    let heading = match group.members[0] {
        0 => format!("{faults} like a healthy machine"),
        _ => format!("{faults} alike"),
    };
    say::heading(page, &heading)?;
    for member in group.members.iter().filter(|member| **member > 0) {
        let subject = &matrix.subjects[*member];
        writeln!(page.out(), "  {}", wrapped(&format!("{} ({})", subject.title, subject.name), WIDTH - 2))?;
    }
    if let Some((probe, separation)) = group.closest {
        let name = &matrix.probes[probe].name;
        let nearest = match separation {
            tiny if tiny > 0.0 && tiny < 0.01 => format!("{name}, below 0.01 sigma"),
            0.0 => "none: every probe shows the very same".to_owned(),
            separation => format!("{name}, {separation:.2} sigma"),
        };
        say::labeled(page, "nearest", &nearest)?;
    }
    let mut mind = "";
    let text = match &group.split {
        None => return Ok(()),
        Some(Split::SameRemedy) => "same remedy: they need no splitting".to_owned(),
        Some(Split::Probe { probe, pairs, of }) => {
            let probe = &matrix.probes[*probe];
            let at_hand = if question.has(probe.instrument()) { "" } else { ", not at hand" };
            mind = &probe.caution;
            let all = if pairs == of { String::new() } else { format!("; tells {pairs} of {of} pairs") };
            format!("{} ({}{at_hand}){all}", probe.name, probe.instrument())
        }
        Some(Split::Repair { first, minutes: time }) => {
            let remedy = matrix.subjects[*first].fault.as_ref().map(|fault| &fault.remedy);
            mind = remedy.map_or("", |remedy| &remedy.caution);
            let remedy = remedy.map_or("", |remedy| &remedy.title);
            format!("only the repair tells; the quickest first: {remedy}, {}", words::minutes(*time))
        }
    };
    say::labeled(page, "splits", &text)?;
    if !mind.is_empty() {
        say::labeled(page, "mind", mind)?;
    }
    Ok(())
}

/// Faults that no owner would notice: what shows them.
fn unnoticed(matrix: &Matrix, page: &mut Page) -> Result<(), Failure> {
    let quiet: Vec<usize> =
        (1..matrix.subjects.len()).filter(|subject| matrix.subjects[*subject].complaint.is_none()).collect();
    if quiet.is_empty() {
        return Ok(());
    }
    say::heading(page, &format!("{} that no owner would notice, and what shows them", quiet.len()))?;
    let width = quiet.iter().map(|subject| matrix.subjects[*subject].name.chars().count()).max().unwrap_or(0);
    for subject in quiet {
        let nearest = matrix.nearest(subject, 0);
        let name = &matrix.subjects[subject].name;
        let shown = match nearest.probe.filter(|_| matrix.shows(subject)) {
            Some(probe) => matrix.probes[probe].name.as_str(),
            None => "nothing",
        };
        let line = format!("  {name:<width$}  {shown}");
        if line.chars().count() <= WIDTH {
            writeln!(page.out(), "{line}")?;
        } else {
            writeln!(page.out(), "  {name}\n      {shown}")?;
        }
    }
    writeln!(page.out(), "{DIM}nothing: within 2 sigma of healthy on every probe{DIM:#}")?;
    Ok(())
}
