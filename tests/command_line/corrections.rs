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

/// `text` on one line, as it would read on a wide screen.
fn on_one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
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
    let another_day = json(&format!("{line} --date 2026-01-02"));
    assert_eq!(another_day["logged"], "S002", "another casting");
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
        on_one_line(&said.out).contains("It passes: mix the same again."),
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

/// A translucent skin, and a tone that more white meets; mix and readings are invented.
const THIN: &str = "correct --target 65,11,15 --measured 64,8,12 --base \"clear skin\" --base-g 600 --mix \"titanium white 2; iron \
                    oxide red 1; iron oxide yellow 2; fibre 4 g\" --thickness-mm 2 --backing \"white card\" --no-log --time-limit 60 \
                    --within 0.05 --tolerance 0.3";

#[test]
fn a_correction_holds_the_contrast_ratio_of_what_was_poured_and_says_what_letting_go_would_gain() {
    let ratio = |cup: &Value| number(&cup["contrast_ratio"]);
    let held = json(THIN);
    let poured = ratio(&held["seen_now"]);
    for cup in [&held["seen_after"], &held["next"]] {
        let moved = (ratio(cup) - poured).abs();
        assert!(moved <= 0.1 + 1e-9, "moved by {moved}");
    }
    let (after, unheld) = (
        number(&held["delta_e_after"]),
        number(&held["unheld_after"]["delta_e"]),
    );
    assert!(after > 0.3 && unheld < after - 0.1, "{after}, or {unheld}");
    let note = held["notes"][0].as_str().expect("a note");
    assert!(note.contains("let go of by --any-contrast"), "{note}");
    let text = run(THIN).out;
    for line in ["as poured: hides", "then ΔE00", "aimed at ΔE00"] {
        let line = text.lines().find(|told| told.contains(line)).expect(line);
        assert!(line.contains("contrast ratio"), "{line}");
    }

    let free = json(&format!("{THIN} --any-contrast"));
    assert!(
        ratio(&free["seen_after"]) > poured + 0.1,
        "white hides more: {}",
        free["seen_after"]
    );
    assert!(
        number(&free["delta_e_after"]) <= unheld + 0.1,
        "and comes as near as was said"
    );
    for key in ["contrast_window", "unheld_after", "unheld_next"] {
        assert_eq!(free[key], Value::Null, "nothing is held: {key}");
    }
    let typed = json(&format!("{THIN} --max-contrast 0.6"));
    for cup in [&typed["seen_after"], &typed["next"]] {
        assert!(ratio(cup) <= 0.6, "{} of at most 0.6", ratio(cup));
    }
    let crossed = run(&format!("{THIN} --min-contrast 0.5 --max-contrast 0.4"));
    assert_eq!(crossed.code, 2, "{}", crossed.out);
    assert!(
        crossed
            .err
            .contains("exchange --min-contrast and --max-contrast"),
        "{}",
        crossed.err
    );
}

#[test]
fn a_reading_beyond_belief_is_doubted_as_swatch_add_doubts_it_and_nothing_is_promised() {
    let line = |measured: &str| {
        format!(
            "correct --target 65,11,15 --measured {measured} --mix \"titanium white 6; iron oxide red 4\" {CUP} --no-log \
             --time-limit 60 --tolerance 99"
        )
    };
    let wild = json(&line("90,0,0"));
    assert_eq!(wild["is_doubtful"], true, "{}", wild["notes"]);
    assert!(
        number(&wild["delta_e_off"]) > 12.0,
        "{}",
        wild["delta_e_off"]
    );
    let note = wild["notes"][0].as_str().expect("a note");
    for part in [
        "that is far: check the order of L*, a*, b*",
        "rest on that reading",
    ] {
        assert!(note.contains(part), "{note}");
    }
    assert!(!note.contains("swatches.csv"), "it was not logged: {note}");
    let said = run(&line("90,0,0")).out;
    let promises = said
        .lines()
        .filter(|told| told.contains("then ΔE00") || told.contains("aimed at ΔE00"));
    for promise in promises {
        assert!(promise.contains("if that reading is right"), "{promise}");
    }

    let [l, a, b] = [0, 1, 2].map(|axis| number(&wild["predicted"][axis]));
    let sane = json(&line(&format!("{},{a},{b}", l + 1.0)));
    assert_eq!(sane["is_doubtful"], false, "one L* off");
    assert!(
        !run(&line(&format!("{l},{a},{b}")))
            .out
            .contains("if that reading"),
        "none is doubted"
    );
}

