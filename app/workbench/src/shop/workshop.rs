//! The workshop behind the pages: its journal, its machines, its desks, and the secret that its own forms carry.
//! Promise: everything that a page does to a job goes through a verb here; a verb has either done all of it or nothing.

use std::collections::BTreeMap;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use diagnosis::advice::{Advice, Verdict};
use journal::{Entry, Job, Journal, JournalError, Place, key};
use machine::Machine;

use super::desks::{Desks, Thought};
use super::fleet::{self, Asked, Boards, Found, Known};
use super::folders;
use super::journals::{self, NoJournal};
use super::learned::{self, Lessons, Odds};
use super::machines::{Machines, NoMachine, Ready};
use super::practice::sessions::Sessions;
use super::refusal::Refusal;
use super::settings::{NoSettings, Settings};
use super::tables::fingerprint;
use super::wants::{self, Wants};

/// A workshop.
pub struct Workshop {
    /// Its journal.
    pub journal: Journal,
    /// Its machines.
    pub machines: Machines,
    /// Its desks.
    pub desks: Desks,
    /// Its heading, its prices.
    pub settings: Settings,
    /// Its sessions of practice.
    pub sessions: Sessions,
    /// Its boards of mornings.
    pub boards: Boards,
    /// What only this installation knows, as letters and digits.
    pub secret: String,
    /// Whose odds its jobs start from.
    pub odds: Odds,
    /// What was taught, by job and sheet.
    taught: Mutex<BTreeMap<String, Arc<Lessons>>>,
}

/// Jobs whose lessons are remembered.
const TAUGHT: usize = 256;

/// Why a workshop cannot be opened.
#[derive(Debug, thiserror::Error)]
pub enum NoWorkshop {
    /// No journal.
    #[error(transparent)]
    Journal(#[from] NoJournal),
    /// No settings.
    #[error(transparent)]
    Settings(#[from] NoSettings),
    /// No folder for machines.
    #[error("no home folder to keep machines in")]
    NoHome,
    /// The secret cannot be kept.
    #[error("cannot use `{}`", path.display())]
    Disk {
        /// Where.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
}

/// A job with the machine that it is of.
pub struct Bench {
    /// The job.
    pub job: Job,
    /// Its machine; nothing where no sheet of it can be used.
    pub ready: Option<Arc<Ready>>,
    /// Whether the machine's sheet has changed since the job was begun.
    pub changed: bool,
    /// What the jobs before it have taught.
    pub lessons: Arc<Lessons>,
}

impl Workshop {
    /// Opens a workshop: a journal, a folder of machines and settings, the person's own where none is named.
    ///
    /// # Errors
    /// When journal or settings cannot be used, or the person has no home folder.
    pub fn open(
        journal: Option<&Place>,
        machines: Option<&Path>,
        settings: Option<&Path>,
        odds: Odds,
    ) -> Result<Self, NoWorkshop> {
        let (settings, _) = Settings::open(settings)?;
        let file = journals::secret(journal)?;
        let journal = journals::open(journal)?;
        let folder = match machines {
            Some(folder) => folder.to_owned(),
            None => folders::data().map_err(|_| NoWorkshop::NoHome)?.join("machines"),
        };
        let secret = secret(&file)?;
        let sessions = Sessions::new(file.with_file_name("practice"));
        let desks = Desks::new(settings.clone());
        let boards = Boards::default();
        let (machines, taught) = (Machines::new(folder), Mutex::default());
        Ok(Self { journal, machines, desks, settings, sessions, boards, secret, odds, taught })
    }

    /// A job with its machine: the sheet that the workshop has now, else the one that the job was begun with.
    ///
    /// # Errors
    /// When there is no such job, or the journal cannot be read.
    pub fn bench(&self, id: &str) -> Result<Bench, JournalError> {
        let job = self.journal.job(id)?;
        let now = self.machines.known(&job.machine).ok().filter(|known| known.ready.is_some());
        let known = match now {
            Some(known) => known,
            None => self.machines.remembered(&job.machine, self.journal.sheet(job.sheet())?.unwrap_or_default()),
        };
        let changed = known.fingerprint != job.sheet();
        let lessons = known.ready.as_ref().map(|ready| self.lessons(ready, &job)).unwrap_or_default();
        Ok(Bench { job, ready: known.ready.clone(), changed, lessons })
    }

    /// What the jobs before one have taught: gathered once for each. Nothing while the journal cannot tell.
    fn lessons(&self, ready: &Ready, job: &Job) -> Arc<Lessons> {
        let key = format!("{} {}", job.id, ready.fingerprint);
        let known = || self.taught.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(lessons) = known().get(&key) {
            return lessons.clone();
        }
        let Ok(lessons) = learned::of_job(self.odds, &self.journal, &ready.machine, job) else {
            return Arc::default();
        };
        let lessons = Arc::new(lessons);
        let mut known = known();
        if known.len() >= TAUGHT {
            known.clear();
        }
        known.insert(key, lessons.clone());
        lessons
    }

    /// Will they start? Every machine of the workshop whose sheet can be used, computed in the background.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn board(self: &Arc<Self>, mornings: &[Asked], today: f64) -> Result<Found, JournalError> {
        let names = self.machines.names();
        let machines: Vec<Arc<Ready>> =
            names.iter().filter_map(|name| self.machines.known(name).ok()?.ready.clone()).collect();
        // What the journal knows is gathered with the board: this is asked again while it is computed.
        let jobs = self.journal.jobs(None, fleet::JOBS)?;
        let sheets: Vec<&str> = machines.iter().map(|ready| ready.fingerprint.as_str()).collect();
        let entries: Vec<(&str, usize)> = jobs.iter().map(|job| (job.id.as_str(), job.entries)).collect();
        let key = format!("{mornings:?} {today} {sheets:?} {entries:?}");
        let (workshop, mornings, count) = (self.clone(), mornings.to_vec(), machines.len());
        Ok(self.boards.ask(&key, count, move |done| {
            let known: Vec<Known> = machines
                .iter()
                .map(|ready| fleet::known(&workshop.journal, &ready.machine, today))
                .collect::<Result<_, _>>()
                .ok()?;
            let all: Vec<(&Machine, &Known)> = machines.iter().map(|ready| &ready.machine).zip(&known).collect();
            let settings = &workshop.settings;
            Some(fleet::board(&all, &fleet::Wanted { mornings: &mornings, enough: fleet::ENOUGH, settings }, done))
        }))
    }

    /// Begins a job of a machine.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn begin(&self, ready: &Arc<Ready>) -> Result<Job, JournalError> {
        self.desks.prepare(ready);
        let sheet = (fingerprint(&ready.text), ready.text.as_str());
        self.journal.begin(None, &ready.machine.sheet.id, (&sheet.0, sheet.1), env!("CARGO_PKG_VERSION"))
    }

    /// Takes what was typed for the question of that name (`complaint`, `air`, or a reading's), once for each key.
    ///
    /// # Errors
    /// When it cannot be read there, or not be written.
    pub fn answer(
        &self,
        bench: &Bench,
        question: &str,
        typed: &str,
        key: &str,
    ) -> Result<Option<&'static str>, NotTaken> {
        let Some(ready) = &bench.ready else { return Err(NotTaken::NoMachine(bench.job.machine.clone())) };
        let (entry, remark) = match question {
            wants::LIMIT => (wants::limit(&self.settings, typed)?, None),
            "complaint" => wants::take(&ready.machine, &ready.faults, &Wants::Complaint, typed)?,
            "air" => wants::take(&ready.machine, &ready.faults, &Wants::Air, typed)?,
            "meter:leads" => wants::take(&ready.machine, &ready.faults, &Wants::Leads, typed)?,
            "meter:amps" => wants::take(&ready.machine, &ready.faults, &Wants::Ammeter, typed)?,
            name => (wants::named(&ready.machine, &ready.faults, name, typed)?, None),
        };
        if question.starts_with("try:")
            && let Ok(Thought::Advice(advice)) = self.desks.advise(ready, &bench.job, &bench.lessons)
            && let Some(verdict) = advice.verdict.as_ref().filter(|verdict| verdict.remedy == question)
        {
            self.tell(&bench.job, verdict)?;
        }
        self.journal.record(&bench.job.id, key, &entry)?;
        Ok(remark)
    }

