//! The journal's door: jobs are begun, entries added, and all of it read again.
//! Promise: what [`Journal::record`] has returned is on the disk; the same key twice is one entry; writers of one or of
//! several programs wait for each other, and each job's entries are numbered without gaps.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard};

use rusqlite::{Connection, OptionalExtension, Row, Transaction, TransactionBehavior, params};

use crate::attachment::Attachment;
use crate::entry::{self, Entry, Kept};
use crate::job::Job;
use crate::sqlite;

/// A job's name has so many characters at most.
const LONGEST_NAME: usize = 80;
/// So many daily backups are kept.
const BACKUPS: usize = 7;

/// A journal that is open.
#[derive(Debug)]
pub struct Journal {
    path: PathBuf,
    /// Goes first: the last one to go folds the log into the file, which a reader cannot do.
    reader: Mutex<Connection>,
    writer: Mutex<Connection>,
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

/// Why a journal cannot be opened, read or written.
#[derive(Debug, thiserror::Error)]
pub enum JournalError {
    /// A file or folder cannot be made, read or written.
    #[error("cannot use `{}`", path.display())]
    Disk {
        /// Which.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The disk is full.
    #[error("the disk is full: nothing was added to the journal `{}`", path.display())]
    Full {
        /// The journal.
        path: PathBuf,
    },
    /// The journal, or its folder, is read-only.
    #[error("the journal `{}` cannot be written", path.display())]
    NotWritable {
        /// The journal.
        path: PathBuf,
    },
    /// Another program holds it for too long.
    #[error("another program holds the journal `{}`: nothing was added", path.display())]
    Busy {
        /// The journal.
        path: PathBuf,
    },
    /// It is damaged.
    #[error("the journal `{}` is damaged ({found}); nothing was written to it", path.display())]
    Damaged {
        /// The journal.
        path: PathBuf,
        /// What was found.
        found: String,
        /// The latest backup, if there is one.
        backup: Option<PathBuf>,
    },
    /// It was written by a later version of this program.
    #[error("the journal `{}` is of version {version}; this program knows {known} at most", path.display())]
    Newer {
        /// The journal.
        path: PathBuf,
        /// Its version.
        version: i64,
        /// The latest version that is understood.
        known: usize,
    },
    /// It is a file of another kind.
    #[error("`{}` is not a journal", path.display())]
    NotAJournal {
        /// The file.
        path: PathBuf,
    },
    /// Something that should not happen.
    #[error("the journal `{}`", path.display())]
    Database {
        /// The journal.
        path: PathBuf,
        /// What the database said.
        source: rusqlite::Error,
    },
    /// No job of that name.
    #[error("no job is called `{id}`")]
    NoJob {
        /// As given.
        id: String,
    },
    /// A job of that name is there already.
    #[error("a job called `{id}` is there already")]
    Taken {
        /// As given.
        id: String,
    },
    /// A name that no job can have.
    #[error("`{found}` is no name for a job; it takes letters, digits, `-`, `_` and `.`, at most {LONGEST_NAME}")]
    BadName {
        /// As given.
        found: String,
    },
    /// A line that is not of a journal.
    #[error("line {line}: {found}")]
    BadLine {
        /// Its number, from 1.
        line: usize,
        /// What is wrong with it.
        found: String,
    },
}

impl JournalError {
    pub(crate) fn damaged(path: &Path, found: String) -> Self {
        Self::Damaged { path: path.to_owned(), found, backup: sqlite::backups(path).pop() }
    }

