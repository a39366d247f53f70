//! Names that no screen can show, and numbers that no bench can have: refused, and nothing is written.

use std::fs;

use super::super::{file, folder, run, starter_book, word};
use super::assert_refused;

/// What every casting here is logged with.
const CHIP: &str =
    r#"--base "clear skin" --base-g 60 --thickness-mm 2 --lab 60,9,9 --backing "white card""#;

#[test]
fn a_name_is_of_at_most_200_characters_that_are_seen() {
    let (_parent, book) = starter_book();
    let dir = book
        .trim_start_matches("--book ")
        .trim_matches('"')
        .to_owned();
    let log = || fs::read_to_string(format!("{dir}/swatches.csv")).expect("the log");
    let before = log();
    let add = |option: &str, name: &str| format!("swatch add {book} {CHIP} {option} \"{name}\"");
    let long = "n".repeat(65_536);
    for option in ["--swatch", "--batch"] {
        assert_refused(
            &add(option, &long),
            "has 65536 characters; expected at most 200",
        );
        assert_refused(
            &add(option, "a\u{202e}b"),
            "holds U+202E, a sign that is not seen",
        );
    }
    assert_refused(
        &add("--note", "\u{1b}[2J"),
        "holds U+001B, a sign that is not seen",
    );
    assert_eq!(log(), before, "nothing is logged");
    let longest = "n".repeat(200);
    let said = run(&add("--swatch", &longest));
    assert_eq!(said.code, 0, "{}", said.err);
    assert!(log().contains(&longest), "200 are taken");
    let pigment = format!("pigment add {book} \"a\u{202e}b\" --drop-g 0.03 --max-fraction 0.03");
    assert_refused(&pigment, "holds U+202E");
}

#[test]
fn a_title_holds_nothing_that_a_page_does_not_show() {
    let line = r#"match --target 66,12,17 --base-g 600 --backing "white card" --title"#;
    assert_refused(
        &format!("{line} \"a\u{1b}[31mb\""),
        "the title holds U+001B",
    );
    assert_refused(
        &format!("{line} \"{}\"", "t".repeat(201)),
        "the title has 201 characters",
    );
}

#[test]
fn a_path_with_a_zero_byte_is_bad_input() {
    let folder = folder();
    let path = word(&folder.path().join("a\0b.json"));
    let said = run(&format!("target --lab 66,12,17 --save {path}"));
    assert_eq!((said.code, said.out.as_str()), (2, ""), "{}", said.err);
    assert!(said.err.contains("zero byte"), "{}", said.err);
}

/// A name of 300 letters is longer than any file's.
#[test]
fn a_name_that_is_too_long_for_a_file_is_bad_input() {
    let folder = folder();
    let path = word(&folder.path().join("x".repeat(300)));
    let says = "the name is too long, and no file can be called so (give it a shorter one)";
    assert_refused(&format!("target --lab 66,12,17 --save {path}"), says);
    assert_refused(&format!("new {path}"), says);
    #[cfg(feature = "page")]
    assert_refused(&format!("{} --sheet {path}", super::LAYER), says);
}

#[test]
fn what_was_typed_neither_fills_a_terminal_nor_steers_it() {
    let long = "x".repeat(65_536);
    let said = run(&format!("part show {long}"));
    assert_eq!(said.code, 2, "{}", said.err);
    assert!(said.err.chars().count() < 1010, "{}", said.err);
    assert!(said.err.contains("x…x"), "{}", said.err);
    assert!(said.err.ends_with(")\n"), "the mend is left: {}", said.err);
    let said = run("target --reading \"a\u{1b}[2J\u{202e}b\"");
    let says = r"error: a\u{1b}[2J\u{202e}b: there is no such file";
    assert!(said.err.starts_with(says), "{}", said.err);
}

/// The search for the next cup takes as many drops as were poured, and was not heard of again.
#[test]
fn a_mix_that_no_cup_holds_is_refused_and_a_strong_one_ends() {
    let correct = r#"correct --target 65,11,14 --measured 60,10,14 --base "clear skin" --base-g 60 --thickness-mm 2 --backing "white card" --time-limit 0.2 --mix"#;
    for mix in ["umber 1e308", "umber 1000001", "umber 1e7 g"] {
        assert_refused(
            &format!("{correct} \"{mix}\""),
            "expected from 0 to 1000000",
        );
    }
    let said = run(&format!("{correct} \"umber 1000000\""));
    assert!(matches!(said.code, 0 | 1), "{}", said.err);
}

#[test]
fn numbers_that_no_bench_has_are_refused_where_nothing_would_come_of_them() {
    let (_parent, book) = starter_book();
    for foam in ["--foam-g 1e308", "--foam-g 60"] {
        let line = format!("swatch add {book} {CHIP} {foam}");
        assert_refused(&line, "of a foam is given, and no foam is named");
    }
    let layer = r#"match --target 66,12,17 --base-g 600 --backing "white card""#;
    assert_refused(
        &format!("{layer} --paint-g 0"),
        "the mass of the paint is 0 g; expected from 0.01 to 1000000 g",
    );
    let folder = folder();
    let tone = file(
        folder.path(),
        "tone.json",
        "{\"L\": 66, \"a\": 12, \"b\": 17, \"L_sd\": 1e20}",
    );
    assert_refused(
        &format!(
            "{} --target {tone}",
            layer.replace("--target 66,12,17 ", "")
        ),
        "L_sd is 100000000000000000000; expected a number from 0 to 50",
    );
    let dark = file(
        folder.path(),
        "dark.txt",
        "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n1 -50 12 17\nEND_DATA\n",
    );
    assert_refused(
        &format!("target --reading {dark}"),
        "dark.txt:6:2: L* is -50; expected from -1 to 105",
    );
}

#[cfg(unix)]
#[test]
fn a_table_that_is_a_link_to_nothing_is_refused_and_stays_a_link() {
    let (_parent, book) = starter_book();
    let dir = book
        .trim_start_matches("--book ")
        .trim_matches('"')
        .to_owned();
    let link = std::path::Path::new(&dir).join("let-downs.csv");
    let nowhere = std::path::Path::new(&dir).join("elsewhere.csv");
    std::os::unix::fs::symlink(&nowhere, &link).expect("linked");
    assert_refused(
        &format!("let-down list {book}"),
        "is a link to a file that is not there",
    );
    assert!(link.is_symlink(), "still a link");
    let kept = std::path::Path::new(&dir).join("tone.json");
    std::os::unix::fs::symlink(&nowhere, &kept).expect("linked");
    assert_refused(
        &format!("target --lab 66,12,17 --save {}", word(&kept)),
        "is a link to a file that is not there",
    );
    assert!(kept.is_symlink(), "still a link");
    assert!(!nowhere.exists(), "and nothing was made");
}
