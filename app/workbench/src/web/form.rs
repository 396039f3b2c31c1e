//! Forms as they arrive: fields by name, the workshop's secret looked at before anything else.
//! Promise: a form without the secret does nothing; a field that is missing is empty, never an error.

use axum::RequestExt;
use axum::extract::rejection::RawFormRejection;
use axum::extract::{FromRequest, Multipart, RawForm, Request};
use axum::http::StatusCode;
use maud::{Markup, html};
use percent_encoding::{AsciiSet, NON_ALPHANUMERIC, utf8_percent_encode};
use sha2::{Digest, Sha256};

use super::Shared;
use super::trouble::Trouble;

/// Letters of other alphabets and signs are quoted in an address; what names are mostly made of is left as it is.
const QUOTED: &AsciiSet = &NON_ALPHANUMERIC.remove(b'-').remove(b'_').remove(b'.');
/// The hidden field that carries the secret.
const SEAL: &str = "seal";
/// The hidden field that makes a form that is sent twice count once.
pub const KEY: &str = "key";

/// A form's fields.
#[derive(Debug, Default)]
pub struct Fields {
    fields: Vec<(String, String)>,
}

impl Fields {
    /// A field's text without blanks at its ends; empty when it is missing.
    pub fn text(&self, name: &str) -> &str {
        self.raw(name).trim()
    }

    /// A field's text as it came.
    pub fn raw(&self, name: &str) -> &str {
        self.fields.iter().find(|(known, _)| known == name).map_or("", |(_, text)| text.as_str())
    }

    /// All texts of a field.
    pub fn all(&self, name: &str) -> Vec<String> {
        self.fields.iter().filter(|(known, _)| known == name).map(|(_, text)| text.clone()).collect()
    }

    /// The key that this form was sent with, or a new one.
    pub fn key(&self) -> String {
        match self.text(KEY) {
            key if key.len() == 32 && key.chars().all(|letter| letter.is_ascii_hexdigit()) => key.to_owned(),
            _ => journal::key(),
        }
    }
}

impl FromRequest<Shared> for Fields {
    type Rejection = Trouble;

    async fn from_request(request: Request, workshop: &Shared) -> Result<Self, Trouble> {
        let RawForm(bytes) = request.extract().await.map_err(unreadable)?;
        let fields = read(&bytes);
        sealed(workshop, fields.text(SEAL))?;
        Ok(fields)
    }
}

/// A form that anybody may send: it does nothing but ask to be let in.
pub struct Open(pub Fields);

impl FromRequest<Shared> for Open {
    type Rejection = Trouble;

    async fn from_request(request: Request, _: &Shared) -> Result<Self, Trouble> {
        let RawForm(bytes) = request.extract().await.map_err(unreadable)?;
        Ok(Self(read(&bytes)))
    }
}

fn unreadable(error: RawFormRejection) -> Trouble {
    Trouble::new(error.status(), "this form cannot be read").hint("go back and send it again")
}

/// Name and text of each field of an address's question or a form.
pub fn read(bytes: &[u8]) -> Fields {
    let fields = serde_urlencoded::from_bytes(bytes).unwrap_or_default();
    Fields { fields }
}

/// A name as it stands in an address.
pub fn encoded(name: &str) -> String {
    utf8_percent_encode(name, QUOTED).to_string()
}

/// A form with a file.
#[derive(Debug, Default)]
pub struct Upload {
    /// Its other fields.
    pub fields: Fields,
    /// The file's content.
    pub bytes: Vec<u8>,
}

impl FromRequest<Shared> for Upload {
    type Rejection = Trouble;

    async fn from_request(request: Request, workshop: &Shared) -> Result<Self, Trouble> {
        let too_large = |status: StatusCode| {
            let text = if status == StatusCode::PAYLOAD_TOO_LARGE {
                "the file is too large"
            } else {
                "this form cannot be read"
            };
            Trouble::new(status, text).hint("take the picture with fewer pixels, or send it again")
        };
        let mut parts: Multipart = request
            .extract_with_state(workshop)
            .await
            .map_err(|error: axum::extract::multipart::MultipartRejection| too_large(error.status()))?;
        let mut upload = Self::default();
        while let Some(part) = parts.next_field().await.map_err(|error| too_large(error.status()))? {
            let name = part.name().unwrap_or_default().to_owned();
            let is_file = part.file_name().is_some();
            let bytes = part.bytes().await.map_err(|error| too_large(error.status()))?;
            if is_file {
                upload.bytes = bytes.to_vec();
            } else {
                upload.fields.fields.push((name, String::from_utf8_lossy(&bytes).into_owned()));
            }
        }
        sealed(workshop, upload.fields.text(SEAL))?;
        Ok(upload)
    }
}

/// The hidden fields of each form.
pub fn seal(workshop: &Shared) -> Markup {
    html! {
        input type="hidden" name=(SEAL) value=(expected(workshop));
        input type="hidden" name=(KEY) value=(journal::key());
    }
}

fn sealed(workshop: &Shared, found: &str) -> Result<(), Trouble> {
    let expected = expected(workshop);
    // Every letter is looked at, whatever the first difference: time tells nothing.
    let differences = expected.bytes().zip(found.bytes()).filter(|(left, right)| left != right).count();
    if found.len() == expected.len() && differences == 0 {
        return Ok(());
    }
    let trouble =
        Trouble::new(StatusCode::FORBIDDEN, "this form is not from a page of this workbench; nothing was done");
    Err(trouble.hint("open the page again and send it from there"))
}

fn expected(workshop: &Shared) -> String {
    let digest = Sha256::new().chain_update(&workshop.secret).chain_update("forms").finalize();
    digest.iter().map(|byte| format!("{byte:02x}")).collect()
}
