//! A job's report as a message: plain text, a dozen lines, to be read on a telephone.
//! Promise: no line breaks within a thought, so that any mailbox may break them; nothing of it is markup.

use std::fmt::Write;

use super::job::JobReport;
use super::job_line::Line;

/// The message.
pub fn text(report: &JobReport) -> String {
    let mut out = String::new();
    let mut say = |line: String| {
        // Writing to a string cannot fail.
        let _ = writeln!(out, "{}", one_line(&line));
    };
    if !report.heading.name.is_empty() {
        say(report.heading.name.clone());
    }
    say(report.machine.clone());
    say(format!("Job {}, {}", report.job, report.dates));
    for (label, text) in &report.about {
        say(format!("{label}: {text}"));
    }
    match report.cause.is_empty() {
        true if report.suspects.is_empty() => say("No cause is found yet.".to_owned()),
        true => {
            let odds: Vec<String> = report.suspects.iter().map(|(odds, title)| format!("{title} ({odds})")).collect();
            say(format!("No cause is found yet; the odds: {}", odds.join("; ")));
        }
        false => say(format!("Cause: {}. {}", report.cause.join(", or: "), report.odds).trim_end().to_owned()),
    }
    if !report.rests_on.is_empty() {
        say(report.rests_on.clone());
    }
    if !report.remedy.is_empty() {
        let label = if report.repaired { "Done" } else { "To be done" };
        say(format!("{label}: {}", report.remedy));
    }
    if report.proof.is_empty() || !report.proven {
        say(report.state.clone());
    } else {
        let shown: Vec<String> = report.proof.iter().map(proof).collect();
        say(format!("Proven: {}", shown.join("; ")));
    }
    if !report.proof_wanted.is_empty() {
        say(format!("Still wanted: {}", report.proof_wanted.join("; ")));
    }
    if !report.costs.sum.is_empty() {
        say(format!("Work: {}", report.costs.sum));
    }
    for (label, text) in report.costs.said.iter().filter(|(label, _)| label != "By the clock") {
        say(format!("{label}: {text}"));
    }
    for watch in &report.watch {
        say(watch.clone());
    }
    if !report.heading.contact.is_empty() {
        say(report.heading.contact.clone());
    }
    out
}

fn proof(line: &Line) -> String {
    format!("{}: {}", line.title, line.shown)
}

/// Whatever was typed, on one line and without signs that a terminal would obey.
fn one_line(text: &str) -> String {
    text.chars().map(|letter| if letter.is_control() { ' ' } else { letter }).collect()
}
