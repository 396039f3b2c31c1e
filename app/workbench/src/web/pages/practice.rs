//! Practice: a planted fault to be found with a virtual meter. Here what is asked and done; what is shown of it is in
//! `practice_meter` and `practice_told`.
//! Promise: reading the page changes nothing and gives nothing away; an act that is refused comes back with what was
//! asked for and why.

use std::collections::BTreeMap;

use axum::Router;
use axum::extract::{Path, RawQuery, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use diagnosis::complaint::COMPLAINTS;
use maud::{Markup, html};

use super::practice_meter as meter;
use super::practice_told as told;
use crate::shop::practice::sessions::{NotDone, Session, lock};
use crate::shop::practice::{Act, Settings};
use crate::shop::refusal::Refusal;
use crate::web::form::{Fields, read, seal};
use crate::web::frame::{Frame, Where};
use crate::web::trouble::Trouble;
use crate::web::{Shared, blocking};

/// Its addresses.
pub fn routes() -> Router<Shared> {
    Router::new()
        .route("/practice", get(machines))
        .route("/machine/{name}/practice", post(begin))
        .route("/practice/{id}", get(show))
        .route("/practice/{id}/act", post(act))
        .route("/practice/{id}/check", post(check))
}

/// Sessions that can be gone on with from the page of machines.
const LATEST: usize = 6;
/// Seeds that are drawn are small enough to be typed again.
const SEEDS: u32 = 1_000_000;

/// What the page was asked for beside the session.
#[derive(Default)]
pub struct Asked {
    /// A point that a lead is to be put on.
    pub at: String,
    /// A probe that is looked at before it is taken.
    pub probe: String,
    /// A remedy that is looked at before it is done.
    pub remedy: String,
    /// What names of points, probes and remedies must contain.
    pub find: [String; 3],
    /// An act that was refused: what was asked for, and why not.
    pub refused: Option<(String, Refusal)>,
}

async fn machines(State(workshop): State<Shared>) -> Result<Markup, Trouble> {
    blocking(move || overview(&workshop, "", &Fields::default(), None)).await?
}

/// The machines to practice with; what was typed for one of them and why it was not taken.
fn overview(workshop: &Shared, at: &str, typed: &Fields, refused: Option<&Refusal>) -> Result<Markup, Trouble> {
    let mut ready = BTreeMap::new();
    for name in workshop.machines.names() {
        if let Some(found) = workshop.ready(&name)? {
            ready.insert(name, found);
        }
    }
    let latest = workshop.sessions.latest(LATEST);
    Ok(Frame::new("Practice", Where::Practice).page(&html! {
        h1 { "Practice" }
        p { "A machine that somebody has brought, with a fault that you do not know. Put the meter's leads where you like, work key and button, look, listen, mend. Everything takes the minutes that it takes at a real machine; at the end they stand beside those of the best plan." }
        @if ready.is_empty() { p { "No machine yet." } p { a.button href="/" { "Machines" } } }
        @if !latest.is_empty() {
            h2 { "Sessions so far" }
            ul.others {
                @for brief in &latest {
                    @let title = ready.get(&brief.name).map_or(brief.name.as_str(), |ready| ready.machine.sheet.title.as_str());
                    li { a.button href={ "/practice/" (brief.id) } { span { (title) } span { (brief.id) } } }
                }
            }
        }
        ul.cards {
            @for (name, ready) in &ready {
                @let here = name == at;
                @let text = |field: &str| if here { typed.text(field).to_owned() } else { String::new() };
                li.card {
                    h2 { (ready.machine.sheet.title) }
                    form method="post" action={ "/machine/" (name) "/practice" } data-once {
                        (seal(workshop))
                        @if let (true, Some(refusal)) = (here, refused) { (not_taken(refusal)) }
                        details open[here] {
                            summary { "Choose what is planted" }
                            label for={ "said-" (name) } { "The owner says" }
                            select id={ "said-" (name) } name="complaint" {
                                option value="" { "anything" }
                                @for known in COMPLAINTS.iter().filter(|known| known.computed) {
                                    option value=(known.name) selected[known.name == text("complaint")] { (known.title) }
                                }
                            }
                            label for={ "seed-" (name) } { "Seed: the same number plants the same" }
                            input id={ "seed-" (name) } name="seed" value=(text("seed")) inputmode="numeric" autocomplete="off";
                        }
                        div.row { button.main { "Begin" } }
                    }
                }
            }
        }
    }))
}

/// Why something was not taken.
pub fn not_taken(refusal: &Refusal) -> Markup {
    // What to type instead is said for the prompt of the terminal; what was meant is said for everybody.
    let meant = refusal.hint.as_deref().filter(|hint| hint.starts_with("did you mean"));
    html! {
        div.trouble role="alert" {
            p { (refusal.message) "." }
            @if !refusal.allowed.is_empty() { p { "Allowed: " (refusal.allowed) } }
            @if let Some(hint) = meant { p { (hint) } }
        }
    }
}

async fn begin(State(workshop): State<Shared>, Path(name): Path<String>, fields: Fields) -> Result<Response, Trouble> {
    blocking(move || {
        let begun = settings(&fields)
            .map_err(NotDone::Refused)
            .and_then(|settings| workshop.begin_practice(&name, settings, &fields.key()));
        match begun {
            Ok(id) => Ok(Redirect::to(&address(&id)).into_response()),
            Err(NotDone::Refused(refusal)) if workshop.machines.has(&name) => {
                let page = overview(&workshop, &name, &fields, Some(&refusal))?;
                Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
            }
            Err(other) => Err(other.into()),
        }
    })
    .await?
}

/// What a case is to be drawn from.
fn settings(fields: &Fields) -> Result<Settings, Refusal> {
    use crate::shop::refusal::{Place, Reason};
    let given = |name: &str| Some(fields.text(name).to_owned()).filter(|text| !text.is_empty());
    let seed = match given("seed") {
        Some(typed) => typed.parse().map_err(|_| {
            let message = "the seed is no whole number".to_owned();
            Refusal::new(Reason::Value, Place::Request, message, &typed, "a whole number, or nothing")
        })?,
        None => u64::from(drawn()),
    };
    Ok(Settings { seed, fault: None, complaint: given("complaint"), air: given("air") })
}

fn drawn() -> u32 {
    let mut bytes = [0; 4];
    // Without chance from the system it is the same case every time, which is better than none.
    let _ = getrandom::fill(&mut bytes);
    u32::from_le_bytes(bytes) % SEEDS
}

async fn show(
    State(workshop): State<Shared>,
    Path(id): Path<String>,
    RawQuery(query): RawQuery,
) -> Result<Markup, Trouble> {
    let query = read(query.unwrap_or_default().as_bytes());
    let text = |name: &str| query.text(name).to_owned();
    let find = ["point", "find", "mend"].map(|name| text(name).to_lowercase());
    let asked = Asked { at: text("at"), probe: text("probe"), remedy: text("remedy"), find, refused: None };
    blocking(move || {
        let session = workshop.practice(&id)?;
        let mut session = lock(&session);
        Ok(page(&workshop, &mut session, &asked))
    })
    .await?
}

async fn act(State(workshop): State<Shared>, Path(id): Path<String>, fields: Fields) -> Result<Response, Trouble> {
    let asked_for = [fields.text("act"), fields.text("of")].join(" ");
    blocking(move || {
        let session = workshop.practice(&id)?;
        let mut session = lock(&session);
        let Some((act, place)) = act_of(&fields) else {
            return Err(Trouble::new(StatusCode::UNPROCESSABLE_ENTITY, "this is nothing that can be done here"));
        };
        match workshop.act(&mut session, act, &fields.key()) {
            Ok(()) => Ok(Redirect::to(&format!("{}#{place}", address(&id))).into_response()),
            Err(NotDone::Refused(refusal)) => {
                let asked = Asked { refused: Some((asked_for, refusal)), ..Asked::default() };
                Ok((StatusCode::UNPROCESSABLE_ENTITY, page(&workshop, &mut session, &asked)).into_response())
            }
            Err(other) => Err(other.into()),
        }
    })
    .await?
}

/// What a form wants done, and the place of the page where its outcome is.
fn act_of(fields: &Fields) -> Option<(Act, &'static str)> {
    let of = || fields.text("of").to_owned();
    Some(match fields.text("act") {
        "red" => (Act::Red { node: of() }, "meter"),
        "black" => (Act::Black { node: of() }, "meter"),
        "around" => (Act::Around { part: of() }, "meter"),
        "mode" => (Act::Mode { mode: of() }, "meter"),
        "state" => (Act::State { state: of() }, "controls"),
        "operate" => (Act::Operate { control: fields.text("control").to_owned(), position: of() }, "controls"),
        "null" => (Act::Null, "meter"),
        "read" => (Act::Read, "meter"),
        "probe" => (Act::Probe { name: of() }, "meter"),
        "hint" => (Act::Hint, "told"),
        "odds" => (Act::Odds, "told"),
        "remedy" => (Act::Remedy { name: of() }, "told"),
        "name" => (Act::Name { fault: of() }, "told"),
        "give-up" => (Act::GiveUp, "told"),
        _ => return None,
    })
}

async fn check(State(workshop): State<Shared>, Path(id): Path<String>, fields: Fields) -> Result<Response, Trouble> {
    blocking(move || {
        let session = workshop.practice(&id)?;
        let mut session = lock(&session);
        match workshop.check_repair(&mut session, &fields.key()) {
            Ok(()) => Ok(Redirect::to(&address(&id)).into_response()),
            Err(NotDone::Refused(refusal)) => {
                let asked = Asked { refused: Some(("repair check".to_owned(), refusal)), ..Asked::default() };
                Ok((StatusCode::UNPROCESSABLE_ENTITY, page(&workshop, &mut session, &asked)).into_response())
            }
            Err(other) => Err(other.into()),
        }
    })
    .await?
}

fn page(workshop: &Shared, session: &mut Session, asked: &Asked) -> Markup {
    let title = format!("Practice: {}", session.practice.machine().sheet.title);
    let frame = Frame::new(&title, Where::Practice).with_script("practice.js");
    let (content, waits) = if session.practice.is_over() {
        told::over(workshop, session, asked)
    } else {
        let told = told::latest(workshop, session, asked);
        (meter::working(workshop, session, asked, &told.0), told.1)
    };
    let address = address(&session.id);
    let frame = if waits { frame.again(&address) } else { frame };
    frame.page(&html! {
        p.heard #heard role="status" {}
        div.practice.works[!session.practice.is_over()] #practice data-again[waits] { (content) }
    })
}

fn address(id: &str) -> String {
    format!("/practice/{id}")
}

impl From<NotDone> for Trouble {
    fn from(error: NotDone) -> Self {
        let status = match error {
            NotDone::Unknown => StatusCode::NOT_FOUND,
            NotDone::NoMachine(_) | NotDone::Changed(_) => StatusCode::CONFLICT,
            NotDone::Machine(error) => return error.into(),
            NotDone::Refused(refusal) => return refusal.into(),
            NotDone::Disk { .. } => StatusCode::SERVICE_UNAVAILABLE,
        };
        let trouble = Self::new(status, error.to_string());
        if status == StatusCode::CONFLICT { trouble.hint("mend its sheet, or begin another session") } else { trouble }
    }
}
