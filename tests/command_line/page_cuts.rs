//! Every form of the page that writes, with a disk that fails and a power that goes: what the page says is kept is kept, and what is
//! cut is not there at all. See [`faults`](super::faults).

use std::path::Path;
use std::process::Command;

use super::faults::{Tried, tracer};
#[cfg(feature = "photo")]
use super::photographed_board::{BOARD, Board, CHART, WITHIN};
use super::served::{Form, Served};
use super::{Said, dir_of, run, starter_book};

/// Serves the page of the book in `dir` by `server`, sends it this form and ends it. Returns what a command would have ended in:
/// none where there was no answer.
fn posted(dir: &Path, server: Command, path: &str, form: &Form) -> Option<i32> {
    let revision = dropwise::book::Book::open(dir).ok()?.revision();
    let served = Served::begin(server, dir);
    match served.send(path, &form.with("revision", &revision))? {
        (200 | 303, _) => Some(0),
        (500, _) => Some(3),
        (_, answer) => panic!("{path}: {answer}"),
    }
}

/// Has every `stride`th call of the page fail as it answers `form`, and the power go at it.
fn cut(tried: &mut Tried, dir: &Path, path: &str, form: &Form, stride: usize) {
    let line = format!("POST {path} {}", form.in_words());
    // Other writes of a server are no file's; which thread makes them first is chance.
    let traced = |options: &[&str]| posted(dir, tracer(options), path, form);
    tried.cut_act(dir, &line, stride, traced, || {
        let code = posted(
            dir,
            Command::new(env!("CARGO_BIN_EXE_dropwise")),
            path,
            form,
        );
        Said {
            code: code.map_or(255, |code| u8::try_from(code).expect("a code")),
            out: String::new(),
            err: String::new(),
        }
    });
}

/// A book of so few pigments that every search ends with its proof, with the part `arm`.
fn small_book() -> (tempfile::TempDir, String) {
    let (parent, book) = starter_book();
    let path = dir_of(&book).join("pigments.csv");
    let table = std::fs::read_to_string(&path).expect("a table");
    let keep = [
        "pigment,",
        "umber,",
        "iron oxide red,",
        "iron oxide yellow,",
        "titanium white,",
        "fibre,",
    ];
    let kept = table
        .lines()
        .filter(|row| keep.iter().any(|name| row.starts_with(name)));
    std::fs::write(
        &path,
        kept.map(|row| format!("{row}\n")).collect::<String>(),
    )
    .expect("written");
    let arm = "match --target 65,11,14 --base-g 600 --backing 'white card' --tolerance 99 --time-limit 60";
    for line in [
        format!("{arm} --pigments 'umber,iron oxide red' --part arm"),
        "stock make flesh --mix 'umber 1 g; iron oxide red 2 g' --g 30".to_owned(),
        format!("{arm} --stock flesh --part leg"),
    ] {
        let said = run(&format!("{line} {book}"));
        assert_eq!(said.code, 0, "{}: {line}", said.err);
    }
    (parent, book)
}

#[test]
fn a_book_outlives_a_fault_at_every_write_of_the_page() {
    let (_parent, book) = small_book();
    let dir = dir_of(&book);
    let begun = std::time::SystemTime::UNIX_EPOCH.elapsed();
    let begun_ms = begun.expect("after 1970").as_millis().to_string();
    let target = r#"{"L": 60, "a": 10, "b": 14}"#;
    let compared = [("l", "60"), ("a", "12"), ("b", "15"), ("stage", "test")];
    let read = Form::of(&compared);
    let mut tried = Tried::of("the page");
    for (path, form, stride) in [
        (
            "/parts",
            Form::of(&[
                ("name", "brow"),
                ("target", target),
                ("base", "clear skin"),
                ("base_g", "300"),
                ("beneath", "backing"),
                ("backing", "white card"),
            ]),
            7,
        ),
        ("/parts/leg/poured", Form::of(&[]), 5),
        ("/parts/arm/compare", read.with("only", "log"), 5),
        ("/parts/arm/compare", read.with("l", "61"), 7),
        (
            "/parts/arm/compare",
            read.with("l", "61").with("replace", "yes"),
            7,
        ),
        (
            "/parts/arm/compare",
            Form::of(&[("look_l", "a little darker"), ("stage", "test")]),
            7,
        ),
        (
            "/parts/arm/clock",
            Form::of(&[("cup", "skin 1"), ("begun", &begun_ms)]),
            5,
        ),
        (
            "/parts/arm/clock",
            Form::of(&[("cup", "skin 1"), ("begun", "")]),
            5,
        ),
    ] {
        cut(&mut tried, &dir, path, &form, stride);
    }
}

#[cfg(feature = "photo")]
#[test]
fn a_book_outlives_a_fault_at_every_write_of_the_page_that_reads_photographs() {
    let (parent, book) = small_book();
    let dir = dir_of(&book);
    let board = Board::of(parent.path());
    let files = [
        ("photo", board.photo.as_path()),
        ("chart_values", &board.values),
    ];
    let chip = Form::of(&[("chart", CHART), ("chip", WITHIN[0]), ("stage", "part")]);
    let served = Served::begin(Command::new(env!("CARGO_BIN_EXE_dropwise")), &dir);
    let read = served.send("/parts/arm/photo", &chip.bringing(&files));
    let (status, page) = read.expect("an answer");
    assert_eq!(status, 200, "{page}");
    drop(served);
    let names = ["l", "a", "b", "camera", "camera_lab"];
    let read = names.map(|name| (name, field(&page, name)));
    let read: Vec<(&str, &str)> = read
        .iter()
        .map(|(name, value)| (*name, value.as_str()))
        .collect();
    let read = Form::of(&read).with("stage", "part");
    let on_the_board = Form::of(&[("chart", CHART), ("grid", BOARD)]);
    let mut tried = Tried::of("the page's photographs");
    for (path, form, stride) in [
        // Whose chips it is may be read once more, and no board.
        (
            "/board/photo",
            on_the_board.bringing(&[files[0], files[1], ("chips", &board.chips)]),
            7,
        ),
        ("/parts/arm/compare", read.with("only", "log"), 5),
        ("/parts/arm/compare", read, 7),
    ] {
        cut(&mut tried, &dir, path, &form, stride);
    }
}

/// What stands in the field `name` of the form on `page`.
#[cfg(feature = "photo")]
fn field(page: &str, name: &str) -> String {
    let field = page.split(&format!("name=\"{name}\"")).nth(1);
    let value = field.and_then(|rest| rest.split("value=\"").nth(1)?.split('"').next());
    value.expect(name).replace("&quot;", "\"")
}
