//! The workbench's machines: sheets in one folder, a file each, called by the file's name.
//! Promise: a sheet is written whole or not at all; a name that would lead out of the folder is no name; a sheet with
//! problems is kept and shown like any other.

use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use drawing::{Layout, Width};
use machine::problem::{Problem, Weight};
use machine::{Fault, Machine};

use super::tables::fingerprint;
use super::written;

macro_rules! demo {
    ($($name:literal),+ $(,)?) => {
        /// The hire machines of the Brackenmoor Trail School, to begin with: name and sheet.
        pub const DEMO: &[(&str, &str)] = &[$((
            $name,
            include_str!(concat!("../../../../machines/", $name, ".toml")),
        )),+];
    };
}

demo!["curlew", "moorhen", "plover", "dunlin", "dabchick", "sandpiper", "turnstone", "fieldfare"];

/// More bytes than this are no sheet.
pub const MOST_BYTES: usize = 500_000;

/// The folder of sheets.
pub struct Machines {
    folder: PathBuf,
    /// Sheets that were read, the one used last at the front.
    read: Mutex<Vec<Arc<Known>>>,
}

/// Sheets that are remembered.
const REMEMBERED: usize = 16;

/// A sheet with what was found in it and the machine that it describes.
pub struct Known {
    /// The file's name without its end.
    pub name: String,
    /// The sheet's text.
    pub text: String,
    /// What stands for the text.
    pub fingerprint: String,
    /// Problems and notes.
    pub findings: Vec<Problem>,
    /// The machine; nothing while there are problems.
    pub ready: Option<Arc<Ready>>,
}

/// A machine that can be worked with.
pub struct Ready {
    /// The machine.
    pub machine: Machine,
    /// Its faults.
    pub faults: Vec<Fault>,
    /// The sheet's text.
    pub text: String,
    /// What stands for the text.
    pub fingerprint: String,
    wide: OnceLock<Layout>,
    narrow: OnceLock<Layout>,
    proposed: OnceLock<Vec<(String, String)>>,
}

impl Ready {
    fn new(machine: Machine, text: &str, fingerprint: &str) -> Self {
        let (text, fingerprint) = (text.to_owned(), fingerprint.to_owned());
        let (wide, narrow, proposed) = (OnceLock::new(), OnceLock::new(), OnceLock::new());
        Self { faults: machine.faults(), machine, text, fingerprint, wide, narrow, proposed }
    }

    /// Name and title of each probe that the wiring suggests, found once.
    pub fn proposed(&self) -> &[(String, String)] {
        let all = || self.machine.proposed_probes().into_iter().map(|probe| (probe.name, probe.title)).collect();
        self.proposed.get_or_init(all)
    }

    /// The schematic for a screen or a telephone, laid out once.
    pub fn layout(&self, narrow: bool) -> &Layout {
        let (kept, width) = if narrow { (&self.narrow, Width::Narrow) } else { (&self.wide, Width::Wide) };
        kept.get_or_init(|| Layout::new(&self.machine, width))
    }
}

/// Why there is no such machine.
#[derive(Debug, thiserror::Error)]
pub enum NoMachine {
    /// There is none of that name.
    #[error("no machine is called `{0}`")]
    Unknown(String),
    /// The name cannot be one.
    #[error("`{0}` cannot be the name of a machine; it takes letters, digits, `-` and `_`")]
    Name(String),
    /// The file cannot be read or written.
    #[error("the sheet `{}`", path.display())]
    Disk {
        /// Which.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The text is too long.
    #[error("the sheet has {0} bytes; at most {MOST_BYTES} are taken")]
    TooLong(usize),
}

impl Machines {
    /// The machines in a folder, which need not be there yet.
    pub fn new(folder: PathBuf) -> Self {
        Self { folder, read: Mutex::default() }
    }

    /// Where they are.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Their names, in the order of the alphabet.
    pub fn names(&self) -> Vec<String> {
        let files = std::fs::read_dir(&self.folder).into_iter().flatten().flatten().map(|file| file.path());
        let sheets = files.filter(|path| path.extension().is_some_and(|end| end == "toml"));
        let mut names: Vec<String> = sheets
            .filter_map(|path| Some(path.file_stem()?.to_str()?.to_owned()))
            .filter(|name| is_name(name))
            .collect();
        names.sort();
        names
    }

    /// A machine by its name.
    ///
    /// # Errors
    /// When there is none, or its sheet cannot be read.
    pub fn known(&self, name: &str) -> Result<Arc<Known>, NoMachine> {
        let path = self.path(name)?;
        let text = std::fs::read_to_string(&path).map_err(|source| match source.kind() {
            io::ErrorKind::NotFound => NoMachine::Unknown(name.to_owned()),
            _ => NoMachine::Disk { path, source },
        })?;
        Ok(self.remembered(name, text))
    }

    /// A sheet of that name and text, read once as long as it is remembered.
    pub fn remembered(&self, name: &str, text: String) -> Arc<Known> {
        let mut read = self.read.lock().unwrap_or_else(PoisonError::into_inner);
        let found = read.iter().position(|known| known.name == name && known.text == text);
        let known = match found {
            Some(index) => read.remove(index),
            None => Arc::new(Known::read(name, text)),
        };
        read.insert(0, known.clone());
        read.truncate(REMEMBERED);
        known
    }

    /// Keeps a sheet under a name, in place of the one that was there.
    ///
    /// # Errors
    /// When the name is none, the text is too long, or the file cannot be written.
    pub fn keep(&self, name: &str, text: &str) -> Result<(), NoMachine> {
        let path = self.path(name)?;
        if text.len() > MOST_BYTES {
            return Err(NoMachine::TooLong(text.len()));
        }
        let write = || {
            std::fs::create_dir_all(&self.folder)?;
            written::keep(&path, text)
        };
        write().map_err(|source| NoMachine::Disk { path: path.clone(), source })
    }

    /// Whether there is a sheet under that name.
    pub fn has(&self, name: &str) -> bool {
        self.path(name).is_ok_and(|path| path.exists())
    }

    /// Takes in the demo machines, leaving alone what is there already; how many there are now more.
    ///
    /// # Errors
    /// When a file cannot be written.
    pub fn take_demo(&self) -> Result<usize, NoMachine> {
        let missing = || DEMO.iter().filter(|(name, _)| !self.has(name));
        let more = missing().count();
        for (name, text) in missing() {
            self.keep(name, text)?;
        }
        Ok(more)
    }

    fn path(&self, name: &str) -> Result<PathBuf, NoMachine> {
        if is_name(name) { Ok(self.folder.join(format!("{name}.toml"))) } else { Err(NoMachine::Name(name.to_owned())) }
    }
}

impl Known {
    /// Reads a sheet's text.
    pub fn read(name: &str, text: String) -> Self {
        let read = machine::sheet::read(&text);
        let sound = read.findings.iter().all(|found| found.weight != Weight::Problem);
        let fingerprint = fingerprint(&text);
        let sheet = read.sheet.filter(|_| sound);
        let ready = sheet.map(|sheet| Arc::new(Ready::new(Machine::new(sheet), &text, &fingerprint)));
        Self { name: name.to_owned(), text, fingerprint, findings: read.findings, ready }
    }
}

fn is_name(name: &str) -> bool {
    const LONGEST: usize = 60;
    name.len() <= LONGEST && machine::sheet::is_name(name)
}