#[test]
fn a_let_down_for_the_cup_on_the_bench_is_one_whose_jar_holds_enough_and_is_told() {
    let parent = tempfile::tempdir().expect("a folder");
    let book = new_book(parent.path());
    let line = format!(
        "correct --target 65,11,15 --measured 66,11.5,15 --mix \"titanium white 4; fibre 2 g\" {CUP} {book} --no-log \
         --time-limit 60 --tolerance 99 --any-contrast --date 2026-03-03"
    );
    let stock = |mix: &str| {
        let add = format!("let-down add \"{mix}\" --base \"clear skin\" --date 2026-03-03 {book}");
        assert_eq!(run(&add).code, 0, "{add}");
    };
    stock("titanium white 1:20 0.05 g; iron oxide yellow 1:20 0.04 g");
    let dry = json(&line);
    assert!(
        drops(&dry["add"]).keys().all(|name| !name.contains(" 1:")),
        "the jars are all but empty: {}",
        dry["add"]
    );
    assert_eq!(
        dry["add_let_downs"],
        serde_json::json!([]),
        "and none is listed"
    );

    stock("titanium white 1:20 9 g; iron oxide yellow 1:20 9 g");
    let full = json(&line);
    let from_jars = drops(&full["add"])
        .keys()
        .filter(|name| name.contains(" 1:"))
        .count();
    assert!(from_jars > 0, "now they hold enough: {}", full["add"]);
    let listed = full["add_let_downs"].as_array().expect("a list");
    assert_eq!(listed.len(), from_jars, "each is listed: {listed:?}");
    assert!(
        listed.iter().all(|each| each["standing"] == "ready"),
        "{listed:?}"
    );
    let said = run(&line).out;
    let (_, bench) = said.split_once("The cup on the bench").expect("the bench");
    let (bench, _) = bench.split_once("The next cup").expect("the next cup");
    assert!(
        bench.contains("1:20: from the let-downs of 3 March 2026, uses"),
        "{bench}"
    );
    let (_, command) = bench
        .split_once("dropwise let-down take")
        .expect("a command");
    let command = command.lines().next().expect("a line");
    let taken = run(&format!("let-down take {command}"));
    assert_eq!(taken.code, 0, "{command}: {}", taken.err);

    // One that the book does not keep went into the cup, and so stands beside it.
    let of_the_cup = run(&format!(
        "correct --target 72,9,7.5 --measured 74,7.5,8 --mix \"titanium white 4; iron oxide red 1:10 3; fibre 2 g\" {CUP} --no-log \
         --time-limit 60 --tolerance 99 --any-contrast"
    ));
    let line = "iron oxide red 1:10: from what is left of that in this cup";
    assert!(of_the_cup.out.contains(line), "{}", of_the_cup.out);
}

#[test]
fn foam_takes_no_white_from_a_correction() {
    for mix in [
        "iron oxide red 4; iron oxide yellow 7",
        "titanium white 3; iron oxide red 4; iron oxide yellow 7",
        "titanium white 3",
    ] {
        let answer = json(&format!(
            "correct --target 80,7,12 --measured 74,9,15 --base \"flexible foam\" --base-g 300 --mix \"{mix}\" --thickness-mm 20 \
             --backing \"white card\" --no-log --time-limit 60 --tolerance 99"
        ));
        for cup in [&answer["add"], &answer["next"]["drops"]] {
            let names = drops(cup);
            assert!(
                names.keys().all(|name| !name.starts_with("titanium white")),
                "{mix}: {names:?}"
            );
        }
    }
}

#[test]
fn no_drop_to_add_asks_for_the_next_cup_alone() {
    let line = format!(
        "correct --target 60,14,16 --measured 64,10,16 --mix \"titanium white 6; iron oxide red 4\" {CUP} --no-log \
         --time-limit 60 --tolerance 99 --max-add 0"
    );
    let answer = json(&line);
    assert_eq!(answer["add"], serde_json::json!({}), "nothing is added");
    assert_eq!(
        answer["delta_e_after"], answer["delta_e_now"],
        "and nothing gained"
    );
    assert!(!drops(&answer["next"]["drops"]).is_empty(), "the next cup");
    let said = run(&line).out;
    assert!(
        said.contains("The cup on the bench is left as it is (--max-add 0)."),
        "{said}"
    );
    assert!(
        said.contains("The next cup") && !said.contains("nothing that is added"),
        "{said}"
    );
}

#[test]
fn what_would_come_nearer_is_told_only_where_something_does() {
    let line = |measured: &str| {
        format!(
            "correct --target 60,14,16 --measured {measured} --mix \"titanium white 6; iron oxide red 4\" {CUP} --no-log \
             --time-limit 60"
        )
    };
    let there = on_one_line(&run(&line("60,14,16")).out);
    assert!(
        there.contains("It passes: mix the same again. Nothing found comes nearer."),
        "{there}"
    );
    let near = on_one_line(&run(&line("60.8,14,16")).out);
    assert!(near.contains("What would come nearer still:"), "{near}");
}
