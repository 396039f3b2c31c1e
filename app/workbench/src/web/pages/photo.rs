//! Pictures of a job: kept by their content, served as what they are.

use axum::Router;
use axum::extract::{DefaultBodyLimit, Path, State};
use axum::http::StatusCode;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use journal::attachment::{Attachment, MOST_BYTES, NoPicture};

use crate::web::form::{Upload, encoded};
use crate::web::trouble::Trouble;
use crate::web::{Shared, blocking};

/// Its addresses.
pub fn routes() -> Router<Shared> {
    let upload = post(keep).layer(DefaultBodyLimit::max(MOST_BYTES + 64 * 1024));
    Router::new().route("/photo/{hash}", get(show)).route("/job/{id}/photo", upload)
}

async fn show(State(workshop): State<Shared>, Path(hash): Path<String>) -> Result<Response, Trouble> {
    match blocking(move || workshop.journal.attachment(&hash)).await?? {
        Some((media, bytes)) => {
            let keep = "private, max-age=31536000, immutable".to_owned();
            Ok(([(CONTENT_TYPE, media), (CACHE_CONTROL, keep)], bytes).into_response())
        }
        None => Err(Trouble::new(StatusCode::NOT_FOUND, "there is no such picture")),
    }
}

async fn keep(State(workshop): State<Shared>, Path(id): Path<String>, upload: Upload) -> Result<Redirect, Trouble> {
    let (key, text) = (upload.fields.key(), upload.fields.text("text").to_owned());
    let picture = Attachment::new(upload.bytes).map_err(|error| {
        let status = match error {
            NoPicture::TooLarge { .. } => StatusCode::PAYLOAD_TOO_LARGE,
            NoPicture::Empty | NoPicture::Kind => StatusCode::UNSUPPORTED_MEDIA_TYPE,
        };
        Trouble::new(status, error.to_string())
    })?;
    let job = id.clone();
    blocking(move || workshop.journal.attach(&job, &key, &picture, &text)).await??;
    Ok(Redirect::to(&format!("/job/{}", encoded(&id))))
}
