//! A gate on the wire to a server: open, shut, or shut just after a commit went through and before its answer comes back.

use std::io::{Read, Write};
use std::net::{Shutdown, TcpListener, TcpStream};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use super::{Database, SERVER};

/// A gate.
pub struct Gate {
    port: u16,
    state: Arc<State>,
}

#[derive(Default)]
struct State {
    shut: AtomicBool,
    swallow: AtomicBool,
    swallowed: AtomicUsize,
    wires: Mutex<Vec<TcpStream>>,
}

impl Gate {
    /// A gate before the server of the tests.
    pub fn new() -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let port = listener.local_addr().unwrap().port();
        let server = std::env::var(SERVER).unwrap();
        let server = host(&server).to_owned();
        let state = Arc::new(State::default());
        let shared = state.clone();
        // Ends with the test's program.
        std::thread::spawn(move || {
            for near in listener.incoming().flatten() {
                if shared.shut.load(Ordering::SeqCst) {
                    continue;
                }
                let far = TcpStream::connect(&server).unwrap();
                shared.wires.lock().unwrap().extend([near.try_clone().unwrap(), far.try_clone().unwrap()]);
                let (there, back) = (shared.clone(), shared.clone());
                let (near_again, far_again) = (near.try_clone().unwrap(), far.try_clone().unwrap());
                std::thread::spawn(move || there.pass(near, far, true));
                std::thread::spawn(move || back.pass(far_again, near_again, false));
            }
        });
        Self { port, state }
    }

    /// A database's address through the gate.
    pub fn address(&self, database: &Database) -> String {
        database.address.replace(host(&database.address), &format!("127.0.0.1:{}", self.port))
    }

    /// Cuts every wire and lets nobody through.
    pub fn shut(&self) {
        self.state.shut.store(true, Ordering::SeqCst);
        self.state.cut();
    }

    /// Lets everybody through.
    pub fn open(&self) {
        self.state.shut.store(false, Ordering::SeqCst);
    }

    /// Lets the next commit through and cuts the wires before its answer comes back.
    pub fn swallow_next_commit(&self) {
        self.state.swallow.store(true, Ordering::SeqCst);
    }

    /// How many answers were swallowed.
    pub fn swallowed(&self) -> usize {
        self.state.swallowed.load(Ordering::SeqCst)
    }
}

impl State {
    fn pass(&self, mut from: TcpStream, mut to: TcpStream, to_server: bool) {
        let mut bytes = [0; 8192];
        while let Ok(count @ 1..) = from.read(&mut bytes) {
            let commit = to_server && bytes[..count].windows(6).any(|word| word == b"COMMIT");
            if commit && self.swallow.swap(false, Ordering::SeqCst) {
                // The way back is shut first, then the commit goes on, and the server has time for it.
                self.swallowed.fetch_add(1, Ordering::SeqCst);
                let _ = from.shutdown(Shutdown::Both);
                let _ = to.write_all(&bytes[..count]);
                std::thread::sleep(Duration::from_millis(300));
                break;
            }
            if to.write_all(&bytes[..count]).is_err() {
                break;
            }
        }
        let _ = (from.shutdown(Shutdown::Both), to.shutdown(Shutdown::Both));
    }

    fn cut(&self) {
        for wire in self.wires.lock().unwrap().drain(..) {
            let _ = wire.shutdown(Shutdown::Both);
        }
    }
}

/// Host and port of an address.
fn host(address: &str) -> &str {
    let rest = address.split_once("://").unwrap().1.split('/').next().unwrap();
    rest.rsplit_once('@').map_or(rest, |(_, host)| host)
}
