//! Answers that are no screen: errors, refusals, and a screen that a job gives.

use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::response::{Html, IntoResponse, Redirect, Response};
use maud::{Markup, html};

use super::fields::Fields;
use super::frame::bare;
use super::words::naming;
use crate::error::Error;

/// What a handler ends in: a screen, or why there is none.
pub(super) type Answer = Result<Response, Fault>;

/// Why there is no screen.
#[derive(Debug)]
pub(super) enum Fault {
    /// What a job refuses.
    Job(Error),
    /// What the server refuses, in words.
    Server(StatusCode, String),
    /// A form that was filled in on another state of the book, with where it goes if it is sent all the same.
    Stale(String, Fields),
}

impl Fault {
    pub(super) fn new(status: StatusCode, words: impl Into<String>) -> Self {
        Self::Server(status, words.into())
    }
}

impl From<Error> for Fault {
    fn from(error: Error) -> Self {
        Self::Job(error)
    }
}

impl IntoResponse for Fault {
    fn into_response(self) -> Response {
        match self {
            Self::Job(error) => refused(status_of(&error), &error.worded(naming)),
            Self::Server(status, words) => refused(status, &words),
            Self::Stale(path, fields) => stale(&path, &fields),
        }
    }
}

/// What `error` is answered with: whose fault it is.
pub(super) fn status_of(error: &Error) -> StatusCode {
    if error.is_machine() {
        StatusCode::INTERNAL_SERVER_ERROR
    } else {
        StatusCode::UNPROCESSABLE_ENTITY
    }
}

/// A screen.
pub(super) fn screen(markup: Markup) -> Answer {
    Ok(Html(markup.into_string()).into_response())
}

/// On to another screen, once something was changed.
pub(super) fn onward(path: &str) -> Answer {
    Ok(Redirect::to(path).into_response())
}

/// A document for the page's own script.
pub(super) fn document(value: &serde_json::Value) -> Answer {
    let headers = [(CONTENT_TYPE, "application/json")];
    Ok((headers, value.to_string()).into_response())
}

/// A small screen that says why not, and leads back.
pub(super) fn refused(status: StatusCode, words: &str) -> Response {
    let page = bare(
        "That did not work",
        &html! {
            h1 { "That did not work" }
            p role="alert" { (words) }
            p { a.button href="/" { "Today" } }
        },
    );
    (status, Html(page.into_string())).into_response()
}

/// That the book was changed since a form was drawn; nothing was done yet, and what was typed is not lost.
fn stale(path: &str, fields: &Fields) -> Response {
    let page = bare(
        "The book has changed",
        &html! {
            h1 { "The book has changed" }
            p role="alert" {
                "Something was written to the book after this was filled in, here or from elsewhere. Nothing of yours was done yet. \
                 Go back and look at what stands there now, or send it all the same."
            }
            form method="post" action=(path) {
                (fields.again(&[]))
                p.doors {
                    a.button href="/" { "Look first" }
                    button.plain { "Send it all the same" }
                }
            }
        },
    );
    (StatusCode::CONFLICT, Html(page.into_string())).into_response()
}
