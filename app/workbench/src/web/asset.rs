//! Style and script, inside the program; their addresses change with their content, so that browsers may keep them.

use axum::Router;
use axum::extract::Path;
use axum::http::StatusCode;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use axum::routing::get;

use super::Shared;
use crate::shop::tables::fingerprint;

/// A file that pages load.
struct Asset {
    name: &'static str,
    media: &'static str,
    text: &'static str,
}

const ASSETS: [Asset; 4] = [
    Asset { name: "tokens.css", media: "text/css; charset=utf-8", text: include_str!("look/tokens.css") },
    Asset { name: "bench.css", media: "text/css; charset=utf-8", text: include_str!("look/bench.css") },
    Asset { name: "bench.js", media: "text/javascript; charset=utf-8", text: include_str!("look/bench.js") },
    Asset { name: "practice.js", media: "text/javascript; charset=utf-8", text: include_str!("look/practice.js") },
];

/// The addresses of the files.
pub fn routes() -> Router<Shared> {
    Router::new().route("/look/{mark}/{name}", get(serve))
}

/// The address of a file.
pub fn address(name: &str) -> String {
    let text = ASSETS.iter().find(|asset| asset.name == name).map_or("", |asset| asset.text);
    format!("/look/{}/{name}", fingerprint(text))
}

async fn serve(Path((_, name)): Path<(String, String)>) -> Response {
    match ASSETS.iter().find(|asset| asset.name == name) {
        Some(asset) => {
            let keep = "public, max-age=31536000, immutable";
            ([(CONTENT_TYPE, asset.media), (CACHE_CONTROL, keep)], asset.text).into_response()
        }
        None => StatusCode::NOT_FOUND.into_response(),
    }
}
