//! The journal on a PostgreSQL server that several benches share: how it is reached, brought up to date and what its
//! errors mean.
//! Promise: what is committed is on the server's disk (`synchronous_commit = on`, if the server syncs at all: `fsync`);
//! entries can be neither changed nor removed (triggers); a connection that was lost is made anew once before an error
//! is told, and the act is run again: its keys make it count once.
//! Limit: the connection is not encrypted; it is for a workshop's own network.
//! Sources: the server's documentation of explicit locking, asynchronous commit and error codes.

use std::error::Error;
use std::io;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use postgres::error::SqlState;
use postgres::{Client, Config, NoTls};

use crate::error::JournalError;
use crate::place::{Address, Place};
use crate::store::Rows;

mod rows;

/// How long a connection may take to be made.
const CONNECT: Duration = Duration::from_secs(3);
/// How long the network may say nothing to what was sent.
const SILENCE: Duration = Duration::from_secs(10);
/// "PWJ" and a one: the lock of whoever begins or imports jobs, or brings the tables up to date.
const LOCK: i64 = 0x50_57_4A_31;

/// How each connection begins; 10 s are as long as a writer waits for another.
const MANNERS: &str = "SET synchronous_commit = on; SET lock_timeout = '10s'; SET search_path = probewright;
    SET idle_in_transaction_session_timeout = '60s'";

/// What brings a journal from each version to the next. Names and times are sorted by their bytes, as in a file.
const MIGRATIONS: [&str; 1] = [r#"
    CREATE TABLE sheet (fingerprint text COLLATE "C" PRIMARY KEY, text text NOT NULL);
    CREATE TABLE job (id text COLLATE "C" PRIMARY KEY, machine text COLLATE "C" NOT NULL);
    CREATE INDEX job_of_machine ON job (machine);
    CREATE TABLE entry (
        job text COLLATE "C" NOT NULL REFERENCES job (id),
        number bigint NOT NULL CHECK (number >= 1),
        key text COLLATE "C" NOT NULL UNIQUE,
        at text COLLATE "C" NOT NULL,
        body text NOT NULL CHECK (body::json IS NOT NULL),
        PRIMARY KEY (job, number)
    );
    CREATE INDEX entry_at ON entry (job, at);
    CREATE TABLE attachment (hash text COLLATE "C" PRIMARY KEY, media text NOT NULL, bytes bytea NOT NULL);
    CREATE FUNCTION only_added() RETURNS trigger LANGUAGE plpgsql AS
        $$ BEGIN RAISE EXCEPTION '% rows are only added', TG_TABLE_NAME; END $$;
    CREATE TRIGGER entry_stays BEFORE UPDATE OR DELETE OR TRUNCATE ON entry
        FOR EACH STATEMENT EXECUTE FUNCTION only_added();
    CREATE TRIGGER job_stays BEFORE UPDATE OR DELETE OR TRUNCATE ON job
        FOR EACH STATEMENT EXECUTE FUNCTION only_added();
"#];

/// A journal on a server.
pub struct Store {
    place: Place,
    config: Config,
    client: Mutex<Option<Client>>,
}

impl std::fmt::Debug for Store {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Store").field("place", &self.place).finish_non_exhaustive()
    }
}

impl Store {
    /// Reaches a server; makes the tables where there are none.
    pub fn open(address: &Address) -> Result<Self, JournalError> {
        let place = Place::Server(address.clone());
        let bad = |error: postgres::Error| JournalError::BadPlace { place: place.clone(), found: told(&error) };
        let mut config: Config = address.given.parse().map_err(bad)?;
        config.application_name("probewright").connect_timeout(CONNECT).tcp_user_timeout(SILENCE);
        let store = Self { place, config, client: Mutex::new(None) };
        let mut client = store.connect()?;
        store.prepare(&mut client)?;
        *store.lock() = Some(client);
        Ok(store)
    }

    /// Runs an act that writes, all of it or nothing.
    pub fn write<T>(&self, act: impl FnMut(&mut dyn Rows) -> Result<T, JournalError>) -> Result<T, JournalError> {
        self.act(false, act)
    }

    /// Runs an act that only reads.
    pub fn read<T>(&self, act: impl FnMut(&mut dyn Rows) -> Result<T, JournalError>) -> Result<T, JournalError> {
        self.act(true, act)
    }

    fn act<T>(
        &self,
        only_reads: bool,
        mut act: impl FnMut(&mut dyn Rows) -> Result<T, JournalError>,
    ) -> Result<T, JournalError> {
        let mut held = self.lock();
        loop {
            let old = held.take();
            let was_open = old.is_some();
            let mut client = match old {
                Some(client) => client,
                None => self.connect()?,
            };
            let done = self.transact(&mut client, only_reads, &mut act);
            match done {
                Err(JournalError::Away { .. }) if was_open => {}
                done => {
                    *held = (!client.is_closed()).then_some(client);
                    return done;
                }
            }
        }
    }

