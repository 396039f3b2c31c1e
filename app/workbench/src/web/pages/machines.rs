//! The machines of the workshop: each with its latest job and a way to begin one.

use axum::Router;
use axum::extract::State;
use axum::response::Redirect;
use axum::routing::{get, post};
use maud::{Markup, html};

use crate::shop::words;
use crate::web::form::{Fields, seal};
use crate::web::frame::{Frame, Where};
use crate::web::trouble::Trouble;
use crate::web::{Shared, blocking};

/// Its addresses.
pub fn routes() -> Router<Shared> {
    Router::new().route("/", get(show)).route("/machines/demo", post(take_demo))
}

/// What the page says of a machine.
struct Line {
    name: String,
    title: String,
    problems: usize,
    job: Option<journal::Brief>,
}

async fn show(State(workshop): State<Shared>) -> Result<Markup, Trouble> {
    let shown = workshop.clone();
    let lines = blocking(move || lines(&shown)).await??;
    Ok(Frame::new("Machines", Where::Machines).page(&html! {
        h1 { "Machines" }
        @if lines.is_empty() { (first_steps(&workshop)) } @else {
            ul.cards {
                @for line in &lines { li.card { (card(line)) } }
            }
            div.row {
                a.button href="/fleet" { "Will they start?" }
                a.button href="/new" { "Add a machine" }
            }
            p.hint { "Sheets are files in " code { (workshop.machines.folder().display()) } "." }
        }
    }))
}

fn lines(workshop: &Shared) -> Result<Vec<Line>, Trouble> {
    let mut lines = Vec::new();
    for name in workshop.machines.names() {
        let known = workshop.machines.known(&name)?;
        let machine = known.ready.as_ref().map(|ready| &ready.machine.sheet);
        let title = machine.map_or_else(|| name.clone(), |sheet| sheet.title.clone());
        let id = machine.map_or(name.as_str(), |sheet| sheet.id.as_str());
        let job = workshop.journal.jobs(Some(id), 1)?.pop();
        let problem = |found: &&machine::problem::Problem| found.weight == machine::problem::Weight::Problem;
        lines.push(Line { title, job, problems: known.findings.iter().filter(problem).count(), name });
    }
    Ok(lines)
}

fn card(line: &Line) -> Markup {
    html! {
        h2 { a href={ "/machine/" (line.name) } { (line.title) } }
        @if line.problems > 0 {
            p.mind { b { "mind " } (line.problems) " problems in its sheet: " a href={ "/machine/" (line.name) "/sheet" } { "mend them" } }
        }
        @match &line.job {
            None => p.hint { "No job yet." },
            Some(job) => p {
                a href={ "/job/" (job.id) } { (words::when(&job.latest).0) }
                ": " (state(job))
                @if let Some(complaint) = &job.complaint { ", " (words::complaint(complaint)) }
            },
        }
    }
}

/// How a job stands, in a word or two.
pub fn state(job: &journal::Brief) -> &'static str {
    match job.closed {
        None => "open",
        Some(true) => "cause proven",
        Some(false) => "closed without a proven cause",
    }
}

fn first_steps(workshop: &Shared) -> Markup {
    html! {
        p { "There is no machine here yet. Describe yours by a pattern and a few questions, or look round with the hire machines of a trail school." }
        div.row {
            a.button.main href="/new" { "Describe my machine" }
            form.inline method="post" action="/machines/demo" { (seal(workshop)) button { "Take the eight demo machines" } }
        }
        p.hint { "Sheets that are there already can be copied into " code { (workshop.machines.folder().display()) } "." }
    }
}

async fn take_demo(State(workshop): State<Shared>, _: Fields) -> Result<Redirect, Trouble> {
    blocking(move || workshop.machines.take_demo()).await??;
    Ok(Redirect::to("/"))
}
