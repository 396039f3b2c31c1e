//! The journal's file: how it is opened, checked, brought up to date and backed up.
//! Promise: nothing is written to a file before it is known to be a whole journal that this program understands; what
//! is committed is on the disk (`synchronous = FULL`), and entries can be neither changed nor removed (triggers).
//! Sources: the database's documentation of write-ahead logging, `PRAGMA synchronous` and `VACUUM INTO`.

use std::fs;
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{Connection, OpenFlags, TransactionBehavior};

use crate::error::JournalError;
use crate::place::Place;

mod rows;

pub use rows::File as Store;

/// "PWJ" and a one: a file with another mark is somebody else's.
const MARK: i32 = 0x50_57_4A_31;
/// How long one writer waits for another.
const PATIENCE: Duration = Duration::from_secs(10);
/// The first bytes of every database file.
const HEAD: &[u8] = b"SQLite format 3\0";

/// What brings a journal from each version to the next.
const MIGRATIONS: [&str; 1] = ["
    CREATE TABLE sheet (fingerprint TEXT PRIMARY KEY, text TEXT NOT NULL) STRICT;
    CREATE TABLE job (id TEXT PRIMARY KEY, machine TEXT NOT NULL) STRICT;
    CREATE INDEX job_of_machine ON job (machine);
    CREATE TABLE entry (
        job TEXT NOT NULL REFERENCES job (id),
        number INTEGER NOT NULL CHECK (number >= 1),
        key TEXT NOT NULL UNIQUE,
        at TEXT NOT NULL,
        body TEXT NOT NULL CHECK (json_valid(body)),
        PRIMARY KEY (job, number)
    ) STRICT;
    CREATE INDEX entry_at ON entry (job, at);
    CREATE TABLE attachment (hash TEXT PRIMARY KEY, media TEXT NOT NULL, bytes BLOB NOT NULL) STRICT;
    CREATE TRIGGER entry_stays BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'entries are only added'); END;
    CREATE TRIGGER entry_is_fixed BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'entries are only added'); END;
    CREATE TRIGGER job_stays BEFORE DELETE ON job BEGIN SELECT RAISE(ABORT, 'jobs are only added'); END;
"];

/// Opens a journal, makes it where there is none, and brings it up to date; and whether others can have it open, too. On a
/// full disk they cannot, since there is no room for what they would share; all that was kept can still be read.
pub fn open(path: &Path) -> Result<(Connection, bool), JournalError> {
    if let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty()) {
        fs::create_dir_all(folder).map_err(|source| disk(folder, source))?;
    }
    look(path)?;
    let mut connection = Connection::open(path).map_err(|error| failed(path, error))?;
    match prepare(&mut connection, path) {
        Err(JournalError::Full { .. }) => {
            drop(connection);
            let mut alone = Connection::open(path).map_err(|error| failed(path, error))?;
            alone.pragma_update(None, "locking_mode", "EXCLUSIVE").map_err(|error| failed(path, error))?;
            prepare(&mut alone, path).map(|()| (alone, false))
        }
        prepared => prepared.map(|()| (connection, true)),
    }
}

/// A second connection to a journal that is open already: it reads while the first one writes.
pub fn open_again(path: &Path) -> Result<Connection, JournalError> {
    let read = || {
        let connection = Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
        connection.busy_timeout(PATIENCE)?;
        Ok(connection)
    };
    read().map_err(|error| failed(path, error))
}

/// Whether a file is a whole journal; nothing is written to it.
pub fn verify(path: &Path) -> Result<(), JournalError> {
    fs::File::open(path).map_err(|source| disk(path, source))?;
    look(path)?;
    let connection =
        Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY).map_err(|error| failed(path, error))?;
    match check(&connection, path)? {
        0 => Err(JournalError::NotAJournal { place: path.into() }),
        _ => Ok(()),
    }
}

