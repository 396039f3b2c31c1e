//! The sheet of a machine as text, with what is wrong in it beside it.
//! Promise: what was typed is kept as typed, problems and all, or comes back in the form; a file is written whole.

use axum::Router;
use axum::extract::{DefaultBodyLimit, Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use machine::problem::{Problem, Weight};
use maud::{Markup, html};

use crate::shop::machines::{Known, MOST_BYTES, NoMachine};
use crate::web::form::{Fields, encoded, seal};
use crate::web::frame::{Frame, Where};
use crate::web::trouble::Trouble;
use crate::web::{Shared, blocking};

/// Its addresses.
pub fn routes() -> Router<Shared> {
    // A character of the text may take three in a form.
    let large = DefaultBodyLimit::max(3 * MOST_BYTES + 64 * 1024);
    Router::new()
        .route("/machine/{name}/sheet", get(show).post(keep).layer(large))
        .route("/machine/{name}/sheet/check", post(check).layer(large))
}

async fn show(State(workshop): State<Shared>, Path(name): Path<String>) -> Result<Markup, Trouble> {
    blocking(move || {
        let known = workshop.machines.known(&name)?;
        Ok(page(&workshop, &known, &known.fingerprint, None))
    })
    .await?
}

async fn keep(State(workshop): State<Shared>, Path(name): Path<String>, fields: Fields) -> Result<Response, Trouble> {
    blocking(move || {
        let text = fields.raw("text").replace("\r\n", "\n");
        let before = fields.text("before");
        let there = workshop.machines.known(&name)?;
        if there.fingerprint != before && there.text != text {
            let trouble = "The file has changed since you opened it; yours is below and not yet kept. Keep it again to replace the file.";
            let known = Known::read(&name, text);
            let page = page(&workshop, &known, &there.fingerprint, Some(trouble));
            return Ok((StatusCode::CONFLICT, page).into_response());
        }
        match workshop.machines.keep(&name, &text) {
            Ok(()) => Ok(Redirect::to(&format!("/machine/{}/sheet", encoded(&name))).into_response()),
            Err(error @ (NoMachine::Disk { .. } | NoMachine::TooLong(_))) => {
                let known = Known::read(&name, text);
                let trouble = format!("Not kept: {error}. What you typed is still below.");
                let page = page(&workshop, &known, before, Some(&trouble));
                Ok((StatusCode::SERVICE_UNAVAILABLE, page).into_response())
            }
            Err(other) => Err(other.into()),
        }
    })
    .await?
}

async fn check(Path(name): Path<String>, fields: Fields) -> Result<Markup, Trouble> {
    blocking(move || findings(&Known::read(&name, fields.raw("text").replace("\r\n", "\n")))).await
}

fn page(workshop: &Shared, known: &Known, before: &str, trouble: Option<&str>) -> Markup {
    let title = format!("Sheet: {}", known.name);
    Frame::new(&title, Where::Machines).page(&html! {
        p.hint { a href={ "/machine/" (known.name) } { (known.name) } }
        h1 { (title) }
        @if let Some(trouble) = trouble { p.trouble role="alert" { (trouble) } }
        div.job.editor {
            form method="post" {
                (seal(workshop))
                input type="hidden" name="before" value=(before);
                label for="text" { "Text" }
                textarea #text name="text" spellcheck="false" autocapitalize="off" wrap="off"
                    data-check={ "/machine/" (known.name) "/sheet/check" } aria-describedby="findings" { "\n" (known.text) }
                div.row { button.main { "Keep" } }
            }
            div #findings role="status" { (findings(known)) }
        }
    })
}

fn findings(known: &Known) -> Markup {
    let problems = known.findings.iter().filter(|found| found.is_in_the_way()).count();
    html! {
        h2 {
            @match problems { 0 => { "No problems" }, 1 => { "1 problem" }, many => { (many) " problems" } }
        }
        @if known.ready.is_some() { p { "The machine can be worked with." } }
        ul.findings { @for found in &known.findings { (finding(&known.text, found)) } }
    }
}

fn finding(text: &str, found: &Problem) -> Markup {
    let line = text.lines().nth(found.line.saturating_sub(1)).unwrap_or_default();
    html! {
        li.problem[found.weight == Weight::Problem] {
            b { "line " (found.line) } ", column " (found.column) ": " (found.message)
            pre { (line.chars().take(200).collect::<String>()) }
            @if !found.allowed.is_empty() { p.hint { "Allowed: " (found.allowed) } }
            @if let Some(hint) = &found.hint { p.hint { (hint) } }
        }
    }
}