    fn transact<T>(
        &self,
        client: &mut Client,
        only_reads: bool,
        act: &mut impl FnMut(&mut dyn Rows) -> Result<T, JournalError>,
    ) -> Result<T, JournalError> {
        let failed = |error| self.failed(&error);
        let transaction = client.build_transaction().read_only(only_reads).start().map_err(failed)?;
        let mut open = rows::Open { store: self, transaction };
        let done = act(&mut open)?;
        open.transaction.commit().map_err(failed)?;
        Ok(done)
    }

    fn connect(&self) -> Result<Client, JournalError> {
        let reach = || {
            let mut client = self.config.connect(NoTls)?;
            client.batch_execute(MANNERS)?;
            Ok(client)
        };
        reach().map_err(|error: postgres::Error| self.failed(&error))
    }

    fn prepare(&self, client: &mut Client) -> Result<(), JournalError> {
        let failed = |error| self.failed(&error);
        let mut transaction = client.transaction().map_err(failed)?;
        // Two benches may open a new database at once.
        transaction.execute("SELECT pg_advisory_xact_lock($1)", &[&LOCK]).map_err(failed)?;
        let look =
            "SELECT to_regnamespace('probewright') IS NOT NULL, to_regclass('probewright.journal_version') IS NOT NULL";
        let found = transaction.query_one(look, &[]).map_err(failed)?;
        match (found.get(0), found.get(1)) {
            (true, true) => {}
            (true, false) => return Err(JournalError::NotAJournal { place: self.place.clone() }),
            _ => transaction
                .batch_execute("CREATE SCHEMA probewright; CREATE TABLE journal_version (version bigint PRIMARY KEY)")
                .map_err(failed)?,
        }
        let ask = "SELECT coalesce(max(version), 0) FROM journal_version";
        let version: i64 = transaction.query_one(ask, &[]).map_err(failed)?.get(0);
        let known = MIGRATIONS.len();
        if version > known as i64 {
            return Err(JournalError::Newer { place: self.place.clone(), version, known });
        }
        for (version, migration) in (1_i64..).zip(MIGRATIONS).filter(|(to, _)| *to > version) {
            transaction.batch_execute(migration).map_err(failed)?;
            transaction.execute("INSERT INTO journal_version VALUES ($1)", &[&version]).map_err(failed)?;
        }
        transaction.commit().map_err(failed)
    }

    /// What the server or the network said, in plain words where a person can do something about it.
    fn failed(&self, error: &postgres::Error) -> JournalError {
        let (place, found) = (self.place.clone(), told(error));
        let Some(code) = error.code() else {
            let network = causes(error).any(|cause| cause.is::<io::Error>());
            return match network || error.is_closed() {
                true => JournalError::Away { place, found },
                false => JournalError::database(&place, found),
            };
        };
        match (code, &code.code()[..2]) {
            (&SqlState::DISK_FULL, _) => JournalError::Full { place },
            (&SqlState::READ_ONLY_SQL_TRANSACTION | &SqlState::INSUFFICIENT_PRIVILEGE, _) => {
                JournalError::NotWritable { place }
            }
            (&SqlState::LOCK_NOT_AVAILABLE | &SqlState::T_R_DEADLOCK_DETECTED | &SqlState::TOO_MANY_CONNECTIONS, _) => {
                JournalError::Busy { place }
            }
            // Connections, and a server that stops, starts or has fallen over.
            (_, "08") => JournalError::Away { place, found },
            (
                &SqlState::ADMIN_SHUTDOWN
                | &SqlState::CRASH_SHUTDOWN
                | &SqlState::CANNOT_CONNECT_NOW
                | &SqlState::IDLE_IN_TRANSACTION_SESSION_TIMEOUT,
                _,
            ) => JournalError::Away { place, found },
            // Who one is, and which database.
            (_, "28" | "3D") => JournalError::Refused { place, found },
            _ => JournalError::database(&place, found),
        }
    }

    fn lock(&self) -> MutexGuard<'_, Option<Client>> {
        self.client.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Drop for Store {
    /// A client must not go where others wait for events, so it goes in a thread of its own.
    fn drop(&mut self) {
        if let Some(client) = self.lock().take() {
            let _ = std::thread::spawn(move || drop(client)).join();
        }
    }
}

/// An error and its causes.
fn causes(error: &postgres::Error) -> impl Iterator<Item = &(dyn Error + 'static)> {
    std::iter::successors(Some(error as &(dyn Error + 'static)), |error| (**error).source())
}

/// The last cause says it in the plainest words.
fn told(error: &postgres::Error) -> String {
    match error.as_db_error() {
        Some(error) => error.message().to_owned(),
        None => causes(error).last().map(ToString::to_string).unwrap_or_default(),
    }
}
