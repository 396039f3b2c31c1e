//! Files that the shop leaves behind, each written whole or not at all.

use std::io;
use std::path::Path;

/// Writes the text beside the file first and moves it over the old one: a full disk leaves the old one as it was.
pub fn keep(path: &Path, text: &str) -> io::Result<()> {
    let beside = path.with_extension(format!("{}.part", std::process::id()));
    std::fs::write(&beside, text)?;
    std::fs::rename(&beside, path).inspect_err(|_| {
        // What could not be moved is of no use to anybody.
        let _ = std::fs::remove_file(&beside);
    })
}
