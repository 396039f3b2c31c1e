//! What the technician reads: the next probe, odds, reasons, verdict, repair check; 80 columns, plain without color.

use std::io::{self, Write};

use diagnosis::advice::{Advice, Band, Check, Step, Verdict};
use machine::{Machine, Probe};
use quantity::{Dimension, show};

use super::print::{BOLD, DIM, Page, WIDTH, wrapped};

/// Columns of the labels at the left.
const LABEL: usize = 11;

/// A labeled line, broken at blanks and indented under itself.
pub fn labeled(page: &mut Page, label: &str, text: &str) -> io::Result<()> {
    let mut first = true;
    for line in wrapped(text, WIDTH - LABEL - 2).lines() {
        let (head, line) = if first { (label, line) } else { ("", line.trim_start()) };
        writeln!(page.out(), "  {DIM}{head:<9}{DIM:#}{line}")?;
        first = false;
    }
    Ok(())
}

/// A heading.
pub fn heading(page: &mut Page, text: &str) -> io::Result<()> {
    writeln!(page.out(), "\n{BOLD}{}{BOLD:#}", wrapped(text, WIDTH))
}

/// A paragraph.
pub fn paragraph(page: &mut Page, text: &str) -> io::Result<()> {
    writeln!(page.out(), "{}", wrapped(text, WIDTH))
}

/// Lines as they are.
pub fn paragraph_lines(page: &mut Page, text: &str) -> io::Result<()> {
    writeln!(page.out(), "{text}")
}

/// A probability in words that fit a bench: whole percent, never 0 or 100.
pub fn odds(probability: f64) -> String {
    match probability {
        p if p < 0.005 => "<1 %".to_owned(),
        p if p > 0.995 => ">99 %".to_owned(),
        p => format!("{:.0} %", p * 100.0),
    }
}

/// A healthy band in the unit of the reading.
pub fn band(band: &Band, dimension: Dimension) -> String {
    match band {
        Band::Between { low, high, .. } => format!("{} to {}", show(*low, dimension), show(*high, dimension)),
        Band::Expected(word) => word.clone(),
    }
}

/// The suspects that lead.
pub fn suspects(page: &mut Page, advice: &Advice, most: usize) -> io::Result<()> {
    let leaders = advice.suspects.iter().filter(|suspect| suspect.probability >= 0.01).take(most);
    for (index, suspect) in leaders.enumerate() {
        let label = if index == 0 { "odds" } else { "" };
        labeled(page, label, &format!("{:>5}  {}", odds(suspect.probability), suspect.title))?;
    }
    if advice.unexplained >= 0.02 {
        labeled(page, "", &format!("{:>5}  something that is not in the catalogue", odds(advice.unexplained)))?;
    }
    Ok(())
}

/// The next probe in full.
pub fn step(page: &mut Page, machine: &Machine, step: &Step) -> io::Result<()> {
    let again = if step.again { "once more, since much rests on it: " } else { "" };
    heading(page, &format!("{again}{}", step.title))?;
    let probe = machine.probe(&step.probe).ok();
    if let Some(probe) = &probe {
        leads(page, machine, probe)?;
    }
    let waits = step.elapsed > step.minutes + 0.5;
    let waits = if waits { format!(" of work, done after {}", minutes(step.elapsed)) } else { String::new() };
    labeled(page, "time", &format!("{}{waits}", minutes(step.minutes)))?;
    if let Some(helps) = probe.as_ref().map(Probe::helps).filter(|helps| !helps.is_empty()) {
        labeled(page, "hands", helps)?;
    }
    if !step.caution.is_empty() {
        labeled(page, "mind", &step.caution)?;
    }
    let dimension = probe.as_ref().map_or(Dimension::Ratio, Probe::dimension);
    if let Some(healthy) = &step.band {
        labeled(page, "healthy", &band(healthy, dimension))?;
    }
    for (index, outcome) in step.outcomes.iter().enumerate() {
        let label = if index == 0 { "means" } else { "" };
        labeled(page, label, &format!("{}: {} ({})", outcome.when, outcome.means, odds(outcome.probability)))?;
    }
    labeled(page, "name", &step.probe)
}

