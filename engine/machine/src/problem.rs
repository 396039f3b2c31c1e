//! What is wrong with a sheet, and where: data, not an error.
//! Each problem has a place in the text, what was found, what is allowed, and what to do next.

use std::ops::Range;

/// Whether a sheet with this finding can still be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Weight {
    /// Worth a look, never in the way.
    Note,
    /// The sheet cannot be used until this is mended.
    Problem,
}

/// One finding about a sheet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// Problem or note.
    pub weight: Weight,
    /// Bytes of the sheet's text that the finding points at.
    pub span: Range<usize>,
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// One sentence without a full stop: what is wrong, naming the thing.
    pub message: String,
    /// The text that was found, as written (may be empty when something is missing).
    pub found: String,
    /// What would be allowed there.
    pub allowed: String,
    /// What to do next, when more can be said than `allowed` says.
    pub hint: Option<String>,
}
