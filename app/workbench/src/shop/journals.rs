//! The journal that is used: the file that was asked for, else the person's own.
//! Promise: a journal that is opened has been checked, and has a backup of today beside it where one could be made.

use std::path::{Path, PathBuf};

use journal::{Journal, JournalError};

use super::folders;

/// What names another journal than the person's own, beside `--journal`.
pub const VARIABLE: &str = "PROBEWRIGHT_JOURNAL";

/// Why there is no journal to write to.
#[derive(Debug, thiserror::Error)]
pub enum NoJournal {
    /// There is no folder for it.
    #[error("no home folder to keep the journal in")]
    NoHome,
    /// It cannot be used.
    #[error(transparent)]
    Journal(#[from] JournalError),
}

/// Where the journal is.
///
/// # Errors
/// When none was asked for and the person has no home folder.
pub fn place(asked: Option<&Path>) -> Result<PathBuf, NoJournal> {
    match asked {
        Some(path) => Ok(path.to_owned()),
        None => Ok(folders::data().map_err(|_| NoJournal::NoHome)?.join("journal.db")),
    }
}

/// Opens the journal and backs it up once a day.
///
/// # Errors
/// When it cannot be used.
pub fn open(asked: Option<&Path>) -> Result<Journal, NoJournal> {
    let journal = Journal::open(&place(asked)?)?;
    // A backup that cannot be made, for want of room say, must not keep anybody from working.
    let _ = journal.back_up_daily();
    Ok(journal)
}
