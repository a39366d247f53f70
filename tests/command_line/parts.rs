//! Parts that are kept by name: matched, logged, repeated at another size, worked out again, edited by hand, taken off. What is
//! kept must pour and tell what the match told. All tones and readings are invented.

use std::fs;
use std::path::{Path, PathBuf};
use std::thread;

use serde_json::Value;

use super::refusals::assert_refused_in as refused;
#[cfg(feature = "page")]
use super::word;
use super::{json, json_with, number, run, starter_book};

const TONE: &str = "--target 64,12,16 --flush 58,19,17";
const BUILD: &str = "--base-g 600 --foam-g 300 --fibre-g 12 --paint-g 60";
/// Few pigments and a loose proof: any recipe will do here.
const QUICK: &str = "--pigments \"titanium white,iron oxide red,iron oxide yellow,umber\" --within 1 --tolerance 5 --time-limit 60";

/// A book with the part `forearm` in it, and what its match answered.
fn with_part() -> (tempfile::TempDir, String, Value) {
    let (parent, book) = starter_book();
    let answer = json(&format!(
        "match {book} {TONE} {BUILD} {QUICK} --part forearm --date 2026-03-14"
    ));
    (parent, book, answer)
}

fn part_file(parent: &tempfile::TempDir) -> PathBuf {
    parent.path().join("bench/parts/forearm.toml")
}

fn read(path: &Path) -> String {
    fs::read_to_string(path).expect("the part's file")
}

/// What is the same in the answer of a match and in that of the part that it keeps: all but the time and what became of it.
fn told(answer: &Value) -> Value {
    let mut answer = answer.clone();
    let keys = answer.as_object_mut().expect("a document");
    for key in ["elapsed_s", "part"] {
        keys.shift_remove(key).expect(key);
    }
    rounded(&answer)
}

/// Numbers to nine digits: a search sums in another order than a prediction.
fn rounded(value: &Value) -> Value {
    match value {
        Value::Number(number) => {
            let number = number.as_f64().expect("a number");
            Value::from((number * 1e9).round() / 1e9)
        }
        Value::Array(all) => all.iter().map(rounded).collect(),
        Value::Object(keys) => Value::Object(
            keys.iter()
                .map(|(key, value)| (key.clone(), rounded(value)))
                .collect(),
        ),
        other => other.clone(),
    }
}

#[test]
fn a_part_that_is_kept_shows_what_its_match_answered() {
    let (parent, book, answer) = with_part();
    assert_eq!(answer["part"]["kept"], "new", "{answer}");
    let shown = json(&format!("part show forearm {book} --date 2026-03-14"));
    assert_eq!(
        told(&shown),
        told(&answer),
        "the same cups, doubts and target"
    );
    let text = read(&part_file(&parent));
    let mix = answer["recipes"][0]["drops"].as_object().expect("drops");
    for (name, count) in mix {
        assert!(
            text.contains(&format!("{name} {count}")),
            "a notebook's mix: {text}"
        );
    }
    for says in [
        "from = \"typed\"",
        "what = \"matched\"",
        "date = 2026-03-14",
        "role = \"flush\"",
    ] {
        assert!(text.contains(says), "{says}: {text}");
    }
    let listed = json(&format!("part list {book}"));
    assert_eq!(listed["parts"][0]["name"], "forearm", "{listed}");
    assert_eq!(
        listed["parts"][0]["cups"].as_array().map(Vec::len),
        Some(3),
        "skin, foam, paint"
    );
    let said = run(&format!("part why forearm {book}"));
    assert!(
        said.out.contains("2026-03-14  matched"),
        "its history: {}",
        said.out
    );
}

