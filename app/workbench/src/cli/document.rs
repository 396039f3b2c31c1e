//! A document as a file or on standard output, and what is said where paper cannot be set.

use std::io::{self, Write};
use std::path::Path;

use super::failure::{Failure, Kind};
use super::print::Page;
use crate::shop::written;

/// Writes a document whole or not at all; `-` is standard output.
pub fn keep(path: &Path, bytes: &[u8], page: &mut Page) -> Result<(), Failure> {
    if path == Path::new("-") {
        // Bytes of a PDF are no text: they must not pass where color is taken out of text.
        let mut out = io::stdout().lock();
        out.write_all(bytes)?;
        return Ok(out.flush()?);
    }
    written::keep(path, bytes)
        .map_err(|error| Failure::new(Kind::CannotCreate, format!("cannot write `{}`: {error}", path.display())))?;
    page.remark(&format!("written: {}", path.display()));
    Ok(())
}

/// A program without a typesetter.
pub fn without_pdf() -> Failure {
    Failure::new(Kind::Unavailable, "this probewright was built without the feature `pdf`")
        .hint("write the page instead and print it: --format html --output page.html")
        .hint("or build it with the feature: cargo build --release")
}
