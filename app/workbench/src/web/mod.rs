//! The workbench in the browser: pages over the shop's verbs, one file a page, one line a page in [`pages::routes`].
//! Way of a click: guard (who asks, from where) → page's handler → verb of the shop → 303 to a page that is read.
//! Promise: works without script; nothing is asked of any other machine; what a person typed is never thrown away; a
//! page's fault is a page that says so, never a program that ends.
//! Not here: what is computed or kept (see `shop`).

mod asset;
mod form;
mod frame;
mod guard;
mod pages;
pub mod pairing;
pub mod tls;
mod trouble;

use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use axum::extract::DefaultBodyLimit;
use axum::http::StatusCode;
use axum::middleware;
use axum::{Extension, Router};
use tokio::net::TcpListener;
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::timeout::TimeoutLayer;

use crate::shop::workshop::Workshop;
use pairing::Pairing;
use tls::Certificate;

/// The workshop that all pages share.
pub type Shared = Arc<Workshop>;

/// Bytes of a form at most; pages that take more say so.
const FORM_BYTES: usize = 64 * 1024;
/// A page that takes longer is given up.
const LONGEST: Duration = Duration::from_secs(30);

/// How a workbench is served.
pub struct Served {
    /// Where it is asked for.
    pub address: SocketAddr,
    /// Browsers on other machines have to be paired; nothing where there are none.
    pub pairing: Option<Pairing>,
    /// A name of this machine beside its numbers.
    pub name: Option<String>,
    /// What makes it HTTPS.
    pub certificate: Option<Certificate>,
}

/// All pages over a workshop.
fn router(workshop: Shared, served: &Served) -> Router {
    let timeout = TimeoutLayer::with_status_code(StatusCode::SERVICE_UNAVAILABLE, LONGEST);
    pages::routes()
        .merge(asset::routes())
        .fallback(trouble::nowhere)
        .method_not_allowed_fallback(trouble::wrong_method)
        .layer(DefaultBodyLimit::max(FORM_BYTES))
        .layer(middleware::from_fn(pairing::check))
        .layer(middleware::from_fn_with_state(guard::Names(served.name.clone()), guard::check))
        .layer(Extension(served.pairing.clone()))
        .layer(CatchPanicLayer::custom(trouble::fell_over))
        .layer(timeout)
        .layer(middleware::from_fn(guard::headers))
        .with_state(workshop)
}

/// Serves a workshop until the person ends it; `ready` is told the address.
///
/// # Errors
/// When the address cannot be had, or the system refuses to go on.
pub fn serve(workshop: Shared, served: Served, ready: impl FnOnce(SocketAddr)) -> std::io::Result<()> {
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build()?;
    runtime.block_on(async {
        let listener = TcpListener::bind(served.address).await?;
        let address = listener.local_addr()?;
        let service = router(workshop, &served).into_make_service_with_connect_info::<SocketAddr>();
        match served.certificate {
            None => {
                ready(address);
                axum::serve(listener, service).with_graceful_shutdown(ended()).await
            }
            Some(certificate) => certificate.serve(listener, service, || ready(address)).await,
        }
    })
}

/// Resolves when the person or the system wants the program to end.
async fn ended() {
    // Where one of the two cannot be had, the other is waited for.
    let interrupted = async {
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending().await
        }
    };
    #[cfg(unix)]
    let terminated = async {
        match tokio::signal::unix::signal(tokio::signal::unix::SignalKind::terminate()) {
            Ok(mut signal) => {
                signal.recv().await;
            }
            Err(_) => std::future::pending().await,
        }
    };
    #[cfg(not(unix))]
    let terminated = std::future::pending::<()>();
    tokio::select! { () = interrupted => {} () = terminated => {} }
}

/// Runs what waits for disk or computes, off the threads that answer.
async fn blocking<T: Send + 'static>(work: impl FnOnce() -> T + Send + 'static) -> Result<T, trouble::Trouble> {
    tokio::task::spawn_blocking(work).await.map_err(|_| trouble::Trouble::own())
}
