//! Tables of readings: computed by all hands, kept in the cache under a key of the sheet's text and the engine's version.
//! Promise: a table from the cache is the one that would be computed; a damaged or foreign file is computed anew; a
//! cache that cannot be written costs time, never an answer.

use std::fs;
use std::io::{BufReader, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};

use diagnosis::{Atlas, Survey};
use machine::Machine;
use rayon::prelude::*;
use sha2::{Digest, Sha256};

use super::folders;

/// What-if cases for each suspect in a full table, at most.
pub const FULL: usize = 256;
/// A table takes about so many bytes a case and probe, and has so many at most.
const BYTES: usize = 6;
const MOST_BYTES: usize = 40_000_000;
/// Worlds that one hand observes at a time.
const PIECE: usize = 256;

/// What-if cases for each suspect in a machine's full table: fewer where many suspects and probes would make it large.
pub fn full(machine: &Machine) -> usize {
    let cells = (machine.faults().len() + 1) * machine.proposed_probes().len();
    let fits = |each: &usize| cells * each * BYTES <= MOST_BYTES;
    [FULL, FULL * 3 / 4, FULL / 2].into_iter().find(fits).unwrap_or(FULL / 4)
}

/// The table of a machine: from the cache, else computed and kept there.
pub fn table(machine: &Machine, sheet: &str, worlds_each: usize) -> Atlas {
    table_with(machine, sheet, worlds_each, &|_| {})
}

/// The same; `progress` is told from time to time how much of it is computed, 0 to 1.
pub fn table_with(machine: &Machine, sheet: &str, worlds_each: usize, progress: &(dyn Fn(f64) + Sync)) -> Atlas {
    let file = file(sheet, worlds_each);
    let kept = file.as_deref().and_then(|file| fs::File::open(file).ok()).map(BufReader::new);
    if let Some(atlas) = kept.and_then(|kept| Survey::new(machine, worlds_each).restore(kept)) {
        return atlas;
    }
    let atlas = computed(machine, worlds_each, progress);
    if let Some(file) = file {
        // A cache is a convenience: when the disk is full or read-only, the next run computes again.
        let _ = keep(&file, &atlas.to_bytes());
    }
    atlas
}

/// The table of a machine, computed by all hands.
fn computed(machine: &Machine, worlds_each: usize, progress: &(dyn Fn(f64) + Sync)) -> Atlas {
    let survey = Survey::new(machine, worlds_each);
    let worlds = survey.len();
    let count = worlds.div_ceil(PIECE);
    let done = AtomicUsize::new(0);
    let observe = |piece: usize| {
        let observed = survey.piece(piece * PIECE..worlds.min((piece + 1) * PIECE));
        progress((done.fetch_add(1, Ordering::Relaxed) + 1) as f64 / count as f64);
        observed
    };
    let pieces = (0..count).into_par_iter().map(observe).collect();
    survey.assemble(pieces)
}

/// Letters and digits that stand for a sheet's text.
pub fn fingerprint(sheet: &str) -> String {
    Sha256::digest(sheet.as_bytes()).iter().take(8).map(|byte| format!("{byte:02x}")).collect()
}

/// Where the table of a sheet is kept; nothing when there is no place for it.
pub fn file(sheet: &str, worlds_each: usize) -> Option<PathBuf> {
    let name = format!("{}-{worlds_each}-{}.atlas", fingerprint(sheet), engine()?);
    Some(folders::cache().ok()?.join("tables").join(name))
}

/// The version of the engine, told apart from other builds of the same version by the program's own file.
fn engine() -> Option<String> {
    let about = fs::metadata(std::env::current_exe().ok()?).ok()?;
    let built = about.modified().ok()?.duration_since(std::time::UNIX_EPOCH).ok()?;
    Some(format!("{}-{:x}-{:x}", env!("CARGO_PKG_VERSION"), built.as_nanos(), about.len()))
}

/// Writes beside the place and moves there, so that nobody ever reads half a table.
fn keep(file: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let folder = file.parent().unwrap_or(Path::new("."));
    fs::create_dir_all(folder)?;
    let beside = file.with_extension(format!("{}.part", std::process::id()));
    let mut part = fs::File::create(&beside)?;
    part.write_all(bytes)?;
    part.sync_all()?;
    fs::rename(&beside, file)
}
