//! `swatch add` by itself at a terminal: what the row needs is asked for, one thing at a time. Who answers is a text here; that
//! the binary asks at a terminal alone is seen from a pipe.

use std::ffi::OsString;
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};

use super::{Said, json, run, starter_book, words};

/// What is said to somebody who answers these `lines`, at a terminal.
fn asked(line: &str, lines: &[&str]) -> Said {
    let arguments = words(&format!("dropwise {line}"));
    let arguments = arguments.into_iter().map(OsString::from).collect();
    let answers: String = lines.iter().map(|line| format!("{line}\n")).collect();
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = dropwise::cli::run_asking(arguments, &mut answers.as_bytes(), &mut out, &mut err);
    Said {
        code,
        out: String::from_utf8(out).expect("UTF-8"),
        err: String::from_utf8(err).expect("UTF-8"),
    }
}

fn log(parent: &Path) -> String {
    fs::read_to_string(parent.join("bench/swatches.csv")).expect("the log")
}

#[test]
fn a_bad_answer_is_asked_for_again_and_no_answer_is_lost() {
    let (parent, book) = starter_book();
    let first_round = [
        "",
        "clear skim",
        "clear skin",
        "100",
        "umbr 4",
        "umber 4",
        "2,1",
        "2.1",
        "",
        "61,8",
        "160,8,12",
        "61,8,12",
        "9 March",
        "2026-03-09",
        "",
        "perhaps",
        "no",
    ];
    // All that stands is taken but the reading, which was mistyped.
    let second_round = ["", "", "", "", "", "", "62,8,12", "", "", "yes"];
    let said = asked(
        &format!("swatch add {book}"),
        &[&first_round[..], &second_round[..]].concat(),
    );
    assert_eq!((said.code, said.err.as_str()), (0, ""), "{}", said.out);
    for mend in [
        "did you mean `clear skin`?",
        "no pigment is called `umbr` (did you mean `umber`?)",
        "write 2.1, with a point",
        "write three numbers with points and commas between",
        "L* is 160 units; expected from 0 to 100",
        "write year, month and day",
        "write yes or no",
        "It lay on which card, or over which foam [white card]: ",
        "What went in, as in umber 4; titanium white 6 [umber 4]: ",
        "--base=\"clear skin\" --base-g=100 --mix=\"umber 4\" --thickness-mm=2.1 --backing=\"white card\" --lab=62,8,12",
        "off by ΔE00",
    ] {
        assert!(said.out.contains(mend), "{mend}: {}", said.out);
    }
    let row = log(parent.path()).lines().last().expect("a row").to_owned();
    assert!(
        row.starts_with("S001,2026-03-09,clear skin,100,umber 4,2.1,white card,"),
        "{row}"
    );
    assert!(row.contains(",62,8,12,"), "as it was put right: {row}");

    // The same chip over the other card: all of it is known.
    let over_black = [
        "S001",
        "black card",
        "30,2,3",
        "2026-03-09",
        "by the window",
        "y",
    ];
    let said = asked(&format!("swatch add {book}"), &over_black);
    assert_eq!((said.code, said.err.as_str()), (0, ""), "{}", said.out);
    let log = log(parent.path());
    let row = log.lines().last().expect("a row");
    assert!(
        row.starts_with("S001,2026-03-09,clear skin,100,umber 4,2.1,black card,")
            && row.ends_with("by the window"),
        "{row}"
    );
}

