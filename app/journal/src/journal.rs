//! The journal's door: jobs are begun, entries added, and all of it read again, in a file or on a server.
//! Promise: what [`Journal::record`] has returned is on a disk; the same key twice is one entry; writers of one or of
//! several programs wait for each other, and each job's entries are numbered without gaps.
//! A server may be away: an entry then waits on this machine ([`Kept::waits`]) and is sent with the next act that
//! reaches the server.

use std::fs;
use std::path::{Path, PathBuf};

use crate::attachment::Attachment;
use crate::entry::{self, Entry, Kept};
use crate::error::{JournalError, LONGEST_NAME};
use crate::job::Job;
use crate::place::Place;
use crate::store::{self, Rows};
use crate::waiting::Waiting;
use crate::{postgres, sqlite};

/// So many daily backups are kept.
const BACKUPS: usize = 7;
/// As many jobs as there are.
const ALL: usize = usize::MAX >> 1;

/// A journal that is open.
#[derive(Debug)]
pub struct Journal {
    place: Place,
    store: Store,
    waiting: Option<Waiting>,
}

#[expect(clippy::large_enum_variant, reason = "a program has one or two of them")]
#[derive(Debug)]
enum Store {
    File(sqlite::Store),
    Server(postgres::Store),
}

/// What a list of jobs says of one.
#[derive(Clone, Debug, PartialEq)]
pub struct Brief {
    /// Its name.
    pub id: String,
    /// The machine's id.
    pub machine: String,
    /// What the owner says; nothing where that is not known yet.
    pub complaint: Option<String>,
    /// When it was begun, UTC.
    pub opened: String,
    /// When its latest entry was made, UTC.
    pub latest: String,
    /// How many entries it has.
    pub entries: usize,
    /// Whether it is closed, and then whether with a proven cause.
    pub closed: Option<bool>,
    /// The faults that the technician was told of last.
    pub told: Vec<String>,
}

impl Journal {
    /// Opens a journal; makes it where there is none. What waits for a server is sent.
    ///
    /// # Errors
    /// When it cannot be used or reached, is damaged, or is not one.
    pub fn open(place: impl Into<Place>) -> Result<Self, JournalError> {
        let place = place.into();
        let (store, waiting) = match &place {
            Place::File(path) => (Store::File(sqlite::Store::open(path)?), None),
            Place::Server(address) => {
                let waiting = address.waiting.as_ref().map(|file| Waiting::open(file, &place)).transpose()?;
                (Store::Server(postgres::Store::open(address)?), waiting)
            }
        };
        let journal = Self { place, store, waiting };
        journal.send()?;
        Ok(journal)
    }

    /// Where it is; shown without a password.
    pub fn place(&self) -> &Place {
        &self.place
    }

    /// Begins a job of a machine whose sheet has this fingerprint and text, under a name that is free or, where none is
    /// given, under machine, day and number.
    ///
    /// # Errors
    /// When the name is taken or is none, or the job cannot be written.
    pub fn begin(
        &self,
        name: Option<&str>,
        machine: &str,
        (fingerprint, text): (&str, &str),
        engine: &str,
    ) -> Result<Job, JournalError> {
        if let Some(name) = name.filter(|name| !is_name(name)) {
            return Err(JournalError::BadName { found: name.to_owned() });
        }
        let (day, at, key) = (today(), now(), entry::key());
        let (machine_id, sheet, engine) = (machine.to_owned(), fingerprint.to_owned(), engine.to_owned());
        let opened = Entry::Opened { machine: machine_id, sheet, engine };
        let id = self.write(|rows| {
            rows.alone()?;
            // An answer that was lost on its way: the job was begun.
            if let Some((job, _)) = rows.entry(&key)? {
                return Ok(job);
            }
            rows.add_sheet(fingerprint, text)?;
            let id = match name {
                Some(name) if rows.add_job(name, machine)? => name.to_owned(),
                Some(name) => return Err(JournalError::Taken { id: name.to_owned() }),
                None => free(|number| format!("{machine}-{day}-{number}"), |id| rows.add_job(id, machine))?,
            };
            store::add(rows, &id, &key, &at, &opened)?;
            Ok(id)
        })?;
        self.job(&id)
    }

    /// Adds an entry to a job; it is on the disk when this returns: on the server's, or, where that is away, on this
    /// machine's ([`Kept::waits`]). A key that was used before adds nothing and gives the entry that has it.
    ///
    /// # Errors
    /// When it cannot be written; then it is not part of the job.
    pub fn record(&self, job: &str, key: &str, entry: &Entry) -> Result<Kept, JournalError> {
        let at = now();
        let there = self.write(|rows| store::add(rows, job, key, &at, entry));
        self.else_here(there, |waiting| waiting.keep(job, key, &at, entry))
    }

