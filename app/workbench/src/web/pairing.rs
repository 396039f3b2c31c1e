//! Who may use a workbench that answers beyond its own machine: browsers that were shown its code once.
//! A code is good for one browser; the next one has another. Its cookie is a keyed digest of the workshop's secret and a
//! number of its own, so that it outlives the program and nobody can make one.
//! Promise: wrong codes are counted for all who ask, and after a few nobody can try for a while.
//! Limit: over plain HTTP who listens on the network can read the cookie; see the page's own line.

use std::net::SocketAddr;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use axum::Extension;
use axum::extract::{ConnectInfo, Request};
use axum::http::header::{COOKIE, LOCATION, SET_COOKIE};
use axum::http::{HeaderName, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use sha2::{Digest, Sha256};

/// Wrong codes that are allowed before nobody can try for a while.
const TRIES: u32 = 10;
/// How long that is.
const WHILE: Duration = Duration::from_secs(300);
/// The cookie's name.
const NAME: &str = "bench";
/// How long a browser stays paired, seconds.
const DAYS_60: u32 = 60 * 24 * 3600;

/// What is needed to let a browser in.
#[derive(Clone)]
pub struct Pairing(Arc<Inner>);

struct Inner {
    secret: String,
    /// Whether the cookie must never go over plain HTTP.
    encrypted: bool,
    code: Mutex<String>,
    wrong: Mutex<(u32, Instant)>,
    /// Told each new code.
    announce: Box<dyn Fn(&str) + Send + Sync>,
}

/// What became of a code.
#[derive(Debug, PartialEq, Eq)]
pub enum Tried {
    /// It is the one: the cookie that lets the browser in.
    Paired(String),
    /// It is another one.
    Wrong,
    /// Too many were wrong.
    TooMany,
}

impl Pairing {
    /// Pairing by a workshop's secret; each code is announced.
    pub fn new(secret: &str, encrypted: bool, announce: impl Fn(&str) + Send + Sync + 'static) -> Self {
        let code = new_code();
        announce(&code);
        Self(Arc::new(Inner {
            secret: secret.to_owned(),
            encrypted,
            code: Mutex::new(code),
            wrong: Mutex::new((0, Instant::now())),
            announce: Box::new(announce),
        }))
    }

    /// Tries a code.
    pub fn try_code(&self, typed: &str) -> Tried {
        let mut wrong = self.0.wrong.lock().unwrap_or_else(PoisonError::into_inner);
        if wrong.1.elapsed() > WHILE {
            *wrong = (0, Instant::now());
        }
        if wrong.0 >= TRIES {
            return Tried::TooMany;
        }
        let digits: String = typed.chars().filter(char::is_ascii_digit).collect();
        let mut code = self.0.code.lock().unwrap_or_else(PoisonError::into_inner);
        if !same(&digits, &code) {
            *wrong = (wrong.0 + 1, if wrong.0 == 0 { Instant::now() } else { wrong.1 });
            return Tried::Wrong;
        }
        *code = new_code();
        (self.0.announce)(&code);
        Tried::Paired(self.cookie(&journal::key()))
    }

    /// The header that gives a browser its cookie.
    pub fn set_cookie(&self, cookie: &str) -> (HeaderName, String) {
        let secure = if self.0.encrypted { "; Secure" } else { "" };
        (SET_COOKIE, format!("{NAME}={cookie}; HttpOnly; SameSite=Strict; Path=/; Max-Age={DAYS_60}{secure}"))
    }

    /// Whether what goes over the network is encrypted.
    pub fn is_encrypted(&self) -> bool {
        self.0.encrypted
    }

    fn cookie(&self, number: &str) -> String {
        format!("{number}.{}", self.digest(number))
    }

    fn digest(&self, number: &str) -> String {
        // The secret stands on both sides, so that a digest cannot be lengthened.
        let digest = Sha256::new().chain_update(&self.0.secret).chain_update("pair").chain_update(number);
        digest.chain_update(&self.0.secret).finalize().iter().map(|byte| format!("{byte:02x}")).collect()
    }

    fn knows(&self, cookies: &str) -> bool {
        let own = cookies.split(';').filter_map(|cookie| cookie.trim().strip_prefix(NAME)?.strip_prefix('='));
        own.filter_map(|value| value.split_once('.')).any(|(number, digest)| same(digest, &self.digest(number)))
    }
}

/// Lets pass who sits at the machine itself, who is paired, and who wants to be.
pub async fn check(
    pairing: Extension<Option<Pairing>>,
    ConnectInfo(peer): ConnectInfo<SocketAddr>,
    request: Request,
    next: Next,
) -> Response {
    let open = |path: &str| path == "/pair" || path.starts_with("/look/");
    let Some(pairing) = &pairing.0 else { return next.run(request).await };
    let cookies = request.headers().get_all(COOKIE).iter().filter_map(|cookie| cookie.to_str().ok());
    if peer.ip().is_loopback() || open(request.uri().path()) || cookies.into_iter().any(|all| pairing.knows(all)) {
        return next.run(request).await;
    }
    (StatusCode::SEE_OTHER, [(LOCATION, "/pair")]).into_response()
}

/// Eight digits by chance.
fn new_code() -> String {
    let mut bytes = [0; 8];
    // Without chance there is no code that anybody could type.
    let drawn = getrandom::fill(&mut bytes).is_ok();
    if drawn { format!("{:08}", u64::from_le_bytes(bytes) % 100_000_000) } else { "none today".to_owned() }
}

/// Every letter is looked at, whatever the first difference: time tells nothing.
fn same(found: &str, expected: &str) -> bool {
    let differences = found.bytes().zip(expected.bytes()).filter(|(left, right)| left != right).count();
    found.len() == expected.len() && differences == 0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairing() -> (Pairing, Arc<Mutex<Vec<String>>>) {
        let told = Arc::new(Mutex::new(Vec::new()));
        let also = told.clone();
        (Pairing::new("secret", false, move |code| also.lock().unwrap().push(code.to_owned())), told)
    }

    #[test]
    fn law_a_code_is_good_once_and_its_cookie_is_known_ever_after() {
        let (pairing, told) = pairing();
        let code = told.lock().unwrap()[0].clone();
        let Tried::Paired(cookie) = pairing.try_code(&format!("{} {}", &code[..4], &code[4..])) else {
            panic!("the code is not taken")
        };
        assert_eq!(pairing.try_code(&code), Tried::Wrong);
        assert!(pairing.knows(&format!("other=1; bench={cookie}")));
        assert!(!pairing.knows("bench=") && !pairing.knows("bench=1.2") && !pairing.knows(&format!("bench={cookie}0")));
        let again = Pairing::new("secret", false, |_| {});
        assert!(again.knows(&format!("bench={cookie}")), "a program that is started anew knows it");
        assert!(!Pairing::new("another", false, |_| {}).knows(&format!("bench={cookie}")));
    }

    #[test]
    fn law_a_thousand_wrong_codes_get_nobody_in_and_stop_being_looked_at() {
        let (pairing, told) = pairing();
        let code = told.lock().unwrap()[0].clone();
        let wrong = (0..1000).map(|number| format!("{number:08}")).filter(|wrong| *wrong != code);
        let tried: Vec<Tried> = wrong.map(|wrong| pairing.try_code(&wrong)).collect();
        assert_eq!(tried.iter().filter(|tried| **tried == Tried::Wrong).count(), TRIES as usize);
        assert_eq!(pairing.try_code(&code), Tried::TooMany, "nor the right one, for a while");
    }
}
