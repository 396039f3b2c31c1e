//! Who may ask: requests to this machine by its own name, forms from its own pages.
//! A foreign `Host` is refused (another name could be pointed at this machine), and so is a form that another site's page
//! sends (`Origin`, `Sec-Fetch-Site`); each form also carries the workshop's secret, see [`super::form`].
//! Sources: Fetch standard (`Origin`, fetch metadata); Content Security Policy level 3.

use std::net::IpAddr;

use axum::extract::{Request, State};
use axum::http::header::{
    CACHE_CONTROL, CONTENT_SECURITY_POLICY, HOST, HeaderName, ORIGIN, REFERRER_POLICY, X_CONTENT_TYPE_OPTIONS,
};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use super::trouble::Trouble;

/// What a page may load and where its forms may go: this machine and nothing else, no script or style within the page.
const POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; \
                      connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// A name of this machine beside its numbers and `localhost`.
#[derive(Clone)]
pub struct Names(pub Option<String>);

/// Lets pass what may be asked.
pub async fn check(State(names): State<Names>, request: Request, next: Next) -> Response {
    let headers = request.headers();
    if !own_host(headers, names.0.as_deref()) {
        let trouble = Trouble::new(StatusCode::MISDIRECTED_REQUEST, "this workbench is not called by that name");
        return trouble
            .hint("open it by its number, as in http://127.0.0.1:8300/, or give its name with --name")
            .into_response();
    }
    if request.method() != Method::GET && request.method() != Method::HEAD && !own_origin(headers) {
        return Trouble::new(StatusCode::FORBIDDEN, "this form comes from another site; nothing was done")
            .into_response();
    }
    next.run(request).await
}

/// Tells browsers what a page may do.
pub async fn headers(request: Request, next: Next) -> Response {
    let mut response = next.run(request).await;
    let headers = response.headers_mut();
    let mut say = |name: HeaderName, value: &'static str| {
        headers.entry(name).or_insert(HeaderValue::from_static(value));
    };
    say(CONTENT_SECURITY_POLICY, POLICY);
    say(X_CONTENT_TYPE_OPTIONS, "nosniff");
    say(REFERRER_POLICY, "same-origin");
    say(CACHE_CONTROL, "no-store");
    say(HeaderName::from_static("cross-origin-opener-policy"), "same-origin");
    say(HeaderName::from_static("cross-origin-resource-policy"), "same-origin");
    say(HeaderName::from_static("permissions-policy"), "camera=(), geolocation=(), microphone=()");
    response
}

/// Whether the request names this machine by a number, as `localhost` or by its own name: another name could be
/// anybody's.
fn own_host(headers: &HeaderMap, own: Option<&str>) -> bool {
    headers.get(HOST).and_then(|host| host.to_str().ok()).is_some_and(|host| is_own(host, own))
}

fn is_own(host: &str, own: Option<&str>) -> bool {
    let (name, port) = match host.strip_prefix('[').and_then(|rest| rest.split_once(']')) {
        Some((name, port)) => (name, port),
        None => host.split_at(host.find(':').unwrap_or(host.len())),
    };
    let numbered = port.strip_prefix(':').is_none_or(|port| port.parse::<u16>().is_ok());
    let known =
        name == "localhost" || name.parse::<IpAddr>().is_ok() || own.is_some_and(|own| own.eq_ignore_ascii_case(name));
    (port.is_empty() || port.starts_with(':')) && numbered && known
}

/// Whether a form was sent by a page of this workbench, as far as the browser says.
fn own_origin(headers: &HeaderMap) -> bool {
    let text = |name: HeaderName| headers.get(name).map(|value| value.to_str().unwrap_or("?"));
    let host = text(HOST).unwrap_or_default();
    let origin = text(ORIGIN).is_none_or(|origin| {
        origin.split_once("://").is_some_and(|(scheme, of)| of == host && matches!(scheme, "http" | "https"))
    });
    let site =
        text(HeaderName::from_static("sec-fetch-site")).is_none_or(|site| matches!(site, "same-origin" | "none"));
    origin && site
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn law_only_numbers_and_localhost_are_this_machine() {
        for own in ["localhost", "localhost:8300", "127.0.0.1:8300", "[::1]:8300", "192.168.1.7:80", "[fe80::1]"] {
            assert!(is_own(own, None), "{own}");
        }
        assert!(is_own("bench.school.example:8300", Some("bench.school.example")));
        assert!(!is_own("bench.school.example.evil.example", Some("bench.school.example")));
        for foreign in [
            "",
            "evil.example",
            "localhost.evil.example",
            "127.0.0.1.evil.example:80",
            "127.0.0.1:x",
            "[::1",
            "a@127.0.0.1",
        ] {
            assert!(!is_own(foreign, None), "{foreign}");
        }
    }

    #[test]
    fn law_a_form_of_another_site_is_told_from_our_own() {
        let headers = |pairs: &[(&'static str, &'static str)]| {
            let mut headers = HeaderMap::new();
            for (name, value) in pairs {
                headers.insert(*name, HeaderValue::from_static(value));
            }
            headers
        };
        let host = ("host", "127.0.0.1:8300");
        assert!(own_origin(&headers(&[host])));
        assert!(own_origin(&headers(&[host, ("origin", "http://127.0.0.1:8300"), ("sec-fetch-site", "same-origin")])));
        assert!(!own_origin(&headers(&[host, ("origin", "http://evil.example")])));
        assert!(!own_origin(&headers(&[host, ("origin", "null")])));
        assert!(!own_origin(&headers(&[host, ("origin", "http://127.0.0.1:9999")])));
        assert!(!own_origin(&headers(&[host, ("sec-fetch-site", "cross-site")])));
    }
}
