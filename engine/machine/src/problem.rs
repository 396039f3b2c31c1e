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

impl Problem {
    /// Whether the sheet cannot be used until this is mended.
    pub fn is_in_the_way(&self) -> bool {
        self.weight == Weight::Problem
    }
}

/// Line and column, both from 1, of a byte of the text; the column counts characters.
/// An offset beyond the end is the end; one inside a character is that character.
pub fn locate(text: &str, offset: usize) -> (usize, usize) {
    let before: &[u8] = &text.as_bytes()[..offset.min(text.len())];
    let line_start = before.iter().rposition(|byte| *byte == b'\n').map_or(0, |at| at + 1);
    let line = before.iter().filter(|byte| **byte == b'\n').count() + 1;
    let in_line = before[line_start..].iter();
    // Bytes 10xxxxxx continue a character.
    let begun = in_line.filter(|byte| **byte & 0xC0 != 0x80).count();
    let inside = !text.is_char_boundary(offset.min(text.len()));
    (line, begun + usize::from(!inside))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_count_characters_not_bytes() {
        let text = "a = \"16 mm²\" # é\r\nb";
        assert_eq!(locate(text, 0), (1, 1));
        assert_eq!(locate(text, text.find('#').unwrap()), (1, 14));
        assert_eq!(locate(text, text.find('²').unwrap() + 1), (1, 11));
        assert_eq!(locate(text, text.len() - 1), (2, 1));
        assert_eq!(locate(text, 999), (2, 2));
        assert_eq!(locate("", 5), (1, 1));
    }
}
