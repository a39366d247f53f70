//! `correct`: what it answers, what it leaves in the book, and that it agrees with the other commands. The
//! readings here are invented or `predict`'s own: they check the plumbing, never the physics.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use serde_json::Value;

use super::{json, number, run, word};

const CUP: &str = "--base \"clear skin\" --base-g 600 --thickness-mm 2 --backing \"white card\"";

fn new_book(parent: &Path) -> String {
    let book = parent.join("book");
    assert_eq!(run(&format!("new {}", word(&book))).code, 0, "a new book");
    format!("--book {}", word(&book))
}

fn log_of(parent: &Path) -> String {
    fs::read_to_string(parent.join("book/swatches.csv")).expect("the log")
}

fn drops(value: &Value) -> BTreeMap<String, u64> {
    let all = value.as_object().expect("drops by name");
    all.iter()
        .map(|(name, count)| (name.clone(), count.as_u64().expect("whole drops")))
        .collect()
}

/// What `predict` says of this mix in the cup, as `L,a,b`.
fn predicted(parent: &Path, book: &str, mix: &str) -> [f64; 3] {
    let builds = parent.join("builds.csv");
    let text = format!(
        "build,base,base_g,mix,thickness_mm,backing\nx,clear skin,600,{mix},2,white card\n"
    );
    fs::write(&builds, text).expect("written");
    let answer = json(&format!("predict --builds {} {book}", word(&builds)));
    let build = &answer["builds"][0];
    ["L", "a", "b"].map(|key| number(&build[key]))
}

#[test]
fn the_next_cup_may_take_as_many_drops_as_this_one_with_all_that_may_be_added() {
    let parent = tempfile::tempdir().expect("a folder");
    let book = new_book(parent.path());
    let poured = "titanium white 40; iron oxide red 2; iron oxide yellow 4";
    let [l, a, b] = predicted(parent.path(), &book, poured);
    // A tone that takes more white than `match` pours unless asked.
    let [aim_l, aim_a, aim_b] = predicted(
        parent.path(),
        &book,
        "titanium white 49; iron oxide red 2; iron oxide yellow 4",
    );
    let answer = |max_add: u32| {
        let line = format!(
            "correct --target {aim_l},{aim_a},{aim_b} --measured {l},{a},{b} --mix \"{poured}\" {CUP} {book} --no-log \
             --time-limit 60 --tolerance 9 --max-add {max_add}"
        );
        let next = &json(&line)["next"];
        let white = drops(&next["drops"])["titanium white"];
        (white, number(&next["delta_e"]))
    };
    let (held, far) = answer(1);
    let (free, near) = answer(12);
    assert!(held <= 41, "{held} drops");
    assert!((43..=52).contains(&free), "{free} drops");
    assert!(near < 0.3 && far > near + 0.2, "ΔE00 {near}, or {far}");
}

#[test]
fn a_cup_that_came_out_pale_takes_drops_and_the_next_is_stronger() {
    let parent = tempfile::tempdir().expect("a folder");
    let book = new_book(parent.path());
    // A tone well within reach.
    let [l, a, b] = predicted(
        parent.path(),
        &book,
        "titanium white 6; iron oxide red 3; iron oxide yellow 4; umber 1",
    );
    // The red came out as if the cup held less of it: it reads lighter and less red than it was aimed at.
    let line = format!(
        "correct --target {l},{a},{b} --measured {},{},{b} --mix \"titanium white 6; iron oxide red 3; iron oxide yellow 4; umber 1\" {CUP} {book} \
         --time-limit 60",
        l + 1.5,
        a - 1.5
    );
    let answer = json(&format!("{line} --no-log"));
    let (now, after) = (
        number(&answer["delta_e_now"]),
        number(&answer["delta_e_after"]),
    );
    assert!(after < now - 0.5, "drops bring it nearer: {now} to {after}");
    let add = drops(&answer["add"]);
    assert!(!add.is_empty(), "some drops");
    assert!(
        number(&answer["next"]["delta_e"]) < 0.5,
        "the next is aimed at the tone"
    );
    assert_eq!(answer["logged"], Value::Null, "not asked for");
    assert_eq!(
        log_of(parent.path()).lines().count(),
        1,
        "the log is as it was"
    );

    let logged = json(&line);
    for key in ["add", "next", "delta_e_after"] {
        assert_eq!(logged[key], answer[key], "logging changes no answer: {key}");
    }
    assert_eq!(
        logged["logged"], "S001",
        "and the reading stands in the book"
    );
    assert_eq!(
        json(&line)["logged"],
        "S001",
        "once, however often it is asked"
    );
    assert_eq!(log_of(parent.path()).lines().count(), 2, "one row");
}

#[test]
fn a_cup_past_its_pot_life_or_with_too_much_in_it_takes_nothing() {
    let line = |measured: &str, more: &str| {
        format!(
            "correct --target 60,14,16 --measured {measured} --mix \"titanium white 6; iron oxide red 4\" {CUP} --no-log \
             --time-limit 60 {more}"
        )
    };
    let late = json(&line("64,10,16", "--mixed-since-min 30"));
    assert_eq!(
        late["add"],
        serde_json::json!({}),
        "nothing is added to what sets"
    );
    assert!(number(&late["pot_life_left_min"]) < 0.0, "its time is over");
    let dark = json(&line("40,30,25", "--max-add 3"));
    assert_eq!(dark["start_again"], true, "no three drops lift it by 20");
}

#[test]
fn a_casting_that_passes_is_told_so() {
    let said = run(&format!(
        "correct --target 60,14,16 --measured 60.1,14,16.1 --mix \"titanium white 6; iron oxide red 4\" {CUP} --no-log"
    ));
    assert!(
        said.out.contains("It passes: mix the same again."),
        "{}",
        said.out
    );
}

#[test]
fn nonsense_is_refused_with_its_mend() {
    let line = |options: &str| format!("correct --target 60,14,16 {CUP} {options}");
    for (options, expected) in [
        ("--measured 160,14,16 --mix \"umber 2\"", "160"),
        ("--measured 60,14 --mix \"umber 2\"", "60,14"),
        (
            "--measured 60,14,16 --mix \"umbre 2\"",
            "did you mean `umber`?",
        ),
    ] {
        let said = run(&line(options));
        assert_eq!(said.code, 2, "{options}: {}", said.out);
        assert!(said.err.contains(expected), "{options}: {}", said.err);
    }
}
