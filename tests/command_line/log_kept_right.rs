//! `swatch find`, `mend`, `remove` and `undo`: the log looked through and put right, with nothing lost. All readings are
//! invented.

use std::fs;
use std::path::Path;

use super::refusals::assert_refused_in;
use super::{json, run, starter_book};

const CHIP: &str = r#"--base "clear skin" --base-g 100 --thickness-mm 2 --date 2026-03-10"#;

/// Logs three chips, the second of them read over two cards, with a column of the user's own.
fn logged(parent: &Path, book: &str) {
    for line in [
        r#"--swatch A --mix "umber 2" --backing "white card" --lab 60,9,14"#,
        r#"--swatch B --mix "iron oxide red 3" --backing "white card" --lab 62,20,16"#,
        r#"--swatch B --mix "iron oxide red 3" --backing "black card" --lab 40,8,6"#,
        r#"--swatch C --mix "iron oxide red 1:10 4; umber 1" --backing "white card" --lab 60.5,9,14"#,
    ] {
        let said = run(&format!("swatch add {book} {CHIP} {line}"));
        assert_eq!((said.code, &*said.err), (0, ""), "{line}");
    }
    let log = parent.join("bench/swatches.csv");
    let text = fs::read_to_string(&log).expect("the log");
    let mut lines = text.lines();
    let header = lines.next().expect("a header");
    let rows: Vec<String> = lines.map(|row| format!("{row},shelf 3")).collect();
    fs::write(&log, format!("{header},where\n{}\n", rows.join("\n"))).expect("written");
}

fn log(parent: &Path) -> String {
    fs::read_to_string(parent.join("bench/swatches.csv")).expect("the log")
}

fn found(line: &str) -> Vec<String> {
    let answer = json(line);
    let swatches = answer["swatches"].as_array().expect("swatches").iter();
    let names = swatches.map(|swatch| swatch["swatch"].as_str().expect("a name").to_owned());
    names.collect()
}