#[test]
fn the_next_commands_take_the_parts_name_and_work() {
    let (_parent, book, answer) = with_part();
    let said = run(&format!("part show forearm {book}"));
    assert!(
        said.out.contains("--part forearm --lab L,a,b"),
        "{}",
        said.out
    );
    // Painted and unpainted, nothing is retyped.
    for (tone, words) in [
        ("", "read unpainted"),
        ("--tone flush", "read on the flush tone"),
    ] {
        let logged = json(&format!(
            "swatch add {book} --part forearm {tone} --lab 62,12,15 --date 2026-03-15"
        ));
        let row = &logged["swatches"][0];
        assert_eq!(row["date"], "2026-03-15", "{logged}");
        let shown = json(&format!("part show forearm {book}"));
        let last = shown["part"]["history"]
            .as_array()
            .and_then(|all| all.last())
            .expect("history");
        assert_eq!(
            (&last["swatch"], &last["note"]),
            (&row["swatch"], &words.into()),
            "{last}"
        );
    }
    let skin = answer["mix"].as_str().expect("a mix");
    let listed = json(&format!("swatch list {book}"));
    assert_eq!(listed["swatches"][0]["mix"], skin, "what was measured out");
    let parts = json(&format!("part list {book}"));
    assert_eq!(
        parts["parts"][0]["castings"],
        serde_json::json!(["S001", "S002"]),
        "{parts}"
    );
    assert_eq!(parts["parts"][0]["last_cast"], "2026-03-15", "{parts}");
    refused(
        &format!("swatch add {book} --part forearm --tone shadow --lab 62,12,15"),
        &["has no shadow paint", "its paints are for: flush"],
    );
}

#[test]
fn all_cups_are_made_ten_times_by_one_short_command() {
    let (_parent, book, answer) = with_part();
    for size in ["--times 10", "--pieces 10", "--to 6000"] {
        let batch = json(&format!("batch {book} --part forearm {size}"));
        for (cup, base_g) in [("", 6000.0), ("foam", 3000.0), ("paint", 600.0)] {
            let of = |answer: &Value| {
                if cup.is_empty() {
                    answer.clone()
                } else {
                    answer[cup].clone()
                }
            };
            let (one, ten) = (of(&answer), of(&batch));
            assert_eq!(number(&ten["pour"]["base_g"]), base_g, "{size} {cup}");
            let dispersion = |cup: &Value| -> f64 {
                let doses = cup["pour"]["doses"].as_array().expect("doses");
                doses.iter().map(|dose| number(&dose["weighs_g"])).sum()
            };
            let (one, ten) = (dispersion(&one), dispersion(&ten));
            // A drop of rounding for each of five doses, and steps of a scale of 0.1 g.
            assert!(
                (ten - 10.0 * one).abs() < 1.0,
                "{size} {cup}: {one} g, {ten} g"
            );
        }
    }
}

#[test]
fn what_was_poured_is_replaced_only_where_that_is_asked_and_stays_in_the_history() {
    let (parent, book, answer) = with_part();
    let (file, kept) = (part_file(&parent), read(&part_file(&parent)));
    let again = json(&format!("match {book} --part forearm --date 2026-04-01"));
    assert_eq!(
        again["part"]["kept"], "unchanged",
        "the same book: {}",
        again["part"]
    );
    refused(
        &format!("match {book} --part forearm --target 50,12,16 {BUILD}"),
        &["a part is called `forearm` already", "--replace"],
    );
    // A bottle that is used up is left out.
    let others = json(&format!(
        "match {book} --part forearm --with umber=3 --date 2026-04-02"
    ));
    assert_eq!(others["part"]["kept"], "not replaced", "{}", others["part"]);
    let changes = others["part"]["changes"].as_array().expect("changes");
    assert!(
        changes.iter().any(|change| change["cup"] == "skin"),
        "{changes:?}"
    );
    assert_eq!(read(&file), kept, "nothing is written unasked");
    let replaced = json(&format!(
        "match {book} --part forearm --with umber=3 --replace --date 2026-04-02"
    ));
    assert_eq!(replaced["part"]["kept"], "replaced", "{}", replaced["part"]);
    let history = replaced["part"]["history"].as_array().expect("history");
    let was = &history.last().expect("an event")["was"];
    let skin = answer["recipes"][0]["drops"].as_object().expect("drops");
    let (name, count) = skin.iter().next().expect("a pigment");
    let lines = was.to_string();
    assert!(
        lines.contains(&format!("{name} {count}")),
        "the old recipe: {lines}"
    );
    let shown = json(&format!("part show forearm {book} --date 2026-04-02"));
    assert_eq!(told(&shown), told(&replaced), "the new one is kept");
}

