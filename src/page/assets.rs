//! Files that screens load: within the program, so that nothing is fetched from elsewhere.

use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse as _, Response};

use super::answer::refused;

/// What keeps screens: a browser lets it see what lies at its own address and below, so that it is served at the top.
pub(super) const WORKER: &str = "worker.js";

/// The files, each with its text; what each is, its name says.
const FILES: [(&str, &str); 13] = [
    ("drop.svg", include_str!("files/drop.svg")),
    ("offline.js", include_str!("files/offline.js")),
    ("page.css", include_str!("files/page.css")),
    ("clocks.js", include_str!("files/clocks.js")),
    ("forms.js", include_str!("files/forms.js")),
    ("keypad.js", include_str!("files/keypad.js")),
    ("nudge.js", include_str!("files/nudge.js")),
    ("page.js", include_str!("files/page.js")),
    ("photo.js", include_str!("files/photo.js")),
    ("pour.js", include_str!("files/pour.js")),
    ("revision.js", include_str!("files/revision.js")),
    ("store.js", include_str!("files/store.js")),
    (WORKER, include_str!("files/worker.js")),
];

/// The file called `name`; names are compared, and no disk is looked at.
pub(super) fn file(name: &str) -> Response {
    let kind = match name.rsplit_once('.') {
        Some((_, "css")) => "text/css; charset=utf-8",
        Some((_, "svg")) => "image/svg+xml",
        _ => "text/javascript; charset=utf-8",
    };
    match FILES.iter().find(|(known, _)| *known == name) {
        Some((_, text)) => ([(CONTENT_TYPE, kind)], *text).into_response(),
        None => refused(StatusCode::NOT_FOUND, "There is no such file here."),
    }
}