/// Copies a journal into a new file, whole, while others go on writing.
pub fn copy(connection: &Connection, from: &Path, to: &Path) -> Result<(), JournalError> {
    if to.exists() {
        return Err(disk(to, io::ErrorKind::AlreadyExists.into()));
    }
    if let Some(folder) = to.parent().filter(|folder| !folder.as_os_str().is_empty()) {
        fs::create_dir_all(folder).map_err(|source| disk(folder, source))?;
    }
    let part = to.with_extension(format!("{}.part", std::process::id()));
    let copied = connection.execute("VACUUM INTO ?1", [part.to_string_lossy()]).map_err(|error| failed(from, error));
    let kept = copied.and_then(|_| {
        fs::File::open(&part).and_then(|file| file.sync_all()).map_err(|source| disk(&part, source))?;
        fs::rename(&part, to).map_err(|source| disk(to, source))
    });
    if kept.is_err() {
        // Half a copy is of no use to anybody.
        let _ = fs::remove_file(&part);
    }
    kept
}

/// The first bytes tell whether it is a database at all.
fn look(path: &Path) -> Result<(), JournalError> {
    let mut head = Vec::new();
    match fs::File::open(path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(()),
        Err(source) => return Err(disk(path, source)),
        Ok(file) => {
            file.take(HEAD.len() as u64).read_to_end(&mut head).map_err(|source| disk(path, source))?;
        }
    }
    if head.is_empty() || head == HEAD { Ok(()) } else { Err(JournalError::NotAJournal { place: path.into() }) }
}

fn prepare(connection: &mut Connection, path: &Path) -> Result<(), JournalError> {
    let failed = |error| failed(path, error);
    connection.busy_timeout(PATIENCE).map_err(failed)?;
    let version = check(connection, path)?;
    connection.pragma_update(None, "journal_mode", "WAL").map_err(failed)?;
    connection.pragma_update(None, "synchronous", "FULL").map_err(failed)?;
    connection.pragma_update(None, "foreign_keys", true).map_err(failed)?;
    if version == MIGRATIONS.len() {
        return Ok(());
    }
    if version > 0 {
        copy(connection, path, &path.with_extension(format!("before-{}.db", MIGRATIONS.len())))?;
    }
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(failed)?;
    // Another program may have done it meanwhile.
    let version: i64 = transaction.query_row("PRAGMA user_version", [], |row| row.get(0)).map_err(failed)?;
    for (version, migration) in (1_i64..).zip(MIGRATIONS).filter(|(to, _)| *to > version) {
        transaction.execute_batch(migration).map_err(failed)?;
        transaction.pragma_update(None, "user_version", version).map_err(failed)?;
        transaction.pragma_update(None, "application_id", MARK).map_err(failed)?;
    }
    transaction.commit().map_err(failed)
}

/// The version of a journal, 0 of a new file; refuses what is damaged, newer or somebody else's.
fn check(connection: &Connection, path: &Path) -> Result<usize, JournalError> {
    let ask = |pragma: &str| connection.query_row(pragma, [], |row| row.get::<_, i64>(0));
    let tables = ask("SELECT count(*) FROM sqlite_schema").map_err(|error| failed(path, error))?;
    if tables == 0 {
        return Ok(0);
    }
    let mark = ask("PRAGMA application_id").map_err(|error| failed(path, error))?;
    if mark != i64::from(MARK) {
        return Err(JournalError::NotAJournal { place: path.into() });
    }
    let version = ask("PRAGMA user_version").map_err(|error| failed(path, error))?;
    let known = MIGRATIONS.len();
    match usize::try_from(version) {
        Ok(version) if version <= known => {
            let whole: String = connection
                .query_row("PRAGMA quick_check(1)", [], |row| row.get(0))
                .map_err(|error| failed(path, error))?;
            if whole == "ok" { Ok(version) } else { Err(damaged(path, whole)) }
        }
        _ => Err(JournalError::Newer { place: path.into(), version, known }),
    }
}

/// What the system said of a file.
pub fn disk(path: &Path, source: io::Error) -> JournalError {
    match source.kind() {
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => JournalError::Full { place: path.into() },
        _ => JournalError::Disk { path: path.to_owned(), source },
    }
}