#[test]
fn a_file_that_is_edited_by_hand_keeps_its_comments_and_is_read_as_it_stands() {
    let (parent, book, _) = with_part();
    let file = part_file(&parent);
    let text = read(&file)
        .replace("[recipe.skin]\n", "[recipe.skin] # mine\n")
        .replace("[build]\n", "[build]\nmould = \"the old one\"\n")
        .replace("fibre 12 g", "umber 1:10 7; fibre 12 g");
    fs::write(&file, &text).expect("edited");
    let shown = json(&format!("part show forearm {book}"));
    assert_eq!(
        shown["recipes"][0]["drops"]["umber 1:10"], 7,
        "{}",
        shown["recipes"]
    );
    assert_eq!(
        shown["proven"], false,
        "no search found that: {}",
        shown["recipes"]
    );
    json(&format!("swatch add {book} --part forearm --lab 62,12,15"));
    let after = read(&file);
    for kept in [
        "[recipe.skin] # mine",
        "mould = \"the old one\"",
        "umber 1:10 7; fibre 12 g",
    ] {
        assert!(after.contains(kept), "{kept}: {after}");
    }
    assert!(after.contains("castings = [\"S001\"]"), "{after}");
}

#[test]
fn a_fault_in_a_file_has_its_line_and_its_mend() {
    let (parent, book, _) = with_part();
    let (file, sound) = (part_file(&parent), read(&part_file(&parent)));
    let line_of = |text: &str, words: &str| {
        1 + text
            .lines()
            .position(|line| line.contains(words))
            .expect(words)
    };
    for (from, to, command, says) in [
        (
            "thickness_mm = 2.0",
            "thickness_mm = \"2,0\"",
            "part show forearm",
            "write thickness_mm = 2.0",
        ),
        (
            "thickness_mm = 2.0",
            "thicknes_mm = 2.0",
            "part show forearm",
            "did you mean `thickness_mm`?",
        ),
        (
            "base_g = 600.0",
            "base_g = 600,0",
            "part list",
            "a number has a point",
        ),
        (
            "fibre 12 g\"",
            "fibre 12 g; dust 3\"",
            "part show forearm",
            "put its row back into pigments.csv",
        ),
        (
            "fibre 12 g\"",
            "fibre 12 g; dust 3\"",
            "batch --part forearm --times 2",
            "no pigment is called `dust`",
        ),
        (
            "base = \"clear skin\"",
            "base = \"clear skim\"",
            "match --part forearm",
            "did you mean `clear skin`?",
        ),
        (
            "what = \"matched\"",
            "what = \"mached\"",
            "part show forearm",
            "did you mean `matched`?",
        ),
        (
            "tone = \"flush\"",
            "tone = \"flash\"",
            "part show forearm",
            "did you mean `flush`?",
        ),
    ] {
        let faulty = sound.replacen(from, to, 1);
        assert_ne!(faulty, sound, "{from} stands there");
        fs::write(&file, &faulty).expect("edited");
        let place = format!("forearm.toml:{}:", line_of(&faulty, to));
        refused(&format!("{command} {book}"), &[&place, says]);
    }
    fs::write(&file, sound).expect("mended");
}

#[test]
fn a_name_is_checked_suggested_and_taken_once() {
    let (parent, book, _) = with_part();
    refused(
        &format!("part show forarm {book}"),
        &["no part is called `forarm`", "did you mean `forearm`?"],
    );
    refused(
        &format!("match {book} --part forarm"),
        &["did you mean `forearm`?"],
    );
    refused(
        &format!("match {book} {TONE} {BUILD} --part Forearm"),
        &["a part is called `forearm` already"],
    );
    for name in ["../forearm", "a/b", ".hidden", "a\\\\b"] {
        refused(
            &format!("match {book} {TONE} {BUILD} --part \"{name}\""),
            &["the part's name"],
        );
    }
    assert_eq!(
        run(&format!("part show FOREARM {book}")).code,
        0,
        "capitals may be written small"
    );
    let twin = parent.path().join("bench/parts/FOREARM.toml");
    if !twin.exists() {
        fs::copy(part_file(&parent), &twin).expect("a copy");
        refused(
            &format!("part list {book}"),
            &["one name but for its case", "rename one"],
        );
    }
}

