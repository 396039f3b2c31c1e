//! What the door asks of a store: a few acts on its rows, many of them in one transaction.
//! Promise: an act that is not committed has changed nothing; it may be run again from its beginning, so what makes it
//! itself (keys, times) is made outside of it.

use crate::entry::{Entry, Kept};
use crate::error::JournalError;
use crate::job::Job;
use crate::place::Place;

/// What one transaction can do.
pub trait Rows {
    /// Where the journal is.
    fn place(&self) -> &Place;
    /// Lets nobody else begin or import jobs until the transaction ends.
    fn alone(&mut self) -> Result<(), JournalError>;
    /// Keeps others from adding to a job until the transaction ends; tells whether the job is there.
    fn hold(&mut self, job: &str) -> Result<bool, JournalError>;
    /// Adds a job, unless its name is taken; tells whether it was added.
    fn add_job(&mut self, id: &str, machine: &str) -> Result<bool, JournalError>;
    /// Adds an entry to a job that is held.
    fn add_entry(&mut self, job: &str, kept: &Kept, body: &str) -> Result<(), JournalError>;
    /// Adds a sheet, unless it is there.
    fn add_sheet(&mut self, fingerprint: &str, text: &str) -> Result<(), JournalError>;
    /// Adds a picture, unless it is there.
    fn add_picture(&mut self, hash: &str, media: &str, bytes: &[u8]) -> Result<(), JournalError>;
    /// The entry of a key, with the name of its job.
    fn entry(&mut self, key: &str) -> Result<Option<(String, Kept)>, JournalError>;
    /// The number of a job's latest entry, 0 where it has none.
    fn last(&mut self, job: &str) -> Result<u64, JournalError>;
    /// A job's machine.
    fn machine(&mut self, job: &str) -> Result<Option<String>, JournalError>;
    /// A job's entries, in order.
    fn entries(&mut self, job: &str) -> Result<Vec<Kept>, JournalError>;
    /// The names of the jobs of a machine, or of all, the latest first.
    fn latest(&mut self, machine: Option<&str>, most: i64) -> Result<Vec<String>, JournalError>;
    /// A sheet's text.
    fn sheet(&mut self, fingerprint: &str) -> Result<Option<String>, JournalError>;
    /// A picture's media type and content.
    fn picture(&mut self, hash: &str) -> Result<Option<(String, Vec<u8>)>, JournalError>;
}

/// Adds an entry at a time, unless its key is there already.
pub fn add(rows: &mut dyn Rows, job: &str, key: &str, at: &str, entry: &Entry) -> Result<Kept, JournalError> {
    if !rows.hold(job)? {
        return Err(JournalError::NoJob { id: job.to_owned() });
    }
    if let Some((_, kept)) = rows.entry(key)? {
        return Ok(kept);
    }
    let body = body(entry, rows.place())?;
    let kept = Kept {
        number: rows.last(job)? + 1,
        key: key.to_owned(),
        at: at.to_owned(),
        entry: entry.clone(),
        waits: false,
    };
    rows.add_entry(job, &kept, &body)?;
    Ok(kept)
}

/// A job with its entries.
pub fn job(rows: &mut dyn Rows, id: &str) -> Result<Option<Job>, JournalError> {
    let Some(machine) = rows.machine(id)? else { return Ok(None) };
    Ok(Some(Job { id: id.to_owned(), machine, entries: rows.entries(id)? }))
}

/// An entry as it is written.
pub fn body(entry: &Entry, place: &Place) -> Result<String, JournalError> {
    serde_json::to_string(entry).map_err(|error| JournalError::database(place, error))
}

/// An entry as it is read.
pub fn kept(place: &Place, number: i64, key: String, at: String, body: &str) -> Result<Kept, JournalError> {
    let entry = serde_json::from_str(body).map_err(|error| JournalError::database(place, error))?;
    Ok(Kept { number: number.unsigned_abs(), key, at, entry, waits: false })
}
