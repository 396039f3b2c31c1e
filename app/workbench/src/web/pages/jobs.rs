//! All jobs, the latest first; a job is begun here by a form of its machine.

use axum::Router;
use axum::extract::{Path, State};
use axum::response::Redirect;
use axum::routing::{get, post};
use maud::{Markup, html};

use super::machines::state;
use crate::shop::words;
use crate::web::form::{Fields, encoded};
use crate::web::frame::{Frame, Where};
use crate::web::trouble::Trouble;
use crate::web::{Shared, blocking};

/// Its addresses.
pub fn routes() -> Router<Shared> {
    Router::new().route("/jobs", get(show)).route("/machine/{name}/job", post(begin))
}

/// Jobs on the page.
const MOST: usize = 100;

async fn show(State(workshop): State<Shared>) -> Result<Markup, Trouble> {
    let jobs = blocking(move || workshop.journal.jobs(None, MOST)).await??;
    Ok(Frame::new("Jobs", Where::Jobs).page(&html! {
        h1 { "Jobs" }
        @if jobs.is_empty() { p { "No job yet: choose a machine and begin one." } p { a.button href="/" { "Machines" } } }
        @else { (table(&jobs)) }
    }))
}

/// Jobs as a table.
pub fn table(jobs: &[journal::Brief]) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label="Jobs" {
            table {
                thead { tr { th scope="col" { "Job" } th scope="col" { "Complaint" } th scope="col" { "State" } } }
                tbody {
                    @for job in jobs {
                        tr {
                            td.whole { a href={ "/job/" (job.id) } { (job.id) } br; span.hint { (words::when(&job.latest).0) } }
                            td { (job.complaint.as_deref().map_or("", words::complaint)) }
                            td { (state(job)) @if !job.told.is_empty() { br; span.hint { (job.told.join(", ")) } } }
                        }
                    }
                }
            }
        }
    }
}

async fn begin(State(workshop): State<Shared>, Path(name): Path<String>, _: Fields) -> Result<Redirect, Trouble> {
    let job = blocking(move || match workshop.ready(&name)? {
        Some(ready) => Ok::<_, Trouble>(Some(workshop.begin(&ready)?)),
        None => Ok(None),
    })
    .await??;
    match job {
        Some(job) => Ok(Redirect::to(&format!("/job/{}", encoded(&job.id)))),
        None => {
            let trouble = Trouble::new(axum::http::StatusCode::CONFLICT, "this machine's sheet has problems");
            Err(trouble.hint("mend them in its sheet, then begin the job"))
        }
    }
}
