//! The report of a job: as a page of its own, as a PDF, as a short message.
//! Promise: what comes out here is what `report` writes at the terminal, byte for byte; the page holds its own style and
//! asks for nothing, and is told to the browser so.

use axum::Router;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::http::header::{CONTENT_SECURITY_POLICY, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use maud::html;

use crate::report::job::{JobReport, gather};
use crate::report::{job_html, job_text};
use crate::shop::words;
use crate::web::frame::{Frame, Where};
use crate::web::trouble::Trouble;
use crate::web::{Shared, blocking};

/// Its addresses.
pub fn routes() -> Router<Shared> {
    Router::new()
        .route("/job/{id}/report", get(page))
        .route("/job/{id}/report.pdf", get(pdf))
        .route("/job/{id}/report.txt", get(text))
}

/// What the page may do: nothing but look as it says itself.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; \
                      form-action 'none'; frame-ancestors 'none'";

async fn page(State(workshop): State<Shared>, Path(id): Path<String>) -> Result<Response, Trouble> {
    match blocking(move || told(&workshop, &id)).await?? {
        Ok(report) => {
            let headers = [(CONTENT_TYPE, "text/html; charset=utf-8"), (CONTENT_SECURITY_POLICY, POLICY)];
            Ok((headers, job_html::html(&report)).into_response())
        }
        Err(done) => Ok(Frame::new("Report", Where::Jobs)
            .again("")
            .page(&html! {
                h1 { "Computing what this machine would show" }
                p { "The report comes as soon as the table of readings is there: " (words::odds(done)) " so far." }
            })
            .into_response()),
    }
}

async fn text(State(workshop): State<Shared>, Path(id): Path<String>) -> Result<Response, Trouble> {
    let report = blocking(move || told(&workshop, &id)).await??.map_err(later)?;
    Ok(([(CONTENT_TYPE, "text/plain; charset=utf-8")], job_text::text(&report)).into_response())
}

#[cfg(feature = "pdf")]
async fn pdf(State(workshop): State<Shared>, Path(id): Path<String>) -> Result<Response, Trouble> {
    use axum::http::header::CONTENT_DISPOSITION;

    use crate::report::job_pdf;

    let bytes = blocking(move || {
        let report = told(&workshop, &id)?.map_err(later)?;
        let name = format!("inline; filename=\"{}.pdf\"", report.job);
        // Nothing that a person typed can make the template fail; where it does, the fault is the program's.
        job_pdf::pdf(&report).map(|bytes| (name, bytes)).map_err(|_| Trouble::own())
    });
    let (name, bytes) = bytes.await??;
    Ok(([(CONTENT_TYPE, "application/pdf".to_owned()), (CONTENT_DISPOSITION, name)], bytes).into_response())
}

#[cfg(not(feature = "pdf"))]
async fn pdf(Path(id): Path<String>) -> Result<Response, Trouble> {
    let trouble = Trouble::new(StatusCode::NOT_IMPLEMENTED, "this workbench was built without the feature `pdf`");
    Err(trouble.hint(format!("print the page instead: /job/{id}/report")))
}

/// The report, or how much of the table of readings is there.
fn told(workshop: &Shared, id: &str) -> Result<Result<JobReport, f64>, Trouble> {
    let gathered = gather(&workshop.journal, &workshop.settings, id, workshop.odds)?;
    let known = workshop.machines.remembered(&gathered.job.machine, gathered.sheet.clone());
    Ok(match &known.ready {
        Some(ready) => workshop.desks.trial(ready, |trial| gathered.report_with(Some((ready, trial.desk())))),
        None => Ok(gathered.report_with(None)),
    })
}

fn later(_: f64) -> Trouble {
    let trouble = Trouble::new(StatusCode::SERVICE_UNAVAILABLE, "the table of readings is still being computed");
    trouble.hint("try again in a few seconds")
}
