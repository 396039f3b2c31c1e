//! `work`: a whole job at the terminal, from complaint to repair check.
//! Everything typed is kept before it is answered, so a job can be left at any moment and gone on with.

use std::path::PathBuf;
use std::thread::JoinHandle;

use clap::Args;
use diagnosis::advice::{Advice, Stop, Verdict};
use diagnosis::complaint::COMPLAINTS;
use diagnosis::{Atlas, Desk};
use journal::{Entry, JournalError, Place};
use machine::probe::SINCE;
use machine::{Fault, Machine};
use quantity::Dimension;

use super::Ending;
use super::failure::{Failure, Kind};
use super::findings;
use super::input::Input;
use super::print::Page;
use super::{say, worksheet};
use crate::shop::job::{JobError, OpenJob};
use crate::shop::learned::{self, Odds, VARIABLE};
use crate::shop::settings::{self, Settings};
use crate::shop::wants::{self, Wants};
use crate::shop::{advice, bill, journals, sheets, tables, words};

/// Work a whole job in the terminal
///
/// From the owner's complaint to the repair check: probewright proposes the
/// next probe, says where the leads go, what a healthy machine shows and what
/// each outcome would mean; you type what you read. The job is kept in the
/// journal as you go; the workbench in the browser works the same jobs.
#[derive(Debug, Default, Args)]
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
    /// Go on with the job of this name, or begin it under this name
    #[arg(long, value_name = "NAME")]
    job: Option<String>,
    /// Go on with the latest open job of this machine
    #[arg(long, conflicts_with = "job")]
    resume: bool,
    /// The journal to keep the job in, a file or postgres://USER@HOST/DATABASE; your own when left out
    #[arg(long, value_name = "PLACE", env = journals::VARIABLE, hide_env_values = true)]
    journal: Option<Place>,
    /// The workshop's prices; your own when left out
    #[arg(long, value_name = "FILE", env = settings::VARIABLE, hide_env_values = true)]
    settings: Option<PathBuf>,
    /// Whose odds to start from: learned from the journal's proven verdicts, or the sheet's
    #[arg(long, value_name = "WHOSE", default_value = "learned", env = VARIABLE, hide_env_values = true, hide_possible_values = true)]
    odds: Odds,
}

const EXAMPLES: &str = "\
At a prompt type what you read (12.6, 12,6 V, 2.4..12.2 V, OL, >1 Mohm, a word),
or: skip, undo, why, list, take 2, odds, cost, limit 120, note TEXT, NAME=VALUE,
done, quit, help.

Examples:
  probewright work curlew.toml
  probewright work curlew.toml --complaint one-click --air 8C
  probewright work curlew.toml --instruments meter,lamp
  probewright work curlew.toml --resume
  probewright work curlew.toml --job saturday";

const HELP: &str = "\
12.6 V        what you read; 12,6 and 180 mohm too; OL; 2.4..12.2 V; a word
skip          cannot be done, or not sure
undo          take back the last entry
why           each reading's part in the odds
list, take 2  what else could be done next
odds          all suspects that matter
limit 120     what the owner agrees to at most, where things have prices
cost          what was done so far costs
note TEXT     a remark that is kept with the job
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
        let (settings, _) = Settings::open(self.settings.as_deref())?;
        let journal = journals::open(self.journal.as_ref())?;
        let job = match self.resume {
            true => OpenJob::latest(&journal, &machine.sheet.id),
            false => OpenJob::named(&journal, self.job.as_deref(), &machine, &text),
        }?;
        let done = self.go_on(page, machine, &text, job, settings);
        if let Some(waiting) = journals::waiting(&journal) {
            page.remark(&waiting);
        }
        done
    }

    /// Works a job that is open, with this machine.
    pub fn go_on(
        &self,
        page: &mut Page,
        machine: Machine,
        text: &str,
        job: OpenJob<'_>,
        settings: Settings,
    ) -> Result<Ending, Failure> {
        let (for_table, for_key) = (machine.clone(), text.to_owned());
        let table = std::thread::spawn(move || tables::table(&for_table, &for_key, tables::full(&for_table)));
        let faults = machine.faults();
        let (input, table) = (Input::new(), Some(table));
        Session { page, input, machine, faults, job, work: self, settings, table, desk: None }.run(text)
    }
}

