//! Files that screens load: within the program, so that nothing is fetched from elsewhere.

use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse as _, Response};

/// What keeps screens: a browser lets it see what lies at its own address and below, so that it is served at the top.
pub(super) const WORKER: &str = "worker.js";

/// The files, each with its text; what each is, its name says.
const FILES: [(&str, &str); 14] = [
    ("drop.svg", include_str!("files/drop.svg")),
    ("drafts.js", include_str!("files/drafts.js")),
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

/// The scripts that every screen is made of, the one that keeps screens apart.
pub(super) fn scripts() -> impl Iterator<Item = &'static str> {
    let names = FILES.iter().map(|(name, _)| *name);
    names.filter(|name| name.ends_with(".js") && *name != WORKER)
}

/// The file called `name`, if there is one; names are compared, and no disk is looked at.
pub(super) fn file(name: &str) -> Option<Response> {
    let kind = match name.rsplit_once('.') {
        Some((_, "css")) => "text/css; charset=utf-8",
        Some((_, "svg")) => "image/svg+xml",
        _ => "text/javascript; charset=utf-8",
    };
    let (_, text) = FILES.iter().find(|(known, _)| *known == name)?;
    Some(([(CONTENT_TYPE, kind)], *text).into_response())
}
