//! The journal that is used: the file or server that was asked for, else the person's own file.
//! Promise: a journal that is opened has been checked, and a file has a backup of today beside it where one could be made.

use std::path::PathBuf;

use journal::{Journal, JournalError, Place};

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

/// Where the journal is. What is entered while a server is away waits in a file of the person's own.
///
/// # Errors
/// When the person has no home folder and needs one.
pub fn place(asked: Option<&Place>) -> Result<Place, NoJournal> {
    Ok(match asked {
        Some(Place::File(path)) => Place::File(path.clone()),
        Some(server) => server.clone().waiting_in(&own("waiting.db")?),
        None => Place::File(own("journal.db")?),
    })
}

/// The file with the secret of the pages: beside a journal in a file, else the person's own.
///
/// # Errors
/// When the person has no home folder and needs one.
pub fn secret(asked: Option<&Place>) -> Result<PathBuf, NoJournal> {
    match place(asked)? {
        Place::File(path) => Ok(path.with_extension("secret")),
        Place::Server(_) => own("server.secret"),
    }
}

/// What is said of entries that wait on this machine for the server; nothing where none do.
pub fn waiting(journal: &Journal) -> Option<String> {
    let count = journal.waiting().ok().filter(|count| *count > 0)?;
    Some(format!("the journal's server is away: {count} entries wait on this machine and are sent when it is back"))
}

fn own(file: &str) -> Result<PathBuf, NoJournal> {
    Ok(folders::data().map_err(|_| NoJournal::NoHome)?.join(file))
}

/// Opens the journal and backs it up once a day.
///
/// # Errors
/// When it cannot be used.
pub fn open(asked: Option<&Place>) -> Result<Journal, NoJournal> {
    let journal = Journal::open(place(asked)?)?;
    // A backup that cannot be made, for want of room say, must not keep anybody from working.
    let _ = journal.back_up_daily();
    Ok(journal)
}
