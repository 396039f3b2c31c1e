//! Pictures that belong to entries, kept under the name of their content.
//! Promise: the same picture twice is kept once; what is no picture, or too large, is refused before it is kept.

use sha2::{Digest, Sha256};

/// More bytes than this are refused: a picture of a bench telephone has a few million.
pub const MOST_BYTES: usize = 12_000_000;

/// The kinds of pictures that are kept: all that browsers show.
pub const MEDIA: [&str; 4] = ["image/jpeg", "image/png", "image/webp", "image/gif"];

/// A picture.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Attachment {
    /// Name of its content: SHA-256, 64 hexadecimal digits.
    pub hash: String,
    /// Its media type, found in the content, not taken from a file's name.
    pub media: &'static str,
    /// The content.
    pub bytes: Vec<u8>,
}

/// Why a file is not kept.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoPicture {
    /// There is nothing in it.
    #[error("the file is empty")]
    Empty,
    /// There is too much in it.
    #[error("the file has {bytes} bytes; at most {MOST_BYTES} are kept: take the picture with fewer pixels")]
    TooLarge {
        /// How many there are.
        bytes: usize,
    },
    /// It is something else.
    #[error("the file is no picture that a browser shows: JPEG, PNG, WebP or GIF")]
    Kind,
}

impl Attachment {
    /// Looks at a file's content.
    ///
    /// # Errors
    /// When it is no picture, or too large.
    pub fn new(bytes: Vec<u8>) -> Result<Self, NoPicture> {
        if bytes.is_empty() {
            return Err(NoPicture::Empty);
        }
        if bytes.len() > MOST_BYTES {
            return Err(NoPicture::TooLarge { bytes: bytes.len() });
        }
        let found = infer::get(&bytes).map(|kind| kind.mime_type());
        let media = MEDIA.into_iter().find(|media| Some(*media) == found).ok_or(NoPicture::Kind)?;
        let hash = Sha256::digest(&bytes).iter().map(|byte| format!("{byte:02x}")).collect();
        Ok(Self { hash, media, bytes })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn textbook_a_content_has_its_published_name() {
        // FIPS 180-2, appendix B.1: the digest of "abc"; a picture's name is made by the same code.
        let digest: String = Sha256::digest(b"abc").iter().map(|byte| format!("{byte:02x}")).collect();
        assert_eq!(digest, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
        let picture = Attachment::new(b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR".to_vec()).unwrap();
        assert_eq!((picture.media, picture.hash.len()), ("image/png", 64));
    }

    #[test]
    fn law_what_only_calls_itself_a_picture_is_refused() {
        assert_eq!(Attachment::new(b"<svg onload='x()'/>".to_vec()), Err(NoPicture::Kind));
        assert_eq!(Attachment::new(b"MZ\x90\0".to_vec()), Err(NoPicture::Kind));
        assert_eq!(Attachment::new(vec![]), Err(NoPicture::Empty));
        assert_eq!(Attachment::new(vec![0; MOST_BYTES + 1]), Err(NoPicture::TooLarge { bytes: MOST_BYTES + 1 }));
    }
}
