//! `swatch add` and the log: likely mistakes are pointed out, and none is logged silently. All readings are invented.

use std::fs;

use serde_json::Value;

use super::{file, json, run, starter_book};

const CHIP: &str =
    r#"--base "clear skin" --base-g 100 --mix "umber 2" --thickness-mm 2 --backing "white card""#;

/// A grey of reflectance 0.3 at every wavelength, whose L* is 61.65 whatever the light (CIE 015: 116 × 0.3^⅓ − 16).
fn grey() -> String {
    let rows = (38..=73).map(|tens| format!("{tens}0,0.3\n"));
    "wavelength_nm,r\n".to_owned() + &rows.collect::<String>()
}

fn doubtful(answer: &Value) -> Vec<&str> {
    let words = answer["doubtful"].as_array().expect("a list");
    words
        .iter()
        .map(|words| words.as_str().expect("words"))
        .collect()
}

#[test]
fn a_colour_that_its_spectrum_belies_is_not_logged() {
    let (parent, book) = starter_book();
    let r_file = file(parent.path(), "grey.csv", &grey());
    let log = parent.path().join("bench/swatches.csv");
    let before = fs::read(&log).expect("the log");
    let said = run(&format!(
        "swatch add {book} {CHIP} --lab 61.6,14,0 --r-file {r_file}"
    ));
    assert_eq!((said.code, said.out.as_str()), (2, ""), "{}", said.err);
    assert!(said.err.contains("that is L*,a*,b* 61.7,"), "{}", said.err);
    assert_eq!(fs::read(&log).expect("the log"), before, "untouched");
    let answer = json(&format!(
        "swatch add {book} {CHIP} --lab 61.5,0.2,-0.1 --r-file {r_file}"
    ));
    assert!(doubtful(&answer).is_empty(), "they agree: {answer}");
}

#[test]
fn rows_that_belie_themselves_lie_on_two_things_or_stand_twice_are_told_with_their_line() {
    let (parent, book) = starter_book();
    let r_file = file(parent.path(), "grey.csv", &grey());
    for reading in [
        "--lab 60,9,9",
        "--lab 60,9,9",
        &format!("--lab 61.6,0,0 --r-file {r_file}"),
    ] {
        assert_eq!(
            run(&format!("swatch add {book} {CHIP} {reading}")).code,
            0,
            "logged"
        );
    }
    let log = parent.path().join("bench/swatches.csv");
    let text = fs::read_to_string(&log).expect("the log");
    fs::write(&log, text.replace("61.6,0,0", "16.6,0,0")).expect("a mistake in a spreadsheet");
    let mut text = fs::read_to_string(&log).expect("the log");
    text +=
        "B1,2026-03-09,clear skin,100,umber 3,2,white card,,flexible foam,100,,,,,,60,9,9,,,,,\n";
    fs::write(&log, text).expect("a row with a card and a foam");
    for command in ["calibrate --dry-run", "swatch list"] {
        let answer = json(&format!("{command} {book}"));
        let [twice, belied, foamed] = doubtful(&answer)[..] else {
            panic!("three rows: {answer}");
        };
        assert!(
            twice.contains("swatches.csv:3:1: this is the casting and the reading of line 2 again"),
            "{twice}"
        );
        assert!(
            belied.contains("swatches.csv:4:16: L, a and b lie ΔE00 ")
                && belied.ends_with("leave L, a and b empty)"),
            "{belied}"
        );
        assert!(
            foamed.contains("swatches.csv:5:7: foam and backing are both named"),
            "{foamed}"
        );
        let said = run(&format!("{command} {book}")).out;
        assert!(said.contains("swatches.csv:4:16: L, a and b lie"), "{said}");
    }
}

#[test]
fn likely_mistakes_are_pointed_out_and_the_reading_is_kept() {
    let (_parent, book) = starter_book();
    let chip = |base_g: &str, thickness_mm: &str| {
        format!(
            r#"swatch add {book} --base "clear skin" --base-g {base_g} --mix "umber 20" --thickness-mm {thickness_mm} --backing "white card" --lab 30,6,7"#
        )
    };
    let right = json(&chip("100", "2.1"));
    assert!(doubtful(&right).is_empty(), "{right}");
    let again = json(&chip("100", "2.1"));
    assert!(
        doubtful(&again)[0].contains("is logged as `S001` already"),
        "{again}"
    );
    let thick = json(&chip("100", "21"));
    assert!(
        doubtful(&thick)[0].contains("a skin of 21 mm is unusual"),
        "{thick}"
    );
    let strong = json(&chip("10", "2.1"));
    assert!(
        doubtful(&strong)[0].contains("`umber` would be 5.84 % of the cup"),
        "{strong}"
    );
    let logged = json(&format!("swatch list {book}"));
    assert_eq!(
        logged["swatches"].as_array().map(Vec::len),
        Some(4),
        "all are kept"
    );
}

#[test]
fn a_refused_reading_names_no_line_of_the_log() {
    let (_parent, book) = starter_book();
    let said = run(&format!("swatch add {book} {CHIP} --lab 160,9,9"));
    assert_eq!(
        said.err,
        "error: the new swatch: L is \"160\"; expected a number from 0 to 100\n"
    );
}

#[test]
fn a_long_mix_wraps_between_its_entries() {
    let (_parent, book) = starter_book();
    let mix =
        "fibre 3.3 g; titanium white 1:10 42; iron oxide red 1:100 49; iron oxide yellow 1:10 12";
    let said = run(&format!(
        r#"swatch add {book} --base "clear skin" --base-g 100 --mix "{mix}" --thickness-mm 2 --backing "white card" --lab 60,9,9"#
    ));
    assert!(
        said.out
            .contains("iron oxide red 1:100 49;\n  iron oxide yellow 1:10 12\n"),
        "{}",
        said.out
    );
}