#[test]
fn the_demo_keeps_no_part_and_an_answer_says_how_to_keep_one() {
    refused(
        &format!("match {TONE} {BUILD} --part forearm"),
        &[
            "the demo book is never written to",
            "dropwise new DIR",
            "--book DIR",
        ],
    );
    refused(
        "match --part forearm",
        &["the demo book is never written to"],
    );
    assert_eq!(
        json("part list"),
        serde_json::json!({ "parts": [] }),
        "none"
    );
    let said = run(&format!("match {TONE} {BUILD} {QUICK}"));
    assert!(said.out.contains("--part NAME"), "{}", said.out);
}

#[test]
fn a_part_is_taken_off_and_its_castings_stay() {
    let (parent, book, _) = with_part();
    json(&format!("swatch add {book} --part forearm --lab 62,12,15"));
    let removed = json(&format!("part remove forearm {book}"));
    assert_eq!(
        (&removed["removed"], &removed["castings"]),
        (&"forearm".into(), &serde_json::json!(["S001"])),
        "{removed}"
    );
    assert!(!part_file(&parent).exists(), "the file goes");
    refused(
        &format!("part remove forearm {book}"),
        &["no part is called `forearm`"],
    );
    let listed = json(&format!("swatch list {book}"));
    assert_eq!(
        listed["swatches"].as_array().map(Vec::len),
        Some(1),
        "{listed}"
    );
}

#[test]
fn one_tint_is_logged_and_made_again_by_the_parts_name() {
    let (parent, book) = starter_book();
    let answer = json(&format!(
        "match {book} --target 64,12,16 --base-g 600 --foam-g 300 --fibre-g 12 {QUICK} --one-tint --part face"
    ));
    let shown = json(&format!("part show face {book}"));
    assert_eq!(told(&shown), told(&answer), "the stock too");
    json(&format!("swatch add {book} --part face --lab 62,12,15"));
    let log = fs::read_to_string(parent.path().join("bench/swatches.csv")).expect("the log");
    assert!(!log.contains("stock"), "in pigments of the book: {log}");
    let batch = json(&format!("batch {book} --part face --pieces 3"));
    assert_eq!(number(&batch["pour"]["base_g"]), 1800.0, "three pieces");
}

#[test]
fn a_part_that_does_not_pass_ends_in_one_and_is_kept() {
    let (_parent, book) = starter_book();
    let line = format!(
        "match {book} --target 64,12,16 --base-g 600 --backing \"white card\" --pigments \"carbon black\" --part slate"
    );
    json_with(1, &line);
    json_with(1, &format!("part show slate {book}"));
}

#[cfg(feature = "page")]
#[test]
fn the_sheet_of_a_part_is_that_of_its_match() {
    let (parent, book, _) = with_part();
    let sheet = parent.path().join("sheet.html");
    let said = run(&format!("part sheet forearm {} {book}", word(&sheet)));
    assert_eq!((said.code, said.err.as_str()), (0, ""), "written");
    let text = fs::read_to_string(&sheet).expect("the sheet");
    assert!(text.contains("forearm"), "its name: {text}");
}

#[test]
fn castings_that_are_logged_at_once_are_all_noted() {
    let (_parent, book, _) = with_part();
    thread::scope(|scope| {
        for number in 0..4 {
            let line = format!("swatch add {book} --part forearm --lab 6{number},12,15");
            scope.spawn(move || assert_eq!(run(&line).code, 0, "logged"));
        }
    });
    let listed = json(&format!("part list {book}"));
    let castings = listed["parts"][0]["castings"].as_array().expect("castings");
    let mut names: Vec<&str> = castings.iter().filter_map(Value::as_str).collect();
    names.sort_unstable();
    assert_eq!(names, ["S001", "S002", "S003", "S004"], "each once");
}
