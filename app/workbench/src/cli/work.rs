//! `work`: a whole job at the terminal, from complaint to repair check.
//! Everything typed is kept before it is answered, so a job can be left at any moment and gone on with.

use std::path::PathBuf;
use std::thread::JoinHandle;

use clap::Args;
use diagnosis::advice::{Advice, Stop, Verdict};
use diagnosis::complaint::COMPLAINTS;
use diagnosis::request::{self, BadRequest};
use diagnosis::{Atlas, Desk, proof};
use machine::Machine;
use machine::probe::SINCE;
use quantity::Dimension;

use super::Ending;
use super::failure::{Failure, Kind};
use super::findings;
use super::input::Input;
use super::print::Page;
use super::{say, worksheet};
use crate::shop::job::{Entry, Job, JobError};
use crate::shop::{sheets, tables};

/// Work a whole job in the terminal
///
/// From the owner's complaint to the repair check: probewright proposes the
/// next probe, says where the leads go, what a healthy machine shows and what
/// each outcome would mean; you type what you read. The job is kept as you go.
#[derive(Debug, Args)]
#[command(after_long_help = EXAMPLES)]
pub struct Work {
    /// The machine's sheet
    sheet: PathBuf,
    /// What the owner says, as in cranks-slowly; asked when left out
    #[arg(long, value_name = "NAME")]
    complaint: Option<String>,
    /// Air temperature, as in -5C; asked when left out
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    air: Option<String>,
    /// Instruments at hand, separated by commas: meter, clamp, lamp, jumper, caliper (eyes and ears are)
    #[arg(long, value_delimiter = ',', value_name = "LIST")]
    instruments: Option<Vec<String>>,
    /// Keep the job in this file; one that is there is gone on with
    #[arg(long, value_name = "FILE")]
    job: Option<PathBuf>,
    /// Go on with the latest open job of this machine
    #[arg(long, conflicts_with = "job")]
    resume: bool,
}

const EXAMPLES: &str = "\
At a prompt type what you read (12.6, 12,6 V, 2.4..12.2 V, OL, >1 Mohm, a word),
or: skip, undo, why, list, take 2, odds, NAME=VALUE, done, quit, help.

Examples:
  probewright work curlew.toml
  probewright work curlew.toml --complaint one-click --air 8C
  probewright work curlew.toml --instruments meter,lamp
  probewright work curlew.toml --resume
  probewright work curlew.toml --job saturday.jsonl";

const HELP: &str = "\
12.6 V        what you read; 12,6 and 180 mohm too; OL; 2.4..12.2 V; a word
skip          cannot be done, or not sure
undo          take back the last entry
why           each reading's part in the odds
list, take 2  what else could be done next
odds          all suspects that matter
NAME=VALUE    any other reading, as in volts@rest:battery.plus,battery.minus=13.1
done          close the job
quit          leave; `--resume` goes on";

/// Air below which a start is planned in bursts, °C (estimate).
const COLD: f64 = 5.0;

impl Work {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        let sheet = sheets::open(&self.sheet).map_err(|error| Failure::opening(&self.sheet, error))?;
        let text = sheet.text.clone();
        let machine = findings::usable(sheet, page)?;
        let id = machine.sheet.id.clone();
        let job = match (&self.job, self.resume) {
            (Some(path), _) => Job::at(path, &id, &text),
            (None, true) => Job::latest(&id),
            (None, false) => Job::new(&id, &text),
        }?;
        let (for_table, for_key) = (machine.clone(), text.clone());
        let table = std::thread::spawn(move || tables::table(&for_table, &for_key, tables::full(&for_table)));
        Session { page, input: Input::new(), machine, job, work: self, table: Some(table), desk: None }.run(&text)
    }
}

/// A job in hand.
struct Session<'a> {
    page: &'a mut Page,
    input: Input,
    machine: Machine,
    job: Job,
    work: &'a Work,
    /// Computed while the first questions are answered.
    table: Option<JoinHandle<Atlas>>,
    desk: Option<Desk>,
}