fn leads(page: &mut Page, machine: &Machine, probe: &Probe) -> io::Result<()> {
    let point = |name: &str| {
        let node = machine.node(name).ok();
        let place = node.and_then(|node| machine.place_of_node(node));
        let place = place.map(|place| machine.sheet.places[place].title.as_str());
        let hints = node.map(|node| machine.pin_hint(node)).unwrap_or_default();
        let meets = node.and_then(|node| machine.meeting(node)).unwrap_or_default();
        let title = node.map_or_else(|| name.to_owned(), |node| machine.node_title(node));
        let beside = [meets, place.unwrap_or_default().to_owned(), hints].into_iter().filter(|text| !text.is_empty());
        let beside: Vec<String> = beside.collect();
        if beside.is_empty() { title } else { format!("{title} ({})", beside.join("; ")) }
    };
    if !probe.red.is_empty() {
        labeled(page, "red", &point(&probe.red))?;
        labeled(page, "black", &point(&probe.black))?;
    } else if let Some(place) = probe.places.first() {
        labeled(page, "place", &machine.sheet.places[*place].title)?;
    }
    if !probe.setting().is_empty() {
        labeled(page, "meter", probe.setting())?;
    }
    if let Ok(state) = machine.state(&probe.state) {
        let how = if probe.setup.is_empty() { String::new() } else { format!(" ({})", probe.setup.join("; ")) };
        labeled(page, "state", &format!("{}{how}", state.title))?;
    }
    Ok(())
}

fn minutes(minutes: f64) -> String {
    show(minutes * 60.0, Dimension::Time)
}

/// All that could be done next, to choose from.
pub fn list(page: &mut Page, advice: &Advice) -> io::Result<()> {
    for (index, step) in advice.next.iter().enumerate() {
        let line = format!("{:>2}  {:>8}  {}", index + 1, minutes(step.minutes), step.title);
        writeln!(page.out(), "{}", wrapped(&line, WIDTH))?;
    }
    paragraph(page, "`take 2` takes the second; NAME=VALUE enters any other reading.")
}

/// Why the odds stand as they do.
pub fn reasons(page: &mut Page, advice: &Advice) -> io::Result<()> {
    if advice.reasons.is_empty() {
        return paragraph(page, "Nothing has been read yet; the odds are those of the trade.");
    }
    for reason in &advice.reasons {
        writeln!(page.out(), "{}", wrapped(&format!("{:+5.1} bit  {}", reason.weight, reason.reading), WIDTH))?;
        writeln!(
            page.out(),
            "           {DIM}{}{DIM:#}",
            wrapped(&reason.text, WIDTH - 11).replace('\n', "\n         ")
        )?;
    }
    if let Some(keystone) = &advice.keystone {
        paragraph(page, &format!("The reading this rests on: {keystone}"))?;
    }
    for outlier in &advice.outliers {
        paragraph(page, &format!("Does not fit the leader: {outlier}"))?;
    }
    Ok(())
}

/// The verdict and what to do about it.
pub fn verdict(page: &mut Page, machine: &Machine, advice: &Advice, verdict: &Verdict) -> io::Result<()> {
    let title = |fault: &String| {
        let known = advice.suspects.iter().find(|suspect| suspect.fault == *fault);
        known.map_or_else(|| fault.clone(), |suspect| suspect.title.clone())
    };
    let together = |faults: &Vec<String>| faults.iter().map(title).collect::<Vec<_>>().join(", and with it ");
    let titles: Vec<String> = verdict.any_of.iter().map(together).collect();
    heading(page, &format!("Likely ({}): {}", odds(verdict.probability), titles.join(", or ")))?;
    if let Some(keystone) = &advice.keystone {
        labeled(page, "rests on", keystone)?;
    }
    if verdict.consequence {
        labeled(page, "mind", "this seldom comes by itself: look for the cause behind it before the job is closed")?;
    }
    labeled(page, "remedy", &verdict.remedy_title)?;
    if !verdict.caution.is_empty() {
        labeled(page, "mind", &verdict.caution)?;
    }
    for (index, check) in verdict.proof.iter().enumerate() {
        labeled(page, if index == 0 { "then" } else { "" }, &check_line(machine, check))?;
    }
    if let Some(pending) = verdict.pending {
        labeled(page, "later", &pending.to_string())?;
    }
    Ok(())
}

/// One line of the repair check.
pub fn check_line(machine: &Machine, check: &Check) -> String {
    let dimension = machine.probe(&check.probe).map_or(Dimension::Ratio, |probe| probe.dimension());
    if check.refusal { check.title.clone() } else { format!("{}: {}", check.title, band(&check.band, dimension)) }
}