#[test]
fn swatches_are_found_by_colour_the_nearest_first_by_pigment_and_by_day() {
    let (parent, book) = starter_book();
    logged(parent.path(), &book);
    assert_eq!(
        found(&format!("swatch find {book} --near 60.4,9,14")),
        ["C", "A"],
        "nearest"
    );
    assert_eq!(
        found(&format!("swatch find {book} --near 60.4,9,14 --within 0.2")),
        ["C"],
        "within"
    );
    let red = format!(r#"swatch find {book} --pigment "iron oxide red""#);
    assert_eq!(found(&red), ["B", "B", "C"], "neat or let down");
    assert!(
        found(&format!("swatch find {book} --since 2026-03-11")).is_empty(),
        "later"
    );
    assert_eq!(
        found(&format!("swatch find {book} --since 2026-03-10")).len(),
        4,
        "that day"
    );
    for (wrong, told) in [
        (format!("swatch find {book}"), "required"),
        (format!("swatch find {book} --pigment umbre"), "`umber`"),
        (
            format!("swatch find {book} --near 60,9,14 --within=-1"),
            "--within",
        ),
        (format!("swatch find {book} --part keeper"), "keeper"),
        (format!("swatch find {book} --within 1"), "--near"),
    ] {
        assert_refused_in(&wrong, &[told]);
    }
}

/// A log of forty chips, a day apart each: all of umber, the odd ones lighter by their number; the first `again` of them stand
/// twice.
fn long_log(again: usize) -> String {
    let row = |number: usize| {
        let (day, l) = (1 + number % 28, 40.0 + 0.1 * number as f64);
        format!(
            "C{number:02},2026-0{}-{day:02},clear skin,100,umber 2,2,white card,{l},9,14",
            1 + number / 28
        )
    };
    let rows: Vec<String> = (0..40).chain(0..again).map(row).collect();
    let header = "swatch,date,base,base_g,mix,thickness_mm,backing,L,a,b";
    format!("{header}\n{}\n", rows.join("\n"))
}

#[test]
fn of_a_long_log_a_screen_shows_the_newest_and_says_how_many_there_are() {
    let (parent, book) = starter_book();
    let file = parent.path().join("bench/swatches.csv");
    fs::write(&file, long_log(0)).expect("written");
    let heads = |line: &str| {
        let said = run(line);
        assert_eq!((said.code, &*said.err), (0, ""), "{line}");
        let first = said.out.lines().next().map(str::to_owned);
        // A swatch begins with its name, in bold, and its day.
        let names = said.out.lines().filter_map(|line| line.split_once("  20"));
        let names = names.map(|(name, _)| name.replace("\u{1b}[1m", "").replace("\u{1b}[0m", ""));
        (first.expect("a line"), names.collect::<Vec<_>>())
    };
    let newest: Vec<String> = (28..40).map(|number| format!("C{number}")).collect();
    for (asked, told) in [
        (
            "list",
            "the newest 12 of 40 readings (--all shows every one)",
        ),
        (
            "list --predicted",
            "the newest 12 of 40 readings (--all shows every one)",
        ),
        (
            "find --pigment umber",
            "the newest 12 of 40 that were found (--all shows every one)",
        ),
    ] {
        let (first, names) = heads(&format!("swatch {asked} {book}"));
        assert_eq!((&*first, &names), (told, &newest), "{asked}");
        let (first, names) = heads(&format!("swatch {asked} {book} --all"));
        assert!(
            first.contains("C00") && names.len() == 40,
            "{asked}: {first}"
        );
        let answer = json(&format!("swatch {asked} {book}"));
        let swatches = answer["swatches"].as_array().expect("swatches");
        assert_eq!(swatches.len(), 40, "other programs are told all: {asked}");
    }
    let (first, names) = heads(&format!("swatch find {book} --near 41,9,14 --within 3"));
    let told = "the nearest 12 of 40 that were found (--all shows every one)";
    assert_eq!((&*first, &*names[0]), (told, "C10"), "the nearest first");
    assert_eq!(names.len(), 12, "of those a screen's");
}

#[test]
fn what_is_wrong_or_doubtful_in_a_row_that_is_not_shown_is_told_all_the_same() {
    let (parent, book) = starter_book();
    let file = parent.path().join("bench/swatches.csv");
    fs::write(&file, long_log(30)).expect("written");
    let said = run(&format!("swatch list {book}")).out;
    assert_eq!(said.matches("counts twice").count(), 12, "{said}");
    assert!(said.contains("swatches.csv:71:"), "the last: {said}");
    assert!(
        said.ends_with("the last 12 of 30 notes (--all shows every one)\n"),
        "{said}"
    );
    let said = run(&format!("swatch list {book} --all")).out;
    assert_eq!(said.matches("counts twice").count(), 30, "{said}");

    // Of two equal mixes that are wrong the first is named, and a right one does not hide it.
    let wrong = long_log(0).replacen("umber 2", "umbre 2", 8);
    let wrong = wrong.replacen("umbre 2", "umber 2", 5);
    fs::write(&file, wrong).expect("written");
    assert_refused_in(
        &format!("swatch list {book}"),
        &["swatches.csv:7:5", "`umber`"],
    );
}

#[test]
fn what_is_mended_or_removed_is_kept_and_stands_again_when_taken_back() {
    let (parent, book) = starter_book();
    logged(parent.path(), &book);
    let stood = log(parent.path());

    let mended = json(&format!(
        r#"swatch mend {book} A --mix "umber 3" --note "recounted""#
    ));
    assert_eq!(mended["readings"], 1, "one row: {mended}");
    let now = log(parent.path());
    assert!(
        now.contains("umber 3") && !now.contains("umber 2"),
        "mended: {now}"
    );
    assert_eq!(now.matches("shelf 3").count(), 4, "the user's column stays");
    let history = fs::read_to_string(parent.path().join("bench/history.csv")).expect("kept");
    assert!(
        history.contains("umber 2") && history.contains("shelf 3"),
        "{history}"
    );

    let removed = json(&format!("swatch remove {book} B"));
    assert_eq!(removed["readings"], 2, "both cards: {removed}");
    assert!(
        !log(parent.path()).contains("iron oxide red 3"),
        "out of the log"
    );

    let undone = json(&format!("swatch undo {book}"));
    assert_eq!(
        (&undone["swatch"], &undone["readings"]),
        (&"B".into(), &2.into()),
        "{undone}"
    );
    let undone = json(&format!("swatch undo {book}"));
    assert_eq!(undone["undone"], "mended", "{undone}");
    let mut rows: Vec<String> = log(parent.path()).lines().map(str::to_owned).collect();
    let mut before: Vec<String> = stood.lines().map(str::to_owned).collect();
    rows.sort();
    before.sort();
    assert_eq!(rows, before, "every row stands as it did");
    let said = run(&format!("swatch undo {book}"));
    assert!(
        said.code == 2 && said.err.contains("nothing in this book"),
        "{}",
        said.err
    );
}

#[test]
fn a_chip_of_two_readings_is_mended_in_the_one_that_is_named() {
    let (parent, book) = starter_book();
    logged(parent.path(), &book);
    let stood = log(parent.path());
    let said = run(&format!("swatch mend {book} B --lab 41,8,6"));
    assert!(
        said.code == 2 && said.err.contains("--backing"),
        "{}",
        said.err
    );
    assert_eq!(log(parent.path()), stood, "untouched");
    let mended = json(&format!(
        r#"swatch mend {book} B --lab 41,8,6 --backing "black card""#
    ));
    assert_eq!(mended["readings"], 1, "{mended}");
    let now = log(parent.path());
    assert!(
        now.contains(",41,8,6,") && now.contains(",62,20,16,"),
        "{now}"
    );
    json(&format!("swatch undo {book}"));
    assert!(log(parent.path()).contains(",40,8,6,"), "as it was");
    for (wrong, told) in [
        (format!("swatch mend {book} B"), "required"),
        (format!("swatch mend {book} D --note x"), "`"),
        (format!(r#"swatch mend {book} A --mix "ochre 3""#), "ochre"),
        (
            format!(r#"swatch mend {book} A --mix "umber 2""#),
            "says that already",
        ),
        (format!("swatch remove {book} a1"), "no swatch"),
        ("swatch remove A".to_owned(), "demo"),
    ] {
        assert_refused_in(&wrong, &[told]);
    }
}

#[test]
fn a_match_says_what_was_made_before_within_tolerance() {
    let (parent, book) = starter_book();
    logged(parent.path(), &book);
    let near = format!(
        r#"match {book} --target 60.4,9,14 --base-g 100 --backing "white card" --max-pigments 2"#
    );
    let said = run(&near).out;
    assert!(said.contains("2026-03-10: swatch C"), "{said}");
    let far = near.replace("60.4,9,14", "50.4,9,14");
    assert!(!run(&far).out.contains("2026-03-10"), "none is near");
}
