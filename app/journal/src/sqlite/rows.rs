//! The journal's rows in a file: one connection that writes, one that reads meanwhile.
//! Promise: writers of one or of several programs wait for each other.

use std::path::Path;
use std::sync::{Mutex, MutexGuard, PoisonError};

use rusqlite::{Connection, OptionalExtension, Row, TransactionBehavior, params};

use super::{copy, failed, open, open_again};
use crate::entry::Kept;
use crate::error::JournalError;
use crate::place::Place;
use crate::store::{self, Rows};

/// A journal's file that is open.
#[derive(Debug)]
pub struct File {
    place: Place,
    /// Goes first: the last one to go folds the log into the file, which a reader cannot do. Not there where the disk has
    /// no room for what two connections share.
    reader: Option<Mutex<Connection>>,
    writer: Mutex<Connection>,
}

impl File {
    /// Opens a file; makes it where there is none.
    pub fn open(path: &Path) -> Result<Self, JournalError> {
        let (writer, shared) = open(path)?;
        let reader = if shared { Some(Mutex::new(open_again(path)?)) } else { None };
        Ok(Self { place: path.into(), reader, writer: Mutex::new(writer) })
    }

    /// Runs an act that writes, all of it or nothing.
    pub fn write<T>(&self, mut act: impl FnMut(&mut dyn Rows) -> Result<T, JournalError>) -> Result<T, JournalError> {
        let mut connection = lock(&self.writer);
        let failed = |error| failed(self.path(), error);
        let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(failed)?;
        let done = act(&mut Open { place: &self.place, connection: &transaction })?;
        transaction.commit().map_err(failed)?;
        Ok(done)
    }

    /// Runs an act that only reads.
    pub fn read<T>(&self, mut act: impl FnMut(&mut dyn Rows) -> Result<T, JournalError>) -> Result<T, JournalError> {
        act(&mut Open { place: &self.place, connection: &lock(self.reader.as_ref().unwrap_or(&self.writer)) })
    }

    /// Copies the file, whole, while others go on writing.
    pub fn copy(&self, to: &Path) -> Result<(), JournalError> {
        copy(&lock(&self.writer), self.path(), to)
    }

    /// Lets it grow no further, as a full disk would.
    pub fn fill_up(&self) {
        let _ = lock(&self.writer).pragma_update_and_check(None, "max_page_count", 1, |_| Ok(()));
    }

    fn path(&self) -> &Path {
        self.place.file().unwrap_or(Path::new(""))
    }
}

/// A thread that fell over while it held the connection has rolled back; the connection is still good.
fn lock(connection: &Mutex<Connection>) -> MutexGuard<'_, Connection> {
    connection.lock().unwrap_or_else(PoisonError::into_inner)
}

struct Open<'a> {
    place: &'a Place,
    connection: &'a Connection,
}

