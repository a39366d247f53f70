//! Every command that writes, with a disk that fails and a power that goes at every write, sync, rename and removal of it: see
//! [`faults`](super::faults).

use super::faults::Tried;
#[cfg(feature = "photo")]
use super::photographed_board::Board;
use super::{dir_of, folder, run, starter_book, word};

const CUP: &str = "--base 'clear skin' --base-g 60 --thickness-mm 2 --backing 'white card'";

#[test]
fn a_new_book_is_whole_or_is_begun_again() {
    let parent = folder();
    let dir = parent.path().join("bench");
    let mut tried = Tried::of("a new book");
    tried.cut(&dir, &format!("new {}", word(&dir)), 7);
    let dir = parent.path().join("demo");
    tried.cut(&dir, &format!("new --demo {}", word(&dir)), 11);
}

#[test]
fn a_book_outlives_a_fault_at_every_write_of_every_command() {
    let (parent, book) = starter_book();
    let dir = dir_of(&book);
    let mut spectrum = "wavelength_nm,r\n".to_owned();
    for nm in (380..=730).step_by(10) {
        spectrum += &format!("{nm},0.4\n");
    }
    let spectrum = super::file(parent.path(), "flat.csv", &spectrum);
    let mut tried = Tried::of("every command");
    for (line, stride) in [
        (
            format!("swatch add {CUP} --date 2026-03-01 --mix 'umber 2' --lab 60,10,14 {book}"),
            3,
        ),
        (
            format!(
                "swatch add {CUP} --date 2026-03-01 --mix 'iron oxide red 2' --r-file {spectrum} {book}"
            ),
            3,
        ),
        (
            format!("pigment add ochre --like 'iron oxide yellow' --drop-g 0.03 {book}"),
            3,
        ),
        (
            format!(
                "base add 'soft skin' --kind skin --density-g-ml 1.05 --parts 1:1 --pot-life-min 5 {book}"
            ),
            3,
        ),
        (
            format!(
                "pigment add sienna --like 'iron oxide yellow' --weigh '20 drops 0.61 g' --date 2026-03-01 {book}"
            ),
            3,
        ),
        (format!("backing add 'pale card' --lab 80,1,3 {book}"), 3),
        (
            format!("stock make small --mix 'umber 1 g; iron oxide red 2 g' --g 30 {book}"),
            3,
        ),
        (
            format!(
                "let-down add 'iron oxide red 1:20 20 g' --base 'clear skin' --date 2026-03-14 {book}"
            ),
            3,
        ),
        (
            format!("mould add forearm --skin-g 300 --foam-g 210 {book}"),
            3,
        ),
        (
            format!(
                "match --target 65,11,14 --base-g 600 --foam-g 300 --fibre-g 12 --pigments 'umber,iron oxide red' --tolerance 99 --part arm --date 2026-03-02 --time-limit 60 {book}"
            ),
            3,
        ),
        (
            format!(
                "match --part arm --pigments 'umber,iron oxide red,iron oxide yellow' --replace --date 2026-03-03 --time-limit 60 {book}"
            ),
            5,
        ),
        (
            format!(
                "match --target 65,11,14 --base-g 600 --over 70,8,12 --pigments 'umber,iron oxide red' --tolerance 99 --part brow --date 2026-03-03 --time-limit 60 {book}"
            ),
            3,
        ),
        (
            format!(
                "match --target 65,11,14 --base-g 500 --over 60,9,13 --pigments 'umber,iron oxide red' --tolerance 99 --part brow --replace --date 2026-03-04 --time-limit 60 {book}"
            ),
            3,
        ),
        (
            format!("part poured arm --left-part-b-g 40 --date 2026-03-04 {book}"),
            3,
        ),
        (format!("part left arm --part-b-g 20 {book}"), 3),
        (
            format!(
                "correct --part arm --measured 60,12,15 --replace --max-add 2 --max-contrast 1 --date 2026-03-05 --time-limit 60 {book}"
            ),
            7,
        ),
        (
            format!(
                "correct --part arm --looks 'a little darker' --max-add 2 --max-contrast 1 --date 2026-03-06 --time-limit 60 {book}"
            ),
            3,
        ),
        // Nothing is found for it: it ends in 1, and the reading is logged.
        (
            format!(
                "correct --part arm --measured 61,12,15 --min-contrast 0.995 --date 2026-03-07 --time-limit 60 {book}"
            ),
            9,
        ),
        (
            format!(
                "correct --target 65,11,14 --measured 62,12,15 {CUP} --mix 'umber 3' --max-add 2 --max-contrast 1 --date 2026-03-07 --time-limit 60 {book}"
            ),
            13,
        ),
        (
            format!("swatch add --part arm --lab 63,12,14 --date 2026-03-08 {book}"),
            3,
        ),
        (
            format!(
                "swatch add --part arm --poured 'umber 4' --lab 62,11,14 --date 2026-03-08 {book}"
            ),
            3,
        ),
        (
            format!(
                "let-down take 'iron oxide red 1:20 5 g' --base 'clear skin' --date 2026-03-15 {book}"
            ),
            3,
        ),
        (format!("stock take small '5 g' {book}"), 3),
        (format!("mould mark forearm --skin-g 280 {book}"), 3),
        (format!("mould remove forearm {book}"), 3),
        (format!("swatch mend S001 --lab 61,10,14 {book}"), 3),
        (format!("swatch remove S001 {book}"), 3),
        (format!("swatch undo {book}"), 3),
        (format!("swatch undo {book}"), 3),
        (format!("part left arm --part-b-g 0 {book}"), 3),
        (format!("part remove arm {book}"), 3),
        (
            format!("stock make other --mix 'umber 2 g; iron oxide red 1 g' --g 30 {book}"),
            7,
        ),
        (format!("stock remove small {book}"), 3),
    ] {
        tried.cut(&dir, &line, stride);
    }
}