/// What a line at the prompt asks for.
enum Act {
    /// Something was entered or taken back: think again.
    Again,
    /// Only something was shown: ask again.
    Ask,
    /// The job is left or closed.
    Leave,
}

impl Session<'_> {
    fn run(mut self, text: &str) -> Result<Ending, Failure> {
        say::heading(self.page, &self.machine.sheet.title.clone())?;
        say::paragraph(self.page, &format!("kept in {}", self.job.path().display()))?;
        self.warn_of_the_past(text);
        if !self.opening()? {
            return self.left();
        }
        let mut taken = 0;
        loop {
            let advice = self.advice()?;
            let act = if let Some(verdict) = advice.verdict.clone().filter(|verdict| verdict.settled) {
                let repaired = self.job.reading(&verdict.remedy) == Some("fixed");
                match (verdict.proven, repaired) {
                    (true, _) => return self.proven(&advice),
                    (false, true) => self.repair_check(&advice, &verdict)?,
                    (false, false) => self.remedy(&advice)?,
                }
            } else if let Some(stop) = advice.stop {
                self.stopped(&advice, stop)?
            } else {
                let step = taken.min(advice.next.len().saturating_sub(1));
                self.probe(&advice, step, &mut taken)?
            };
            match act {
                Act::Again => taken = 0,
                Act::Ask => {}
                Act::Leave => return self.left(),
            }
        }
    }

    fn warn_of_the_past(&mut self, text: &str) {
        if self.job.sheet_changed(text) {
            self.page.warn("the sheet has changed since this job was opened; the advice is that of the new sheet");
        }
        for line in &self.job.unread {
            self.page.warn(&format!("line {line} of the job cannot be read and is left out"));
        }
    }

    /// Complaint, what happened since, air temperature, the meter's own check. False when the job is left.
    fn opening(&mut self) -> Result<bool, Failure> {
        if let Some(complaint) = &self.work.complaint
            && !self.has(|entry| matches!(entry, Entry::Complaint { .. }))
        {
            let entry = Entry::Complaint { value: self.complaint(complaint)? };
            self.job.record(entry)?;
        }
        if let Some(air) = &self.work.air
            && !self.has(|entry| matches!(entry, Entry::Air { .. }))
        {
            quantity::read_loosely(air, Dimension::Temperature).map_err(|error| unread(&error))?;
            self.job.record(Entry::Air { value: air.clone() })?;
        }
        loop {
            let asked = if !self.has(|entry| matches!(entry, Entry::Complaint { .. })) {
                self.ask_complaint()?
            } else if self.job.reading("ask:since").is_none() {
                self.ask_since()?
            } else if !self.has(|entry| matches!(entry, Entry::Air { .. })) {
                self.ask_air()?
            } else if self.uses_a_meter() && self.job.reading("meter:leads").is_none() {
                self.check_leads()?
            } else {
                return Ok(true);
            };
            if matches!(asked, Act::Leave) {
                return Ok(false);
            }
        }
    }

    fn has(&self, what: impl Fn(&Entry) -> bool) -> bool {
        self.job.standing().into_iter().any(what)
    }

    fn uses_a_meter(&self) -> bool {
        self.work.instruments.as_ref().is_none_or(|all| all.iter().any(|known| known == "meter"))
    }

    fn ask_complaint(&mut self) -> Result<Act, Failure> {
        say::heading(self.page, "What does the owner say?")?;
        for (index, complaint) in COMPLAINTS.iter().enumerate() {
            say::paragraph(self.page, &format!("{:>3}  {:<17} {}", index + 1, complaint.name, complaint.title))?;
        }
        self.answer(|session, line| {
            let value = session.complaint(line)?;
            let known = COMPLAINTS.iter().find(|known| known.name == value);
            if known.is_some_and(|known| !known.computed) {
                say::paragraph(
                    session.page,
                    "This one cannot be computed from the wiring yet: it is kept, and weighs nothing.",
                )?;
            }
            Ok(Entry::Complaint { value })
        })
    }

    /// A complaint by number or name.
    fn complaint(&self, line: &str) -> Result<String, Failure> {
        let by_number = line.parse::<usize>().ok().and_then(|number| COMPLAINTS.get(number.checked_sub(1)?));
        let found = by_number.map(|complaint| complaint.name).or_else(|| {
            let name = line.to_lowercase().replace(' ', "-");
            COMPLAINTS.iter().map(|complaint| complaint.name).find(|known| *known == name)
        });
        match found {
            Some(name) => Ok(name.to_owned()),
            None if line == "skip" => Ok("skip".to_owned()),
            None => Err(refused(&BadRequest::Complaint(line.to_owned()))),
        }
    }

    fn ask_since(&mut self) -> Result<Act, Failure> {
        say::heading(self.page, "What happened since it last worked?")?;
        say::paragraph(self.page, &format!("{}, or skip", SINCE.join(", ")))?;
        self.answer(|session, line| session.reading("ask:since", line))
    }

    fn ask_air(&mut self) -> Result<Act, Failure> {
        say::heading(self.page, "How warm is it where the machine stands?")?;
        say::paragraph(self.page, "degrees Celsius, or skip")?;
        self.answer(|_, line| {
            if line != "skip" {
                quantity::read_loosely(line, Dimension::Temperature).map_err(|error| unread(&error))?;
            }
            Ok(Entry::Air { value: line.to_owned() })
        })
    }

    fn check_leads(&mut self) -> Result<Act, Failure> {
        say::heading(self.page, "First the meter itself: ohms, both tips held together")?;
        say::labeled(self.page, "healthy", "0.05 Ω to 0.4 Ω")?;
        say::labeled(
            self.page,
            "means",
            "OL or jumping: a broken lead, the wrong socket, a flat battery in the meter",
        )?;
        self.answer(|session, line| {
            let read = quantity::Reading::read(line, quantity::Expect::Quantity(Dimension::Resistance));
            match read.map_err(|error| unread(&error))? {
                quantity::Reading::Number(ohms) if (-0.05..=0.5).contains(&ohms) => {}
                quantity::Reading::Skip => {}
                _ => {
                    let text = "These leads cannot be trusted: try other leads or sockets, then read again.";
                    say::paragraph(session.page, text)?;
                }
            }
            Ok(Entry::Reading { probe: "meter:leads".to_owned(), value: line.to_owned() })
        })
    }

    /// `0.00 A` says nothing before the ammeter has shown a current that is known to flow.
    fn check_ammeter(&mut self) -> Result<Act, Failure> {
        say::heading(self.page, "First the ammeter: the test lamp and the meter in series across the battery")?;
        say::labeled(self.page, "meter", "dc amps, red lead in the 10 A jack")?;
        say::labeled(self.page, "mind", "lamp first, meter second: never the meter alone across the battery")?;
        say::labeled(self.page, "healthy", "about 0.4 A with a lamp of 5 W")?;
        say::labeled(self.page, "means", "0.00 A: the meter's fuse is blown or the lead is in the wrong jack")?;
        self.answer(|session, line| {
            let read = quantity::Reading::read(line, quantity::Expect::Quantity(Dimension::Current));
            match read.map_err(|error| unread(&error))? {
                quantity::Reading::Number(amps) if amps.abs() < 0.05 => {
                    let text = "This meter shows no current: mend its fuse or its lead before its zero is believed.";
                    say::paragraph(session.page, text)?;
                }
                _ => {}
            }
            Ok(Entry::Reading { probe: "meter:amps".to_owned(), value: line.to_owned() })
        })
    }

    /// One answer to one question; what cannot be read is asked for again.
    fn answer(&mut self, read: impl Fn(&mut Self, &str) -> Result<Entry, Failure>) -> Result<Act, Failure> {
        loop {
            let Some(line) = self.input.line(self.page, "> ")? else { return Ok(Act::Leave) };
            match line.as_str() {
                "" => {}
                "quit" | "done" => return Ok(Act::Leave),
                "undo" => return self.undo(),
                "help" | "?" => say::paragraph_lines(self.page, HELP)?,
                line => match read(self, line) {
                    Ok(entry) => {
                        self.job.record(entry)?;
                        return Ok(Act::Again);
                    }
                    Err(failure) => self.page.fail(&failure),
                },
            }
        }
    }

    fn undo(&mut self) -> Result<Act, Failure> {
        match self.job.undo()? {
            Some(Entry::Reading { probe, value }) => {
                say::paragraph(self.page, &format!("taken back: {probe} = {value}"))?;
            }
            Some(Entry::Complaint { value } | Entry::Air { value }) => {
                say::paragraph(self.page, &format!("taken back: {value}"))?;
            }
            _ => say::paragraph(self.page, "nothing to take back")?,
        }
        Ok(Act::Again)
    }

    /// Reads a typed value for a probe or remedy of this machine.
    fn reading(&self, name: &str, value: &str) -> Result<Entry, Failure> {
        let faults = self.machine.faults();
        request::entry(&self.machine, &faults, name, value).map_err(|error| refused(&error))?;
        Ok(Entry::Reading { probe: name.to_owned(), value: value.to_owned() })
    }

    fn advice(&mut self) -> Result<Advice, Failure> {
        if self.desk.is_none() {
            let table = self.table.take().map(JoinHandle::join);
            let Some(Ok(atlas)) = table else {
                return Err(Failure::new(Kind::Internal, "the table of readings could not be computed"));
            };
            self.desk = Some(Desk::new(self.machine.clone(), atlas));
        }
        let request = self.job.request(self.work.instruments.as_deref());
        match &mut self.desk {
            Some(desk) => desk.advise(&request).map_err(|error| refused(&error)),
            None => Err(Failure::new(Kind::Internal, "no table of readings")),
        }
    }

    /// Proposes a probe and takes what is typed.
    fn probe(&mut self, advice: &Advice, index: usize, taken: &mut usize) -> Result<Act, Failure> {
        let step = advice.next[index].clone();
        if step.probe == "meter:amps" {
            return self.check_ammeter();
        }
        if let Some(verdict) = &advice.verdict {
            let text = format!(
                "Likely ({}), but one more reading is worth its minutes before the remedy",
                say::odds(verdict.probability)
            );
            say::heading(self.page, &text)?;
        }
        say::step(self.page, &self.machine, &step)?;
        say::suspects(self.page, advice, 3)?;
        loop {
            let Some(line) = self.input.line(self.page, "> ")? else { return Ok(Act::Leave) };
            if let Some(number) = line.strip_prefix("take ") {
                match number.trim().parse::<usize>() {
                    Ok(number) if (1..=advice.next.len()).contains(&number) => {
                        *taken = number - 1;
                        return Ok(Act::Ask);
                    }
                    _ => {
                        let allowed = format!("take 1 to take {}", advice.next.len());
                        self.page.fail(
                            &Failure::new(Kind::Usage, format!("`{line}` takes nothing"))
                                .hint(format!("allowed: {allowed}")),
                        );
                        continue;
                    }
                }
            }
            let act = match line.as_str() {
                "list" => {
                    say::list(self.page, advice)?;
                    Act::Ask
                }
                line => self.command(advice, &step.probe, line)?,
            };
            if !matches!(act, Act::Ask) {
                if matches!(act, Act::Again) {
                    self.compare(&step);
                }
                return Ok(act);
            }
        }
    }

    /// Says whether what was just read is what a healthy machine shows.
    fn compare(&mut self, step: &diagnosis::Step) {
        let (Some(band), Some(value)) = (&step.band, self.job.reading(&step.probe)) else { return };
        let faults = self.machine.faults();
        if let Ok(request::Entry::Took(probe, reading)) = request::entry(&self.machine, &faults, &step.probe, value) {
            let shown = probe.show(&reading);
            let verdict =
                if proof::within(band, &reading) { "as a healthy machine" } else { "not as a healthy machine" };
            // A remark about a reading is not worth failing for.
            let _ = say::paragraph(self.page, &format!("{shown}: {verdict}"));
        }
    }

    /// Commands that every prompt knows; anything else is the value of `name`.
    fn command(&mut self, advice: &Advice, name: &str, line: &str) -> Result<Act, Failure> {
        match line {
            "" => Ok(Act::Ask),
            "quit" => Ok(Act::Leave),
            "done" => {
                self.job.record(Entry::Closed { proven: false })?;
                say::paragraph(self.page, "Closed without a proven cause.")?;
                Ok(Act::Leave)
            }
            "undo" => self.undo(),
            "why" => {
                say::reasons(self.page, advice)?;
                Ok(Act::Ask)
            }
            "odds" => {
                say::suspects(self.page, advice, 12)?;
                Ok(Act::Ask)
            }
            "help" | "?" => {
                say::paragraph_lines(self.page, HELP)?;
                Ok(Act::Ask)
            }
            line => {
                let (name, value) = match line.split_once('=') {
                    Some((other, value)) if other.contains('@') || other.contains(':') => (other.trim(), value.trim()),
                    _ => (name, line),
                };
                match self.reading(name, value) {
                    Ok(entry) => {
                        self.job.record(entry)?;
                        Ok(Act::Again)
                    }
                    Err(failure) => {
                        self.page.fail(&failure);
                        Ok(Act::Ask)
                    }
                }
            }
        }
    }

    /// The verdict is reached: the remedy is done and tried.
    fn remedy(&mut self, advice: &Advice) -> Result<Act, Failure> {
        let Some(verdict) = &advice.verdict else { return Ok(Act::Ask) };
        say::verdict(self.page, &self.machine, advice, verdict)?;
        self.job.record(Entry::Told {
            faults: verdict.faults.clone(),
            probability: verdict.probability,
            proven: verdict.proven,
        })?;
        say::labeled(self.page, "name", &verdict.remedy)?;
        say::paragraph(self.page, "Do it, try to start, then type fixed or same.")?;
        self.prompt(advice, &verdict.remedy.clone())
    }

    /// The remedy worked: what the machine must show now, point by point.
    fn repair_check(&mut self, advice: &Advice, verdict: &Verdict) -> Result<Act, Failure> {
        let checks = &verdict.proof;
        let after = self.after_repair();
        let missing = checks.iter().find(|check| !after.iter().any(|(name, _)| *name == check.probe));
        if let Some(check) = missing {
            say::heading(self.page, &format!("Repair check: {}", say::check_line(&self.machine, check)))?;
            let state = self.machine.probe(&check.probe).ok().and_then(|probe| self.machine.state(&probe.state).ok());
            if let Some(caution) = state.map(|state| state.caution).filter(|caution| !caution.is_empty()) {
                say::labeled(self.page, "mind", &caution)?;
            }
            say::labeled(self.page, "name", &check.probe)?;
            return self.prompt(advice, &check.probe.clone());
        }
        if let (Some(pending), true) = (verdict.pending, verdict.shown) {
            say::heading(self.page, "The repair check is passed; the proof is still to come")?;
            say::labeled(self.page, "wanted", &pending.to_string())?;
            let text =
                "Leave the job with quit and come back to it: type yes when it has held up, no when it has come back.";
            say::paragraph(self.page, text)?;
            return self.prompt(advice, "ask:held-up");
        }
        say::heading(self.page, "The repair check is not passed")?;
        for check in checks {
            say::paragraph(self.page, &say::check_line(&self.machine, check))?;
        }
        say::paragraph(self.page, "Read again (NAME=VALUE), or type same to go on looking for the cause.")?;
        let remedy = advice.verdict.as_ref().map(|verdict| verdict.remedy.clone()).unwrap_or_default();
        self.prompt(advice, &remedy)
    }

    fn after_repair(&self) -> Vec<(String, String)> {
        let mut after = Vec::new();
        let mut repaired = false;
        for entry in self.job.standing() {
            if let Entry::Reading { probe, value } = entry {
                if repaired {
                    after.push((probe.clone(), value.clone()));
                }
                repaired = if probe.starts_with("try:") { value == "fixed" } else { repaired };
            }
        }
        after
    }

    fn prompt(&mut self, advice: &Advice, name: &str) -> Result<Act, Failure> {
        loop {
            let Some(line) = self.input.line(self.page, "> ")? else { return Ok(Act::Leave) };
            let act = self.command(advice, name, &line)?;
            if !matches!(act, Act::Ask) {
                return Ok(act);
            }
        }
    }

    fn stopped(&mut self, advice: &Advice, stop: Stop) -> Result<Act, Failure> {
        let text = match stop {
            Stop::NoneOfThese => "No fault in the catalogue explains these readings.",
            Stop::NotWorthMore => "No probe is worth its minutes any more.",
            Stop::Unsafe => "What is left to be measured would not be safe.",
        };
        say::heading(self.page, text)?;
        say::suspects(self.page, advice, 5)?;
        say::reasons(self.page, advice)?;
        let healthy = advice.suspects.first().is_some_and(|leader| leader.fault == "healthy");
        if healthy && stop == Stop::NotWorthMore {
            self.nothing_to_repair()?;
        }
        say::paragraph(self.page, "undo takes back a reading, NAME=VALUE adds one, done closes the job.")?;
        self.prompt(advice, "")
    }

    /// The machine is as its sheet says: what a person can do who still has to start it, cold as it is.
    fn nothing_to_repair(&mut self) -> Result<(), Failure> {
        say::heading(self.page, "There is nothing to repair in what was measured")?;
        let said = |wanted: &str| self.has(|entry| matches!(entry, Entry::Complaint { value } if value == wanted));
        let air = self.job.standing().into_iter().rev().find_map(|entry| match entry {
            Entry::Air { value } => quantity::read_loosely(value, Dimension::Temperature).ok(),
            _ => None,
        });
        let cold = said("cold-only") || said("cranks-slowly");
        let Some(air) = air.filter(|air| cold && *air < COLD) else { return Ok(()) };
        let (machine, air) = (self.machine.clone(), quantity::show(air, Dimension::Temperature));
        // A sheet without all that a start in time needs still has its verdict.
        let _ = worksheet::cold_plan(self.page, &machine, &air);
        Ok(())
    }

    fn proven(mut self, advice: &Advice) -> Result<Ending, Failure> {
        let Some(verdict) = &advice.verdict else { return self.left() };
        say::heading(self.page, "Proven.")?;
        for fault in &verdict.faults {
            let title = advice.suspects.iter().find(|suspect| suspect.fault == *fault);
            say::labeled(self.page, "cause", title.map_or(fault.as_str(), |suspect| suspect.title.as_str()))?;
        }
        say::labeled(self.page, "remedy", &verdict.remedy_title)?;
        for (name, value) in self.after_repair() {
            say::labeled(self.page, "shown", &format!("{name} = {value}"))?;
        }
        let told = Entry::Told { faults: verdict.faults.clone(), probability: verdict.probability, proven: true };
        self.job.record(told)?;
        self.job.record(Entry::Closed { proven: true })?;
        say::paragraph(self.page, &format!("kept in {}", self.job.path().display()))?;
        Ok(Ending::Done)
    }

    fn left(self) -> Result<Ending, Failure> {
        if !self.job.is_closed() {
            say::paragraph(self.page, &format!("\nThe job is kept: work --job {}", self.job.path().display()))?;
        }
        Ok(Ending::No)
    }
}

fn unread(error: &quantity::ReadError) -> Failure {
    let failure = Failure::new(Kind::Usage, error.to_string()).hint(format!("allowed: {}", error.allowed));
    match &error.hint {
        Some(hint) => failure.hint(hint.clone()),
        None => failure,
    }
}

fn refused(error: &BadRequest) -> Failure {
    let failure = Failure::new(Kind::Usage, error.to_string()).hint(format!("allowed: {}", error.allowed()));
    match error.hint() {
        Some(hint) => failure.hint(hint),
        None => failure,
    }
}

impl From<JobError> for Failure {
    fn from(error: JobError) -> Self {
        let kind = match &error {
            JobError::Disk { source, .. } if source.kind() == std::io::ErrorKind::PermissionDenied => {
                Kind::NoPermission
            }
            JobError::Disk { .. } => Kind::Io,
            JobError::OtherMachine { .. } | JobError::NotAJob { .. } => Kind::BadData,
            JobError::NoHome => Kind::CannotCreate,
            JobError::NothingOpen(_) => Kind::NoInput,
        };
        Self::new(kind, error)
    }
}
