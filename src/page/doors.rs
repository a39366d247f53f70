//! Under what names a page may be asked for, and with what key.

use std::net::{IpAddr, SocketAddr};

use axum::extract::Request;
use axum::http::header::{COOKIE, LOCATION, SET_COOKIE};
use axum::http::{HeaderMap, Method, StatusCode};
use axum::response::{IntoResponse as _, Response};

use super::key::Key;

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
        let name = written
            .rsplit_once(':')
            .map_or(written.as_str(), |(name, _)| name);
        self.hosts.extend(spelled(name, self.port));
        self.key = Some(key);
        self
    }

    pub(super) fn knows(&self, host: &str) -> bool {
        self.hosts
            .iter()
            .any(|known| known.eq_ignore_ascii_case(host))
    }

    /// What the cookie with the key is called: pages at two ports of one machine have the same cookies.
    fn cookie(&self) -> String {
        format!("dropwise_{}", self.port)
    }

    pub(super) fn has_key(&self, headers: &HeaderMap) -> bool {
        let Some(key) = &self.key else { return true };
        let name = self.cookie();
        let cookies = headers
            .get_all(COOKIE)
            .iter()
            .filter_map(|value| value.to_str().ok());
        let mut pairs = cookies.flat_map(|value| value.split(';'));
        pairs.any(|pair| {
            let (of, value) = pair.trim().split_once('=').unwrap_or_default();
            of == name && key.is(value)
        })
    }

    /// Where to go on, where the address of `request` brings the key along: to the same address without it.
    pub(super) fn let_in(&self, request: &Request) -> Option<Response> {
        let key = self.key.as_ref()?;
        let query = request.uri().query()?;
        let given = query
            .split('&')
            .find_map(|pair| pair.strip_prefix("key="))?;
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
