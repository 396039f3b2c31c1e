//! Where the stories are told: in files, and on the server that `PROBEWRIGHT_TEST_POSTGRES` names, in databases that
//! each test makes and drops. `referee/postgres.sh run cargo test -p journal` begins such a server.
#![expect(dead_code, reason = "each test file uses some of it")]

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};

use journal::Place;

pub mod gate;

/// The address of a server, as in `postgres://who@127.0.0.1:5432/postgres`.
pub const SERVER: &str = "PROBEWRIGHT_TEST_POSTGRES";

/// A folder of its own for each test.
pub fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("journal-{name}-{}", std::process::id()));
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).unwrap();
    folder
}

/// Tells a story in a file and on a server; the same number is the same place.
pub fn on_every_store(name: &str, story: impl Fn(&dyn Fn(usize) -> Place)) {
    let folder = folder(name);
    story(&|number| Place::from(&folder.join(format!("{number}.db"))));
    let [one, two] = [Database::new(), Database::new()];
    if let (Some(one), Some(two)) = (one, two) {
        story(&|number| Place::from(if number == 1 { one.address.as_str() } else { two.address.as_str() }));
    }
}

/// A database that lives as long as its test.
pub struct Database {
    server: String,
    name: String,
    /// Its address.
    pub address: String,
}

impl Database {
    /// A new one; nothing where no server is named.
    pub fn new() -> Option<Self> {
        static NUMBER: AtomicUsize = AtomicUsize::new(1);
        let server = std::env::var(SERVER).ok()?;
        let name = format!("test_{}_{}", std::process::id(), NUMBER.fetch_add(1, Ordering::Relaxed));
        let address = format!("{}/{name}", server.rsplit_once('/').unwrap().0);
        let database = Self { server, name, address };
        database.order("CREATE DATABASE");
        Some(database)
    }

    fn order(&self, order: &str) {
        let mut client = postgres::Client::connect(&self.server, postgres::NoTls).unwrap();
        let end = if order.starts_with("DROP") { " WITH (FORCE)" } else { "" };
        client.batch_execute(&format!("{order} {}{end}", self.name)).unwrap();
    }

    /// A connection past the journal.
    pub fn raw(&self) -> postgres::Client {
        postgres::Client::connect(&self.address, postgres::NoTls).unwrap()
    }
}

impl Drop for Database {
    fn drop(&mut self) {
        if !std::thread::panicking() {
            self.order("DROP DATABASE");
        }
    }
}
