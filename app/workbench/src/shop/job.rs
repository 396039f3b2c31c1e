//! A job as a file of JSON lines, one entry a line, only ever added to.
//! Promise: an entry is on the disk before it is acknowledged; a line that was cut short by a crash is left out and told,
//! and the next entry starts on a line of its own; what is taken back stays in the file, with the entry that did so.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use diagnosis::Request;
use quantity::Celsius;
use serde::{Deserialize, Serialize};

use super::folders;
use super::tables::fingerprint;

/// One line of a job.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "entry", rename_all = "kebab-case")]
pub enum Entry {
    /// The job begins.
    Opened {
        /// The machine's id.
        machine: String,
        /// Fingerprint of the sheet's text.
        sheet: String,
        /// Version of the engine.
        engine: String,
    },
    /// What the owner says.
    Complaint {
        /// Name of the complaint.
        value: String,
    },
    /// Air temperature.
    Air {
        /// As typed.
        value: String,
    },
    /// A probe, a remedy tried or the owner's answer, with what it showed.
    Reading {
        /// Its name.
        probe: String,
        /// As typed.
        value: String,
    },
    /// The latest complaint, temperature or reading that still stands is taken back.
    Undo,
    /// What the technician was told.
    Told {
        /// The verdict's faults.
        faults: Vec<String>,
        /// Its probability.
        probability: f64,
        /// Whether it was proven.
        proven: bool,
    },
    /// The job is closed.
    Closed {
        /// Whether the cause was proven.
        proven: bool,
    },
}

/// A line with the time at which it was written.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Stamped {
    at: String,
    #[serde(flatten)]
    entry: Entry,
}

/// A job on the disk.
#[derive(Debug)]
pub struct Job {
    path: PathBuf,
    file: File,
    entries: Vec<Entry>,
    /// Lines that could not be read, by number.
    pub unread: Vec<usize>,
}

/// Why a job cannot be opened or written.
#[derive(Debug, thiserror::Error)]
pub enum JobError {
    /// The file cannot be made, read or written.
    #[error("the job's file `{path}`")]
    Disk {
        /// Which file.
        path: String,
        /// What the system said.
        source: io::Error,
    },
    /// The file belongs to another machine.
    #[error("`{path}` is a job of `{found}`, not of `{expected}`")]
    OtherMachine {
        /// Which file.
        path: String,
        /// The machine of the job.
        found: String,
        /// The machine of the sheet.
        expected: String,
    },
    /// The file is no job.
    #[error("`{path}` is not a job: its first line does not open one")]
    NotAJob {
        /// Which file.
        path: String,
    },
    /// There is no folder for jobs.
    #[error("no home folder to keep jobs in")]
    NoHome,
    /// There is nothing to go on with.
    #[error("no open job of `{0}`")]
    NothingOpen(String),
}

impl Job {
    /// A new job in the folder of jobs.
    ///
    /// # Errors
    /// When its file cannot be made.
    pub fn new(machine: &str, sheet: &str) -> Result<Self, JobError> {
        let folder = folder()?;
        fs::create_dir_all(&folder).map_err(|source| disk(&folder, source))?;
        let day = jiff::ZonedDateTime::now().strftime("%Y-%m-%d").to_string();
        let mut number = 1;
        loop {
            let path = folder.join(format!("{machine}-{day}-{number}.jsonl"));
            match Self::create(&path, machine, sheet) {
                Err(JobError::Disk { source, .. }) if source.kind() == io::ErrorKind::AlreadyExists => number += 1,
                other => return other,
            }
        }
    }

    /// The job in a file: gone on with when the file is there, else begun.
    ///
    /// # Errors
    /// When the file cannot be used or belongs to another machine.
    pub fn at(path: &Path, machine: &str, sheet: &str) -> Result<Self, JobError> {
        if path.exists() { Self::resume(path, machine) } else { Self::create(path, machine, sheet) }
    }

    /// The latest open job of a machine.
    ///
    /// # Errors
    /// When there is none, or its file cannot be used.
    pub fn latest(machine: &str) -> Result<Self, JobError> {
        let nothing = || JobError::NothingOpen(machine.to_owned());
        let files = fs::read_dir(folder()?).map_err(|_| nothing())?;
        let start = format!("{machine}-");
        let mut paths: Vec<PathBuf> = files
            .filter_map(|file| Some(file.ok()?.path()))
            .filter(|path| path.file_name().is_some_and(|name| name.to_string_lossy().starts_with(&start)))
            .collect();
        paths.sort_by_key(|path| fs::metadata(path).and_then(|about| about.modified()).ok());
        let open = paths.iter().rev().filter_map(|path| Self::resume(path, machine).ok());
        open.into_iter().find(|job| !job.is_closed()).ok_or_else(nothing)
    }

