//! The local page, asked as a browser asks, and as nobody should; without a socket but for what only sockets do.

mod bench;
mod hostile;
#[cfg(feature = "photo")]
mod photo;
mod sockets;

use std::path::PathBuf;

use axum::Router;
use axum::body::{Body, to_bytes};
use axum::http::{HeaderMap, Request, StatusCode};
use dropwise::book::{Book, Starter};
use dropwise::page::{Doors, Settings, app};
use tempfile::TempDir;
use tower::ServiceExt as _;

/// The name under which the tests ask.
const HOST: &str = "127.0.0.1:8066";

/// What came back.
struct Answer {
    status: StatusCode,
    headers: HeaderMap,
    text: String,
}

/// A book in a folder of its own, and its page.
struct Bench {
    folder: TempDir,
    app: Router,
}

impl Bench {
    fn new() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        Book::create(&folder.path().join("book"), Starter::Demo).expect("a book");
        let app = page_of(Some(folder.path().join("book")));
        Self { folder, app }
    }

    fn book(&self) -> Book {
        Book::open(&self.folder.path().join("book")).expect("a sound book")
    }

    fn get(&self, path: &str) -> Answer {
        ask(&self.app, asked("GET", path))
    }

    /// A form as this page sends it.
    fn post(&self, path: &str, fields: &[(&str, &str)]) -> Answer {
        let request = Request::builder()
            .method("POST")
            .uri(path)
            .header("host", HOST)
            .header("origin", format!("http://{HOST}"))
            .header("content-type", "application/x-www-form-urlencoded")
            .body(Body::from(form(fields)))
            .expect("a request");
        ask(&self.app, request)
    }

    /// A skin of 100 g over the white card, as the form for a new part asks for it.
    fn make(&self, name: &str) -> Answer {
        let revision = self.book().revision();
        self.post(
            "/parts",
            &[
                ("revision", &revision),
                ("target", r#"{"L": 66, "a": 12, "b": 17}"#),
                ("from", "typed"),
                ("name", name),
                ("base", "clear skin"),
                ("base_g", "100"),
                ("thickness_mm", "2,5"),
                ("fibre_g", "2"),
                ("beneath", "backing"),
                ("backing", "white card"),
            ],
        )
    }
}

fn page_of(book: Option<PathBuf>) -> Router {
    app(Settings {
        book,
        doors: Doors::local(8066),
    })
}

fn asked(method: &str, path: &str) -> Request<Body> {
    let request = Request::builder()
        .method(method)
        .uri(path)
        .header("host", HOST);
    request.body(Body::empty()).expect("a request")
}

fn ask(app: &Router, request: Request<Body>) -> Answer {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .expect("a runtime");
    runtime.block_on(async {
        let response = app.clone().oneshot(request).await.expect("an answer");
        let (head, body) = response.into_parts();
        let bytes = to_bytes(body, 10 << 20).await.expect("a body");
        Answer {
            status: head.status,
            headers: head.headers,
            text: String::from_utf8(bytes.to_vec()).expect("text"),
        }
    })
}

fn form(fields: &[(&str, &str)]) -> String {
    let encoded = |text: &str| -> String {
        text.bytes()
            .map(|byte| match byte {
                b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' => char::from(byte).to_string(),
                other => format!("%{other:02X}"),
            })
            .collect()
    };
    let pairs = fields.iter();
    let pairs: Vec<String> = pairs
        .map(|(name, value)| format!("{}={}", encoded(name), encoded(value)))
        .collect();
    pairs.join("&")
}

/// What stands in the attribute `name="…"` of each element that has `mark` before it.
fn attributes<'a>(text: &'a str, mark: &str) -> Vec<&'a str> {
    let rest = text.split(mark).skip(1);
    rest.filter_map(|rest| rest.split('"').next()).collect()
}
