//! Pages that say what could not be done: what was wrong and what to do next, with the fitting status.
//! Promise: what went wrong inside is not shown to the browser.

use std::any::Any;

use axum::extract::Request;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use journal::JournalError;
use maud::html;

use super::frame::{Frame, Where};
use crate::shop::machines::NoMachine;
use crate::shop::refusal::Refusal;
use crate::shop::workshop::NotTaken;

/// What could not be done.
#[derive(Debug)]
pub struct Trouble {
    status: StatusCode,
    message: String,
    hints: Vec<String>,
}

impl Trouble {
    /// A trouble without a hint.
    pub fn new(status: StatusCode, message: impl Into<String>) -> Self {
        Self { status, message: message.into(), hints: Vec::new() }
    }

    /// The same with one more hint.
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hints.push(hint.into());
        self
    }

    /// The program's own fault.
    pub fn own() -> Self {
        let text = "the workbench broke off here; the fault is its own, not yours";
        Self::new(StatusCode::INTERNAL_SERVER_ERROR, text)
            .hint("everything that was acknowledged is kept; go back and try again")
    }
}

impl IntoResponse for Trouble {
    fn into_response(self) -> Response {
        let page = Frame::new("Not done", Where::Elsewhere).page(&html! {
            h1 { "Not done" }
            p.trouble role="alert" { (self.message) "." }
            @for hint in &self.hints { p { (hint) "." } }
            p { a.button href="/" { "To the machines" } }
        });
        (self.status, page).into_response()
    }
}

/// No page is there.
pub async fn nowhere(request: Request) -> Trouble {
    let path: String = request.uri().path().chars().take(80).collect();
    Trouble::new(StatusCode::NOT_FOUND, format!("there is no page at {path}"))
}

/// A page is there, but not for this.
pub async fn wrong_method() -> Trouble {
    Trouble::new(StatusCode::METHOD_NOT_ALLOWED, "this address is for forms of the workbench, or only for reading")
}

/// A handler fell over.
pub fn fell_over(_: Box<dyn Any + Send + 'static>) -> Response {
    Trouble::own().into_response()
}

impl From<JournalError> for Trouble {
    fn from(error: JournalError) -> Self {
        let status = match &error {
            JournalError::NoJob { .. } => StatusCode::NOT_FOUND,
            JournalError::Taken { .. } | JournalError::BadName { .. } | JournalError::BadLine { .. } => {
                StatusCode::UNPROCESSABLE_ENTITY
            }
            JournalError::Full { .. } => StatusCode::INSUFFICIENT_STORAGE,
            _ => StatusCode::SERVICE_UNAVAILABLE,
        };
        let hint = error.hint();
        let trouble = Self::new(status, error.to_string());
        match hint {
            Some(hint) => trouble.hint(hint),
            None => trouble,
        }
    }
}

impl From<NoMachine> for Trouble {
    fn from(error: NoMachine) -> Self {
        let status = match &error {
            NoMachine::Unknown(_) | NoMachine::Name(_) => StatusCode::NOT_FOUND,
            NoMachine::TooLong(_) => StatusCode::PAYLOAD_TOO_LARGE,
            NoMachine::Disk { .. } => StatusCode::SERVICE_UNAVAILABLE,
        };
        Self::new(status, error.to_string())
    }
}

impl From<Refusal> for Trouble {
    fn from(refusal: Refusal) -> Self {
        let trouble = Self::new(StatusCode::UNPROCESSABLE_ENTITY, refusal.message.clone());
        let trouble = trouble.hint(format!("allowed: {}", refusal.allowed));
        match refusal.hint {
            Some(hint) => trouble.hint(hint),
            None => trouble,
        }
    }
}

impl From<NotTaken> for Trouble {
    fn from(error: NotTaken) -> Self {
        match error {
            NotTaken::Refused(refusal) => refusal.into(),
            NotTaken::Journal(error) => error.into(),
            NotTaken::NoMachine(_) => Self::new(StatusCode::CONFLICT, error.to_string()).hint("mend its sheet first"),
        }
    }
}
