//! Which book a command reads and writes: `--book`, the current folder's, the demo; and what a write leaves.

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use dropwise::book::Book;
use serde_json::Value;

use super::{folder, json, lab, run, starter_book, word, words};

const CHIP: &str =
    r#"--base "clear skin" --base-g 100 --mix "umber 2" --thickness-mm 2 --backing "white card""#;

/// The binary, run on `line` with `folder` as the current one.
fn run_in(folder: &Path, line: &str) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_dropwise"));
    command
        .args(words(line))
        .current_dir(folder)
        .output()
        .expect("the binary runs")
}

fn swatches(output: &Output) -> Vec<Value> {
    let text = String::from_utf8_lossy(&output.stderr);
    assert_eq!((output.status.code(), &*text), (Some(0), ""), "listed");
    let answer: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    answer["swatches"].as_array().expect("swatches").clone()
}

#[test]
fn a_new_book_holds_what_is_promised_and_is_not_made_twice() {
    let parent = folder();
    let path = parent.path().join("bench");
    let answer = json(&format!("new {}", word(&path)));
    assert_eq!(
        answer["book"],
        path.display().to_string(),
        "where it stands"
    );
    let book = Book::open(&path).expect("a book");
    let shelf = book.shelf();
    for base in ["clear skin", "flexible foam", "clear paint"] {
        assert!(shelf.base(base).is_ok(), "{base}");
    }
    for pigment in [
        "titanium white",
        "iron oxide red",
        "iron oxide yellow",
        "umber",
        "carbon black",
        "blue",
        "fibre",
    ] {
        assert!(shelf.pigment(pigment).is_ok(), "{pigment}");
    }
    for backing in ["white card", "black card"] {
        assert!(shelf.backing(backing).is_ok(), "{backing}");
    }
    assert!(
        book.swatches().expect("a sound log").is_empty(),
        "an empty log"
    );
    assert!(
        run(&format!("swatch list --book {}", word(&path)))
            .out
            .contains("no swatch is logged yet"),
        "says so"
    );

    let before = fs::read(path.join("pigments.csv")).expect("pigments");
    let again = run(&format!("new {}", word(&path)));
    assert_eq!((again.code, again.out.as_str()), (2, ""), "refused");
    assert!(
        again.err.contains("a swatch book is here already"),
        "{}",
        again.err
    );
    assert_eq!(
        fs::read(path.join("pigments.csv")).expect("pigments"),
        before,
        "untouched"
    );
}

#[test]
fn the_demo_laid_out_is_the_demo_carried() {
    let parent = folder();
    let book = word(&parent.path().join("demo"));
    json(&format!("new {book} --demo"));
    let laid_out = json(&format!("swatch list --book {book}"));
    assert_eq!(laid_out, json("swatch list"), "the same log");
    assert!(
        !laid_out["swatches"]
            .as_array()
            .expect("swatches")
            .is_empty(),
        "with swatches"
    );
    assert!(
        parent.path().join("demo/reference-photo.jpg").is_file(),
        "and its photograph"
    );
}

#[test]
fn the_named_book_comes_before_the_current_folders_and_that_before_the_demo() {
    let (parent, option) = starter_book();
    let bench = parent.path().join("bench");
    json(&format!("swatch add {option} {CHIP} --lab 61,8,12"));
    let elsewhere = folder();
    let named = swatches(&run_in(
        elsewhere.path(),
        &format!("swatch list --json {option}"),
    ));
    let current = swatches(&run_in(&bench, "swatch list --json"));
    assert_eq!(named.len(), 1, "the named book's log");
    assert_eq!(named, current, "the current folder's book");
    let demo = swatches(&run_in(elsewhere.path(), "swatch list --json"));
    assert!(demo.len() > 1, "the demo's log: {}", demo.len());
    let (_other, other) = starter_book();
    assert!(
        swatches(&run_in(&bench, &format!("swatch list --json {other}"))).is_empty(),
        "the named first"
    );
}

#[test]
fn the_demo_is_never_written_to() {
    let elsewhere = folder();
    let output = run_in(
        elsewhere.path(),
        &format!("swatch add {CHIP} --lab 61,8,12"),
    );
    assert_eq!(output.status.code(), Some(2), "refused");
    let error = String::from_utf8_lossy(&output.stderr);
    assert!(
        error.contains("the demo book is never written to (begin your own with `dropwise new DIR`"),
        "{error}"
    );
    assert_eq!(
        fs::read_dir(elsewhere.path()).expect("a folder").count(),
        0,
        "and nothing is made"
    );
}

#[test]
fn columns_of_the_users_own_stay_when_a_swatch_is_added() {
    let (parent, option) = starter_book();
    let log = parent.path().join("bench/swatches.csv");
    json(&format!(
        "swatch add {option} {CHIP} --lab 61,8,12 --note \"first\""
    ));
    let text = fs::read_to_string(&log).expect("the log");
    let mut lines = text.lines();
    let (header, row) = (
        lines.next().expect("a header"),
        lines.next().expect("a row"),
    );
    fs::write(&log, format!("drawer,{header}\n\"left, top\",{row}\n"))
        .expect("a column of one's own");
    json(&format!("swatch add {option} {CHIP} --lab 60,8,12"));
    let text = fs::read_to_string(&log).expect("the log");
    let lines: Vec<&str> = text.lines().collect();
    assert_eq!(lines.len(), 3, "a header and two rows: {text}");
    assert_eq!(lines[0], format!("drawer,{header}"), "the column");
    assert_eq!(lines[1], format!("\"left, top\",{row}"), "its cell");
    assert!(
        lines[2].starts_with(",S002,"),
        "the next number: {}",
        lines[2]
    );
}

#[test]
fn a_books_own_drop_mass_changes_its_answers() {
    let (parent, option) = starter_book();
    let path = parent.path().join("bench/pigments.csv");
    let build = "x,clear skin,600,iron oxide red 2,2,white card";
    let before = lab(&super::predict(&[build], &option)[0]);
    let pigments = fs::read_to_string(&path).expect("pigments");
    assert!(
        pigments.contains("iron oxide red,0.032,"),
        "the starter's drop"
    );
    fs::write(
        &path,
        pigments.replace("iron oxide red,0.032,", "iron oxide red,0.064,"),
    )
    .expect("heavier drops");
    let after = lab(&super::predict(&[build], &option)[0]);
    let demo = super::colour_of("x,clear skin,600,iron oxide red 4,2,white card");
    assert!(after.l < before.l - 2.0, "heavier drops are darker");
    super::assert_same(after, demo, "as twice the drops");
}

#[test]
fn a_chip_above_a_pigments_limit_was_cast_and_is_logged_though_it_would_not_be_recommended() {
    let (_parent, option) = starter_book();
    let chip = CHIP.replace("umber 2", "umber 400");
    let said = run(&format!("swatch add {option} {chip} --lab 61,8,12"));
    assert_eq!(
        (said.code, said.err.as_str()),
        (0, ""),
        "a log holds what was cast"
    );
    let list = json(&format!("swatch list {option}"));
    assert_eq!(
        list["swatches"].as_array().map(Vec::len),
        Some(1),
        "and shows it"
    );
    let said = run(&format!(
        r#"batch {option} --base "clear skin" --base-g 100 --mix "umber 400""#
    ));
    assert_eq!(said.code, 2, "to be mixed it is refused");
    assert!(
        said.err.contains("more than 3 % weakens or stops the cure"),
        "{}",
        said.err
    );
}
