//! A machine's guide, as a document of its own: worked out in the background when it is first asked for, beside the jobs
//! and not in their way. Promise: nobody waits long for it, a page says that it is on its way; the last few are kept as
//! long as their sheets stay as they are.

use std::sync::{Arc, Condvar, Mutex, MutexGuard, OnceLock, PoisonError};
use std::time::Duration;

use axum::Router;
use axum::extract::{Path, State};
use axum::http::header::CONTENT_SECURITY_POLICY;
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use maud::{Markup, PreEscaped, html};

use crate::report::{guide, page};
use crate::shop::guide::{Asked, guide as worked_out};
use crate::shop::machines::Ready;
use crate::web::frame::{Frame, Where};
use crate::web::trouble::Trouble;
use crate::web::{Shared, blocking};

/// How long one is kept waiting.
const PATIENCE: Duration = Duration::from_secs(8);
/// Guides that are kept.
const MOST: usize = 4;

/// A guide, or what there is of it yet.
#[derive(Default)]
struct Kept {
    fingerprint: String,
    /// The page, or why there is none.
    page: OnceLock<Result<String, String>>,
    /// Rung when it is there.
    bell: (Mutex<()>, Condvar),
}

/// The one asked for last at the front.
static KEPT: Mutex<Vec<Arc<Kept>>> = Mutex::new(Vec::new());

/// Its addresses.
pub fn routes() -> Router<Shared> {
    Router::new().route("/machine/{name}/guide", get(show))
}

async fn show(State(workshop): State<Shared>, Path(name): Path<String>) -> Result<Response, Trouble> {
    blocking(move || {
        let Some(ready) = workshop.ready(&name)? else { return Ok(spoiled(&name).into_response()) };
        let kept = kept(&ready);
        let waiting = lock(&kept.bell.0);
        drop(kept.bell.1.wait_timeout_while(waiting, PATIENCE, |()| kept.page.get().is_none()));
        Ok(match kept.page.get() {
            // The document carries its own look, so that it can be kept as it is.
            Some(Ok(text)) => ([(CONTENT_SECURITY_POLICY, page::POLICY)], PreEscaped(text.clone())).into_response(),
            Some(Err(reason)) => none(&name, reason).into_response(),
            None => on_its_way(&ready).into_response(),
        })
    })
    .await?
}

/// The guide of a machine's sheet; begun when nobody has asked for it before.
fn kept(ready: &Arc<Ready>) -> Arc<Kept> {
    let mut all = lock(&KEPT);
    if let Some(index) = all.iter().position(|kept| kept.fingerprint == ready.fingerprint) {
        let kept = all.remove(index);
        all.insert(0, kept.clone());
        return kept;
    }
    let kept = Arc::new(Kept { fingerprint: ready.fingerprint.clone(), ..Kept::default() });
    all.insert(0, kept.clone());
    all.truncate(MOST);
    let (writing, ready) = (kept.clone(), ready.clone());
    std::thread::spawn(move || {
        let told = worked_out(ready.machine.clone(), &ready.text, &Asked::default());
        let page = told.map(|told| guide::page(&told).into_string()).map_err(|refusal| refusal.message);
        // Nobody else writes it.
        let _ = writing.page.set(page);
        drop(lock(&writing.bell.0));
        writing.bell.1.notify_all();
    });
    kept
}

fn on_its_way(ready: &Ready) -> Markup {
    Frame::new("Guide", Where::Machines).again("").page(&html! {
        h1 { (ready.machine.sheet.title) }
        p { "Its guide is being worked out." }
    })
}

fn none(name: &str, reason: &str) -> Markup {
    Frame::new(name, Where::Machines).page(&html! {
        h1 { (name) }
        p.trouble role="alert" { "No guide can be worked out: " (reason) "." }
        p { a.button.main href={ "/machine/" (name) "/sheet" } { "Look at its sheet" } }
    })
}

fn spoiled(name: &str) -> Markup {
    none(name, "this machine's sheet has problems")
}

/// A thread that fell over has left nothing half done here.
fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
