//! The page that lets another browser in by the code on the console.

use axum::extract::RawQuery;
use axum::http::StatusCode;
use axum::http::header::LOCATION;
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use axum::{Extension, Router};
use maud::{Markup, html};

use crate::web::Shared;
use crate::web::form::{Open, read};
use crate::web::frame::{Frame, Where};
use crate::web::pairing::{Pairing, Tried};

/// Its addresses.
pub fn routes() -> Router<Shared> {
    Router::new().route("/pair", get(ask).post(pair))
}

async fn ask(pairing: Extension<Option<Pairing>>, RawQuery(query): RawQuery) -> Markup {
    page(&pairing, read(query.unwrap_or_default().as_bytes()).text("code"), None)
}

fn page(pairing: &Option<Pairing>, code: &str, trouble: Option<&str>) -> Markup {
    let encrypted = pairing.as_ref().is_some_and(Pairing::is_encrypted);
    Frame::new("Pair this browser", Where::Elsewhere).page(&html! {
        h1 { "Pair this browser with the workbench" }
        @if let Some(trouble) = trouble { p.trouble #why role="alert" { (trouble) } }
        form.answer method="post" action="/pair" {
            label for="code" { "Code on the console of the workbench" }
            input #code name="code" value=(code) inputmode="numeric" autocomplete="one-time-code"
                aria-describedby=[trouble.map(|_| "why")];
            div.row { button.main { "Pair" } }
        }
        @if !encrypted { p { "Over plain HTTP whoever listens on this network can read along and take this browser's place. Use it on a network that is yours alone, or give the workbench a certificate (" code { "serve --certificate" } ")." } }
    })
}

async fn pair(pairing: Extension<Option<Pairing>>, fields: Open) -> Response {
    let Some(known) = &pairing.0 else {
        return page(&pairing, "", Some("This workbench answers to its own machine only.")).into_response();
    };
    match known.try_code(fields.0.text("code")) {
        Tried::Paired(cookie) => {
            (StatusCode::SEE_OTHER, [(LOCATION, "/".to_owned()), known.set_cookie(&cookie)]).into_response()
        }
        Tried::Wrong => {
            let why = "This is not the code; the console shows the one that holds now.";
            (StatusCode::FORBIDDEN, page(&pairing, "", Some(why))).into_response()
        }
        Tried::TooMany => {
            let why = "Too many wrong codes: nobody can pair for five minutes.";
            (StatusCode::TOO_MANY_REQUESTS, page(&pairing, "", Some(why))).into_response()
        }
    }
}