#[test]
fn a_casting_of_the_latest_part_takes_a_reading_and_a_yes() {
    let (parent, book) = starter_book();
    let kept = "--base-g 600 --foam-g 300 --fibre-g 12 --paint-g 60 --pigments \"titanium white,iron oxide red,umber\" \
                --tolerance 9 --time-limit 60 --date 2026-03-14";
    let flush = "--target 64,12,16 --flush 58,18,15";
    for name in ["elbow", "forearm"] {
        let said = run(&format!("match {book} {flush} {kept} --part {name}"));
        assert!(said.code <= 1, "{}", said.err);
    }
    let part = run(&format!("part show forearm {book}")).out;
    let answers = ["", "", "", "", "63.8,11.9,12.6", "2026-03-15", "", "yes"];
    let said = asked(&format!("swatch add {book}"), &answers);
    assert_eq!(
        (said.code, said.err.as_str()),
        (0, ""),
        "{}\n{part}",
        said.out
    );
    assert!(
        said.out
            .contains("Which part was cast, or `chip` for what is none [forearm]: "),
        "{}",
        said.out
    );
    let by_hand = "--part forearm --lab 63.8,11.9,12.6 --date 2026-03-15 --swatch hand";
    run(&format!("swatch add {book} {by_hand}"));
    let logged = log(parent.path());
    let rows: Vec<&str> = logged.lines().rev().take(2).collect();
    assert_eq!(rows[0].replace("hand,", "S001,"), rows[1], "the same row");

    // Read once more, under its flush, and then another casting whose hand slipped.
    let again = ["", "flush", "S001", "", "58,17,15", "2026-03-16", "", "yes"];
    let said = asked(&format!("swatch add {book}"), &again);
    assert_eq!((said.code, said.err.as_str()), (0, ""), "{}", said.out);
    assert!(
        said.out.contains("--tone=flush --casting=S001"),
        "{}",
        said.out
    );
    let slip = [
        "forearm",
        "",
        "",
        "umber 9",
        "2.2",
        "50,9,12",
        "2026-03-17",
        "",
        "yes",
    ];
    let said = asked(&format!("swatch add {book}"), &slip);
    assert_eq!((said.code, said.err.as_str()), (0, ""), "{}", said.out);
    let logged = log(parent.path());
    let row = logged.lines().last().expect("a row");
    assert!(row.contains(",umber 9,2.2,,"), "what really went in: {row}");
    let parts = json(&format!("part list {book}"));
    let castings = parts["parts"][1]["castings"].as_array().map(Vec::len);
    assert_eq!(castings, Some(4), "all are noted with the part: {parts}");
}

#[test]
fn who_answers_no_more_has_written_nothing() {
    let (parent, book) = starter_book();
    let before = log(parent.path());
    let said = asked(&format!("swatch add {book}"), &["", "clear skin", "100"]);
    assert_eq!(said.code, 2, "{}", said.out);
    assert!(
        said.err
            .contains("the answers ended, and nothing was written"),
        "{}",
        said.err
    );
    assert_eq!(log(parent.path()), before, "as it was");
    // The demo is refused before anybody goes to the trouble.
    let said = asked("swatch add", &[]);
    assert_eq!(said.code, 2, "{}", said.out);
    assert!(
        said.err.contains("the demo book is never written to"),
        "{}",
        said.err
    );
    assert!(!said.out.contains("base"), "nothing is asked: {}", said.out);
}

#[test]
fn nothing_is_asked_of_a_pipe_nor_of_who_says_more() {
    let (_parent, book) = starter_book();
    let mut command = Command::new(env!("CARGO_BIN_EXE_dropwise"));
    let book_words = words(&book);
    let said = command
        .args(["swatch", "add"])
        .args(&book_words)
        .stdin(Stdio::null())
        .output()
        .expect("the binary runs");
    let err = String::from_utf8_lossy(&said.stderr).into_owned();
    assert_eq!(said.status.code(), Some(2), "{err}");
    assert!(err.contains("--base"), "what is missing: {err}");
    assert!(said.stdout.is_empty(), "no question");
    let bare = run(&format!("swatch add {book}"));
    assert_eq!(err, bare.err, "the present error");
    for more in ["--json", "--lab 60,9,9", "--help"] {
        let said = asked(&format!("swatch add {book} {more}"), &[]);
        assert!(!said.out.contains("Ctrl-C"), "{more}: {}", said.out);
    }
}

#[cfg(target_os = "linux")]
#[test]
#[expect(clippy::print_stdout, reason = "a test that is skipped says why")]
fn the_binary_asks_at_a_terminal() {
    use std::io::Write as _;

    if Command::new("script").arg("--version").output().is_err() {
        println!("skipped: there is no `script` here to lend the binary a terminal");
        return;
    }
    let (parent, _) = starter_book();
    let book = parent.path().join("bench");
    let binary = env!("CARGO_BIN_EXE_dropwise");
    let line = format!("{binary} swatch add --book {}", book.display());
    let mut lent = Command::new("script")
        .args(["-qec", &line, "/dev/null"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("`script` starts");
    let answers = "\nclear skin\n100\number 4\n2.1\n\n61,8,12\n\n\nyes\n";
    let mut input = lent.stdin.take().expect("a pipe");
    input.write_all(answers.as_bytes()).expect("heard");
    let said = lent.wait_with_output().expect("it ends");
    drop(input);
    let out = String::from_utf8_lossy(&said.stdout);
    assert!(out.contains("It is cast of which base"), "{out}");
    assert_eq!(log(parent.path()).lines().count(), 2, "one row: {out}");
}