    /// Adds a picture and the entry that names it.
    ///
    /// # Errors
    /// When it cannot be written; then neither is kept.
    pub fn attach(&self, job: &str, key: &str, picture: &Attachment, text: &str) -> Result<Kept, JournalError> {
        let at = now();
        let entry = Entry::Photo { hash: picture.hash.clone(), text: text.to_owned() };
        self.write(|rows| {
            let kept = store::add(rows, job, key, &at, &entry)?;
            rows.add_picture(&picture.hash, picture.media, &picture.bytes)?;
            Ok(kept)
        })
    }

    /// A picture's media type and content.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn attachment(&self, hash: &str) -> Result<Option<(String, Vec<u8>)>, JournalError> {
        self.read(|rows| rows.picture(hash))
    }

    /// A job by its name, with what waits for it.
    ///
    /// # Errors
    /// When there is none, or the journal cannot be read.
    pub fn job(&self, id: &str) -> Result<Job, JournalError> {
        let there = self.read(|rows| store::job(rows, id)?.ok_or_else(|| JournalError::NoJob { id: id.to_owned() }));
        if let (Ok(job), Some(waiting)) = (&there, &self.waiting) {
            waiting.remember(job);
        }
        self.else_here(there, |waiting| waiting.job(id))
    }

    /// The jobs of a machine, or of all, the latest first.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn jobs(&self, machine: Option<&str>, most: usize) -> Result<Vec<Brief>, JournalError> {
        self.read(|rows| {
            let ids = rows.latest(machine, i64::try_from(most).unwrap_or(i64::MAX))?;
            let mut jobs = Vec::with_capacity(ids.len());
            for id in ids {
                jobs.extend(store::job(rows, &id)?.as_ref().map(brief));
            }
            Ok(jobs)
        })
    }

    /// The latest job of a machine that is still open.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn latest_open(&self, machine: &str) -> Result<Option<Job>, JournalError> {
        let open = self.jobs(Some(machine), ALL)?.into_iter().find(|job| job.closed.is_none());
        open.map(|brief| self.job(&brief.id)).transpose()
    }

    /// The text of a sheet with which some job was opened.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn sheet(&self, fingerprint: &str) -> Result<Option<String>, JournalError> {
        let there = self.read(|rows| rows.sheet(fingerprint));
        if let (Ok(Some(text)), Some(waiting)) = (&there, &self.waiting) {
            waiting.remember_sheet(fingerprint, text);
        }
        self.else_here(there, |waiting| Ok(waiting.sheet(fingerprint).map(Some)))
    }

    /// How many entries wait on this machine for the server.
    ///
    /// # Errors
    /// When the file in which they wait cannot be read.
    pub fn waiting(&self) -> Result<usize, JournalError> {
        self.waiting.as_ref().map_or(Ok(0), |waiting| Ok(waiting.all()?.len()))
    }

    /// Copies the journal into a new file, whole, while others may go on writing.
    ///
    /// # Errors
    /// When the file is there already or cannot be written.
    pub fn backup(&self, to: &Path) -> Result<(), JournalError> {
        match &self.store {
            Store::File(file) => file.copy(to),
            Store::Server(_) => {
                // A journal in a file that is made whole before it gets its name.
                let whole = to.with_extension(format!("{}.whole", std::process::id()));
                let copied = Self::open(&whole).and_then(|copy| {
                    self.carry_to(&copy)?;
                    copy.backup(to)
                });
                for end in ["", "-wal", "-shm"] {
                    let _ = fs::remove_file(format!("{}{end}", whole.display()));
                }
                copied
            }
        }
    }

    /// Makes today's backup beside a file where there is none yet, and lets the oldest ones go. A server has a keeper
    /// who sees to that; nothing is made.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn back_up_daily(&self) -> Result<Option<PathBuf>, JournalError> {
        let Place::File(path) = &self.place else { return Ok(None) };
        let file = sqlite::backup_of(path, &today());
        if file.exists() || self.read(|rows| rows.latest(None, 1))?.is_empty() {
            return Ok(None);
        }
        self.backup(&file)?;
        let daily = sqlite::daily(path);
        for old in &daily[..daily.len().saturating_sub(BACKUPS)] {
            fs::remove_file(old).map_err(|source| sqlite::disk(old, source))?;
        }
        Ok(Some(file))
    }

    /// Puts a backup in a file's place; what was there is kept beside it and named. On a server its jobs are added,
    /// where there are no others.
    ///
    /// # Errors
    /// When the backup is no whole journal, a file cannot be moved, or the server has jobs that the backup has not.
    pub fn restore(place: impl Into<Place>, backup: &Path) -> Result<Option<PathBuf>, JournalError> {
        let place = place.into();
        if let Place::File(path) = &place {
            return sqlite::restore(path, backup);
        }
        sqlite::verify(backup)?;
        let (from, to) = (Self::open(backup)?, Self::open(&place)?);
        let known = from.names()?;
        match to.names()?.into_iter().find(|job| !known.contains(job)) {
            Some(job) => Err(JournalError::NotEmpty { place, job }),
            None => from.carry_to(&to).map(|()| None),
        }
    }

    /// The names of all jobs, the latest first.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn names(&self) -> Result<Vec<String>, JournalError> {
        self.read(|rows| rows.latest(None, i64::MAX))
    }

    /// Lets the journal grow no further, as a full disk would: for tests of what happens then.
    #[doc(hidden)]
    pub fn fill_up(&self) {
        if let Store::File(file) = &self.store {
            file.fill_up();
        }
    }

    /// Runs an act that writes, after what waits was sent.
    pub(crate) fn write<T>(
        &self,
        act: impl FnMut(&mut dyn Rows) -> Result<T, JournalError>,
    ) -> Result<T, JournalError> {
        self.send()?;
        self.write_now(act)
    }

    fn write_now<T>(&self, act: impl FnMut(&mut dyn Rows) -> Result<T, JournalError>) -> Result<T, JournalError> {
        match &self.store {
            Store::File(file) => file.write(act),
            Store::Server(server) => server.write(act),
        }
    }

    fn read<T>(&self, act: impl FnMut(&mut dyn Rows) -> Result<T, JournalError>) -> Result<T, JournalError> {
        self.send()?;
        match &self.store {
            Store::File(file) => file.read(act),
            Store::Server(server) => server.read(act),
        }
    }

    /// Sends what waits, in order. What is said of a job that the server has no longer goes on waiting.
    fn send(&self) -> Result<(), JournalError> {
        let Some(waiting) = &self.waiting else { return Ok(()) };
        for (job, kept) in waiting.all()? {
            match self.write_now(|rows| store::add(rows, &job, &kept.key, &kept.at, &kept.entry)) {
                Ok(_) => waiting.sent(&kept.key)?,
                Err(JournalError::NoJob { .. }) => {}
                Err(error) => return Err(error),
            }
        }
        Ok(())
    }

    /// What the server says, or, when it is away, what this machine has.
    fn else_here<T>(
        &self,
        there: Result<T, JournalError>,
        here: impl FnOnce(&Waiting) -> Result<Option<T>, JournalError>,
    ) -> Result<T, JournalError> {
        match (there, &self.waiting) {
            (Err(away @ JournalError::Away { .. }), Some(waiting)) => here(waiting)?.ok_or(away),
            (there, _) => there,
        }
    }
}

