//! The lines of a job's report: each reading beside what a healthy machine shows, each remedy tried, each remark.
//! Promise: in the order in which they were made; what was taken back or skipped is left out; the caution of a probe
//! stands at its line.

use diagnosis::advice::{Band, Check, Verdict};
use diagnosis::request;
use diagnosis::{Desk, proof};
use journal::{Entry, Job, Kept};
use machine::{Machine, Probe};
use quantity::{Celsius, Reading};
use serde::Serialize;

use super::job_figure::Figure;
use crate::shop::machines::Ready;
use crate::shop::probes::{displayed_band, hazard};
use crate::shop::words;

/// A label and what stands behind it.
pub type Row = (String, String);

/// The text with a capital at its beginning.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// One line of the report.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Line {
    /// Number of its entry.
    pub entry: u64,
    /// Name of the probe or remedy; empty for a remark.
    pub name: String,
    /// Time of day.
    pub at: String,
    /// What was done.
    pub title: String,
    /// Whether it was read before.
    pub again: bool,
    /// What it showed, or what was remarked.
    pub shown: String,
    /// What a healthy machine shows; empty where nobody knows.
    pub healthy: String,
    /// What that says, in words: `as a healthy machine`, `above`; empty where there is nothing to compare.
    pub compared: String,
    /// Whether the reading is outside the band.
    pub out: bool,
    /// Leads, state and meter: label and content.
    pub how: Vec<Row>,
    /// What to mind; empty when nothing.
    pub mind: String,
    /// What lies between the tips.
    pub strip: Option<Figure>,
}

impl Line {
    /// The reading in a line of text.
    pub fn sentence(&self) -> String {
        let beside = match (self.healthy.is_empty(), self.compared.is_empty()) {
            (true, _) => String::new(),
            (false, true) => format!(" (healthy {})", self.healthy),
            (false, false) => format!(" (healthy {}; {})", self.healthy, self.compared),
        };
        format!("{}: {}{beside}", self.title, self.shown)
    }

    /// Whether something was compared with a healthy machine.
    pub fn is_reading(&self) -> bool {
        !self.healthy.is_empty()
    }

    /// The lines of a job whose machine is not known: names and values as they were typed.
    pub fn by_name(job: &Job) -> Vec<Self> {
        job.standing().into_iter().filter_map(plain).collect()
    }
}

/// A line of an entry without a machine; nothing for what is no line or was skipped.
fn plain(kept: &Kept) -> Option<Line> {
    let (name, title, shown) = match &kept.entry {
        Entry::Reading { probe, value } if value != "skip" && probe != "ask:since" => {
            (probe.clone(), probe.clone(), value.clone())
        }
        Entry::Note { text } => (String::new(), "Remark".to_owned(), text.clone()),
        _ => return None,
    };
    Some(Line { entry: kept.number, name, at: words::when(&kept.at).1, title, shown, ..Line::default() })
}

/// Who tells the lines of a job with its machine.
pub struct Teller<'a> {
    job: &'a Job,
    ready: &'a Ready,
    desk: &'a Desk,
    checks: &'a [Check],
    air: Option<Celsius>,
}

impl<'a> Teller<'a> {
    /// For a job, with the desk that has thought about it.
    pub fn new(job: &'a Job, ready: &'a Ready, desk: &'a Desk, verdict: Option<&'a Verdict>) -> Self {
        let checks = verdict.map_or(&[][..], |verdict| &verdict.proof);
        Self { job, ready, desk, checks, air: job.request(None).air }
    }

    /// All lines.
    pub fn lines(&mut self) -> Vec<Line> {
        let standing = self.job.standing();
        let mut lines: Vec<Line> = Vec::new();
        for kept in standing {
            let Some(line) = plain(kept) else { continue };
            let mut line = match &kept.entry {
                Entry::Reading { probe, value } => self.reading(line, probe, value),
                _ => line,
            };
            let again = lines.iter().any(|earlier| earlier.name == line.name && earlier.is_reading());
            if again && line.is_reading() {
                line.again = true;
                // It stands above already.
                line.strip = None;
            }
            lines.push(line);
        }
        lines
    }

