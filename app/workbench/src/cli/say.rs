//! What the technician reads: the next probe, odds, reasons, verdict, repair check; 80 columns, plain without color.

use std::io::{self, Write};

use diagnosis::advice::{Advice, Step, Verdict};
use machine::{Machine, Probe};
use quantity::Dimension;

use super::print::{BOLD, DIM, Page, WIDTH, wrapped};
use crate::shop::bill::{self, Bill, Quote};
use crate::shop::words::{self, Row, minutes, odds};

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

/// Labeled lines, one a row.
pub fn rows(page: &mut Page, rows: &[Row]) -> io::Result<()> {
    rows.iter().try_for_each(|(label, text)| labeled(page, label, text))
}

/// The next probe in full.
pub fn step(page: &mut Page, machine: &Machine, step: &Step) -> io::Result<()> {
    heading(page, &words::step_title(step))?;
    let probe = machine.probe(&step.probe).ok();
    if let Some(probe) = &probe {
        rows(page, &words::how(machine, probe))?;
    }
    rows(page, &words::cost(probe.as_ref(), step))?;
    let dimension = probe.as_ref().map_or(Dimension::Ratio, Probe::dimension);
    if let Some(healthy) = &step.band {
        labeled(page, "healthy", &words::band(healthy, dimension))?;
    }
    for (index, outcome) in step.outcomes.iter().enumerate() {
        let label = if index == 0 { "means" } else { "" };
        labeled(page, label, &format!("{}: {} ({})", outcome.when, outcome.means, odds(outcome.probability)))?;
    }
    labeled(page, "name", &step.probe)
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
    heading(page, &words::verdict(advice, verdict))?;
    rows(page, &words::verdict_rows(machine, advice, verdict))
}

/// What was done costs.
pub fn bill(page: &mut Page, bill: &Bill) -> io::Result<()> {
    let currency = bill.currency.as_deref().unwrap_or_default();
    for line in &bill.lines {
        let minutes = line.minutes.map(words::minutes).unwrap_or_default();
        let amount = line.amount.map(|amount| bill::shown(amount, currency)).unwrap_or_default();
        writeln!(page.out(), "{minutes:>9}  {amount:>12}  {}", line.what)?;
    }
    let total = bill.total.map(|total| bill::shown(total, currency)).unwrap_or_default();
    writeln!(page.out(), "{:>9}  {total:>12}  together", words::minutes(bill.minutes))?;
    for key in &bill.unpriced {
        writeln!(page.out(), "no price: stock.\"{key}\" is not in the settings")?;
    }
    Ok(())
}

/// What a job may come to.
pub fn quote(page: &mut Page, quote: &Quote) -> io::Result<()> {
    let (expected, worst) = (bill::shown(quote.expected, &quote.currency), bill::shown(quote.worst, &quote.currency));
    writeln!(page.out(), "{:<34} {expected:>12}  {}", "expected", words::minutes(quote.expected_minutes))?;
    writeln!(
        page.out(),
        "{:<34} {worst:>12}  {}",
        "at worst, in nine cases of ten",
        words::minutes(quote.worst_minutes)
    )?;
    for key in &quote.unpriced {
        writeln!(page.out(), "without: {key}, which has no price in the settings")?;
    }
    Ok(())
}
