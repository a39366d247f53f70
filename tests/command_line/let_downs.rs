//! Let-downs: how they are made, those that the book keeps, and the cups that take them. The jars are invented.

use serde_json::Value;

use super::{json, number, run, starter_book};

/// A patch of skin over the foam that is poured already; the mix of that foam is invented.
const PATCH: &str = "match --target 66,11,14 --base-g 50 --fibre-g 1 --foam-g 300 --foam-mix \"iron oxide red 4; iron oxide \
                     yellow 6\" --time-limit 60 --tolerance 99";

fn patch(book: &str, rest: &str) -> Value {
    json(&format!("{PATCH} {book} {rest}"))
}

fn let_downs(answer: &Value) -> Vec<Value> {
    let called_for = answer["pour"]["let_downs"].as_array();
    called_for.expect("let-downs").clone()
}

/// The names of let-downs in the book, with what is left of each, g.
fn left(book: &str, day: &str) -> Vec<(String, f64, bool)> {
    let answer = json(&format!("let-down list {book} --date {day}"));
    let rows = answer["let_downs"].as_array().expect("rows").clone();
    let row = |row: &Value| {
        let name = row["let_down"].as_str().expect("a name").to_owned();
        let serves = row["serves"].as_bool().expect("yes or no");
        (name, number(&row["mass_g"]), serves)
    };
    rows.iter().map(row).collect()
}

#[test]
fn a_match_takes_the_let_down_that_stands_ready_and_says_which() {
    let (_parent, book) = starter_book();
    let before = patch(&book, "");
    let made = let_downs(&before);
    let name = made[0]["let_down"].as_str().expect("a let-down is wanted");
    assert!(made[0]["from"].is_null(), "none stands: {made:?}");
    let mix = format!("{name} 20 g");
    let added = json(&format!(
        "let-down add \"{mix}\" --base \"clear skin\" --date 2026-03-03 {book}"
    ));
    let row = &added["let_downs"][0];
    assert_eq!(row["keeps_until"], "2026-03-10", "about a week: {row}");
    assert_eq!(row["lot"], "invented", "of the bottle that stands there");

    let ready = patch(&book, "--date 2026-03-10");
    assert_eq!(
        ready["recipes"][0]["drops"], before["recipes"][0]["drops"],
        "the same cup"
    );
    let from = &let_downs(&ready)[0]["from"];
    assert_eq!(
        (&from["standing"], &from["made"]),
        (&"ready".into(), &"2026-03-03".into()),
        "{from}"
    );
    let said = run(&format!("{PATCH} {book} --date 2026-03-10"));
    let line = format!("{name}: from the let-down of 3 March 2026, uses");
    assert!(said.out.contains(&line), "{line}: {}", said.out);

    let past = run(&format!("{PATCH} {book} --date 2026-03-11"));
    let line = "(that of 3 March 2026 kept";
    assert!(past.out.contains(line), "{}", past.out);
    assert!(
        !past.out.contains("let-down take"),
        "none is taken: {}",
        past.out
    );

    // The command that the answer names takes what it used, once.
    let (_, command) = said
        .out
        .split_once("dropwise let-down take")
        .expect("a command");
    let command = command.lines().next().expect("a line");
    assert_eq!(
        run(&format!("let-down take {command} --date 2026-03-10")).code,
        0,
        "{command}"
    );
    let uses = number(&let_downs(&ready)[0]["uses_g"]);
    let (_, mass, serves) = left(&book, "2026-03-10").remove(0);
    assert!(
        (mass - (20.0 - uses)).abs() <= 0.0006,
        "{mass} after {uses}, to a milligram"
    );
    assert!(serves, "the rest is good");
    let (.., serves) = left(&book, "2026-03-11").remove(0);
    assert!(!serves, "for a week");
    let list = run(&format!("let-down list {book} --date 2026-03-11"));
    assert!(list.out.contains("its time is over"), "{}", list.out);
}

#[test]
fn a_let_down_of_which_too_little_is_left_is_made_anew() {
    let (_parent, book) = starter_book();
    let name = let_downs(&patch(&book, ""))[0]["let_down"]
        .as_str()
        .expect("one")
        .to_owned();
    let add = format!("let-down add \"{name} 0.02 g\" {book} --date 2026-03-03");
    assert_eq!(run(&add).code, 0, "{add}");
    let said = run(&format!("{PATCH} {book} --date 2026-03-03"));
    let line = "(of that of 3 March 2026 only 0.02 g are left)";
    // Running text is wrapped.
    let words = said.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains(line), "{}", said.out);
    assert!(words.contains("1 g + "), "how to make it: {}", said.out);
    let take = run(&format!(
        "let-down take \"{name} 0.3 g\" {book} --date 2026-03-03"
    ));
    assert_eq!(take.code, 2, "{}", take.out);
    assert!(take.err.contains("0.02 g of"), "{}", take.err);
    assert_eq!(left(&book, "2026-03-03")[0].1, 0.02, "nothing is taken");
}

#[test]
fn a_finer_let_down_at_hand_saves_making_another_and_that_of_another_base_does_not() {
    let (_parent, book) = starter_book();
    let name = let_downs(&patch(&book, ""))[0]["let_down"]
        .as_str()
        .expect("one")
        .to_owned();
    let (pigment, _) = name.rsplit_once(" 1:").expect("a ratio");
    let finer = format!("{pigment} 1:40");
    let foams = format!("let-down add \"{pigment} 1:30 9 g\" --base \"flexible foam\" {book}");
    assert_eq!(run(&foams).code, 0, "{foams}");
    assert_eq!(
        run(&format!("let-down add \"{finer} 9 g\" {book}")).code,
        0,
        "{finer}"
    );
    for called_for in let_downs(&patch(&book, "")) {
        let wanted = called_for["let_down"].as_str().expect("a name");
        if wanted.starts_with(pigment) {
            assert_eq!(wanted, finer, "none but the one at hand");
            assert_eq!(called_for["from"]["standing"], "ready", "{called_for}");
        }
    }
    let banned = patch(&book, &format!("--without \"{pigment}\""));
    let drops = banned["recipes"][0]["drops"]
        .as_object()
        .expect("drops")
        .clone();
    assert!(
        drops.keys().all(|name| !name.starts_with(pigment)),
        "{drops:?}"
    );
}

