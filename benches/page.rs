//! How soon a drop more or less is answered while ten screens ask at once: the time of one answer, from the request to the whole
//! body, without a socket. Prints a row; `cargo bench --bench page`.

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
use dropwise::page::{Doors, Settings, app};
use dropwise::tone::Target;
use tower::ServiceExt as _;

const CLIENTS: usize = 10;
const NUDGES: usize = 100;
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
    times.sort();
    let at = |share: usize| times[(times.len() - 1) * share / 100].as_secs_f64() * 1000.0;
    println!(
        "{CLIENTS} clients, {NUDGES} nudges each, ms: median {:.1}, 99 of 100 {:.1}, worst {:.1}",
        at(50),
        at(99),
        at(100)
    );
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
    parts::keep_or_compare(book, None, found, false).expect("kept");
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
