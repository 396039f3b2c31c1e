//! Pictures of a job, taken into its report as far as a mailbox takes them.
//! Limit: a message of more than about 20 MB is often refused (common practice, no source); a picture grows by a third
//! in a page. What is left out is named.

use journal::{Entry, Job, Journal, JournalError};
use serde::Serialize;

use crate::shop::words;

/// Bytes of all pictures of a report together.
const MOST_BYTES: usize = 12_000_000;

/// A picture.
#[derive(Clone, Debug, Serialize)]
pub struct Photo {
    /// Its name as a file.
    pub name: String,
    /// What it shows and when it was taken.
    pub text: String,
    /// Media type.
    pub media: String,
    /// The content.
    #[serde(skip)]
    pub bytes: Vec<u8>,
}

/// The pictures of a report.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Photos {
    /// Those that are in it.
    pub taken: Vec<Photo>,
    /// What is said of those that are not.
    pub left_out: Vec<String>,
}

/// The pictures of a job that stand.
///
/// # Errors
/// When the journal cannot be read.
pub fn photos(journal: &Journal, job: &Job) -> Result<Photos, JournalError> {
    let mut photos = Photos::default();
    let mut room = MOST_BYTES;
    for kept in job.standing() {
        let Entry::Photo { hash, text } = &kept.entry else { continue };
        let (day, time) = words::when(&kept.at);
        let said = if text.is_empty() { "Picture".to_owned() } else { text.clone() };
        let text = format!("{said} ({day} {time})");
        match journal.attachment(hash)? {
            Some((_, bytes)) if bytes.len() > room => {
                let size = bytes.len() as f64 / 1e6;
                photos.left_out.push(format!("{text}: {size:.1} MB, too large for this report; it is in the journal"));
            }
            Some((media, bytes)) => {
                room -= bytes.len();
                let end = media.rsplit('/').next().unwrap_or_default();
                let name = format!("photo-{}.{}", kept.number, if end == "jpeg" { "jpg" } else { end });
                photos.taken.push(Photo { name, text, media, bytes });
            }
            None => photos.left_out.push(format!("{text}: not in this journal")),
        }
    }
    Ok(photos)
}
