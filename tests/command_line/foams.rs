//! `calibrate` on a tint foamed and unfoamed. The readings here are `predict`'s own, of a book whose foam has finer cells and
//! absorbs more: they check the plumbing, never the physics.

use std::fs;

use serde_json::Value;

use super::calibrating::{Bench, contents};
use super::{file, json, number, predict, run};

/// What stands for what is; the starter's foam has cells of 0.4 mm, and a gain of 1.86 by guess.
const CELL_MM: f64 = 0.28;
const GAIN: f64 = 1.55;
const CARDS: [&str; 2] = ["white card", "black card"];
/// Light enough that a card shows through a sheet, of so many drops that their sum is known well.
const TINT: &str = "iron oxide red 1:10 20; iron oxide yellow 1:10 20";
const CELLS_NEAR_MM: f64 = 0.01;

/// A new book, and one whose foam is another.
fn bench() -> Bench {
    let bench = Bench::new();
    let path = bench.path("truth").join("bases.csv");
    let bases = fs::read_to_string(&path).expect("bases");
    let (before, foam) = bases.split_once("\nflexible foam,").expect("a foam");
    let (header, skin) = before.split_once('\n').expect("a header");
    let header = header.replace(",cell_mm,", ",cell_mm,absorption_gain,");
    let plain = |rows: &str| rows.replace(",1,,", ",1,,,");
    let foam = foam.replacen(",6,0.4,", &format!(",6,{CELL_MM},{GAIN},"), 1);
    let foam = plain(&foam);
    let bases = format!("{header}\n{}\nflexible foam,{foam}", plain(skin));
    fs::write(path, bases).expect("written");
    bench
}

/// Logs a chip of `base`, read as a spectrum over both cards in the book of what is.
fn log(bench: &Bench, id: &str, base: &str, mix: &str, thickness_mm: f64) {
    for card in CARDS {
        let row = format!("{card},{base},100,{mix},{thickness_mm},{card}");
        let options = format!(
            "--base \"{base}\" --base-g 100 --mix \"{mix}\" --thickness-mm {thickness_mm} --backing \"{card}\""
        );
        log_as(bench, id, &row, &options);
    }
}

/// Logs 1.5 mm of clear skin over the foam, tinted with `mix`.
fn log_covered(bench: &Bench, mix: &str) {
    let row = format!("covered,clear skin,100,,1.5,,,flexible foam,100,{mix}");
    let options = format!(
        "--base \"clear skin\" --base-g 100 --thickness-mm 1.5 --foam \"flexible foam\" --foam-g 100 --foam-mix \"{mix}\""
    );
    log_as(bench, "covered", &row, &options);
}

/// Logs what the book of what is predicts of `row` as the reading of a chip that was poured by `options`.
fn log_as(bench: &Bench, id: &str, row: &str, options: &str) {
    let read = predict(&[row], &bench.option("truth"));
    let r = read[0]["r"].as_array().expect("36 samples");
    let rows = (38..).zip(r).map(|(tens, r)| format!("{tens}0,{r}\n"));
    let text = "wavelength_nm,r\n".to_owned() + &rows.collect::<String>();
    let (name, _) = row.split_once(',').expect("a row");
    let r_file = file(&bench.path(""), &format!("{id} {name}.csv"), &text);
    let said = run(&format!(
        "swatch add {} --swatch {id} --date 2026-04-02 {options} --r-file {r_file}",
        bench.option("book")
    ));
    assert_eq!(said.code, 0, "{}", said.err);
}

fn log_both(bench: &Bench) {
    log(bench, "unfoamed", "clear skin", TINT, 2.0);
    log(bench, "foamed", "flexible foam", TINT, 3.0);
}

fn foam(answer: &Value) -> &Value {
    let foams = answer["foams"].as_array().expect("foams");
    assert_eq!(foams.len(), 1, "one foam: {answer}");
    assert_eq!(foams[0]["foam"], "flexible foam", "by its name");
    &foams[0]
}

#[test]
fn a_tint_foamed_and_unfoamed_tells_cells_and_gain() {
    // A pour may rise a tenth more or less, which only more pours could tell from the gain; the red is another, too.
    const GAIN_NEAR: f64 = 0.08;
    let bench = bench();
    log_both(&bench);
    let answer = bench.calibrate("");
    let found = foam(&answer);
    assert_eq!(number(&found["first_cell_mm"]), 0.4);
    assert_eq!(number(&found["first_absorption_gain"]), 1.86);
    assert!(
        (number(&found["cell_mm"]) - CELL_MM).abs() < CELLS_NEAR_MM,
        "{found}"
    );
    assert!(
        (number(&found["absorption_gain"]) - GAIN).abs() < GAIN_NEAR,
        "{found}"
    );
    assert!(number(&found["cells_variance_removed"]) > 0.9, "{found}");
    assert!(number(&found["gain_variance_removed"]) > 0.7, "{found}");
    assert!(
        number(&found["absorption_gain_ln_sd"]) > 0.03,
        "one pour leaves its rise in doubt: {found}"
    );
}

