//! Entries that wait on this machine for a server that is away, in a small file of their own.
//! Promise: an entry that waits is on this machine's disk until the server has it; it is sent in order, and its key
//! makes it count once, however often it is sent.
//! Limit: only what is said of a job that this program has read waits; pictures and new jobs want the server.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use rusqlite::{Connection, params};

use crate::entry::{Entry, Kept};
use crate::error::JournalError;
use crate::job::Job;
use crate::place::Place;
use crate::{sqlite, store};

/// So many jobs, and sheets, are remembered as they were last read.
const REMEMBERED: usize = 50;

const TABLE: &str = "CREATE TABLE IF NOT EXISTS waiting (
    sequence INTEGER PRIMARY KEY AUTOINCREMENT,
    place TEXT NOT NULL,
    job TEXT NOT NULL,
    key TEXT NOT NULL UNIQUE,
    at TEXT NOT NULL,
    body TEXT NOT NULL CHECK (json_valid(body))
) STRICT";

/// What waits for one server.
#[derive(Debug)]
pub struct Waiting {
    file: PathBuf,
    server: Place,
    connection: Mutex<Connection>,
    jobs: Mutex<BTreeMap<String, Job>>,
    sheets: Mutex<BTreeMap<String, String>>,
}

impl Waiting {
    /// Opens the file; makes it where there is none.
    pub fn open(file: &Path, server: &Place) -> Result<Self, JournalError> {
        if let Some(folder) = file.parent().filter(|folder| !folder.as_os_str().is_empty()) {
            fs::create_dir_all(folder).map_err(|source| sqlite::disk(folder, source))?;
        }
        let open = || {
            let connection = Connection::open(file)?;
            connection.busy_timeout(Duration::from_secs(10))?;
            connection.pragma_update(None, "journal_mode", "WAL")?;
            connection.pragma_update(None, "synchronous", "FULL")?;
            connection.execute_batch(TABLE)?;
            Ok(Mutex::new(connection))
        };
        let connection = open().map_err(|error| sqlite::failed(file, error))?;
        let (jobs, sheets) = (Mutex::default(), Mutex::default());
        Ok(Self { file: file.to_owned(), server: server.clone(), connection, jobs, sheets })
    }

    /// Remembers a job as the server has it.
    pub fn remember(&self, job: &Job) {
        remember(&self.jobs, &job.id, job.clone());
    }

    /// Remembers a sheet's text.
    pub fn remember_sheet(&self, fingerprint: &str, text: &str) {
        remember(&self.sheets, fingerprint, text.to_owned());
    }

    /// The text of a remembered sheet.
    pub fn sheet(&self, fingerprint: &str) -> Option<String> {
        lock(&self.sheets).get(fingerprint).cloned()
    }

    /// Lets an entry of a remembered job wait; nothing when the job is not remembered.
    pub fn keep(&self, job: &str, key: &str, at: &str, entry: &Entry) -> Result<Option<Kept>, JournalError> {
        if !lock(&self.jobs).contains_key(job) {
            return Ok(None);
        }
        let (place, body) = (self.server.to_string(), store::body(entry, &self.server)?);
        let add = "INSERT OR IGNORE INTO waiting (place, job, key, at, body) VALUES (?1, ?2, ?3, ?4, ?5)";
        self.told(|connection| connection.execute(add, params![place, job, key, at, body]))?;
        let found = self.job(job)?.and_then(|job| job.entries.into_iter().rfind(|kept| kept.key == key));
        Ok(found)
    }

    /// A remembered job with what waits for it.
    pub fn job(&self, id: &str) -> Result<Option<Job>, JournalError> {
        let Some(mut job) = lock(&self.jobs).get(id).cloned() else { return Ok(None) };
        for (_, mut kept) in self.all()?.into_iter().filter(|(job, _)| job == id) {
            if job.entries.iter().all(|there| there.key != kept.key) {
                kept.number = job.entries.last().map_or(0, |last| last.number) + 1;
                job.entries.push(kept);
            }
        }
        Ok(Some(job))
    }

    /// All that waits, in order, each with the name of its job.
    pub fn all(&self) -> Result<Vec<(String, Kept)>, JournalError> {
        let of = "SELECT job, sequence, key, at, body FROM waiting WHERE place = ?1 ORDER BY sequence";
        let place = self.server.to_string();
        let rows: Vec<(String, i64, String, String, String)> = self.told(|connection| {
            let read = |row: &rusqlite::Row<'_>| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?, row.get(4)?));
            connection.prepare_cached(of)?.query_map([&place], read)?.collect()
        })?;
        let kept = |(job, number, key, at, body): (String, i64, String, String, String)| {
            Ok((job, Kept { waits: true, ..store::kept(&self.server, number, key, at, &body)? }))
        };
        rows.into_iter().map(kept).collect()
    }

    /// The server has an entry: it waits no longer.
    pub fn sent(&self, key: &str) -> Result<(), JournalError> {
        self.told(|connection| connection.execute("DELETE FROM waiting WHERE key = ?1", [key])).map(drop)
    }

    fn told<T>(&self, act: impl FnOnce(&Connection) -> rusqlite::Result<T>) -> Result<T, JournalError> {
        act(&lock(&self.connection)).map_err(|error| sqlite::failed(&self.file, error))
    }
}

fn remember<T>(known: &Mutex<BTreeMap<String, T>>, name: &str, what: T) {
    let mut known = lock(known);
    known.insert(name.to_owned(), what);
    if known.len() > REMEMBERED {
        let other = known.keys().find(|other| *other != name).cloned();
        other.map(|other| known.remove(&other));
    }
}

fn lock<T>(held: &Mutex<T>) -> MutexGuard<'_, T> {
    held.lock().unwrap_or_else(PoisonError::into_inner)
}
