//! Where a journal is: in a file, or on a PostgreSQL server that several benches share.
//! Promise: a password that an address holds is neither shown nor told by an error.

use std::ffi::OsString;
use std::fmt;
use std::path::{Path, PathBuf};

/// How the address of a server begins.
const SCHEMES: [&str; 2] = ["postgres://", "postgresql://"];

/// Where a journal is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Place {
    /// In a file.
    File(PathBuf),
    /// On a server.
    Server(Address),
}

/// A database on a server.
#[derive(Clone, PartialEq, Eq)]
pub struct Address {
    /// As given, with the password.
    pub(crate) given: String,
    /// The file in which entries wait while the server is away; without one they are refused then.
    pub(crate) waiting: Option<PathBuf>,
}

impl Place {
    /// The same place; entries wait in that file while its server is away.
    #[must_use]
    pub fn waiting_in(self, file: &Path) -> Self {
        match self {
            Self::Server(address) => Self::Server(Address { waiting: Some(file.to_owned()), ..address }),
            file => file,
        }
    }

    /// The file, where it is one.
    pub fn file(&self) -> Option<&Path> {
        match self {
            Self::File(path) => Some(path),
            Self::Server(_) => None,
        }
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::File(path) => path.display().fmt(f),
            Self::Server(address) => address.shown().fmt(f),
        }
    }
}

impl Address {
    /// The address without password and settings.
    fn shown(&self) -> String {
        let plain = self.given.split(['?', '#']).next().unwrap_or_default();
        let (scheme, rest) = plain.split_once("://").unwrap_or(("postgres", plain));
        match rest.rsplit_once('@') {
            Some((who, at)) => format!("{scheme}://{}@{at}", who.split(':').next().unwrap_or_default()),
            None => format!("{scheme}://{rest}"),
        }
    }
}

impl fmt::Debug for Address {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Address").field("shown", &self.shown()).field("waiting", &self.waiting).finish()
    }
}

impl From<OsString> for Place {
    fn from(given: OsString) -> Self {
        match given.to_str().filter(|text| SCHEMES.iter().any(|scheme| text.starts_with(scheme))) {
            Some(text) => Self::Server(Address { given: text.to_owned(), waiting: None }),
            None => Self::File(given.into()),
        }
    }
}

impl From<&str> for Place {
    fn from(given: &str) -> Self {
        OsString::from(given).into()
    }
}

impl From<&Path> for Place {
    fn from(path: &Path) -> Self {
        Self::File(path.to_owned())
    }
}

impl From<&PathBuf> for Place {
    fn from(path: &PathBuf) -> Self {
        Self::File(path.clone())
    }
}

impl From<&Place> for Place {
    fn from(place: &Place) -> Self {
        place.clone()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn law_a_password_is_never_shown() {
        for given in [
            "postgres://bench:gr@ss:y@shed:5433/jobs",
            "postgres://bench:gr@ss:y@shed:5433/jobs?password=gr@ss:y",
            "postgresql://bench:gr@ss:y@shed:5433/jobs#gr@ss:y",
        ] {
            let place = Place::from(given);
            assert!(place.to_string().ends_with("://bench@shed:5433/jobs"), "{place}");
            assert!(!format!("{place:?}").contains("gr@ss"), "{place:?}");
        }
        assert_eq!(Place::from("postgres.db").file(), Some(Path::new("postgres.db")));
    }
}
