//! What a job may come to, before work; keeping it says that the owner was told.

use axum::Router;
use axum::extract::{Path, State};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::get;
use diagnosis::trial::Trial;
use journal::Entry;
use maud::html;

use crate::shop::bill::{self, Quote, shown};
use crate::shop::words;
use crate::web::form::{Fields, encoded, seal};
use crate::web::frame::{Frame, Where};
use crate::web::trouble::Trouble;
use crate::web::{Shared, blocking};

/// Its addresses.
pub fn routes() -> Router<Shared> {
    Router::new().route("/job/{id}/quote", get(show).post(keep))
}

async fn show(State(workshop): State<Shared>, Path(id): Path<String>) -> Result<Response, Trouble> {
    blocking(move || {
        let found = quote(&workshop, &id)?;
        let title = format!("{id}: what it may come to");
        let later = matches!(found, Found::Later);
        let frame = Frame::new(&title, Where::Jobs);
        let frame = if later { frame.again("") } else { frame };
        Ok(frame
            .page(&html! {
                p.hint { a href={ "/job/" (encoded(&id)) } { "Back to the job" } }
                h1 { "What it may come to" }
                @match &found {
                    Found::Quote(quote) => {
                        table {
                            thead { tr { th scope="col" { "The whole job" } th.n scope="col" { "Cost" } th.n scope="col" { "Work" } } }
                            tbody {
                                tr { th scope="row" { "expected" } td.n { (shown(quote.expected, &quote.currency)) } td.n { (words::minutes(quote.expected_minutes)) } }
                                tr { th scope="row" { "at worst, in nine cases of ten" } td.n { (shown(quote.worst, &quote.currency)) } td.n { (words::minutes(quote.worst_minutes)) } }
                            }
                        }
                        @if !quote.unpriced.is_empty() {
                            p { "Without parts that have no price in the settings: " (quote.unpriced.join(", ")) }
                        }
                        p.hint { "Each likely cause is planted and worked to its proof; the whole job from its beginning, parts included." }
                        form method="post" data-once { (seal(&workshop)) button.main { "The owner was told: keep it" } }
                    }
                    Found::NoPrices => p { "Nothing has a price: " code { "probewright settings --example" } " prints a file to begin with." },
                    Found::NoMachine => p.trouble role="alert" { "The machine's sheet cannot be used." },
                    Found::Later => p role="status" { "The table of readings is being computed; this page asks again." },
                }
            })
            .into_response())
    })
    .await?
}

async fn keep(State(workshop): State<Shared>, Path(id): Path<String>, fields: Fields) -> Result<Redirect, Trouble> {
    let key = fields.key();
    blocking(move || {
        if let Found::Quote(Quote { expected, worst, currency, .. }) = quote(&workshop, &id)? {
            workshop.journal.record(&id, &key, &Entry::Quoted { expected, worst, currency })?;
        }
        Ok(Redirect::to(&format!("/job/{}", encoded(&id))))
    })
    .await?
}

enum Found {
    Quote(Quote),
    NoPrices,
    NoMachine,
    Later,
}

fn quote(workshop: &Shared, id: &str) -> Result<Found, Trouble> {
    let bench = workshop.bench(id)?;
    let Some(ready) = &bench.ready else { return Ok(Found::NoMachine) };
    let quoted = |trial: &mut Trial| bill::quote(trial, &workshop.settings, &bench.job);
    Ok(match workshop.desks.trial_by(ready, &bench.lessons, quoted) {
        Ok(found) => found?.map_or(Found::NoPrices, Found::Quote),
        Err(_) => Found::Later,
    })
}