/// A job in hand.
struct Session<'a> {
    page: &'a mut Page,
    input: Input,
    machine: Machine,
    faults: Vec<Fault>,
    job: OpenJob<'a>,
    work: &'a Work,
    settings: Settings,
    /// Computed while the first questions are answered.
    table: Option<JoinHandle<Atlas>>,
    desk: Option<Desk>,
}

/// What a line at the prompt asks for.
enum Act {
    /// Something was entered or taken back: think again.
    Again,
    /// Another of the next steps is shown.
    Take(usize),
    /// Only something was shown: ask again.
    Ask,
    /// The job is left or closed.
    Leave,
}

impl Session<'_> {
    fn run(mut self, text: &str) -> Result<Ending, Failure> {
        say::heading(self.page, &self.machine.sheet.title.clone())?;
        say::paragraph(self.page, &format!("kept as {}", self.job.id))?;
        if self.job.sheet_changed(text) {
            self.page.warn("the sheet has changed since this job was opened; the advice is that of the new sheet");
        }
        if self.job.closed().is_some() {
            self.job.record(&Entry::Reopened)?;
        }
        self.given()?;
        let meter = self.work.instruments.as_ref().is_none_or(|all| all.iter().any(|known| known == "meter"));
        while let Some(wants) = wants::opening(&self.job, meter) {
            self.ask(&wants)?;
            if matches!(self.answer(None, &wants)?, Act::Leave) {
                return self.left();
            }
        }
        let mut taken = 0;
        loop {
            let advice = self.advice()?;
            let wants = wants::follows(&self.job, &advice, taken);
            let settings = self.settings.clone();
            let wants = wants::within(&self.machine, &self.faults, &settings, &self.job, wants);
            match wants {
                Wants::Proven(verdict) => return self.proven(&advice, verdict),
                Wants::Probe(step) => self.probe(&advice, step)?,
                Wants::Remedy(verdict) => self.remedy(&advice, verdict)?,
                Wants::Limit(beyond) => {
                    say::heading(self.page, "Ask the owner first")?;
                    let (then, agreed) =
                        (bill::shown(beyond.comes_to, beyond.currency), bill::shown(beyond.limit, beyond.currency));
                    let text = format!("{} takes the bill to {then}; {agreed} at most are agreed.", beyond.title);
                    say::paragraph(self.page, &text)?;
                    say::paragraph(self.page, "Type the new limit, as in limit 180, or done.")?;
                }
                Wants::RepairCheck(check) => {
                    say::heading(self.page, &format!("Repair check: {}", words::check_line(&self.machine, check)))?;
                    let caution = words::check_caution(&self.machine, check);
                    if !caution.is_empty() {
                        say::labeled(self.page, "mind", &caution)?;
                    }
                    say::labeled(self.page, "name", &check.probe)?;
                }
                Wants::HeldUp { verdict, pending, again } => {
                    say::heading(self.page, "The repair check is passed; the proof is still to come")?;
                    say::rows(self.page, &words::held_up(verdict, pending, again))?;
                    let text = "Leave the job with quit and come back to it: type yes when it has held up, no when \
                                it has come back.";
                    say::paragraph(self.page, text)?;
                }
                Wants::NotPassed(verdict) => self.not_passed(verdict)?,
                Wants::Stopped(stop) => self.stopped(&advice, stop)?,
                _ => self.ask(&wants)?,
            }
            match self.answer(Some(&advice), &wants)? {
                Act::Again => taken = 0,
                Act::Take(index) => taken = index,
                Act::Ask => {}
                Act::Leave => return self.left(),
            }
        }
    }

    /// What was given as arguments, unless the job has it already.
    fn given(&mut self) -> Result<(), Failure> {
        if let Some(complaint) = self.work.complaint.as_ref().filter(|_| self.job.complaint().is_none()) {
            let (entry, _) = wants::take(&self.machine, &self.faults, &Wants::Complaint, complaint)?;
            self.job.record(&entry)?;
        }
        if let Some(air) = self.work.air.as_ref().filter(|_| self.job.air().is_none()) {
            let (entry, _) = wants::take(&self.machine, &self.faults, &Wants::Air, air)?;
            self.job.record(&entry)?;
        }
        Ok(())
    }

    /// Asks what needs no advice.
    fn ask(&mut self, wants: &Wants<'_>) -> Result<(), Failure> {
        match wants {
            Wants::Complaint => {
                say::heading(self.page, "What does the owner say?")?;
                for (index, complaint) in COMPLAINTS.iter().enumerate() {
                    let line = format!("{:>3}  {:<17} {}", index + 1, complaint.name, complaint.title);
                    say::paragraph(self.page, &line)?;
                }
            }
            Wants::Since => {
                say::heading(self.page, "What happened since it last worked?")?;
                say::paragraph(self.page, &format!("{}, or skip", SINCE.join(", ")))?;
            }
            Wants::Air => {
                say::heading(self.page, "How warm is it where the machine stands?")?;
                say::paragraph(self.page, "degrees Celsius, or skip")?;
            }
            Wants::Leads => self.check(words::LEADS.0, &words::LEADS.1)?,
            Wants::Ammeter => self.check(words::AMMETER.0, &words::AMMETER.1)?,
            _ => {}
        }
        Ok(())
    }

    fn check(&mut self, heading: &str, rows: &[(&str, &str)]) -> Result<(), Failure> {
        say::heading(self.page, heading)?;
        Ok(rows.iter().try_for_each(|(label, text)| say::labeled(self.page, label, text))?)
    }

    /// Lines from the prompt until one is kept, taken back, or asks to see the question again; before there is advice,
    /// commands that show it are answers like any other.
    fn answer(&mut self, advice: Option<&Advice>, wants: &Wants<'_>) -> Result<Act, Failure> {
        loop {
            let Some(line) = self.input.line(self.page, "> ")? else { return Ok(Act::Leave) };
            let act = self.command(advice, wants, &line)?;
            if !matches!(act, Act::Ask) {
                return Ok(act);
            }
        }
    }

    /// Commands that every prompt knows; anything else is what was asked for.
    fn command(&mut self, advice: Option<&Advice>, wants: &Wants<'_>, line: &str) -> Result<Act, Failure> {
        match (line, advice) {
            ("", _) => {}
            ("quit", _) | ("done", None) => return Ok(Act::Leave),
            ("undo", _) => return self.undo(),
            ("help" | "?", _) => say::paragraph_lines(self.page, HELP)?,
            ("done", Some(_)) => {
                self.job.record(&Entry::Closed { proven: false })?;
                say::paragraph(self.page, "Closed without a proven cause.")?;
                return Ok(Act::Leave);
            }
            ("why", Some(advice)) => say::reasons(self.page, advice)?,
            ("cost", _) => self.cost()?,
            ("odds", Some(advice)) => say::suspects(self.page, advice, 12)?,
            ("list", Some(advice)) => say::list(self.page, advice)?,
            (line, advice) => {
                if let Some(amount) = line.strip_prefix("limit ") {
                    return self.limit(amount);
                }
                if let Some(text) = line.strip_prefix("note ") {
                    self.job.record(&Entry::Note { text: text.trim().to_owned() })?;
                    say::paragraph(self.page, "Kept.")?;
                } else if let (Some(number), Some(advice)) = (line.strip_prefix("take "), advice) {
                    return Ok(self.take(number, advice.next.len()));
                } else {
                    return self.typed(wants, line);
                }
            }
        }
        Ok(Act::Ask)
    }

    fn limit(&mut self, amount: &str) -> Result<Act, Failure> {
        match wants::limit(&self.settings, amount) {
            Ok(entry) => {
                self.job.record(&entry)?;
                say::paragraph(self.page, "Kept.")?;
                Ok(Act::Again)
            }
            Err(refusal) => {
                self.page.fail(&Failure::typed(refusal));
                Ok(Act::Ask)
            }
        }
    }

    fn cost(&mut self) -> Result<(), Failure> {
        let bill = bill::bill(&self.machine, &self.faults, &self.settings, self.job.readings());
        Ok(say::bill(self.page, &bill)?)
    }

    fn take(&mut self, number: &str, steps: usize) -> Act {
        match number.trim().parse::<usize>() {
            Ok(number) if (1..=steps).contains(&number) => Act::Take(number - 1),
            _ => {
                let failure = Failure::new(Kind::Usage, format!("`take {number}` takes nothing"));
                let allowed =
                    if steps == 0 { "nothing to take now".to_owned() } else { format!("take 1 to take {steps}") };
                self.page.fail(&failure.hint(format!("allowed: {allowed}")));
                Act::Ask
            }
        }
    }

    fn typed(&mut self, wants: &Wants<'_>, line: &str) -> Result<Act, Failure> {
        let (entry, remark) = match wants::take(&self.machine, &self.faults, wants, line) {
            Ok(taken) => taken,
            Err(refusal) => {
                self.page.fail(&Failure::typed(refusal));
                return Ok(Act::Ask);
            }
        };
        self.job.record(&entry)?;
        let compared = match (wants, &entry) {
            (Wants::Probe(step), Entry::Reading { probe, value }) if *probe == step.probe => {
                wants::compared(&self.machine, &self.faults, step, value)
            }
            _ => None,
        };
        for text in remark.map(str::to_owned).into_iter().chain(compared) {
            say::paragraph(self.page, &text)?;
        }
        Ok(Act::Again)
    }

    fn undo(&mut self) -> Result<Act, Failure> {
        let text = match self.job.undo()? {
            Some(Entry::Reading { probe, value }) => format!("taken back: {probe} = {value}"),
            Some(Entry::Complaint { value } | Entry::Air { value }) => format!("taken back: {value}"),
            Some(Entry::Note { text }) => format!("taken back: the note \"{text}\""),
            Some(_) => "taken back".to_owned(),
            None => "nothing to take back".to_owned(),
        };
        say::paragraph(self.page, &text)?;
        Ok(Act::Again)
    }

    fn advice(&mut self) -> Result<Advice, Failure> {
        if self.desk.is_none() {
            let table = self.table.take().map(JoinHandle::join);
            let Some(Ok(atlas)) = table else {
                return Err(Failure::new(Kind::Internal, "the table of readings could not be computed"));
            };
            let mut desk = Desk::new(self.machine.clone(), atlas);
            desk.price(|fault| bill::in_vain(&self.machine, &self.settings, fault));
            let lessons = learned::of_job(self.work.odds, self.job.journal(), &self.machine, &self.job)?;
            if lessons.taught() {
                desk.learn(&lessons.learned);
                say::paragraph(self.page, &lessons.said())?;
            }
            self.desk = Some(desk);
        }
        let request = self.job.request(self.work.instruments.as_deref());
        match &mut self.desk {
            Some(desk) => Ok(advice::advise(desk, &request)?),
            None => Err(Failure::new(Kind::Internal, "no table of readings")),
        }
    }

    fn probe(&mut self, advice: &Advice, step: &diagnosis::Step) -> Result<(), Failure> {
        if let Some(verdict) = &advice.verdict {
            let odds = words::odds(verdict.probability);
            let text = format!("Likely ({odds}), but one more reading is worth its minutes before the remedy");
            say::heading(self.page, &text)?;
        }
        say::step(self.page, &self.machine, step)?;
        Ok(say::suspects(self.page, advice, 3)?)
    }

    /// The verdict is reached: the remedy is done and tried.
    fn remedy(&mut self, advice: &Advice, verdict: &Verdict) -> Result<(), Failure> {
        say::verdict(self.page, &self.machine, advice, verdict)?;
        self.told(verdict)?;
        say::labeled(self.page, "name", &verdict.remedy)?;
        Ok(say::paragraph(self.page, "Do it, try to start, then type fixed or same.")?)
    }

    fn told(&mut self, verdict: &Verdict) -> Result<(), JournalError> {
        self.job.record(&Entry::told(verdict))
    }

    fn not_passed(&mut self, verdict: &Verdict) -> Result<(), Failure> {
        say::heading(self.page, "The repair check is not passed")?;
        for check in &verdict.proof {
            say::paragraph(self.page, &words::check_line(&self.machine, check))?;
        }
        let text = "Read again (NAME=VALUE), or type same to go on looking for the cause.";
        Ok(say::paragraph(self.page, text)?)
    }

    fn stopped(&mut self, advice: &Advice, stop: Stop) -> Result<(), Failure> {
        say::heading(self.page, words::stop(stop))?;
        say::suspects(self.page, advice, 5)?;
        say::reasons(self.page, advice)?;
        let healthy = advice.suspects.first().is_some_and(|leader| leader.fault == "healthy");
        if healthy && stop == Stop::NotWorthMore {
            self.nothing_to_repair()?;
        }
        Ok(say::paragraph(self.page, "undo takes back a reading, NAME=VALUE adds one, done closes the job.")?)
    }

    /// The machine is as its sheet says: what a person can do who still has to start it, cold as it is.
    fn nothing_to_repair(&mut self) -> Result<(), Failure> {
        say::heading(self.page, "There is nothing to repair in what was measured")?;
        let cold = matches!(self.job.complaint(), Some("cold-only" | "cranks-slowly"));
        let air = self.job.air().and_then(|air| quantity::read_loosely(air, Dimension::Temperature).ok());
        let Some(air) = air.filter(|air| cold && *air < COLD) else { return Ok(()) };
        // A sheet without all that a start in time needs still has its verdict.
        let _ = worksheet::cold_plan(self.page, &self.machine, &quantity::show(air, Dimension::Temperature));
        Ok(())
    }

    fn proven(mut self, advice: &Advice, verdict: &Verdict) -> Result<Ending, Failure> {
        say::heading(self.page, "Proven.")?;
        for fault in &verdict.faults {
            say::labeled(self.page, "cause", &words::fault_title(advice, fault))?;
        }
        say::labeled(self.page, "remedy", &verdict.remedy_title)?;
        for (name, value) in self.job.after_repair() {
            say::labeled(self.page, "shown", &format!("{name} = {value}"))?;
        }
        self.told(verdict)?;
        self.job.record(&Entry::Closed { proven: true })?;
        say::paragraph(self.page, &format!("kept as {}", self.job.id))?;
        Ok(Ending::Done)
    }

    fn left(self) -> Result<Ending, Failure> {
        if self.job.closed().is_none() {
            say::paragraph(self.page, &format!("\nThe job is kept: work --job {}", self.job.id))?;
        }
        Ok(Ending::No)
    }
}

impl From<JobError> for Failure {
    fn from(error: JobError) -> Self {
        match error {
            JobError::Journal(error) => error.into(),
            JobError::OtherMachine { .. } => Self::new(Kind::BadData, error),
            JobError::NothingOpen(_) => Self::new(Kind::NoInput, error)
                .hint("leave --resume out to begin one; `probewright job list` names all"),
        }
    }
}
