//! A machine from a pattern and a few questions; what nobody answers stays guessed.

use axum::Router;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::get;
use maud::{Markup, html};

use crate::shop::patterns::{Draft, PATTERNS, Pattern};
use crate::shop::written::Unwritten;
use crate::web::form::{Fields, encoded, seal};
use crate::web::frame::{Frame, Where};
use crate::web::trouble::Trouble;
use crate::web::{Shared, blocking};

/// Its addresses.
pub fn routes() -> Router<Shared> {
    Router::new().route("/new", get(patterns)).route("/new/{pattern}", get(ask).post(make))
}

async fn patterns() -> Result<Markup, Trouble> {
    let mut titles = Vec::new();
    for pattern in PATTERNS {
        titles.push((pattern.name, draft(*pattern)?.title().to_owned()));
    }
    Ok(Frame::new("Add a machine", Where::Machines).page(&html! {
        h1 { "Which of these is the machine most like?" }
        ul.others { @for (name, title) in &titles { li { a.button href={ "/new/" (name) } { (title) } } } }
    }))
}

fn draft(pattern: Pattern) -> Result<Draft, Trouble> {
    Draft::of(pattern).map_err(|_: Unwritten| Trouble::own())
}

fn pattern(name: &str) -> Result<Pattern, Trouble> {
    let found = PATTERNS.iter().find(|pattern| pattern.name == name).copied();
    found.ok_or_else(|| Trouble::new(StatusCode::NOT_FOUND, "there is no such pattern"))
}

async fn ask(State(workshop): State<Shared>, Path(name): Path<String>) -> Result<Markup, Trouble> {
    Ok(page(&workshop, &name, &draft(pattern(&name)?)?, &Fields::default(), &[]))
}

/// A question and why its answer was not taken.
type Refused = (String, String);

fn page(workshop: &Shared, name: &str, draft: &Draft, fields: &Fields, refused: &[Refused]) -> Markup {
    let why = |field: &str| refused.iter().find(|(of, _)| of == field).map(|(_, why)| why.as_str());
    Frame::new("Add a machine", Where::Machines).page(&html! {
        h1 { (draft.title()) }
        p { "Leave open what you do not know: it is guessed, marked so in the sheet, and narrowed by what you measure." }
        @if !refused.is_empty() { p.trouble role="alert" tabindex="-1" { "Something below could not be taken." } }
        form method="post" action={ "/new/" (name) } data-once {
            (seal(workshop))
            (field("name", "Its short name", "letters, digits, - and _, as in dotterel", fields.text("name"), why("name")))
            (field("title", "Its title", "as in Dotterel: the gardener's quad", fields.text("title"), why("title")))
            @for (index, question) in draft.questions().iter().enumerate() {
                @let otherwise = draft.unanswered(index).map(|text| format!(" Open: {text}.")).unwrap_or_default();
                @let hint = format!("{} {}.{otherwise}", question.hint, draft.allowed(index));
                (field(&question.name.name, &question.asks, hint.trim(), fields.text(&question.name.name), why(&question.name.name)))
            }
            div.row { button.main { "Make its sheet" } }
        }
    })
}

fn field(name: &str, label: &str, hint: &str, value: &str, why: Option<&str>) -> Markup {
    html! {
        label for={ "f-" (name) } { (label) }
        @if let Some(why) = why { p.trouble id={ "why-" (name) } { (why) } }
        input id={ "f-" (name) } name=(name) value=(value) autocomplete="off" autocapitalize="off" spellcheck="false"
            aria-describedby={ "hint-" (name) } aria-invalid=[why.map(|_| "true")];
        p.hint id={ "hint-" (name) } { (hint) }
    }
}

async fn make(
    State(workshop): State<Shared>,
    Path(pattern_name): Path<String>,
    fields: Fields,
) -> Result<Response, Trouble> {
    blocking(move || {
        let mut draft = draft(pattern(&pattern_name)?)?;
        let mut refused: Vec<Refused> = Vec::new();
        let name = fields.text("name").to_owned();
        if !machine::sheet::is_name(&name) {
            refused.push(("name".into(), "letters, digits, - and _ are wanted here".into()));
        } else if workshop.machines.has(&name) {
            refused.push(("name".into(), format!("a machine called {name} is there already")));
        }
        let questions: Vec<String> = draft.questions().iter().map(|question| question.name.name.clone()).collect();
        for question in questions {
            let answer = fields.text(&question);
            if !answer.is_empty()
                && let Err(refusal) = draft.answer(&question, answer)
            {
                refused.push((question, format!("{}; allowed: {}", refusal.message, refusal.allowed)));
            }
        }
        if refused.is_empty() {
            let title = if fields.text("title").is_empty() {
                format!("{name}: {}", draft.title())
            } else {
                fields.text("title").to_owned()
            };
            let (text, _) = draft.written(&name, &title).map_err(|_| Trouble::own())?;
            workshop.machines.keep(&name, &text)?;
            return Ok(Redirect::to(&format!("/machine/{}", encoded(&name))).into_response());
        }
        let page = page(&workshop, &pattern_name, &draft, &fields, &refused);
        Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
    })
    .await?
}