/// What the database said, in plain words where a person can do something about it.
pub fn failed(path: &Path, error: rusqlite::Error) -> JournalError {
    use rusqlite::ErrorCode::{
        CannotOpen, DatabaseBusy, DatabaseCorrupt, DatabaseLocked, DiskFull, NotADatabase, PermissionDenied, ReadOnly,
    };
    /// There is no room for what connections share (SQLITE_IOERR_SHMOPEN, _SHMSIZE, _SHMMAP in the database's list of
    /// result codes).
    const NO_ROOM: [i32; 3] = [18 << 8 | 10, 19 << 8 | 10, 21 << 8 | 10];
    let place = || Place::from(path);
    let code = error.sqlite_error().map(|error| error.extended_code);
    if code.is_some_and(|code| NO_ROOM.contains(&code)) {
        return JournalError::Full { place: place() };
    }
    match error.sqlite_error_code() {
        Some(DiskFull) => JournalError::Full { place: place() },
        Some(ReadOnly | CannotOpen | PermissionDenied) => JournalError::NotWritable { place: place() },
        Some(DatabaseBusy | DatabaseLocked) => JournalError::Busy { place: place() },
        Some(DatabaseCorrupt | NotADatabase) => damaged(path, error.to_string()),
        _ => JournalError::database(&place(), error),
    }
}

fn damaged(path: &Path, found: String) -> JournalError {
    JournalError::Damaged { path: path.to_owned(), found, backup: backups(path).pop() }
}

/// The backups beside a journal, oldest first.
pub fn backups(path: &Path) -> Vec<PathBuf> {
    let files = fs::read_dir(backup_folder(path)).into_iter().flatten().flatten().map(|file| file.path());
    let mut files: Vec<PathBuf> = files.filter(|path| path.extension().is_some_and(|end| end == "db")).collect();
    files.sort();
    files
}

/// Where the backups of a journal are kept.
pub fn backup_folder(path: &Path) -> PathBuf {
    path.with_file_name("backups")
}

/// The daily backups beside a journal of that file, oldest first.
pub fn daily(path: &Path) -> Vec<PathBuf> {
    let start = format!("{}-", stem(path));
    let own = |path: &PathBuf| path.file_name().is_some_and(|name| name.to_string_lossy().starts_with(&start));
    backups(path).into_iter().filter(own).collect()
}

/// The file for the backup of a day.
pub fn backup_of(path: &Path, day: &str) -> PathBuf {
    backup_folder(path).join(format!("{}-{day}.db", stem(path)))
}

/// Puts a backup in a journal's place; what was there is kept beside it and named.
pub fn restore(path: &Path, backup: &Path) -> Result<Option<PathBuf>, JournalError> {
    verify(backup)?;
    let part = path.with_extension(format!("{}.part", std::process::id()));
    let copied = fs::copy(backup, &part).and_then(|_| fs::File::open(&part)?.sync_all());
    copied.map_err(|source| disk(&part, source))?;
    let aside = if path.exists() { Some(free_name(path)) } else { None };
    let beside = |path: &Path, end: &str| PathBuf::from(format!("{}{end}", path.display()));
    if let Some(aside) = &aside {
        for end in ["", "-wal", "-shm"] {
            match fs::rename(beside(path, end), beside(aside, end)) {
                Err(error) if end.is_empty() || error.kind() != io::ErrorKind::NotFound => {
                    return Err(disk(path, error));
                }
                _ => {}
            }
        }
    }
    fs::rename(&part, path).map_err(|source| disk(path, source))?;
    Ok(aside)
}

fn stem(path: &Path) -> String {
    path.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default()
}

/// A name beside a journal that is not taken.
fn free_name(path: &Path) -> PathBuf {
    let stem = stem(path);
    let named = |number: usize| path.with_file_name(format!("{stem}-set-aside-{number}.db"));
    (1..).map(named).find(|path| !path.exists()).unwrap_or_else(|| named(0))
}
