//! Who may ask: `Host`, `Origin` and the key are looked at before a route is chosen, and every answer says what it may load.
//!
//! A page of another origin reaches this machine by its address or by a name that is turned to it; the first sends a foreign
//! `Origin`, the second a foreign `Host`. A form or a script of this page sends its own origin, or says `Sec-Fetch-Site`.

use std::net::{IpAddr, SocketAddr};

use axum::extract::{Request, State};
use axum::http::header::{
    CACHE_CONTROL, CONTENT_SECURITY_POLICY, COOKIE, HOST, LOCATION, ORIGIN, REFERRER_POLICY,
    SET_COOKIE, X_CONTENT_TYPE_OPTIONS,
};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse as _, Response};

use super::answer::refused;
use super::key::Key;
use super::state::Shared;

/// What a page may load and do: its own files and nothing else, no script or style within it, in no frame.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; \
                      manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// Under what names the page may be asked for, and with what key.
#[derive(Clone, Debug)]
pub struct Doors {
    hosts: Vec<String>,
    port: u16,
    key: Option<Key>,
}

impl Doors {
    /// The port that browsers leave out of an address.
    const USUAL_PORT: u16 = 80;

    /// This machine alone, at `port`.
    pub fn local(port: u16) -> Self {
        let names = ["127.0.0.1", "localhost", "[::1]"];
        Self {
            hosts: names.iter().flat_map(|name| spelled(name, port)).collect(),
            port,
            key: None,
        }
    }

    /// This machine, and whoever has the `key` and asks for it by `address`.
    #[must_use]
    pub fn opened(mut self, address: IpAddr, key: Key) -> Self {
        let written = SocketAddr::new(address, self.port).to_string();
        let name = written.rsplit_once(':').map_or(written.as_str(), |(name, _)| name);
        self.hosts.extend(spelled(name, self.port));
        self.key = Some(key);
        self
    }

    fn knows(&self, host: &str) -> bool {
        self.hosts.iter().any(|known| known.eq_ignore_ascii_case(host))
    }

    /// What the cookie with the key is called: pages at two ports of one machine have the same cookies.
    fn cookie(&self) -> String {
        format!("dropwise_{}", self.port)
    }

    fn has_key(&self, headers: &HeaderMap) -> bool {
        let Some(key) = &self.key else { return true };
        let name = self.cookie();
        let cookies = headers.get_all(COOKIE).iter().filter_map(|value| value.to_str().ok());
        let mut pairs = cookies.flat_map(|value| value.split(';'));
        pairs.any(|pair| {
            let (of, value) = pair.trim().split_once('=').unwrap_or_default();
            of == name && key.is(value)
        })
    }

    /// Where to go on, where the address of `request` brings the key along: to the same address without it.
    fn let_in(&self, request: &Request) -> Option<Response> {
        let key = self.key.as_ref()?;
        let query = request.uri().query()?;
        let given = query.split('&').find_map(|pair| pair.strip_prefix("key="))?;
        if request.method() != Method::GET || !key.is(given) {
            return None;
        }
        let cookie = format!(
            "{}={}; Path=/; HttpOnly; SameSite=Strict",
            self.cookie(),
            key.as_str()
        );
        let path = request.uri().path();
        // Two slashes would name another machine.
        let path = format!("/{}", path.trim_start_matches('/'));
        let headers = [(SET_COOKIE, cookie), (LOCATION, path)];
        Some((StatusCode::SEE_OTHER, headers).into_response())
    }
}

fn spelled(name: &str, port: u16) -> Vec<String> {
    let mut spelled = vec![format!("{name}:{port}")];
    if port == Doors::USUAL_PORT {
        spelled.push(name.to_owned());
    }
    spelled
}

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
        _ => return Some("This page answers under its own address alone; this was asked for under another name."),
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
        let is_visit = headers.get("sec-fetch-mode").map(HeaderValue::as_bytes) == Some(b"navigate");
        let is_foreign = matches!(site, Some(b"cross-site" | b"same-site"));
        return (is_foreign && !is_visit).then_some("This was asked for by a page of another origin.");
    }
    match site {
        Some(b"same-origin") => None,
        None if !origins.is_empty() => None,
        _ => Some("What changes something is asked for by this page's own forms alone."),
    }
}
