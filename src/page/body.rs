//! What comes with a request, read whole before a handler runs: within a limit of size, and within a time.

use std::time::Duration;

use axum::body::{Body, to_bytes};
use axum::extract::{Request, State};
use axum::http::header::CONTENT_LENGTH;
use axum::http::{Method, StatusCode};
use axum::middleware::Next;
use axum::response::Response;

use super::answer::refused;
use super::state::Shared;

/// Most that a form may hold, bytes: a target with its spectrum is a tenth of it.
const FORM: usize = 256 << 10;

/// Most that a form with a photograph may hold, bytes.
const PHOTO: usize = 40 << 20;

/// Whether a photograph is sent to `path`: the routes of photographs and no others end so.
fn takes_photo(path: &str) -> bool {
    path.ends_with("/photo")
}

/// How long a form and a photograph may take to come in.
const FORM_TIME: Duration = Duration::from_secs(10);
const PHOTO_TIME: Duration = Duration::from_secs(90);

/// Reads the body of `request`, and hands it on to `next` in memory.
pub(super) async fn read_whole(
    State(shared): State<Shared>,
    request: Request,
    next: Next,
) -> Response {
    if matches!(*request.method(), Method::GET | Method::HEAD) {
        // Nothing that reads has a body.
        let (head, _) = request.into_parts();
        return next.run(Request::from_parts(head, Body::empty())).await;
    }
    let is_photo = takes_photo(request.uri().path());
    let (limit, time) = match is_photo {
        true => (PHOTO, PHOTO_TIME),
        false => (FORM, FORM_TIME),
    };
    let too_much = || {
        let words = format!(
            "That is more than {} kB, the most that is read here.",
            limit >> 10
        );
        refused(StatusCode::PAYLOAD_TOO_LARGE, &words)
    };
    let told = request.headers().get(CONTENT_LENGTH);
    let told = told.and_then(|value| value.to_str().ok()?.parse::<u64>().ok());
    if told.is_some_and(|told| told > limit as u64) {
        return too_much();
    }
    // Few at a time: what waits is not in memory.
    let _turn = match is_photo {
        true => match shared.photographs.try_acquire() {
            Ok(turn) => Some(turn),
            Err(_) => {
                let words = "Other photographs are being read. Wait a moment and send it again.";
                return refused(StatusCode::SERVICE_UNAVAILABLE, words);
            }
        },
        false => None,
    };
    let (head, body) = request.into_parts();
    match tokio::time::timeout(time, to_bytes(body, limit)).await {
        Ok(Ok(bytes)) => next.run(Request::from_parts(head, Body::from(bytes))).await,
        Ok(Err(error)) if is_over_limit(&error) => too_much(),
        Ok(Err(_)) => refused(StatusCode::BAD_REQUEST, "It broke off. Send it again."),
        Err(_) => refused(
            StatusCode::REQUEST_TIMEOUT,
            "It took too long to come in. Send it again.",
        ),
    }
}

fn is_over_limit(error: &axum::Error) -> bool {
    let mut cause: Option<&dyn std::error::Error> = Some(error);
    while let Some(error) = cause {
        if error.to_string().contains("length limit exceeded") {
            return true;
        }
        cause = error.source();
    }
    false
}
