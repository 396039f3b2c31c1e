//! The journal's rows on a server, in one transaction.
//! Promise: entries of one job are numbered without gaps, because whoever adds one holds the job's row until it is
//! committed.

use postgres::types::ToSql;
use postgres::{Row, Transaction};

use super::{LOCK, Store};
use crate::entry::Kept;
use crate::error::JournalError;
use crate::place::Place;
use crate::store::{self, Rows};

/// A transaction that is open.
pub struct Open<'a> {
    pub store: &'a Store,
    pub transaction: Transaction<'a>,
}

type Values<'a> = &'a [&'a (dyn ToSql + Sync)];

impl Open<'_> {
    fn change(&mut self, text: &str, values: Values<'_>) -> Result<u64, JournalError> {
        self.transaction.execute(text, values).map_err(|error| self.store.failed(&error))
    }

    fn all(&mut self, text: &str, values: Values<'_>) -> Result<Vec<Row>, JournalError> {
        self.transaction.query(text, values).map_err(|error| self.store.failed(&error))
    }

    fn one(&mut self, text: &str, values: Values<'_>) -> Result<Option<Row>, JournalError> {
        Ok(self.all(text, values)?.into_iter().next())
    }

    /// Number, key, time and body, from that column on.
    fn kept(&self, row: &Row, first: usize) -> Result<Kept, JournalError> {
        store::kept(&self.store.place, row.get(first), row.get(first + 1), row.get(first + 2), row.get(first + 3))
    }
}

impl Rows for Open<'_> {
    fn place(&self) -> &Place {
        &self.store.place
    }

    fn alone(&mut self) -> Result<(), JournalError> {
        self.change("SELECT pg_advisory_xact_lock($1)", &[&LOCK]).map(drop)
    }

    fn hold(&mut self, job: &str) -> Result<bool, JournalError> {
        Ok(self.one("SELECT 1 FROM job WHERE id = $1 FOR UPDATE", &[&job])?.is_some())
    }

    fn add_job(&mut self, id: &str, machine: &str) -> Result<bool, JournalError> {
        Ok(self.change("INSERT INTO job VALUES ($1, $2) ON CONFLICT DO NOTHING", &[&id, &machine])? == 1)
    }

    fn add_entry(&mut self, job: &str, kept: &Kept, body: &str) -> Result<(), JournalError> {
        let add = "INSERT INTO entry VALUES ($1, $2, $3, $4, $5)";
        let number = kept.number.cast_signed();
        self.change(add, &[&job, &number, &kept.key, &kept.at, &body]).map(drop)
    }

    fn add_sheet(&mut self, fingerprint: &str, text: &str) -> Result<(), JournalError> {
        self.change("INSERT INTO sheet VALUES ($1, $2) ON CONFLICT DO NOTHING", &[&fingerprint, &text]).map(drop)
    }

    fn add_picture(&mut self, hash: &str, media: &str, bytes: &[u8]) -> Result<(), JournalError> {
        let add = "INSERT INTO attachment VALUES ($1, $2, $3) ON CONFLICT DO NOTHING";
        self.change(add, &[&hash, &media, &bytes]).map(drop)
    }

    fn entry(&mut self, key: &str) -> Result<Option<(String, Kept)>, JournalError> {
        let found = self.one("SELECT job, number, key, at, body FROM entry WHERE key = $1", &[&key])?;
        found.map(|row| Ok((row.get(0), self.kept(&row, 1)?))).transpose()
    }

    fn last(&mut self, job: &str) -> Result<u64, JournalError> {
        let last = self.one("SELECT coalesce(max(number), 0) FROM entry WHERE job = $1", &[&job])?;
        Ok(last.map(|row| row.get::<_, i64>(0)).unwrap_or_default().unsigned_abs())
    }

    fn machine(&mut self, job: &str) -> Result<Option<String>, JournalError> {
        Ok(self.one("SELECT machine FROM job WHERE id = $1", &[&job])?.map(|row| row.get(0)))
    }

    fn entries(&mut self, job: &str) -> Result<Vec<Kept>, JournalError> {
        let rows = self.all("SELECT number, key, at, body FROM entry WHERE job = $1 ORDER BY number", &[&job])?;
        rows.iter().map(|row| self.kept(row, 0)).collect()
    }

    fn latest(&mut self, machine: Option<&str>, most: i64) -> Result<Vec<String>, JournalError> {
        let latest = "SELECT job.id FROM job JOIN entry ON entry.job = job.id
            WHERE $1::text IS NULL OR job.machine = $1
            GROUP BY job.id ORDER BY max(entry.at) DESC, job.id DESC LIMIT $2";
        Ok(self.all(latest, &[&machine, &most])?.iter().map(|row| row.get(0)).collect())
    }

    fn sheet(&mut self, fingerprint: &str) -> Result<Option<String>, JournalError> {
        Ok(self.one("SELECT text FROM sheet WHERE fingerprint = $1", &[&fingerprint])?.map(|row| row.get(0)))
    }

    fn picture(&mut self, hash: &str) -> Result<Option<(String, Vec<u8>)>, JournalError> {
        let found = self.one("SELECT media, bytes FROM attachment WHERE hash = $1", &[&hash])?;
        Ok(found.map(|row| (row.get(0), row.get(1))))
    }
}
