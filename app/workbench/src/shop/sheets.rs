//! Sheets and request lists from disk or standard input (`-`).
//! Promise: what cannot be opened is told apart (not there, not allowed, not text), and a sheet with problems is still
//! a sheet that can be shown.

use std::io::{self, BufReader, Read};
use std::path::{Path, PathBuf};

use machine::Machine;
use machine::problem::{Problem, Weight};
use machine::sheet::Sheet;

/// A sheet's text with what was found in it.
pub struct OpenSheet {
    /// As given; `standard input` for `-`.
    pub path: String,
    /// The text.
    pub text: String,
    /// Problems and notes, in the order of the text.
    pub findings: Vec<Problem>,
    /// The sheet, when there is no problem.
    pub sheet: Option<Sheet>,
}

/// Why a file could not be opened.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// It is not there, or is a folder.
    #[error("cannot find `{path}`")]
    Missing {
        /// As given.
        path: String,
        /// What the system said.
        source: io::Error,
    },
    /// It may not be read.
    #[error("not allowed to read `{path}`")]
    Denied {
        /// As given.
        path: String,
        /// What the system said.
        source: io::Error,
    },
    /// Reading broke off.
    #[error("cannot read `{path}`")]
    Broken {
        /// As given.
        path: String,
        /// What the system said.
        source: io::Error,
    },
    /// It holds something other than text.
    #[error("`{path}` is not text: byte {at} is not UTF-8")]
    NotText {
        /// As given.
        path: String,
        /// The first byte that is not.
        at: usize,
    },
}

/// Opens a sheet and reads it; problems with it are in the answer.
///
/// # Errors
/// When there is no text to be had.
pub fn open(path: &Path) -> Result<OpenSheet, OpenError> {
    let text = text(path)?;
    let read = machine::sheet::read(&text);
    Ok(OpenSheet { path: shown(path), text, findings: read.findings, sheet: read.sheet })
}

/// The text of a file, or of standard input.
///
/// # Errors
/// When there is no text to be had.
pub fn text(path: &Path) -> Result<String, OpenError> {
    let mut bytes = Vec::new();
    source(path)?.read_to_end(&mut bytes).map_err(|error| refused(path, error))?;
    String::from_utf8(bytes)
        .map_err(|error| OpenError::NotText { path: shown(path), at: error.utf8_error().valid_up_to() })
}

/// A file of lines, or standard input.
///
/// # Errors
/// When it cannot be opened.
pub fn lines(path: &Path) -> Result<BufReader<Box<dyn Read>>, OpenError> {
    Ok(BufReader::with_capacity(1 << 16, source(path)?))
}

/// Whether a path means standard input.
pub fn is_standard_input(path: &Path) -> bool {
    path == Path::new("-")
}

impl OpenSheet {
    /// How many of the findings are problems.
    pub fn problems(&self) -> usize {
        self.findings.iter().filter(|finding| finding.weight == Weight::Problem).count()
    }

    /// The machine that the sheet describes.
    ///
    /// # Errors
    /// Gives the sheet back when it has problems.
    pub fn into_machine(mut self) -> Result<Machine, Box<Self>> {
        match self.sheet.take() {
            Some(sheet) if self.problems() == 0 => Ok(Machine::new(sheet)),
            _ => Err(Box::new(self)),
        }
    }
}

fn source(path: &Path) -> Result<Box<dyn Read>, OpenError> {
    if is_standard_input(path) {
        return Ok(Box::new(io::stdin()));
    }
    match std::fs::File::open(path) {
        Ok(file) => Ok(Box::new(file)),
        Err(error) => Err(refused(path, error)),
    }
}

fn refused(path: &Path, source: io::Error) -> OpenError {
    let path = shown(path);
    match source.kind() {
        io::ErrorKind::NotFound | io::ErrorKind::NotADirectory | io::ErrorKind::IsADirectory => {
            OpenError::Missing { path, source }
        }
        io::ErrorKind::PermissionDenied => OpenError::Denied { path, source },
        _ => OpenError::Broken { path, source },
    }
}

fn shown(path: &Path) -> String {
    if is_standard_input(path) { "standard input".to_owned() } else { path.display().to_string() }
}

/// Files beside a missing one whose names come near, for a hint.
pub fn beside(path: &Path) -> Vec<PathBuf> {
    let folder = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let mut sheets: Vec<PathBuf> = entries
        .flatten()
        .map(|entry| path.with_file_name(entry.file_name()))
        .filter(|found| found.extension().is_some_and(|extension| extension == "toml"))
        .collect();
    sheets.sort();
    sheets.truncate(6);
    sheets
}
