//! A job that is worked: begun or gone on with, its entries added one by one.
//! Promise: an entry is in the journal before it is acknowledged; what is taken back stays there, with the entry that did
//! so.

use std::ops::Deref;

use journal::{Entry, Journal, JournalError, key};
use machine::Machine;

use super::tables::fingerprint;

/// A job and the journal that it is kept in.
pub struct OpenJob<'a> {
    journal: &'a Journal,
    job: journal::Job,
}

/// Why a job cannot be worked.
#[derive(Debug, thiserror::Error)]
pub enum JobError {
    /// The journal cannot be read or written.
    #[error(transparent)]
    Journal(#[from] JournalError),
    /// The job belongs to another machine.
    #[error("`{job}` is a job of `{found}`, not of `{expected}`")]
    OtherMachine {
        /// The job's name.
        job: String,
        /// The machine of the job.
        found: String,
        /// The machine of the sheet.
        expected: String,
    },
    /// There is nothing to go on with.
    #[error("no open job of `{0}`")]
    NothingOpen(String),
}

impl<'a> OpenJob<'a> {
    /// The job of that name, gone on with or begun; a new one under a name of its own when none is given.
    ///
    /// # Errors
    /// When the job belongs to another machine, or the journal cannot be used.
    pub fn named(journal: &'a Journal, name: Option<&str>, machine: &Machine, text: &str) -> Result<Self, JobError> {
        let there = match name.map(|name| journal.job(name)) {
            Some(Err(JournalError::NoJob { .. })) | None => None,
            Some(job) => Some(job?),
        };
        let id = &machine.sheet.id;
        let job = match there {
            Some(job) if job.machine == *id => job,
            Some(job) => return Err(JobError::OtherMachine { job: job.id, found: job.machine, expected: id.clone() }),
            None => journal.begin(name, id, (&fingerprint(text), text), env!("CARGO_PKG_VERSION"))?,
        };
        Ok(Self { journal, job })
    }

    /// The job of that name.
    ///
    /// # Errors
    /// When there is none, or the journal cannot be read.
    pub fn known(journal: &'a Journal, name: &str) -> Result<Self, JournalError> {
        Ok(Self { journal, job: journal.job(name)? })
    }

    /// The journal that it is kept in.
    pub fn journal(&self) -> &'a Journal {
        self.journal
    }

    /// The latest open job of a machine.
    ///
    /// # Errors
    /// When there is none, or the journal cannot be read.
    pub fn latest(journal: &'a Journal, machine: &str) -> Result<Self, JobError> {
        let job = journal.latest_open(machine)?.ok_or_else(|| JobError::NothingOpen(machine.to_owned()))?;
        Ok(Self { journal, job })
    }

    /// Adds an entry; it is kept when this returns.
    ///
    /// # Errors
    /// When it cannot be written; then it is not part of the job.
    pub fn record(&mut self, entry: &Entry) -> Result<(), JournalError> {
        self.journal.record(&self.job.id, &key(), entry)?;
        // Another bench may have added something meanwhile.
        self.job = self.journal.job(&self.job.id)?;
        Ok(())
    }

    /// Takes back the latest complaint, temperature or reading and says which; nothing when there is none.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn undo(&mut self) -> Result<Option<Entry>, JournalError> {
        let last = self.job.last_undoable().cloned();
        if last.is_some() {
            self.record(&Entry::Undo)?;
        }
        Ok(last)
    }

    /// Whether the sheet has changed since the job was opened.
    pub fn sheet_changed(&self, text: &str) -> bool {
        self.job.sheet() != fingerprint(text)
    }
}

impl Deref for OpenJob<'_> {
    type Target = journal::Job;

    fn deref(&self) -> &journal::Job {
        &self.job
    }
}
