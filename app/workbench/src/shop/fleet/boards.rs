//! Boards that are computed in the background, one for each question; the latest are remembered.
//! Promise: the same question is computed once; nobody waits for it, its progress can be asked for.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use super::Board;

/// Boards that are remembered.
const REMEMBERED: usize = 8;

/// Boards, the one asked for last at the front.
#[derive(Default)]
pub struct Boards(Mutex<Vec<Arc<Place>>>);

struct Place {
    key: String,
    done: AtomicUsize,
    of: usize,
    /// Nothing in it when computing broke off.
    board: OnceLock<Option<Arc<Board>>>,
}

/// What can be had now.
pub enum Found {
    /// The board.
    Board(Arc<Board>),
    /// It is being computed; how much of it is, 0 to 1.
    Later(f64),
    /// Computing it broke off.
    Broke,
}

impl Boards {
    /// The board of a key, of so many machines; `make` computes it where it is not known, and tells how many are done.
    pub fn ask(
        &self,
        key: &str,
        of: usize,
        make: impl FnOnce(&(dyn Fn(usize) + Sync)) -> Option<Board> + Send + 'static,
    ) -> Found {
        let mut places = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let place = match places.iter().position(|place| place.key == key) {
            Some(index) => places.remove(index),
            None => begun(key, of, make),
        };
        places.insert(0, place.clone());
        places.truncate(REMEMBERED);
        drop(places);
        match place.board.get() {
            Some(Some(board)) => Found::Board(board.clone()),
            Some(None) => Found::Broke,
            None => Found::Later(place.done.load(Ordering::Relaxed) as f64 / place.of.max(1) as f64),
        }
    }
}

fn begun(
    key: &str,
    of: usize,
    make: impl FnOnce(&(dyn Fn(usize) + Sync)) -> Option<Board> + Send + 'static,
) -> Arc<Place> {
    let place = Arc::new(Place { key: key.to_owned(), done: AtomicUsize::new(0), of, board: OnceLock::new() });
    let computed = place.clone();
    std::thread::spawn(move || {
        let done = |count: usize| computed.done.store(count, Ordering::Relaxed);
        let board = catch_unwind(AssertUnwindSafe(|| make(&done))).ok().flatten().map(Arc::new);
        computed.board.get_or_init(|| board);
    });
    place
}