    fn create(path: &Path, machine: &str, sheet: &str) -> Result<Self, JobError> {
        let file = OpenOptions::new().append(true).create_new(true).open(path).map_err(|source| disk(path, source))?;
        let mut job = Self { path: path.to_owned(), file, entries: Vec::new(), unread: Vec::new() };
        job.record(Entry::Opened {
            machine: machine.to_owned(),
            sheet: fingerprint(sheet),
            engine: env!("CARGO_PKG_VERSION").to_owned(),
        })?;
        Ok(job)
    }

    fn resume(path: &Path, machine: &str) -> Result<Self, JobError> {
        let text = fs::read_to_string(path).map_err(|source| disk(path, source))?;
        let mut entries = Vec::new();
        let mut unread = Vec::new();
        for (number, line) in text.lines().enumerate().filter(|(_, line)| !line.trim().is_empty()) {
            match serde_json::from_str::<Stamped>(line) {
                Ok(stamped) => entries.push(stamped.entry),
                Err(_) => unread.push(number + 1),
            }
        }
        match entries.first() {
            Some(Entry::Opened { machine: found, .. }) if found != machine => Err(JobError::OtherMachine {
                path: path.display().to_string(),
                found: found.clone(),
                expected: machine.to_owned(),
            }),
            Some(Entry::Opened { .. }) => {
                let mut file = OpenOptions::new().append(true).open(path).map_err(|source| disk(path, source))?;
                if !text.ends_with('\n') {
                    file.write_all(b"\n").map_err(|source| disk(path, source))?;
                }
                Ok(Self { path: path.to_owned(), file, entries, unread })
            }
            _ => Err(JobError::NotAJob { path: path.display().to_string() }),
        }
    }

    /// Where the job is kept.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Adds an entry; it is on the disk when this returns.
    ///
    /// # Errors
    /// When it cannot be written; then it is not part of the job.
    pub fn record(&mut self, entry: Entry) -> Result<(), JobError> {
        let stamped = Stamped { at: jiff::Timestamp::now().strftime("%Y-%m-%dT%H:%M:%SZ").to_string(), entry };
        let failed = |source| disk(&self.path, source);
        let mut line = serde_json::to_string(&stamped).map_err(|error| failed(error.into()))?;
        line.push('\n');
        self.file.write_all(line.as_bytes()).and_then(|()| self.file.sync_data()).map_err(failed)?;
        self.entries.push(stamped.entry);
        Ok(())
    }

    /// The entries that still stand: what was taken back is left out.
    pub fn standing(&self) -> Vec<&Entry> {
        let mut standing: Vec<&Entry> = Vec::new();
        for entry in &self.entries {
            if *entry == Entry::Undo {
                if let Some(last) = standing.iter().rposition(|entry| can_be_undone(entry)) {
                    standing.remove(last);
                }
            } else {
                standing.push(entry);
            }
        }
        standing
    }

    /// Takes back the latest complaint, temperature or reading and says which; nothing when there is none.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn undo(&mut self) -> Result<Option<Entry>, JobError> {
        let last = self.standing().into_iter().rev().find(|entry| can_be_undone(entry)).cloned();
        if last.is_some() {
            self.record(Entry::Undo)?;
        }
        Ok(last)
    }

    /// Whether the job was closed.
    pub fn is_closed(&self) -> bool {
        matches!(self.entries.last(), Some(Entry::Closed { .. }))
    }

    /// Whether the sheet has changed since the job was opened.
    pub fn sheet_changed(&self, sheet: &str) -> bool {
        let now = fingerprint(sheet);
        self.entries.iter().any(|entry| matches!(entry, Entry::Opened { sheet, .. } if *sheet != now))
    }

    /// The job as a request for advice.
    pub fn request(&self, instruments: Option<&[String]>) -> Request {
        let mut request = Request { instruments: instruments.map(<[String]>::to_vec), ..Request::default() };
        for entry in self.standing() {
            match entry {
                Entry::Complaint { value } if value != "skip" => request.complaint = Some(value.clone()),
                Entry::Air { value } => {
                    let celsius = quantity::read_loosely(value, quantity::Dimension::Temperature);
                    request.air = celsius.ok().map(Celsius);
                }
                Entry::Reading { probe, value } if !(probe.starts_with("ask:") && value == "skip") => {
                    request.readings.push((probe.clone(), value.clone()));
                }
                _ => {}
            }
        }
        request
    }

    /// The value of the latest standing reading of that name.
    pub fn reading(&self, name: &str) -> Option<&str> {
        self.standing().into_iter().rev().find_map(|entry| match entry {
            Entry::Reading { probe, value } if probe == name => Some(value.as_str()),
            _ => None,
        })
    }
}

fn can_be_undone(entry: &Entry) -> bool {
    matches!(entry, Entry::Complaint { .. } | Entry::Air { .. } | Entry::Reading { .. })
}

fn folder() -> Result<PathBuf, JobError> {
    Ok(folders::data().map_err(|_| JobError::NoHome)?.join("jobs"))
}

fn disk(path: &Path, source: io::Error) -> JobError {
    JobError::Disk { path: path.display().to_string(), source }
}