/// A calibration writes a file for each curve, and keeps those that stood.
#[test]
fn a_calibration_is_kept_whole_or_not_at_all() {
    let (_parent, book) = starter_book();
    let dir = dir_of(&book);
    for (mix, lab) in [("umber 2", "60,10,14"), ("iron oxide red 2", "62,22,20")] {
        let said = run(&format!(
            "swatch add {CUP} --date 2026-03-01 --mix '{mix}' --lab {lab} {book}"
        ));
        assert_eq!(said.code, 0, "{}", said.err);
    }
    let mut tried = Tried::of("calibrations");
    for (line, stride) in [
        (format!("calibrate {book}"), 31),
        (
            format!("calibrate --weigh 'umber 20 drops 0.61 g' {book}"),
            41,
        ),
        (format!("calibrate --new-lot 'umber=B7' {book}"), 41),
    ] {
        tried.cut(&dir, &line, stride);
    }
}

/// The readings of a photograph go into the log, and what it was read by into a file beside it; a calibration reads it again.
#[cfg(feature = "photo")]
#[test]
fn readings_off_a_photograph_are_logged_whole_or_not_at_all() {
    let (parent, book) = starter_book();
    let dir = dir_of(&book);
    let board = Board::of(parent.path());
    let made = run(&format!(
        "match --target 65,11,14 --base-g 600 --pigments 'umber,iron oxide red' --backing 'white card' --tolerance 99 --part arm --date 2026-03-02 --time-limit 60 {book}"
    ));
    assert_eq!(made.code, 0, "{}", made.err);
    let (read, [one, other]) = (board.line(), [0, 1].map(|index| board.chip(index)));
    let mut tried = Tried::of("photographs");
    for (line, stride) in [
        (format!("swatch read {read} --date 2026-03-06 {book}"), 3),
        (format!("swatch remove P1 {book}"), 3),
        (
            format!("swatch add {CUP} --mix 'umber 2' {one} --date 2026-03-07 {book}"),
            3,
        ),
        (
            format!("swatch add --part arm {one} --date 2026-03-08 {book}"),
            3,
        ),
        (
            format!(
                "correct --part arm {other} --max-add 2 --max-contrast 1 --replace --date 2026-03-09 --time-limit 60 {book}"
            ),
            7,
        ),
        (
            format!(
                "correct --target 65,11,14 {CUP} --mix 'umber 3' {other} --max-add 2 --max-contrast 1 --date 2026-03-10 --time-limit 60 {book}"
            ),
            11,
        ),
        (format!("calibrate {book}"), 97),
    ] {
        tried.cut(&dir, &line, stride);
    }
}

/// Documents beside the book: an earlier one stays whole until the new one is.
#[test]
fn a_document_is_the_old_one_or_the_new_one() {
    let (parent, book) = starter_book();
    for line in [
        "match --target 65,11,14 --base-g 600 --pigments 'umber,iron oxide red' --backing 'white card' --tolerance 99 --part arm --time-limit 60",
        "swatch add --part arm --lab 60,10,14 --date 2026-03-01",
        "mould add forearm --skin-g 300 --foam-g 210",
    ] {
        let said = run(&format!("{line} {book}"));
        assert_eq!(said.code, 0, "{}: {line}", said.err);
    }
    let dir = parent.path().join("sheets");
    std::fs::create_dir(&dir).expect("made");
    let mut tried = Tried::of("documents");
    super::file(&dir, "old", "an older one");
    for (name, line) in [
        ("log.txt", "swatch export"),
        ("card.html", "mould card forearm"),
        (
            "day.svg",
            "part clock arm --pieces 2 --date 2026-03-02 --bars",
        ),
        ("tone.json", "target --lab 60,10,14 --save"),
        ("board.html", "plan --count 1 --base-g 100 --board"),
        #[cfg(feature = "page")]
        ("sheet.html", "part sheet arm --date 2026-03-02"),
        #[cfg(feature = "page")]
        ("plot.svg", "part plot arm --date 2026-03-02"),
    ] {
        let path = word(&dir.join(name));
        let line = format!("{line} {path} {book}");
        tried.cut(&dir, &line, 3);
        super::file(&dir, name, "an older one");
        tried.cut(&dir, &format!("{line} --force"), 3);
    }
}

/// The sheet of an answer that is kept, and the picture of a board that is logged, come before the book's change.
#[cfg(all(feature = "photo", feature = "page"))]
#[test]
fn a_document_that_fails_leaves_the_book_as_it_was() {
    let (parent, book) = starter_book();
    let board = Board::of(parent.path());
    let mut tried = Tried::of("documents beside a change");
    let [sheet, check] = ["sheet.html", "check.png"].map(|name| word(&parent.path().join(name)));
    let read = board.line();
    for (line, stride) in [
        (
            format!(
                "match --target 65,11,14 --base-g 600 --over 70,8,12 --pigments 'umber,iron oxide red' --tolerance 99 --part arm --sheet {sheet} --date 2026-03-03 --time-limit 60 {book}"
            ),
            3,
        ),
        (
            format!("swatch read {read} --check {check} --date 2026-03-06 {book}"),
            3,
        ),
    ] {
        tried.cut(parent.path(), &line, stride);
    }
}

#[test]
fn a_change_that_the_next_command_ends_outlives_a_fault_there() {
    let (_parent, book) = starter_book();
    let mut tried = Tried::of("the next command");
    let line = format!("backing add 'pale card' --lab 80,1,3 {book}");
    tried.cut_the_next(&dir_of(&book), &line);
}