/// The first name of those with a number that can be added.
pub(crate) fn free(
    named: impl Fn(u64) -> String,
    mut add: impl FnMut(&str) -> Result<bool, JournalError>,
) -> Result<String, JournalError> {
    let mut number = 1;
    loop {
        let name = named(number);
        if add(&name)? {
            return Ok(name);
        }
        number += 1;
    }
}

fn brief(job: &Job) -> Brief {
    let told = job.entries.iter().rev().find_map(|kept| match &kept.entry {
        Entry::Told { faults, .. } => Some(faults.clone()),
        _ => None,
    });
    Brief {
        id: job.id.clone(),
        machine: job.machine.clone(),
        complaint: job.complaint().filter(|complaint| *complaint != "skip").map(str::to_owned),
        opened: job.entries.first().map(|kept| kept.at.clone()).unwrap_or_default(),
        latest: job.entries.last().map(|kept| kept.at.clone()).unwrap_or_default(),
        entries: job.entries.len(),
        closed: job.closed(),
        told: told.unwrap_or_default(),
    }
}

/// Whether a job can have that name: it goes into addresses and file names.
pub(crate) fn is_name(name: &str) -> bool {
    let allowed = |letter: char| letter.is_alphanumeric() || matches!(letter, '-' | '_' | '.');
    (1..=LONGEST_NAME).contains(&name.len()) && !name.starts_with('.') && name.chars().all(allowed)
}

fn now() -> String {
    jiff::Timestamp::now().strftime("%Y-%m-%dT%H:%M:%SZ").to_string()
}

fn today() -> String {
    jiff::ZonedDateTime::now().strftime("%Y-%m-%d").to_string()
}