    fn reading(&self, line: Line, name: &str, value: &str) -> Line {
        let machine = &self.ready.machine;
        match request::entry(machine, &self.ready.faults, name, value) {
            Ok(request::Entry::Took(probe, reading)) => self.took(line, &probe, &reading),
            Ok(request::Entry::Tried { verb, part, fixed }) => self.tried(line, &verb, &part, fixed),
            Ok(request::Entry::Checked(..)) => checked(line, name),
            Ok(request::Entry::HeldUp(held)) => {
                let shown = if held { "yes" } else { "no, it has come back" };
                Line { title: "Has the repair held up?".to_owned(), shown: shown.to_owned(), ..line }
            }
            Ok(request::Entry::MadeSafe) => {
                Line { title: "Made safe: the battery's negative lead lifted".to_owned(), ..line }
            }
            _ => line,
        }
    }

    fn took(&self, line: Line, probe: &Probe, reading: &Reading) -> Line {
        let machine = &self.ready.machine;
        let check = self.checks.iter().find(|check| check.probe == probe.name);
        let column = self.desk.atlas().column_of(probe);
        let band = column.map(|column| self.desk.band(column, self.air)).or(check.map(|check| check.band.clone()));
        let refusal = check.filter(|check| check.refusal);
        let out = band.as_ref().is_some_and(|band| !proof::within(band, reading));
        let how = words::how(machine, probe).into_iter().map(|(label, text)| (label.to_owned(), text)).collect();
        Line {
            title: capital(refusal.map_or(&probe.title, |check| &check.title)),
            shown: probe.show(reading),
            healthy: band.as_ref().map(|band| displayed_band(probe, band).replace("..", " to ")).unwrap_or_default(),
            compared: band.as_ref().map(|band| compared(band, reading).to_owned()).unwrap_or_default(),
            out,
            how,
            mind: hazard(machine, probe),
            strip: strip(machine, probe, line.entry),
            ..line
        }
    }

    fn tried(&self, line: Line, verb: &str, part: &str, fixed: bool) -> Line {
        let of = |fault: &&machine::Fault| {
            fault.remedy.verb == verb && request::part_name(&self.ready.machine, fault) == part
        };
        let remedy = self.ready.faults.iter().find(of).map(|fault| &fault.remedy);
        let shown = if fixed { "it works now" } else { "no change" };
        Line {
            title: format!("Tried: {}", remedy.map_or(&line.title, |remedy| &remedy.title)),
            shown: shown.to_owned(),
            mind: remedy.map(|remedy| remedy.caution.clone()).unwrap_or_default(),
            ..line
        }
    }
}

/// A check of the meter itself.
fn checked(line: Line, name: &str) -> Line {
    let rows: &[(&str, &str)] = match name {
        "meter:leads" => &words::LEADS.1,
        "meter:amps" => &words::AMMETER.1,
        _ => &[],
    };
    let row = |label: &str| rows.iter().find(|row| row.0 == label).map_or("", |row| row.1).to_owned();
    let title = match name {
        "meter:leads" => "The meter's leads, tips held together",
        "meter:amps" => "The ammeter on a known load",
        _ => "The meter on a known battery",
    };
    Line { title: title.to_owned(), healthy: row("healthy"), mind: row("mind"), ..line }
}

/// How a reading stands to a band, in words.
fn compared(band: &Band, reading: &Reading) -> &'static str {
    if proof::within(band, reading) {
        return "as a healthy machine";
    }
    match (band, reading) {
        (Band::Between { low, .. }, Reading::Number(value)) if value < low => "below: not as a healthy machine",
        (Band::Between { high, .. }, Reading::Number(value)) if value > high => "above: not as a healthy machine",
        (Band::Between { .. }, Reading::Overload) => "above: not as a healthy machine",
        _ => "not as a healthy machine",
    }
}

/// What lies between the tips of a probe.
fn strip(machine: &Machine, probe: &Probe, entry: u64) -> Option<Figure> {
    let (red, black) = (machine.node(&probe.red).ok()?, machine.node(&probe.black).ok()?);
    let svg = drawing::between(machine, red, black)?;
    let alt = drawing::between_in_words(machine, red, black)?;
    Some(Figure { name: format!("probe-{entry}.svg"), alt, svg })
}
