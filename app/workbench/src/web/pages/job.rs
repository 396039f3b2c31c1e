//! A job: what to do next in full view, with a large field for what was read; beside it the odds, why, and what was said
//! so far.
//! Promise: reading the page changes nothing; a form that cannot be taken comes back with what was typed and why.

use std::sync::Arc;

use axum::Router;
use axum::extract::{Path, RawQuery, State};
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use diagnosis::advice::Advice;
use drawing::Overlay;
use journal::{Entry, key};
use maud::Markup;

use super::job_aside as aside;
use super::job_now as now;
use super::job_view::{Failed, View};
use crate::shop::changes::Changes;
use crate::shop::desks::Thought;
use crate::shop::journals;
use crate::shop::machines::Ready;
use crate::shop::schematic;
use crate::shop::stand::Stand;
use crate::shop::wants;
use crate::shop::workshop::NotTaken;
use crate::web::form::{Fields, encoded, read};
use crate::web::frame::{Frame, Where};
use crate::web::trouble::Trouble;
use crate::web::{Shared, blocking};

/// Its addresses.
pub fn routes() -> Router<Shared> {
    Router::new()
        .route("/job/{id}", get(show))
        .route("/job/{id}/schematic.svg", get(picture))
        .route("/job/{id}/answer", post(answer))
        .route("/job/{id}/undo", post(undo))
        .route("/job/{id}/note", post(note))
        .route("/job/{id}/instruments", post(instruments))
        .route("/job/{id}/close", post(close))
        .route("/job/{id}/reopen", post(reopen))
}

async fn show(
    State(workshop): State<Shared>,
    Path(id): Path<String>,
    RawQuery(query): RawQuery,
) -> Result<Markup, Trouble> {
    let asked = read(query.unwrap_or_default().as_bytes());
    let taken = asked.text("take").parse::<usize>().unwrap_or(1).saturating_sub(1);
    let probe = asked.text("probe").to_owned();
    blocking(move || {
        let bench = workshop.bench(&id)?;
        page(&workshop, &View { bench, taken, probe, failed: None })
    })
    .await?
}

fn page(workshop: &Shared, view: &View) -> Result<Markup, Trouble> {
    let job = &view.bench.job;
    let Some(ready) = view.bench.ready.clone() else { return Ok(now::without_machine(workshop, view)) };
    if job.closed().is_some() {
        let advice = thought(workshop, &ready, view)?.ok();
        return Ok(framed(workshop, view, &ready, &now::closed(workshop, view, advice.as_deref()), advice.as_deref()));
    }
    workshop.desks.prepare(&ready);
    if let Some(wants) = wants::opening(job, has_meter(job)) {
        let now =
            asked(workshop, &ready, view, now::form_of(&wants), &now::question(workshop, view, &ready, &wants, None));
        return Ok(framed(workshop, view, &ready, &now, None));
    }
    match thought(workshop, &ready, view)? {
        Err(done) => Ok(now::later(view, &ready, done)),
        Ok(advice) => {
            let wants = wants::follows(job, &advice, view.taken);
            let wants = wants::within(&ready.machine, &ready.faults, &workshop.settings, job, wants);
            let now = match ready.machine.probe(&view.probe) {
                Ok(probe) => asked(workshop, &ready, view, &probe.name, &now::other(workshop, view, &ready, &probe)),
                Err(_) => asked(
                    workshop,
                    &ready,
                    view,
                    now::form_of(&wants),
                    &now::question(workshop, view, &ready, &wants, Some(&advice)),
                ),
            };
            Ok(framed(workshop, view, &ready, &now, Some(&advice)))
        }
    }
}

/// A question with what is to be said about the latest answer, or with one that could not be taken.
fn asked(workshop: &Shared, ready: &Arc<Ready>, view: &View, question: &str, now: &Markup) -> Markup {
    let other = view.failed.as_ref().filter(|failed| failed.question != question);
    let said = match wants::remark(&ready.machine, &ready.faults, &view.bench.job) {
        Some(remark) => Some(remark.to_owned()),
        None => workshop.desks.compared(ready, &view.bench.job),
    };
    maud::html! {
        @if let Some(failed) = other { (now::not_taken(failed)) p { "You typed: " (failed.typed) } }
        @if let (Some(said), None) = (said, &view.failed) { p.remark role="status" { (said) } }
        (now)
    }
}

/// Advice, or how much of the table is there.
fn thought(workshop: &Shared, ready: &Arc<Ready>, view: &View) -> Result<Result<Arc<Advice>, f64>, Trouble> {
    Ok(match workshop.desks.advise(ready, &view.bench.job, &view.bench.lessons)? {
        Thought::Advice(advice) => Ok(advice),
        Thought::Later(done) => Err(done),
    })
}

fn framed(workshop: &Shared, view: &View, ready: &Arc<Ready>, now: &Markup, advice: Option<&Advice>) -> Markup {
    let title = format!("{}: {}", view.bench.job.id, ready.machine.sheet.title);
    Frame::new(&title, Where::Jobs).page(&maud::html! {
        p.hint {
            a href={ "/machine/" (view.bench.job.machine) } { (ready.machine.sheet.title) } " · " (view.bench.job.id)
            @if view.bench.changed { " · the sheet has changed since this job was begun; the advice is that of the new sheet" }
        }
        @if let Some(waiting) = journals::waiting(&workshop.journal) { p.remark role="status" { (waiting) "." } }
        div.job {
            section.now aria-label="Now" { (now) }
            aside.beside aria-label="So far" { (aside::so_far(workshop, view, ready, advice)) }
        }
    })
}

