//! How soon a drop more or less is answered while ten screens ask at once: the time of one answer, from the request to the whole
//! body, without a socket. Then the first view, with all that it loads, one after the other over a socket, each on a connection of
//! its own: what a browser adds to that, `tests/browser` prints. Prints a row each; `cargo bench --bench page`.

use std::io::{Read as _, Write as _};
use std::net::TcpStream;
use std::path::PathBuf;
use std::sync::mpsc;
use std::time::{Duration, Instant};

use axum::Router;
use axum::body::{Body, to_bytes};
use axum::http::{Request, StatusCode};
use dropwise::Date;
use dropwise::book::{Book, Starter};
use dropwise::colour::{Lab, Viewing};
use dropwise::jobs::matching::{self, Beneath, WantedCup};
use dropwise::jobs::{nudging, parts};
use dropwise::materials::{Amount, Grams};
use dropwise::page::{Doors, Settings, app, serve};
use dropwise::tone::Target;
use tower::ServiceExt as _;

const CLIENTS: usize = 10;
const NUDGES: usize = 100;
const VIEWS: usize = 20;
const DAY: Date = Date::constant(2026, 3, 12);

#[expect(clippy::print_stdout, reason = "a row is what this program is for")]
fn main() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut book = Book::create(&folder.path().join("book"), Starter::Demo).expect("a book");
    let counts = keep_a_part(&mut book);
    let router = app(Settings {
        book: Some(folder.path().join("book")),
        doors: Doors::local(8066),
    });
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .expect("a runtime");
    let mut times: Vec<Duration> = runtime.block_on(async {
        let clients: Vec<_> = (0..CLIENTS)
            .map(|client| tokio::spawn(nudges(router.clone(), counts.clone(), client)))
            .collect();
        let mut times = Vec::new();
        for client in clients {
            times.extend(client.await.expect("a client"));
        }
        times
    });
    println!(
        "{CLIENTS} clients, {NUDGES} nudges each, ms: {}",
        told(&mut times)
    );
    let address = served(folder.path().join("book"));
    let mut bytes = 0;
    let mut times: Vec<Duration> = (0..VIEWS)
        .map(|_| {
            let begun = Instant::now();
            bytes = first_view(&address);
            begun.elapsed()
        })
        .collect();
    println!(
        "first view, {VIEWS} times, {:.1} kB, ms: {}",
        bytes as f64 / 1000.0,
        told(&mut times)
    );
}

fn told(times: &mut [Duration]) -> String {
    times.sort();
    let at = |share: usize| times[(times.len() - 1) * share / 100].as_secs_f64() * 1000.0;
    format!(
        "median {:.1}, 99 of 100 {:.1}, worst {:.1}",
        at(50),
        at(99),
        at(100)
    )
}

/// Where the page of `book` is served, as `127.0.0.1:PORT`, until this program ends.
fn served(book: PathBuf) -> String {
    let (tell, listens) = mpsc::channel();
    std::thread::spawn(move || {
        serve(Some(book), 0, None, |listening| {
            tell.send(listening.address.clone()).expect("someone waits");
            Ok(())
        })
    });
    let address = listens.recv().expect("it listens");
    let address = address.trim_start_matches("http://").trim_end_matches('/');
    address.to_owned()
}

/// Loads the first screen and every file that it, or one of these, names; returns how many bytes all that were.
fn first_view(address: &str) -> usize {
    let mut wanted = vec!["/".to_owned()];
    let mut loaded = 0;
    let mut bytes = 0;
    while let Some(path) = wanted.get(loaded).cloned() {
        loaded += 1;
        let text = fetched(address, &path);
        bytes += text.len();
        for mark in ["src=\"/files/", "href=\"/files/", "from \"./"] {
            let named = text.split(mark).skip(1);
            let named = named.filter_map(|rest| rest.split('"').next());
            for path in named.map(|name| format!("/files/{name}")) {
                if !wanted.contains(&path) {
                    wanted.push(path);
                }
            }
        }
    }
    bytes
}

/// What is served at `path`, its head included.
fn fetched(address: &str, path: &str) -> String {
    let mut stream = TcpStream::connect(address).expect("it listens");
    let request = format!("GET {path} HTTP/1.1\r\nhost: {address}\r\nconnection: close\r\n\r\n");
    stream.write_all(request.as_bytes()).expect("sent");
    let mut text = String::new();
    stream.read_to_string(&mut text).expect("an answer");
    assert!(text.starts_with("HTTP/1.1 200"), "{path}: {text}");
    text
}

/// Keeps a skin over foam under the name `arm`, and returns what its recipe counts.
fn keep_a_part(book: &mut Book) -> Vec<u32> {
    let target = Target::from_lab(Lab::new(66.0, 12.0, 17.0), Viewing::D65_10).expect("a skin");
    let cup = |mass| WantedCup {
        base: None,
        base_mass: Grams(mass),
    };
    let beneath = Beneath::Foam {
        cup: cup(300.0),
        at_the_tone: false,
    };
    let request = matching::Request::new(cup(600.0), beneath, DAY);
    let matched = matching::run(book, &target, &request).expect("cups");
    let found = parts::Found {
        name: "arm",
        title: "arm",
        from: "typed",
        request: &request,
        matched: &matched,
    };
    let to_keep = parts::to_keep(book, None, found, false);
    to_keep.write(book).expect("kept");
    let kept = nudging::run(book, "arm", nudging::Nudge::default(), DAY).expect("as kept");
    let entries = kept.poured.mix.entries().iter();
    entries
        .filter_map(|(_, amount)| match amount {
            Amount::Drops(count) => format!("{count:.0}").parse().ok(),
            Amount::Mass(_) => None,
        })
        .collect()
}

async fn nudges(router: Router, counts: Vec<u32>, client: usize) -> Vec<Duration> {
    let mut times = Vec::with_capacity(NUDGES);
    for nudge in 0..NUDGES {
        let mut own = counts.clone();
        own[(client + nudge) % counts.len()] += 1;
        let own: Vec<String> = own.iter().map(u32::to_string).collect();
        let request = Request::builder()
            .uri(format!("/parts/arm/nudge?drops={}", own.join(",")))
            .header("host", "127.0.0.1:8066")
            .body(Body::empty())
            .expect("a request");
        let begun = Instant::now();
        let answer = router.clone().oneshot(request).await.expect("an answer");
        assert_eq!(answer.status(), StatusCode::OK, "a nudge");
        to_bytes(answer.into_body(), 1 << 20).await.expect("a body");
        times.push(begun.elapsed());
    }
    times
}
