//! Jobs as JSON Lines, to be carried from one journal to another or read by other programs.
//! Each line is a thing by itself: a sheet's text, a picture, or an entry with the name of its job; what a line refers to
//! comes before it.
//! Promise: what was exported and imported is the same, to the byte; importing twice adds nothing.

use std::collections::{BTreeMap, BTreeSet};
use std::io::{self, BufRead, Write};

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde::{Deserialize, Serialize};

use crate::attachment::Attachment;
use crate::entry::{Entry, Kept};
use crate::error::JournalError;
use crate::journal::{self, Journal};
use crate::store::{self, Rows};

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
        self.write(|rows| {
            rows.alone()?;
            let mut imported = Imported::default();
            let mut names: BTreeMap<&str, String> = BTreeMap::new();
            for line in &lines {
                match line {
                    Whole::Sheet(fingerprint, text) => rows.add_sheet(fingerprint, text)?,
                    Whole::Picture(picture) => rows.add_picture(&picture.hash, picture.media, &picture.bytes)?,
                    Whole::Entry(EntryOf { job, kept }) => {
                        if let Some((name, _)) = rows.entry(&kept.key)? {
                            names.insert(job, name);
                            imported.known += 1;
                            continue;
                        }
                        let name = match names.get(job.as_str()) {
                            Some(name) => name.clone(),
                            None => {
                                let name = begin(rows, job, &kept.entry)?;
                                imported.jobs.push(name.clone());
                                names.insert(job, name.clone());
                                name
                            }
                        };
                        store::add(rows, &name, &kept.key, &kept.at, &kept.entry)?;
                        imported.entries += 1;
                    }
                }
            }
            Ok(imported)
        })
    }

    /// Adds all jobs to another journal, one at a time.
    pub(crate) fn carry_to(&self, other: &Self) -> Result<(), JournalError> {
        // The oldest first, as they were begun.
        for job in self.names()?.into_iter().rev() {
            let mut lines = Vec::new();
            self.export(&[job], &mut lines).map_err(|error| match error {
                ExportError::Journal(error) => error,
                ExportError::Write(error) => JournalError::database(self.place(), error),
            })?;
            other.import(lines.as_slice())?;
        }
        Ok(())
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
fn begin(rows: &mut dyn Rows, job: &str, first: &Entry) -> Result<String, JournalError> {
    let machine = match first {
        Entry::Opened { machine, .. } => machine.as_str(),
        _ => job,
    };
    let named = |number| if number == 1 { job.to_owned() } else { format!("{job}-{number}") };
    journal::free(named, |name| rows.add_job(name, machine))
}