    /// What to do next.
    pub fn hint(&self) -> Option<String> {
        let on = |name: &Path| format!("--journal {}", name.display());
        Some(match self {
            Self::Full { .. } => "make room on the disk, then enter it again".to_owned(),
            Self::NotWritable { path } => {
                format!(
                    "allow writing to it and to its folder, or take another: {}",
                    on(&path.with_file_name("other.db"))
                )
            }
            Self::Busy { .. } => "enter it again in a moment".to_owned(),
            Self::Damaged { backup: Some(backup), .. } => format!(
                "`probewright job restore {}` puts the latest backup in its place and keeps the damaged file",
                backup.display()
            ),
            Self::Damaged { backup: None, .. } => {
                "there is no backup beside it; move the file away to begin a new journal".to_owned()
            }
            Self::Newer { .. } => "take the program that wrote it, or another journal with --journal".to_owned(),
            Self::NotAJournal { .. } => "take a file that `probewright job backup` or `work` has made".to_owned(),
            Self::NoJob { .. } => "`probewright job list` names them all".to_owned(),
            Self::Taken { id } => format!("`probewright job show {id}` shows it; take another name for a new one"),
            Self::Disk { .. } | Self::Database { .. } | Self::BadName { .. } | Self::BadLine { .. } => return None,
        })
    }
}

impl Journal {
    /// Opens a journal; makes it where there is none.
    ///
    /// # Errors
    /// When it cannot be used, is damaged, or is not one.
    pub fn open(path: &Path) -> Result<Self, JournalError> {
        let writer = Mutex::new(sqlite::open(path)?);
        let reader = Mutex::new(sqlite::open_again(path)?);
        Ok(Self { path: path.to_owned(), writer, reader })
    }

    /// Its file.
    pub fn path(&self) -> &Path {
        &self.path
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
        if let Some(name) = name {
            if !is_name(name) {
                return Err(JournalError::BadName { found: name.to_owned() });
            }
            if self.read(|connection| read_job(connection, name))?.is_some() {
                return Err(JournalError::Taken { id: name.to_owned() });
            }
        }
        let day = jiff::ZonedDateTime::now().strftime("%Y-%m-%d").to_string();
        let id = self.write(|transaction| {
            transaction.execute("INSERT OR IGNORE INTO sheet VALUES (?1, ?2)", [fingerprint, text])?;
            let mut number = 1;
            loop {
                let id = match name {
                    Some(name) if number == 1 => name.to_owned(),
                    Some(name) => format!("{name}-{number}"),
                    None => format!("{machine}-{day}-{number}"),
                };
                if transaction.execute("INSERT OR IGNORE INTO job VALUES (?1, ?2)", [id.as_str(), machine])? == 1 {
                    let opened = Entry::Opened {
                        machine: machine.to_owned(),
                        sheet: fingerprint.to_owned(),
                        engine: engine.to_owned(),
                    };
                    add(transaction, &id, &entry::key(), &now(), &opened)?;
                    return Ok(id);
                }
                number += 1;
            }
        })?;
        self.job(&id)
    }

    /// Adds an entry to a job; it is on the disk when this returns. A key that was used before adds nothing and gives
    /// the entry that has it.
    ///
    /// # Errors
    /// When it cannot be written; then it is not part of the job.
    pub fn record(&self, job: &str, key: &str, entry: &Entry) -> Result<Kept, JournalError> {
        self.known(job)?;
        self.write(|transaction| add(transaction, job, key, &now(), entry))
    }

    /// Adds a picture and the entry that names it.
    ///
    /// # Errors
    /// When it cannot be written; then neither is kept.
    pub fn attach(&self, job: &str, key: &str, picture: &Attachment, text: &str) -> Result<Kept, JournalError> {
        self.known(job)?;
        self.write(|transaction| {
            keep_picture(transaction, &picture.hash, picture.media, &picture.bytes)?;
            let entry = Entry::Photo { hash: picture.hash.clone(), text: text.to_owned() };
            add(transaction, job, key, &now(), &entry)
        })
    }

    /// A picture's media type and content.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn attachment(&self, hash: &str) -> Result<Option<(String, Vec<u8>)>, JournalError> {
        self.read(|connection| {
            let found = "SELECT media, bytes FROM attachment WHERE hash = ?1";
            connection.query_row(found, [hash], |row| Ok((row.get(0)?, row.get(1)?))).optional()
        })
    }

    /// A job by its name.
    ///
    /// # Errors
    /// When there is none, or the journal cannot be read.
    pub fn job(&self, id: &str) -> Result<Job, JournalError> {
        let found = self.read(|connection| read_job(connection, id))?;
        found.ok_or_else(|| JournalError::NoJob { id: id.to_owned() })
    }

