//! Jobs as JSON Lines, to be carried from one journal to another or read by other programs.
//! Each line is a thing by itself: a sheet's text, a picture, or an entry with the name of its job; what a line refers to
//! comes before it.
//! Promise: what was exported and imported is the same, to the byte; importing twice adds nothing.

use std::collections::{BTreeMap, BTreeSet};
use std::io::{self, BufRead, Write};

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use rusqlite::OptionalExtension;
use serde::{Deserialize, Serialize};

use crate::attachment::Attachment;
use crate::entry::{Entry, Kept};
use crate::journal::{self, Journal, JournalError};

/// One line.
#[derive(Debug, Serialize, Deserialize)]
#[serde(untagged)]
enum Line {
    Sheet { sheet_text: String, fingerprint: String },
    Picture { picture: String, hash: String },
    Entry(EntryOf),
}

#[derive(Debug, Serialize, Deserialize)]
struct EntryOf {
    job: String,
    #[serde(flatten)]
    kept: Kept,
}

/// What an import has added.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Imported {
    /// Jobs that were not there before, by the names that they now have.
    pub jobs: Vec<String>,
    /// Entries that were not there before.
    pub entries: usize,
    /// Entries that were there already.
    pub known: usize,
}

/// Why an export ended.
#[derive(Debug, thiserror::Error)]
pub enum ExportError {
    /// The journal cannot be read.
    #[error(transparent)]
    Journal(#[from] JournalError),
    /// The lines cannot be written.
    #[error("cannot write the lines")]
    Write(#[from] io::Error),
}

impl Journal {
    /// Writes jobs, with their sheets and pictures, as lines.
    ///
    /// # Errors
    /// When a job is not there, or the lines cannot be written.
    pub fn export(&self, jobs: &[String], to: &mut dyn Write) -> Result<(), ExportError> {
        let mut told = BTreeSet::new();
        let mut line = |line: &Line| -> Result<(), ExportError> {
            serde_json::to_writer(&mut *to, line).map_err(io::Error::from)?;
            Ok(to.write_all(b"\n")?)
        };
        for id in jobs {
            let job = self.job(id)?;
            if told.insert(job.sheet().to_owned())
                && let Some(text) = self.sheet(job.sheet())?
            {
                line(&Line::Sheet { sheet_text: text, fingerprint: job.sheet().to_owned() })?;
            }
            for kept in job.entries {
                if let Entry::Photo { hash, .. } = &kept.entry
                    && told.insert(hash.clone())
                    && let Some((_, bytes)) = self.attachment(hash)?
                {
                    line(&Line::Picture { picture: STANDARD.encode(bytes), hash: hash.clone() })?;
                }
                line(&Line::Entry(EntryOf { job: id.clone(), kept }))?;
            }
        }
        Ok(())
    }

    /// Adds what lines tell and what is not there yet, all or nothing. A job whose name another one has here is given a
    /// name of its own.
    ///
    /// # Errors
    /// When a line cannot be read (nothing is added then), or the journal cannot be written.
    pub fn import(&self, from: impl BufRead) -> Result<Imported, JournalError> {
        let mut lines = Vec::new();
        for (index, text) in from.lines().enumerate() {
            let bad = |found: String| JournalError::BadLine { line: index + 1, found };
            let text = text.map_err(|error| bad(error.to_string()))?;
            if !text.trim().is_empty() {
                lines.push(parsed(&text).map_err(bad)?);
            }
        }
        self.write(|transaction| {
            let mut imported = Imported::default();
            let mut names: BTreeMap<String, String> = BTreeMap::new();
            for line in &lines {
                match line {
                    Whole::Sheet(fingerprint, text) => {
                        transaction.execute("INSERT OR IGNORE INTO sheet VALUES (?1, ?2)", [fingerprint, text])?;
                    }
                    Whole::Picture(picture) => {
                        journal::keep_picture(transaction, &picture.hash, picture.media, &picture.bytes)?;
                    }
                    Whole::Entry(EntryOf { job, kept }) => {
                        let of = "SELECT job FROM entry WHERE key = ?1";
                        let there: Option<String> =
                            transaction.query_row(of, [&kept.key], |row| row.get(0)).optional()?;
                        if let Some(name) = there {
                            names.insert(job.clone(), name);
                            imported.known += 1;
                            continue;
                        }
                        let name = match names.get(job) {
                            Some(name) => name.clone(),
                            None => {
                                let name = begin(transaction, job, &kept.entry)?;
                                imported.jobs.push(name.clone());
                                names.insert(job.clone(), name.clone());
                                name
                            }
                        };
                        journal::add(transaction, &name, &kept.key, &kept.at, &kept.entry)?;
                        imported.entries += 1;
                    }
                }
            }
            Ok(imported)
        })
    }
}

/// A line that was looked at.
enum Whole {
    Sheet(String, String),
    Picture(Attachment),
    Entry(EntryOf),
}

fn parsed(text: &str) -> Result<Whole, String> {
    let line: Line = serde_json::from_str(text).map_err(|_| {
        let shown: String = text.chars().take(60).collect();
        format!("`{shown}` is no line of a journal; `probewright job export` writes such lines")
    })?;
    Ok(match line {
        Line::Sheet { sheet_text, fingerprint } => Whole::Sheet(fingerprint, sheet_text),
        Line::Picture { picture, hash } => {
            let bytes = STANDARD.decode(picture).map_err(|error| format!("the picture is not base64: {error}"))?;
            let picture = Attachment::new(bytes).map_err(|error| error.to_string())?;
            if picture.hash != hash {
                return Err(format!("the picture's content is {}, not {hash}", picture.hash));
            }
            Whole::Picture(picture)
        }
        Line::Entry(entry) if journal::is_name(&entry.job) => Whole::Entry(entry),
        Line::Entry(entry) => return Err(JournalError::BadName { found: entry.job }.to_string()),
    })
}

/// A job under its own name, or with a number after it where another job has that name.
fn begin(transaction: &rusqlite::Transaction<'_>, job: &str, first: &Entry) -> rusqlite::Result<String> {
    let machine = match first {
        Entry::Opened { machine, .. } => machine.as_str(),
        _ => job,
    };
    let mut number = 1;
    loop {
        let name = if number == 1 { job.to_owned() } else { format!("{job}-{number}") };
        if transaction.execute("INSERT OR IGNORE INTO job VALUES (?1, ?2)", [name.as_str(), machine])? == 1 {
            return Ok(name);
        }
        number += 1;
    }
}