impl Open<'_> {
    fn told<T>(&self, told: rusqlite::Result<T>) -> Result<T, JournalError> {
        told.map_err(|error| failed(self.place.file().unwrap_or(Path::new("")), error))
    }

    fn change(&self, text: &str, values: impl rusqlite::Params) -> Result<usize, JournalError> {
        self.told(self.connection.execute(text, values))
    }

    fn one<T>(
        &self,
        text: &str,
        values: impl rusqlite::Params,
        read: impl FnOnce(&Row<'_>) -> rusqlite::Result<T>,
    ) -> Result<Option<T>, JournalError> {
        self.told(self.connection.query_row(text, values, read).optional())
    }

    fn all<T>(
        &self,
        text: &str,
        values: impl rusqlite::Params,
        read: impl FnMut(&Row<'_>) -> rusqlite::Result<T>,
    ) -> Result<Vec<T>, JournalError> {
        let rows = || self.connection.prepare_cached(text)?.query_map(values, read)?.collect();
        self.told(rows())
    }
}

/// Number, key, time and body, from that column on.
fn entry_at(row: &Row<'_>, first: usize) -> rusqlite::Result<(i64, String, String, String)> {
    Ok((row.get(first)?, row.get(first + 1)?, row.get(first + 2)?, row.get(first + 3)?))
}

impl Rows for Open<'_> {
    fn place(&self) -> &Place {
        self.place
    }

    /// One writer at a time has the file.
    fn alone(&mut self) -> Result<(), JournalError> {
        Ok(())
    }

    fn hold(&mut self, job: &str) -> Result<bool, JournalError> {
        Ok(self.machine(job)?.is_some())
    }

    fn add_job(&mut self, id: &str, machine: &str) -> Result<bool, JournalError> {
        Ok(self.change("INSERT OR IGNORE INTO job VALUES (?1, ?2)", [id, machine])? == 1)
    }

    fn add_entry(&mut self, job: &str, kept: &Kept, body: &str) -> Result<(), JournalError> {
        let add = "INSERT INTO entry VALUES (?1, ?2, ?3, ?4, ?5)";
        self.change(add, params![job, kept.number as i64, kept.key, kept.at, body]).map(drop)
    }

    fn add_sheet(&mut self, fingerprint: &str, text: &str) -> Result<(), JournalError> {
        self.change("INSERT OR IGNORE INTO sheet VALUES (?1, ?2)", [fingerprint, text]).map(drop)
    }

    fn add_picture(&mut self, hash: &str, media: &str, bytes: &[u8]) -> Result<(), JournalError> {
        let add = "INSERT OR IGNORE INTO attachment VALUES (?1, ?2, ?3)";
        self.change(add, params![hash, media, bytes]).map(drop)
    }

    fn entry(&mut self, key: &str) -> Result<Option<(String, Kept)>, JournalError> {
        let of = "SELECT job, number, key, at, body FROM entry WHERE key = ?1";
        let found = self.one(of, [key], |row| Ok((row.get::<_, String>(0)?, entry_at(row, 1)?)))?;
        let Some((job, (number, key, at, body))) = found else { return Ok(None) };
        Ok(Some((job, store::kept(self.place, number, key, at, &body)?)))
    }

    fn last(&mut self, job: &str) -> Result<u64, JournalError> {
        let last = "SELECT coalesce(max(number), 0) FROM entry WHERE job = ?1";
        Ok(self.one(last, [job], |row| row.get::<_, i64>(0))?.unwrap_or_default().unsigned_abs())
    }

    fn machine(&mut self, job: &str) -> Result<Option<String>, JournalError> {
        self.one("SELECT machine FROM job WHERE id = ?1", [job], |row| row.get(0))
    }

    fn entries(&mut self, job: &str) -> Result<Vec<Kept>, JournalError> {
        let of = "SELECT number, key, at, body FROM entry WHERE job = ?1 ORDER BY number";
        let rows = self.all(of, [job], |row| entry_at(row, 0))?;
        rows.into_iter().map(|(number, key, at, body)| store::kept(self.place, number, key, at, &body)).collect()
    }

    fn latest(&mut self, machine: Option<&str>, most: i64) -> Result<Vec<String>, JournalError> {
        let latest = "SELECT job.id FROM job JOIN entry ON entry.job = job.id
            WHERE ?1 IS NULL OR job.machine = ?1 GROUP BY job.id ORDER BY max(entry.at) DESC, job.id DESC LIMIT ?2";
        self.all(latest, params![machine, most], |row| row.get(0))
    }

    fn sheet(&mut self, fingerprint: &str) -> Result<Option<String>, JournalError> {
        self.one("SELECT text FROM sheet WHERE fingerprint = ?1", [fingerprint], |row| row.get(0))
    }

    fn picture(&mut self, hash: &str) -> Result<Option<(String, Vec<u8>)>, JournalError> {
        let of = "SELECT media, bytes FROM attachment WHERE hash = ?1";
        self.one(of, [hash], |row| Ok((row.get(0)?, row.get(1)?)))
    }
}
