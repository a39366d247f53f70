//! The page in a real browser, and every HTML document by a checker: from a photograph to a logged casting in Chromium at three sizes,
//! with axe-core's rules on every screen, what is kept while nobody serves, and html-validate on what is served and written.
//!
//! Both need packages that a user's machine doesn't have: where `DROPWISE_BROWSER_TOOLS` names no folder in which `package.json` of
//! this folder is installed, or there is no Chromium, each test says so and is skipped.

mod scene;

use std::io::{BufRead as _, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

use dropwise::book::Book;

use self::scene::Scene;

/// The program's demo book in a folder of its own.
struct Bench {
    folder: tempfile::TempDir,
}

impl Bench {
    fn new() -> Self {
        let bench = Self {
            folder: tempfile::tempdir().expect("a folder"),
        };
        bench.run(&["new", "bench", "--demo"]);
        bench
    }

    fn at(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn run(&self, arguments: &[&str]) {
        let ran = Command::new(env!("CARGO_BIN_EXE_dropwise"))
            .args(arguments)
            .current_dir(self.folder.path())
            .output()
            .expect("the program runs");
        let said = String::from_utf8_lossy(&ran.stderr);
        assert!(ran.status.success(), "{arguments:?}: {said}");
    }
}

/// A served book; the server ends with it.
struct Served {
    server: Child,
    address: String,
}

impl Served {
    fn of(book: &Path) -> Self {
        let mut server = Command::new(env!("CARGO_BIN_EXE_dropwise"))
            .args(["serve", "--port", "0", "--json", "--book"])
            .arg(book)
            .stdout(Stdio::piped())
            .spawn()
            .expect("the program runs");
        let mut line = String::new();
        let out = server.stdout.take().expect("it is piped");
        BufReader::new(out).read_line(&mut line).expect("it speaks");
        let said: serde_json::Value = serde_json::from_str(&line).expect("a document");
        let address = said["address"].as_str().expect("an address").to_owned();
        Self { server, address }
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        // It may have ended by itself; nothing is lost either way.
        let _ = self.server.kill();
        let _ = self.server.wait();
    }
}

/// The folder of the tools; `None`, and why, where there are none.
#[expect(clippy::print_stdout, reason = "a skipped test says why")]
fn tools() -> Option<PathBuf> {
    let Some(tools) = std::env::var_os("DROPWISE_BROWSER_TOOLS").map(PathBuf::from) else {
        println!("skipped: DROPWISE_BROWSER_TOOLS names no folder of tools");
        return None;
    };
    if !tools.join("node_modules").is_dir() {
        println!("skipped: nothing is installed in {}", tools.display());
        return None;
    }
    Some(tools)
}

/// The browser; `None`, and why, where there is none.
#[expect(clippy::print_stdout, reason = "a skipped test says why")]
fn chromium() -> Option<PathBuf> {
    let named = std::env::var_os("DROPWISE_CHROMIUM").map(PathBuf::from);
    let path = named.unwrap_or_else(|| PathBuf::from("/usr/bin/chromium"));
    if !path.exists() {
        println!("skipped: there is no {}", path.display());
        return None;
    }
    Some(path)
}

/// The folder that pictures of screens are kept in.
fn pictures(bench: &Bench) -> PathBuf {
    let named = std::env::var_os("DROPWISE_BROWSER_PICTURES");
    let pictures = named.map_or_else(|| bench.at("pictures"), PathBuf::from);
    std::fs::create_dir_all(&pictures).expect("a folder for pictures");
    pictures
}

/// Refuses documents in which the checker finds a fault.
fn assert_sound(tools: &Path, documents: &[PathBuf]) {
    let checked = Command::new("node")
        .arg(tools.join("node_modules/html-validate/bin/html-validate.mjs"))
        .args(["--preset", "standard"])
        .args(documents)
        .current_dir(tools)
        .output()
        .expect("node runs");
    let found = String::from_utf8_lossy(&checked.stdout);
    let said = String::from_utf8_lossy(&checked.stderr);
    assert!(checked.status.success(), "{found}{said}");
}

#[test]
#[expect(clippy::print_stdout, reason = "what was timed is told")]
fn a_photograph_becomes_a_logged_casting_in_a_browser_at_three_sizes() {
    let (Some(tools), Some(chromium)) = (tools(), chromium()) else {
        return;
    };
    let bench = Bench::new();
    let served = Served::of(&bench.at("bench"));
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let pictures = pictures(&bench);
    let opened = Book::open(&bench.at("bench")).expect("a sound book");
    let scene = Scene::of(&opened, bench.folder.path());
    let flow = Command::new("node")
        .arg(root.join("tests/browser/flow.mjs"))
        .arg(&served.address)
        .arg(root.join("swatches/reference-photo.jpg"))
        .arg(scene.photo.parent().expect("a folder"))
        .arg(&pictures)
        .env("DROPWISE_BROWSER_TOOLS", &tools)
        .env("DROPWISE_CHROMIUM", &chromium)
        .output()
        .expect("node runs");
    let told = String::from_utf8_lossy(&flow.stdout);
    println!("{told}");
    let faults = String::from_utf8_lossy(&flow.stderr);
    assert!(flow.status.success(), "{told}{faults}");
    let screens = [
        "today", "tone", "pour", "compare", "why", "next", "photo", "board",
    ];
    let documents = screens.map(|screen| pictures.join(format!("{screen}.html")));
    assert_sound(&tools, &documents);
}

#[test]
#[expect(clippy::print_stdout, reason = "what a browser said is told")]
fn a_browser_keeps_what_was_open_while_nobody_serves() {
    let (Some(tools), Some(chromium)) = (tools(), chromium()) else {
        return;
    };
    let bench = Bench::new();
    bench.run(&[
        "match",
        "--target",
        "65,11,14",
        "--base-g",
        "150",
        "--fibre-g",
        "3",
        "--backing",
        "white card",
        "--part",
        "left arm",
        "--tolerance",
        "9",
        "--time-limit",
        "60",
        "--book",
        "bench",
    ]);
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let asleep = Command::new("node")
        .arg(root.join("tests/browser/asleep.mjs"))
        .arg(env!("CARGO_BIN_EXE_dropwise"))
        .arg(bench.at("bench"))
        .arg("left arm")
        .arg(pictures(&bench))
        .env("DROPWISE_BROWSER_TOOLS", &tools)
        .env("DROPWISE_CHROMIUM", &chromium)
        .output()
        .expect("node runs");
    let told = String::from_utf8_lossy(&asleep.stdout);
    println!("{told}");
    let faults = String::from_utf8_lossy(&asleep.stderr);
    assert!(asleep.status.success(), "{told}{faults}");
}

#[test]
fn sheets_cards_and_boards_are_sound_html() {
    let Some(tools) = tools() else { return };
    let bench = Bench::new();
    let book = ["--book", "bench"];
    let run = |words: &[&str]| bench.run(&[words, &book].concat());
    run(&[
        "match",
        "--target",
        "65,11,14",
        "--flush",
        "57,18,17",
        "--base-g",
        "1500",
        "--foam-g",
        "300",
        "--fibre-g",
        "12",
        "--paint-g",
        "60",
        "--largest-pot",
        "600",
        "--part",
        "arm",
        "--tolerance",
        "9",
        "--sheet",
        "sheet.html",
    ]);
    run(&[
        "mould",
        "add",
        "hand",
        "--skin-g",
        "120",
        "--foam-g",
        "90",
        "--note",
        "vent <up>",
    ]);
    run(&["mould", "card", "hand", "card.html"]);
    run(&["plan", "--count", "2", "--board", "board.html"]);
    let names = ["sheet.html", "card.html", "board.html"];
    assert_sound(&tools, &names.map(|name| bench.at(name)));
}