    /// The jobs of a machine, or of all, the latest first.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn jobs(&self, machine: Option<&str>, most: usize) -> Result<Vec<Brief>, JournalError> {
        self.read(|connection| {
            let mut latest = connection.prepare_cached(
                "SELECT job.id FROM job JOIN entry ON entry.job = job.id
                 WHERE ?1 IS NULL OR job.machine = ?1 GROUP BY job.id ORDER BY max(entry.at) DESC, job.id DESC LIMIT ?2",
            )?;
            let ids = latest.query_map(params![machine, most as i64], |row| row.get::<_, String>(0))?;
            let ids: Vec<String> = ids.collect::<Result<_, _>>()?;
            let mut jobs = Vec::with_capacity(ids.len());
            for id in ids {
                jobs.extend(read_job(connection, &id)?.as_ref().map(brief));
            }
            Ok(jobs)
        })
    }

    /// The latest job of a machine that is still open.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn latest_open(&self, machine: &str) -> Result<Option<Job>, JournalError> {
        let open = self.jobs(Some(machine), usize::MAX >> 1)?.into_iter().find(|job| job.closed.is_none());
        open.map(|brief| self.job(&brief.id)).transpose()
    }

    /// The text of a sheet with which some job was opened.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn sheet(&self, fingerprint: &str) -> Result<Option<String>, JournalError> {
        self.read(|connection| {
            connection
                .query_row("SELECT text FROM sheet WHERE fingerprint = ?1", [fingerprint], |row| row.get(0))
                .optional()
        })
    }

    /// Copies the journal into a new file, whole, while others may go on writing.
    ///
    /// # Errors
    /// When the file is there already or cannot be written.
    pub fn backup(&self, to: &Path) -> Result<(), JournalError> {
        sqlite::copy(&self.lock(&self.writer), &self.path, to)
    }

    /// Makes today's backup beside the journal where there is none yet, and lets the oldest ones go.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn back_up_daily(&self) -> Result<Option<PathBuf>, JournalError> {
        let day = jiff::ZonedDateTime::now().strftime("%Y-%m-%d").to_string();
        let stem = self.path.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
        let file = sqlite::backup_folder(&self.path).join(format!("{stem}-{day}.db"));
        let empty =
            self.read(|connection| connection.query_row("SELECT count(*) = 0 FROM job", [], |row| row.get(0)))?;
        if file.exists() || empty {
            return Ok(None);
        }
        self.backup(&file)?;
        let own = |path: &PathBuf| {
            path.file_name().is_some_and(|name| name.to_string_lossy().starts_with(&format!("{stem}-")))
        };
        let daily: Vec<PathBuf> = sqlite::backups(&self.path).into_iter().filter(own).collect();
        for old in &daily[..daily.len().saturating_sub(BACKUPS)] {
            fs::remove_file(old).map_err(|source| sqlite::disk(old, source))?;
        }
        Ok(Some(file))
    }

    /// Puts a backup in a journal's place; what was there is kept beside it and named.
    ///
    /// # Errors
    /// When the backup is no whole journal, or a file cannot be moved.
    pub fn restore(path: &Path, backup: &Path) -> Result<Option<PathBuf>, JournalError> {
        sqlite::verify(backup)?;
        let part = path.with_extension(format!("{}.part", std::process::id()));
        let copied = fs::copy(backup, &part).and_then(|_| fs::File::open(&part)?.sync_all());
        copied.map_err(|source| sqlite::disk(&part, source))?;
        let aside = if path.exists() { Some(free_name(path)) } else { None };
        let beside = |path: &Path, end: &str| PathBuf::from(format!("{}{end}", path.display()));
        if let Some(aside) = &aside {
            for end in ["", "-wal", "-shm"] {
                match fs::rename(beside(path, end), beside(aside, end)) {
                    Err(error) if end.is_empty() || error.kind() != io::ErrorKind::NotFound => {
                        return Err(sqlite::disk(path, error));
                    }
                    _ => {}
                }
            }
        }
        fs::rename(&part, path).map_err(|source| sqlite::disk(path, source))?;
        Ok(aside)
    }

    /// Lets the journal grow no further, as a full disk would: for tests of what happens then.
    #[doc(hidden)]
    pub fn fill_up(&self) {
        let connection = self.lock(&self.writer);
        let _ = connection.pragma_update_and_check(None, "max_page_count", 1, |_| Ok(()));
    }

    pub(crate) fn write<T>(
        &self,
        act: impl FnOnce(&Transaction<'_>) -> rusqlite::Result<T>,
    ) -> Result<T, JournalError> {
        let mut connection = self.lock(&self.writer);
        let run = || {
            let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
            let done = act(&transaction)?;
            transaction.commit()?;
            Ok(done)
        };
        run().map_err(|error| sqlite::failed(&self.path, error))
    }

    pub(crate) fn read<T>(&self, ask: impl FnOnce(&Connection) -> rusqlite::Result<T>) -> Result<T, JournalError> {
        ask(&self.lock(&self.reader)).map_err(|error| sqlite::failed(&self.path, error))
    }

    fn known(&self, job: &str) -> Result<(), JournalError> {
        let known = self
            .read(|connection| connection.query_row("SELECT 1 FROM job WHERE id = ?1", [job], |_| Ok(())).optional())?;
        known.ok_or_else(|| JournalError::NoJob { id: job.to_owned() })
    }

    /// A thread that fell over while it held the connection has rolled back; the connection is still good.
    #[expect(clippy::unused_self, reason = "reads as what it does at each call")]
    fn lock<'a>(&self, connection: &'a Mutex<Connection>) -> MutexGuard<'a, Connection> {
        connection.lock().unwrap_or_else(std::sync::PoisonError::into_inner)
    }
}

