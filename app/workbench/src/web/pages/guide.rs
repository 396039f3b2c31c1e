//! A machine's guide, as a document of its own: worked out when it is asked for, beside the jobs and not in their way.

use axum::Router;
use axum::extract::{Path, State};
use axum::http::header::CONTENT_SECURITY_POLICY;
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use maud::{Markup, html};

use crate::report::{guide, page};
use crate::shop::guide::{Asked, guide as worked_out};
use crate::web::frame::{Frame, Where};
use crate::web::trouble::Trouble;
use crate::web::{Shared, blocking};

/// Its addresses.
pub fn routes() -> Router<Shared> {
    Router::new().route("/machine/{name}/guide", get(show))
}

async fn show(State(workshop): State<Shared>, Path(name): Path<String>) -> Result<Response, Trouble> {
    blocking(move || {
        let Some(ready) = workshop.ready(&name)? else { return Ok(spoiled(&name).into_response()) };
        let guide = guide::page(&worked_out(ready.machine.clone(), &ready.text, &Asked::default())?);
        // The document carries its own look, so that it can be kept as it is.
        Ok(([(CONTENT_SECURITY_POLICY, page::POLICY)], guide).into_response())
    })
    .await?
}

fn spoiled(name: &str) -> Markup {
    Frame::new(name, Where::Machines).page(&html! {
        h1 { (name) }
        p.trouble role="alert" { "This machine's sheet has problems, so that no guide can be worked out." }
        p { a.button.main href={ "/machine/" (name) "/sheet" } { "Mend its sheet" } }
    })
}
