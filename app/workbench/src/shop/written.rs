//! Files that the shop leaves behind, each written whole or not at all.

use std::io::{self, Write};
use std::path::Path;

/// Why a sheet could not be written.
#[derive(Debug, thiserror::Error)]
pub enum Unwritten {
    /// The text is no TOML to the writer.
    #[error("the sheet's text cannot be edited: {0}")]
    Text(#[from] toml_edit::TomlError),
    /// What came out is no sheet.
    #[error("the written sheet would have a problem: {0}")]
    Unsound(String),
    /// The disk refused.
    #[error("cannot write `{path}`")]
    Disk {
        /// As given.
        path: String,
        /// What the system said.
        source: io::Error,
    },
}

/// Writes the content beside the file first and moves it over the old one: a full disk leaves the old one as it was.
pub fn keep(path: &Path, content: impl AsRef<[u8]>) -> io::Result<()> {
    let beside = path.with_extension(format!("{}.part", std::process::id()));
    let written = || {
        let mut file = std::fs::File::create(&beside)?;
        file.write_all(content.as_ref())?;
        file.sync_all()?;
        std::fs::rename(&beside, path)
    };
    written().inspect_err(|_| {
        // What could not be moved is of no use to anybody.
        let _ = std::fs::remove_file(&beside);
    })
}