/// Adds an entry at a time, unless its key is there already.
pub(crate) fn add(
    transaction: &Transaction<'_>,
    job: &str,
    key: &str,
    at: &str,
    entry: &Entry,
) -> rusqlite::Result<Kept> {
    let there = "SELECT number, key, at, body FROM entry WHERE key = ?1";
    if let Some(kept) = transaction.query_row(there, [key], kept).optional()? {
        return Ok(kept);
    }
    let next = "SELECT coalesce(max(number), 0) + 1 FROM entry WHERE job = ?1";
    let number: u64 = transaction.query_row(next, [job], |row| row.get::<_, i64>(0))? as u64;
    let body = serde_json::to_string(entry).map_err(|error| rusqlite::Error::ToSqlConversionFailure(error.into()))?;
    transaction.execute("INSERT INTO entry VALUES (?1, ?2, ?3, ?4, ?5)", params![job, number as i64, key, at, body])?;
    Ok(Kept { number, key: key.to_owned(), at: at.to_owned(), entry: entry.clone() })
}

pub(crate) fn keep_picture(
    transaction: &Transaction<'_>,
    hash: &str,
    media: &str,
    bytes: &[u8],
) -> rusqlite::Result<usize> {
    transaction.execute("INSERT OR IGNORE INTO attachment VALUES (?1, ?2, ?3)", params![hash, media, bytes])
}

pub(crate) fn read_job(connection: &Connection, id: &str) -> rusqlite::Result<Option<Job>> {
    let machine = connection.query_row("SELECT machine FROM job WHERE id = ?1", [id], |row| row.get(0)).optional()?;
    let Some(machine) = machine else { return Ok(None) };
    let mut entries =
        connection.prepare_cached("SELECT number, key, at, body FROM entry WHERE job = ?1 ORDER BY number")?;
    let entries = entries.query_map([id], kept)?.collect::<Result<_, _>>()?;
    Ok(Some(Job { id: id.to_owned(), machine, entries }))
}

fn kept(row: &Row<'_>) -> rusqlite::Result<Kept> {
    let body: String = row.get(3)?;
    let entry = serde_json::from_str(&body)
        .map_err(|error| rusqlite::Error::FromSqlConversionFailure(3, rusqlite::types::Type::Text, error.into()))?;
    Ok(Kept { number: row.get::<_, i64>(0)? as u64, key: row.get(1)?, at: row.get(2)?, entry })
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

pub(crate) fn now() -> String {
    jiff::Timestamp::now().strftime("%Y-%m-%dT%H:%M:%SZ").to_string()
}

/// A name beside a journal that is not taken.
fn free_name(path: &Path) -> PathBuf {
    let stem = path.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
    let named = |number: usize| path.with_file_name(format!("{stem}-set-aside-{number}.db"));
    (1..).map(named).find(|path| !path.exists()).unwrap_or_else(|| named(0))
}