fn has_meter(job: &journal::Job) -> bool {
    job.request(None).instruments.is_none_or(|all| all.iter().any(|known| known == "meter"))
}

/// The schematic with both leads on it, as a healthy machine would be in the probe's state.
async fn picture(
    State(workshop): State<Shared>,
    Path(id): Path<String>,
    RawQuery(query): RawQuery,
) -> Result<Response, Trouble> {
    let asked = read(query.unwrap_or_default().as_bytes());
    let picture = blocking(move || {
        let bench = workshop.bench(&id)?;
        let nothing = || Trouble::new(StatusCode::NOT_FOUND, "there is nothing to draw");
        let ready = bench.ready.ok_or_else(nothing)?;
        let probe = ready.machine.probe(asked.text("probe")).map_err(|_| nothing())?;
        let air = bench.job.air().filter(|air| *air != "skip").map(str::to_owned);
        let changes = Changes { air, ..Changes::default() };
        let shown = schematic::shown(&Stand::new(ready.machine.clone()), Some(&probe.state), &changes)?;
        let overlay = Overlay {
            solution: Some(&shown.potentials),
            red: ready.machine.node(&probe.red).ok(),
            black: ready.machine.node(&probe.black).ok(),
            caption: &format!("{}; as a healthy machine", shown.caption),
            standalone: true,
            ..Overlay::default()
        };
        Ok::<_, Trouble>(schematic::for_page(&ready, asked.text("width") == "narrow", &overlay))
    })
    .await??;
    Ok(([(CONTENT_TYPE, "image/svg+xml")], picture).into_response())
}

async fn answer(State(workshop): State<Shared>, Path(id): Path<String>, fields: Fields) -> Result<Response, Trouble> {
    let (question, key) = (fields.text("question").to_owned(), fields.key());
    let typed = if fields.text("word").is_empty() { fields.text("typed") } else { fields.text("word") }.to_owned();
    blocking(move || {
        let bench = workshop.bench(&id)?;
        match workshop.answer(&bench, &question, &typed, &key) {
            Ok(_) => Ok(Redirect::to(&address(&id)).into_response()),
            Err(NotTaken::Refused(refusal)) => {
                let probe = bench.ready.as_ref().and_then(|ready| ready.machine.probe(&question).ok());
                let probe = probe.map(|probe| probe.name).unwrap_or_default();
                let failed = Some(Failed { question, typed, refusal });
                let page = page(&workshop, &View { bench, taken: 0, probe, failed })?;
                Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
            }
            Err(other) => Err(other.into()),
        }
    })
    .await?
}

async fn undo(State(workshop): State<Shared>, Path(id): Path<String>, fields: Fields) -> Result<Redirect, Trouble> {
    let key = fields.key();
    blocking(move || {
        if workshop.journal.job(&id)?.last_undoable().is_some() {
            workshop.journal.record(&id, &key, &Entry::Undo)?;
        }
        Ok(Redirect::to(&address(&id)))
    })
    .await?
}

async fn note(State(workshop): State<Shared>, Path(id): Path<String>, fields: Fields) -> Result<Redirect, Trouble> {
    let (text, key) = (fields.text("text").to_owned(), fields.key());
    blocking(move || {
        if !text.is_empty() {
            workshop.journal.record(&id, &key, &Entry::Note { text })?;
        }
        Ok(Redirect::to(&address(&id)))
    })
    .await?
}

async fn instruments(
    State(workshop): State<Shared>,
    Path(id): Path<String>,
    fields: Fields,
) -> Result<Redirect, Trouble> {
    let (asked, key) = (fields.all("instrument"), fields.key());
    blocking(move || {
        let known = diagnosis::request::INSTRUMENTS.iter().filter(|known| asked.iter().any(|name| name == *known));
        let value = known.map(|known| (*known).to_owned()).collect();
        workshop.journal.record(&id, &key, &Entry::Instruments { value })?;
        Ok(Redirect::to(&address(&id)))
    })
    .await?
}

async fn close(State(workshop): State<Shared>, Path(id): Path<String>, _: Fields) -> Result<Redirect, Trouble> {
    blocking(move || {
        let bench = workshop.bench(&id)?;
        if bench.job.closed().is_none() {
            let advice = match &bench.ready {
                Some(ready) => match workshop.desks.advise(ready, &bench.job, &bench.lessons)? {
                    Thought::Advice(advice) => Some(advice),
                    Thought::Later(_) => None,
                },
                None => None,
            };
            workshop.close(&bench.job, advice.as_deref())?;
        }
        Ok(Redirect::to(&address(&id)))
    })
    .await?
}

async fn reopen(State(workshop): State<Shared>, Path(id): Path<String>, _: Fields) -> Result<Redirect, Trouble> {
    blocking(move || {
        if workshop.journal.job(&id)?.closed().is_some() {
            workshop.journal.record(&id, &key(), &Entry::Reopened)?;
        }
        Ok(Redirect::to(&address(&id)))
    })
    .await?
}

fn address(id: &str) -> String {
    format!("/job/{}", encoded(id))
}
