//! Failures at the edge: what kind, why, and what to do next; one match from kind to exit code.
//! Exit codes are those of sysexits from 64 on, so that a script can tell a missing file from a bad sheet.

use std::error::Error;
use std::io;

use journal::JournalError;

use crate::shop::journals::NoJournal;
use crate::shop::refusal::{Place, Reason, Refusal};
use crate::shop::settings::NoSettings;
use crate::shop::sheets::{self, OpenError};

/// What kind of failure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Whoever read our output has gone; nothing is said.
    ReaderLeft,
    /// The arguments ask for something that does not exist.
    Usage,
    /// A sheet or a list of requests cannot be used.
    BadData,
    /// A file is not there.
    NoInput,
    /// Something that is needed does not answer.
    Unavailable,
    /// A fault in the program itself.
    Internal,
    /// A file cannot be made.
    CannotCreate,
    /// Reading or writing broke off.
    Io,
    /// Not allowed.
    NoPermission,
    /// A configuration file cannot be used.
    Configuration,
}

impl Kind {
    /// The exit code of the program.
    pub fn exit_code(self) -> u8 {
        match self {
            Self::ReaderLeft => 0,
            Self::Usage => 2,
            Self::BadData => 65,
            Self::NoInput => 66,
            Self::Unavailable => 69,
            Self::Internal => 70,
            Self::CannotCreate => 73,
            Self::Io => 74,
            Self::NoPermission => 77,
            Self::Configuration => 78,
        }
    }
}

/// Why a command could not do what was asked.
#[derive(Debug)]
pub struct Failure {
    /// What kind.
    pub kind: Kind,
    /// Why.
    pub source: Box<dyn Error>,
    /// What to do next, each a line.
    pub hints: Vec<String>,
}

impl Failure {
    /// A failure without hints.
    pub fn new(kind: Kind, source: impl Into<Box<dyn Error>>) -> Self {
        Self { kind, source: source.into(), hints: Vec::new() }
    }

    /// The same with one more hint.
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hints.push(hint.into());
        self
    }

    /// Something typed at a prompt, where no argument is to blame.
    pub fn typed(refusal: Refusal) -> Self {
        let hints = [Some(format!("allowed: {}", refusal.allowed)), refusal.hint.clone()];
        Self { kind: Kind::Usage, source: refusal.into(), hints: hints.into_iter().flatten().collect() }
    }

    /// A file that cannot be read or made.
    pub fn file(path: &std::path::Path, error: io::Error) -> Self {
        let kind = match error.kind() {
            io::ErrorKind::NotFound => Kind::NoInput,
            io::ErrorKind::PermissionDenied => Kind::NoPermission,
            io::ErrorKind::AlreadyExists => Kind::CannotCreate,
            _ => Kind::Io,
        };
        Self::new(kind, format!("{}: {error}", path.display()))
    }

    /// A failure to open a sheet; a missing one is told which sheets are beside it.
    pub fn opening(path: &std::path::Path, error: OpenError) -> Self {
        let kind = match &error {
            OpenError::Missing { .. } => Kind::NoInput,
            OpenError::Denied { .. } => Kind::NoPermission,
            OpenError::Broken { .. } => Kind::Io,
            OpenError::NotText { .. } => Kind::BadData,
        };
        let found = if kind == Kind::NoInput { sheets::beside(path) } else { Vec::new() };
        let failure = Self::new(kind, error);
        if found.is_empty() {
            return failure;
        }
        let names: Vec<String> = found.iter().map(|path| path.display().to_string()).collect();
        failure.hint(format!("sheets there: {}", names.join(", ")))
    }
}

impl From<io::Error> for Failure {
    fn from(error: io::Error) -> Self {
        let kind = if error.kind() == io::ErrorKind::BrokenPipe { Kind::ReaderLeft } else { Kind::Io };
        Self::new(kind, error)
    }
}

impl From<serde_json::Error> for Failure {
    fn from(error: serde_json::Error) -> Self {
        match error.io_error_kind() {
            Some(kind) => io::Error::from(kind).into(),
            None => Self::new(Kind::Internal, error),
        }
    }
}

impl From<NoJournal> for Failure {
    fn from(error: NoJournal) -> Self {
        match error {
            NoJournal::NoHome => Self::new(Kind::CannotCreate, error).hint("say where: --journal FILE"),
            NoJournal::Journal(error) => error.into(),
        }
    }
}

impl From<JournalError> for Failure {
    fn from(error: JournalError) -> Self {
        let kind = match &error {
            JournalError::Disk { source, .. } if source.kind() == io::ErrorKind::PermissionDenied => Kind::NoPermission,
            JournalError::Disk { source, .. } if source.kind() == io::ErrorKind::NotFound => Kind::NoInput,
            JournalError::Disk { .. } | JournalError::Full { .. } | JournalError::Database { .. } => Kind::Io,
            JournalError::NotWritable { .. } | JournalError::Refused { .. } => Kind::NoPermission,
            JournalError::Busy { .. } | JournalError::Away { .. } => Kind::Unavailable,
            JournalError::Damaged { .. }
            | JournalError::Newer { .. }
            | JournalError::NotAJournal { .. }
            | JournalError::BadLine { .. } => Kind::BadData,
            JournalError::NoJob { .. } => Kind::NoInput,
            JournalError::Taken { .. }
            | JournalError::BadName { .. }
            | JournalError::BadPlace { .. }
            | JournalError::NotEmpty { .. } => Kind::Usage,
        };
        let hint = error.hint();
        let failure = Self::new(kind, error);
        match hint {
            Some(hint) => failure.hint(hint),
            None => failure,
        }
    }
}

impl From<Refusal> for Failure {
    fn from(refusal: Refusal) -> Self {
        let kind = match refusal.reason {
            Reason::Form | Reason::Field | Reason::Name | Reason::Value => Kind::Usage,
            Reason::Circuit => Kind::BadData,
        };
        let hints = [Some(format!("allowed: {}", refusal.allowed)), refusal.hint.clone()];
        // A probe's name stands by itself among the arguments; the message repeats what was asked.
        let source: Box<dyn Error> = match (refusal.place.argument(), refusal.place) {
            (Some(argument), _) => format!("{argument}: {refusal}").into(),
            (None, Place::Read) if !refusal.message.contains('@') => format!("PROBE: {refusal}").into(),
            _ => refusal.into(),
        };
        Self { kind, source, hints: hints.into_iter().flatten().collect() }
    }
}

impl From<NoSettings> for Failure {
    fn from(error: NoSettings) -> Self {
        match error {
            NoSettings::Disk { ref path, ref source } => {
                Self::file(&path.clone(), std::io::Error::new(source.kind(), source.to_string()))
            }
            NoSettings::Text { .. } => Self::new(Kind::Configuration, error)
                .hint("`probewright settings --example` prints a file to begin with"),
        }
    }
}