#[test]
fn what_chips_tell_of_a_foam_stands_in_the_book_and_a_second_run_changes_no_byte() {
    let bench = bench();
    log_both(&bench);
    let before = bench.read("bases.csv");
    bench.calibrate("");
    let after = contents(&bench.path("book"));
    let header = bench.read("bases.csv");
    let header = header.lines().next().expect("a header");
    assert!(
        header.starts_with(before.lines().next().expect("a header")),
        "columns stay where they were: {header}"
    );
    let said = run(&format!("calibrate --why {}", bench.option("book")));
    assert_eq!(contents(&bench.path("book")), after, "byte for byte");
    for words in ["risen 6 times", "guessed 0.40 mm", "absorption gain"] {
        assert!(said.out.contains(words), "{words}: {}", said.out);
    }
    let first = bench.calibrate("--dry-run");
    assert_eq!(
        number(&foam(&first)["first_cell_mm"]),
        0.4,
        "the first guess is kept"
    );
}

/// The foam of the book of what is touches a skin over so much of it.
const WET: f64 = 0.5;

#[test]
fn one_chip_of_clear_skin_over_foam_tells_how_they_touch() {
    let bench = bench();
    let bases = fs::read_to_string(bench.path("truth").join("bases.csv")).expect("bases");
    let bases = bases.replacen(",absorption_gain,", ",absorption_gain,wet_share,", 1);
    let bases = bases.replace(",1,,,", ",1,,,,");
    let bases = bases.replacen(&format!(",{GAIN},"), &format!(",{GAIN},{WET},"), 1);
    fs::write(bench.path("truth").join("bases.csv"), bases).expect("written");
    log_both(&bench);
    let before = bench.calibrate("--dry-run");
    let guessed = foam(&before);
    let tint = "iron oxide red 8; iron oxide yellow 4";
    log(&bench, "bare", "flexible foam", tint, 30.0);
    log_covered(&bench, tint);
    let answer = bench.calibrate("");
    let found = foam(&answer);
    assert!(
        (number(&found["wet_share"]) - WET).abs() < 0.1,
        "learnt: {found}"
    );
    // A slice has an open face too, which tells a part of it.
    let [by_slices, by_all] =
        [guessed, found].map(|foam| number(&foam["wet_share_variance_removed"]));
    assert!(
        by_all > by_slices.max(0.8),
        "{by_slices} by slices, {by_all} by all: {found}"
    );
    let again = bench.calibrate("");
    assert_eq!(
        number(&foam(&again)["first_wet_share"]),
        number(&guessed["first_wet_share"]),
        "the first guess is kept"
    );
}

#[test]
fn a_calibrated_foam_is_predicted_nearer_and_more_surely() {
    let bench = bench();
    log_both(&bench);
    // Another tint, and skin over foam, neither of them logged.
    let rows = [
        "bare,flexible foam,100,iron oxide red 4; iron oxide yellow 16,30,white card",
        "part,clear skin,100,iron oxide red 1; titanium white 1,1.5,,,flexible foam,100,iron oxide red 4; iron oxide yellow 4",
    ];
    // What hands do is left out: what remains is what is not known of materials.
    let told = |book: &str| predict(&rows, &format!("--calibration-only {}", bench.option(book)));
    let (truth, before) = (told("truth"), told("book"));
    bench.calibrate("");
    let after = told("book");
    for ((truth, before), after) in truth.iter().zip(&before).zip(&after) {
        let off = |guess: &Value| {
            let by = |key: &str| number(&guess[key]) - number(&truth[key]);
            by("L").hypot(by("a")).hypot(by("b"))
        };
        assert!(
            off(after) < 0.5 * off(before),
            "nearer: {truth} {before} {after}"
        );
        assert!(
            number(&after["L_sd"]) < 0.7 * number(&before["L_sd"]),
            "and more surely: {before} {after}"
        );
        assert!(
            (number(&after["L"]) - number(&truth["L"])).abs() < 2.0 * number(&after["L_sd"]),
            "as surely as it says: {truth} {after}"
        );
    }
}

#[test]
fn cells_that_nobody_measured_are_a_first_guess_for_good() {
    let bench = bench();
    let bases = bench.read("bases.csv");
    bench.write("bases.csv", &bases.replacen(",6,0.4,", ",6,,", 1));
    log_both(&bench);
    let first = bench.calibrate("");
    let again = bench.calibrate("");
    assert_eq!(first, again, "the guess and its width are the same");
    assert!(
        (number(&foam(&first)["cell_mm"]) - CELL_MM).abs() < CELLS_NEAR_MM,
        "{first}"
    );
}

#[test]
fn a_first_guess_that_no_foam_has_is_refused_with_its_place() {
    let bench = bench();
    log_both(&bench);
    bench.calibrate("");
    let bases = bench.read("bases.csv");
    let broken = bases.replacen(",1.86,0.4", ",much,0.4", 1);
    assert_ne!(broken, bases, "the first gain: {bases}");
    bench.write("bases.csv", &broken);
    let said = json_error(&format!("calibrate {}", bench.option("book")));
    assert!(said.contains("bases.csv:3:"), "{said}");
}

fn json_error(line: &str) -> String {
    let said = run(line);
    assert_eq!(said.code, 2, "{}", said.err);
    said.err
}

#[test]
fn a_book_without_foam_chips_names_no_foam() {
    let bench = bench();
    log(&bench, "unfoamed", "clear skin", TINT, 2.0);
    let answer = json(&format!("calibrate {}", bench.option("book")));
    assert_eq!(answer["foams"], Value::Array(Vec::new()));
}
