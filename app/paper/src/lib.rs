//! A template and its data as a PDF: set by a typesetting library, out of files in memory, offline.
//! Idea: what is told goes in as one JSON file beside the template, never pasted into markup, so that no text a person
//! typed is ever read as a command; drawings and pictures go in as files of their own.
//! Promise: the same files give the same bytes; tagged, with title and language, after PDF/UA-1 (ISO 14289-1) as far as
//! the library checks it: a figure without words for it is refused. No clock, no disk, no network.
//! Not here: what a report says (the workbench's `report/`).
#![warn(missing_docs)]

mod desk;

use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards};

use desk::Desk;

/// A file that the template asks for by its name.
#[derive(Clone, Debug)]
pub struct File {
    /// Its name, as in `probe-3.svg`.
    pub name: String,
    /// Its content.
    pub bytes: Vec<u8>,
}

/// Why there is no PDF.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PaperError {
    /// A file's name cannot be one.
    #[error("`{0}` cannot be the name of a file")]
    Name(String),
    /// The template, or a file that it asks for, cannot be set.
    #[error("the page cannot be set: {0}")]
    Set(String),
    /// The library refuses to write what was set.
    #[error("the PDF cannot be written: {0}")]
    Write(String),
}

/// The name under which the template finds its data.
pub const DATA: &str = "data.json";

/// Sets a template with its data and files, and gives the PDF.
///
/// # Errors
/// When a file's name is none, the template cannot be set with them, or what it sets lacks what PDF/UA-1 asks for.
pub fn pdf(template: &str, json: &str, files: Vec<File>) -> Result<Vec<u8>, PaperError> {
    let desk = Desk::new(template, json, files)?;
    let document = typst::compile::<PagedDocument>(&desk).output.map_err(|errors| PaperError::Set(told(&errors)))?;
    let standards =
        PdfStandards::new(&[PdfStandard::Ua_1]).map_err(|error| PaperError::Write(error.message().to_string()))?;
    let creator = typst::foundations::Smart::Custom(Some("probewright".to_owned()));
    let options = PdfOptions { standards, creator, ..PdfOptions::default() };
    let bytes = typst_pdf::pdf(&document, &options).map_err(|errors| PaperError::Write(told(&errors)));
    // What the library remembers of one document is of no use to the next.
    typst::comemo::evict(0);
    bytes
}

/// Whether a picture can be shown: what only begins like one is left out by whoever knows.
pub fn can_show(picture: &[u8]) -> bool {
    use typst::visualize::{ExchangeFormat, RasterImage};
    let Some(format) = ExchangeFormat::detect(picture) else { return false };
    RasterImage::plain(typst::foundations::Bytes::new(picture.to_vec()), format).is_ok()
}

fn told(errors: &[typst::diag::SourceDiagnostic]) -> String {
    errors.iter().map(|error| error.message.to_string()).collect::<Vec<_>>().join("; ")
}

#[cfg(test)]
mod set_tests {
    use super::*;

    const TEMPLATE: &str = r#"
#set document(title: "Plain", author: ())
#set text(lang: "en")
#let data = json("data.json")
= #data.title
#data.text
"#;

    fn made(text: &str) -> Result<Vec<u8>, PaperError> {
        pdf(TEMPLATE, text, Vec::new())
    }

    #[test]
    fn law_the_same_files_give_the_same_bytes() {
        let json = r##"{"title":"A *title* #panic(1)","text":"#eval(\"1+1\") = heading $x$ <script>"}"##;
        let first = made(json).unwrap();
        assert!(first.starts_with(b"%PDF-1.7"));
        assert_eq!(first, made(json).unwrap());
    }

    #[test]
    fn law_what_a_template_lacks_is_an_error_and_no_panic() {
        assert!(matches!(made("{}"), Err(PaperError::Set(_))));
        assert!(matches!(pdf("#image(\"none.svg\")", "{}", Vec::new()), Err(PaperError::Set(_))));
        let up = File { name: "../up".to_owned(), bytes: Vec::new() };
        assert_eq!(pdf("", "{}", vec![up]), Err(PaperError::Name("../up".to_owned())));
    }

    #[test]
    fn law_a_figure_without_words_for_it_is_refused() {
        let svg = br#"<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"><rect width="9" height="9"/></svg>"#;
        let file = || vec![File { name: "a.svg".to_owned(), bytes: svg.to_vec() }];
        let with = |image: &str| format!("#set document(title: \"A\")\n= A\n#figure({image})");
        assert!(pdf(&with("image(\"a.svg\", alt: \"a square\")"), "{}", file()).is_ok());
        assert!(matches!(pdf(&with("image(\"a.svg\")"), "{}", file()), Err(PaperError::Write(_))));
    }

    #[test]
    fn law_what_only_begins_like_a_picture_cannot_be_shown() {
        assert!(!can_show(b"\xff\xd8\xff\xe0 a picture"));
        assert!(!can_show(b"<svg/>"));
        let gif = b"GIF89a\x01\x00\x01\x00\x80\x00\x00\x00\x00\x00\xff\xff\xff!\xf9\x04\x01\x00\x00\x00\x00,\x00\x00\x00\x00\x01\x00\x01\x00\x00\x02\x02D\x01\x00;";
        assert!(can_show(gif));
    }
}
