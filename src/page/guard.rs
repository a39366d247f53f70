//! Who may ask: `Host`, `Origin` and the key are looked at before a route is chosen, and every answer says what it may load.
//!
//! A page of another origin reaches this machine by its address or by a name that is turned to it; the first sends a foreign
//! `Origin`, the second a foreign `Host`. A form or a script of this page sends its own origin, or says `Sec-Fetch-Site`.

use axum::extract::{Request, State};
use axum::http::header::{
    CACHE_CONTROL, CONTENT_SECURITY_POLICY, HOST, ORIGIN, REFERRER_POLICY, X_CONTENT_TYPE_OPTIONS,
};
use axum::http::{HeaderName, HeaderValue, Method, StatusCode};
use axum::middleware::Next;
use axum::response::Response;

use super::answer::refused;
use super::doors::Doors;
use super::state::Shared;

/// What a page may load and do: its own files and nothing else, no script or style within it, in no frame.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; \
                      worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// Lets `request` through to `next` where it may ask, and has every answer say what it may load.
pub(super) async fn watch(State(shared): State<Shared>, request: Request, next: Next) -> Response {
    let doors = &shared.doors;
    let mut answer = match refusal(doors, &request) {
        Some(why) => refused(StatusCode::FORBIDDEN, why),
        None => match doors.let_in(&request) {
            Some(redirect) => redirect,
            None if doors.has_key(request.headers()) => next.run(request).await,
            None => refused(
                StatusCode::FORBIDDEN,
                "This page opens with the key in the address that stands in the terminal, or with the picture below it.",
            ),
        },
    };
    let headers = answer.headers_mut();
    let mut say = |name: HeaderName, value: &'static str| {
        headers
            .entry(name)
            .or_insert(HeaderValue::from_static(value));
    };
    say(CONTENT_SECURITY_POLICY, POLICY);
    say(X_CONTENT_TYPE_OPTIONS, "nosniff");
    // With none at all a browser would hide the origin of this page's own forms.
    say(REFERRER_POLICY, "same-origin");
    say(CACHE_CONTROL, "no-store");
    say(
        HeaderName::from_static("cross-origin-opener-policy"),
        "same-origin",
    );
    say(
        HeaderName::from_static("cross-origin-resource-policy"),
        "same-origin",
    );
    answer
}

/// Why `request` is none of this page; `None` where it may be.
fn refusal(doors: &Doors, request: &Request) -> Option<&'static str> {
    let headers = request.headers();
    let mut hosts = headers.get_all(HOST).iter();
    let host = match (hosts.next().map(HeaderValue::to_str), hosts.next()) {
        (Some(Ok(host)), None) if doors.knows(host) => host,
        _ => {
            return Some(
                "This page answers under its own address alone; this was asked for under another name.",
            );
        }
    };
    let is_elsewhere = |uri: &str| !uri.eq_ignore_ascii_case(host);
    if (request.uri().authority()).is_some_and(|authority| is_elsewhere(authority.as_str())) {
        return Some("The address asked for and the Host header are two.");
    }
    let own = format!("http://{host}");
    let origins: Vec<&HeaderValue> = headers.get_all(ORIGIN).iter().collect();
    let is_own = |origin: &&HeaderValue| origin.as_bytes().eq_ignore_ascii_case(own.as_bytes());
    if !origins.iter().all(is_own) {
        return Some("This was asked for by a page of another origin.");
    }
    let site = headers.get("sec-fetch-site").map(HeaderValue::as_bytes);
    let only_reads = matches!(*request.method(), Method::GET | Method::HEAD);
    if only_reads {
        let is_visit =
            headers.get("sec-fetch-mode").map(HeaderValue::as_bytes) == Some(b"navigate");
        let is_foreign = matches!(site, Some(b"cross-site" | b"same-site"));
        return (is_foreign && !is_visit)
            .then_some("This was asked for by a page of another origin.");
    }
    match site {
        Some(b"same-origin") => None,
        None if !origins.is_empty() => None,
        _ => Some("What changes something is asked for by this page's own forms alone."),
    }
}