    /// Closes a job, with the proven cause where there is one.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn close(&self, job: &Job, advice: Option<&Advice>) -> Result<(), JournalError> {
        let proven = advice.and_then(|advice| advice.verdict.as_ref()).filter(|verdict| verdict.proven);
        if let Some(verdict) = proven {
            self.tell(job, verdict)?;
        }
        self.journal.record(&job.id, &key(), &Entry::Closed { proven: proven.is_some() })?;
        Ok(())
    }

    fn tell(&self, job: &Job, verdict: &Verdict) -> Result<(), JournalError> {
        self.journal.record(&job.id, &key(), &Entry::told(verdict))?;
        Ok(())
    }

    /// A machine that can be worked with.
    ///
    /// # Errors
    /// When there is none of that name; nothing comes back when its sheet has problems.
    pub fn ready(&self, name: &str) -> Result<Option<Arc<Ready>>, NoMachine> {
        Ok(self.machines.known(name)?.ready.clone())
    }
}

/// Why an answer was not taken.
#[derive(Debug, thiserror::Error)]
pub enum NotTaken {
    /// It cannot be read there.
    #[error(transparent)]
    Refused(#[from] Refusal),
    /// It cannot be kept.
    #[error(transparent)]
    Journal(#[from] JournalError),
    /// The machine's sheet cannot be used.
    #[error("the sheet of `{0}` has problems")]
    NoMachine(String),
}

/// The secret beside a journal; made where there is none.
fn secret(path: &Path) -> Result<String, NoWorkshop> {
    let disk = |source| NoWorkshop::Disk { path: path.to_owned(), source };
    match std::fs::read_to_string(path) {
        Ok(secret) if secret.trim().len() == 64 => return Ok(secret.trim().to_owned()),
        Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(disk(error)),
        _ => {}
    }
    let mut bytes = [0; 32];
    getrandom::fill(&mut bytes).map_err(|error| disk(io::Error::other(error)))?;
    let secret: String = bytes.iter().map(|byte| format!("{byte:02x}")).collect();
    let mut options = std::fs::OpenOptions::new();
    options.write(true).create(true).truncate(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let mut file = options.open(path).map_err(disk)?;
    file.write_all(secret.as_bytes()).and_then(|()| file.sync_all()).map_err(disk)?;
    Ok(secret)
}