#[test]
fn nonsense_is_refused_with_its_mend_and_the_demo_is_left_alone() {
    let (_parent, book) = starter_book();
    for (line, part) in [
        (
            "add \"umber 20 g\"",
            "`umber` names no ratio of a let-down (write `umber 1:10`",
        ),
        (
            "add \"umber 1:10 20\"",
            "counts drops, and a jar is weighed (write grams",
        ),
        ("add \"umbre 1:10 20 g\"", "did you mean `umber`?"),
        (
            "add \"fibre 1:10 20 g\"",
            "is weighed, and a let-down is dropped",
        ),
        ("add \"umber 1:10 0 g\"", "no mass"),
        ("add \"\"", "no let-down is named"),
        (
            "add \"umber 1:10 20 g\" --base varnish",
            "no base is called `varnish`",
        ),
        (
            "add \"umber 1:10 20 g\" --date 2026-03-03 --keeps-until 2026-03-02",
            "made on 2026-03-03 and keeps until 2026-03-02",
        ),
        (
            "take \"umber 1:10 1 g\"",
            "no let-down `umber 1:10` for clear skin stands",
        ),
    ] {
        let said = run(&format!("let-down {line} {book}"));
        assert_eq!(
            (said.code, said.out.as_str()),
            (2, ""),
            "{line}: {}",
            said.err
        );
        assert!(said.err.contains(part), "{line}: {}", said.err);
    }
    assert!(left(&book, "2026-03-03").is_empty(), "nothing was written");
    let demo = run("let-down add \"umber 1:10 20 g\"");
    assert_eq!(demo.code, 2, "{}", demo.out);
    assert!(
        demo.err.contains("the demo book is never written to"),
        "{}",
        demo.err
    );
}

#[test]
fn correct_and_plan_say_how_to_make_what_they_call_for() {
    let said = run(
        "correct --target 66,11,14 --measured 64,12,14 --base \"clear skin\" --base-g 50 --mix \"iron oxide red 1:10 4; iron \
         oxide yellow 1:10 4; fibre 1 g\" --thickness-mm 2 --backing \"white card\" --no-log --tolerance 99",
    );
    assert_eq!(said.code, 0, "{}", said.err);
    let (_, next) = said.out.split_once("The next cup").expect("the next cup");
    assert!(next.contains(" 1:"), "it has let-downs: {next}");
    assert!(
        next.contains("next cup, in part B of clear skin:"),
        "{next}"
    );
    assert!(next.contains(": 1 g + "), "{next}");
    let plan = run("plan --count 1");
    assert!(
        plan.out.contains("all of them, in part B of clear skin:"),
        "{}",
        plan.out
    );
}

#[test]
fn more_than_one_jar_holds_is_taken_from_the_oldest_first() {
    let (_parent, book) = starter_book();
    for day in ["2026-03-04", "2026-03-03"] {
        let add = format!("let-down add \"umber 1:20 20 g\" {book} --date {day}");
        assert_eq!(run(&add).code, 0, "{add}");
    }
    let take = |mass: &str| {
        run(&format!(
            "let-down take \"umber 1:20 {mass}\" {book} --date 2026-03-05"
        ))
    };
    let masses = || -> Vec<f64> {
        let rows = left(&book, "2026-03-05").into_iter();
        rows.map(|(_, mass, _)| mass).collect()
    };
    let too_much = take("41 g");
    assert_eq!(too_much.code, 2, "{}", too_much.out);
    assert!(too_much.err.contains("40 g of"), "{}", too_much.err);
    let taken = take("25 g");
    assert_eq!(taken.code, 0, "{}", taken.err);
    assert_eq!(masses(), [15.0, 0.0], "the second row is the older jar");
    assert_eq!(take("15 g").code, 0, "the rest");
    assert_eq!(masses(), [0.0, 0.0], "both empty");
}

#[test]
fn a_jar_without_its_ratio_or_its_mass_is_refused_with_the_mend() {
    let (_parent, book) = starter_book();
    for (words, says) in [
        (
            "take \"iron oxide red 5 g\"",
            "`iron oxide red` names no ratio of a let-down (write `iron oxide red 1:10` for one part in ten)",
        ),
        (
            "add \"umber 1:20 0 g\"",
            "no mass of `umber 1:20` (write grams, as in `umber 1:20 20 g`)",
        ),
    ] {
        let said = run(&format!("let-down {words} {book}"));
        assert!(
            said.code == 2 && said.err.contains(says),
            "{words}: {}",
            said.err
        );
    }
}

#[test]
fn part_b_is_spoken_of_only_where_the_base_has_one() {
    let paint = run(r#"batch --base "clear paint" --base-g 60 --mix "umber 1:10 3""#);
    let skin = run(r#"batch --base "clear skin" --base-g 60 --mix "umber 1:10 3""#);
    assert!(paint.out.contains("A let-down is"), "{}", paint.out);
    assert!(!paint.out.contains("part B"), "{}", paint.out);
    assert!(skin.out.contains("never into part A"), "{}", skin.out);
}
