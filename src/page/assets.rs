//! Files that screens load: within the program, so that nothing is fetched from elsewhere.

use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse as _, Response};

use super::answer::refused;

/// The files, each with what it is.
const FILES: [(&str, &str, &str); 3] = [
    ("page.css", "text/css; charset=utf-8", include_str!("files/page.css")),
    ("page.js", "text/javascript; charset=utf-8", include_str!("files/page.js")),
    ("drop.svg", "image/svg+xml", include_str!("files/drop.svg")),
];

/// The file called `name`; names are compared, and no disk is looked at.
pub(super) fn file(name: &str) -> Response {
    match FILES.iter().find(|(known, ..)| *known == name) {
        Some((_, kind, text)) => ([(CONTENT_TYPE, *kind)], *text).into_response(),
        None => refused(StatusCode::NOT_FOUND, "There is no such file here."),
    }
}
