//! Let-downs: how they are made, those that the book keeps, and the cups that take them. The jars are invented.

use serde_json::Value;

use super::{file, json, number, run, starter_book};

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
    assert!(made[0]["standing"].is_null(), "none stands: {made:?}");
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
    let found = &let_downs(&ready)[0];
    assert_eq!(
        (&found["standing"], &found["from"][0]["made"]),
        (&"ready".into(), &"2026-03-03".into()),
        "{found}"
    );
    let said = run(&format!("{PATCH} {book} --why --date 2026-03-10"));
    let line = format!("{name}: from the let-down of 3 March 2026, uses");
    assert!(said.out.contains(&line), "{line}: {}", said.out);

    let past = run(&format!("{PATCH} {book} --why --date 2026-03-11"));
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
    assert!(command.ends_with(" --date 2026-03-10"), "{command}");
    let took = run(&format!("let-down take {command}"));
    assert_eq!(took.code, 0, "{command}: {}", took.err);
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
    let said = run(&format!("{PATCH} {book} --why --date 2026-03-03"));
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
            assert_eq!(called_for["standing"], "ready", "{called_for}");
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
        (
            "add \"umber 1:20 0 g\"",
            "no mass of `umber 1:20` (write grams, as in `umber 1:20 20 g`)",
        ),
        (
            "take \"umber 5 g\"",
            "`umber` names no ratio of a let-down (write `umber 1:10`",
        ),
        (
            "take \"umber 1:10 0.0004 g\"",
            "are less than the book tells (take 0.001 g or more)",
        ),
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
        next.contains("jars (rest part B): ") && next.contains(" (1 + "),
        "{next}"
    );
    for (asked, words) in [
        (
            "plan --count 1 --why",
            "all of them, in part B of clear skin:",
        ),
        (
            "plan --count 1",
            "Make first, in part B of clear skin:\n   umber 1:10 (1 g + 9 g)",
        ),
    ] {
        let plan = run(asked).out;
        assert!(plan.contains(words), "{asked}: {plan}");
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

/// What a patch over a card comes within, without let-downs in the book and with them.
#[test]
fn a_jar_that_is_too_fine_or_nearly_empty_costs_no_recipe() {
    const PATCH: &str = "match --target 66,11,14 --base-g 50 --fibre-g 1 --backing \"white card\" --exact --time-limit 60";
    let delta_e = |book: &str| {
        let answer = json(&format!("{PATCH} {book}"));
        (number(&answer["recipes"][0]["delta_e"]), answer)
    };
    let (_parent, book) = starter_book();
    let (without, answer) = delta_e(&book);
    let pigments: Vec<String> = (let_downs(&answer).iter())
        .map(|made| made["let_down"].as_str().expect("a name").to_owned())
        .map(|name| name.rsplit_once(" 1:").expect("a ratio").0.to_owned())
        .collect();
    assert!(!pigments.is_empty(), "some are made: {answer}");
    for jar in ["1:1000 20 g", "1:200 20 g", "1:40 0.05 g"] {
        let (_parent, book) = starter_book();
        for pigment in &pigments {
            let add = format!("let-down add \"{pigment} {jar}\" {book}");
            assert_eq!(run(&add).code, 0, "{add}");
        }
        let (with, answer) = delta_e(&book);
        // What each is proven within.
        assert!(with <= without + 0.05, "{jar}: {with}, {without}: {answer}");
    }
}

#[test]
fn two_paints_share_a_jar_and_the_command_takes_what_they_say() {
    let (parent, book) = starter_book();
    let target = file(
        parent.path(),
        "tone.json",
        r#"{"L": 66, "a": 11, "b": 14, "tones": [{"role": "flush", "L": 60, "a": 18, "b": 15, "share": 0.2}, {"role": "shadow", "L": 60, "a": 18, "b": 15, "share": 0.2}]}"#,
    );
    let order = format!(
        "match --target {target} --base-g 600 --fibre-g 12 --backing \"white card\" --paint-g 20 --paint-tones flush,shadow \
         --exact --time-limit 60 --tolerance 99 --date 2026-03-03 {book}"
    );
    let of_paints = |answer: &Value| -> Vec<Vec<Value>> {
        ["paint", "shadow_paint"]
            .map(|paint| let_downs(&answer[paint]))
            .into()
    };
    let made = of_paints(&json(&order));
    let (first, second) = (made[0].iter())
        .find_map(|one| {
            let same = made[1]
                .iter()
                .find(|other| other["let_down"] == one["let_down"])?;
            Some((one, same))
        })
        .unwrap_or_else(|| panic!("a let-down of both: {made:?}"));
    let name = first["let_down"].as_str().expect("a name");
    let [one, other] = [first, second].map(|each| number(&each["uses_g"]));
    // As much as either takes, and less than both.
    let mass = one.max(other) + 0.001;
    let add = format!(
        "let-down add \"{name} {mass:.3} g\" --base \"clear paint\" --date 2026-03-03 {book}"
    );
    assert_eq!(run(&add).code, 0, "{add}");
    let standing = |paint: &[Value]| {
        let found = paint.iter().find(|each| each["let_down"] == name);
        found.expect(name)["standing"].clone()
    };
    let shared = of_paints(&json(&order));
    assert_eq!(standing(&shared[0]), "ready", "the first");
    assert_eq!(standing(&shared[1]), "too_little", "what the first leaves");
    let said = run(&format!("{order} --why")).out;
    let (_, command) = said.split_once("dropwise let-down take").expect(&said);
    let command = command.lines().next().expect("a line");
    let took = run(&format!("let-down take {command}"));
    assert_eq!(took.code, 0, "{command}: {}", took.err);

    // With a second jar both are served, and the command draws on both.
    let add =
        format!("let-down add \"{name} 5 g\" --base \"clear paint\" --date 2026-03-03 {book}");
    assert_eq!(run(&add).code, 0, "{add}");
    let both = of_paints(&json(&order));
    assert_eq!(standing(&both[0]), "ready", "{both:?}");
    assert_eq!(standing(&both[1]), "ready", "{both:?}");
    let jars = |paint: &[Value]| {
        let found = paint.iter().find(|each| each["let_down"] == name);
        found.expect(name)["from"].as_array().expect("jars").len()
    };
    assert_eq!((jars(&both[0]), jars(&both[1])), (2, 1), "{both:?}");
}

#[test]
fn a_take_draws_on_several_jars_and_what_is_used_up_is_listed_no_more() {
    let (_parent, book) = starter_book();
    for day in ["2026-03-04", "2026-03-03"] {
        let add = format!("let-down add \"iron oxide red 1:20 20 g\" --date {day} {book}");
        assert_eq!(run(&add).code, 0, "{add}");
    }
    let take = |mass: &str, day: &str| {
        run(&format!(
            "let-down take \"iron oxide red 1:20 {mass}\" --date {day} {book}"
        ))
    };
    let early = take("1 g", "2026-03-02");
    assert_eq!(early.code, 2, "{}", early.out);
    assert!(
        early.err.contains("was made on 2026-03-0") && early.err.contains("with --date"),
        "{}",
        early.err
    );
    let took = take("25 g", "2026-03-05");
    assert_eq!(took.code, 0, "{}", took.err);
    assert!(took.out.contains("it is used up"), "{}", took.out);
    let masses = |rest: &str| -> Vec<f64> {
        let answer = json(&format!("let-down list {rest} {book} --date 2026-03-05"));
        let rows = answer["let_downs"].as_array().expect("rows").clone();
        rows.iter().map(|row| number(&row["mass_g"])).collect()
    };
    assert_eq!(masses(""), [15.0], "what is left, of the later one");
    assert_eq!(masses("--all"), [15.0, 0.0], "both");
    let more = take("15.1 g", "2026-03-05");
    assert!(more.err.contains("15 g of"), "{}", more.err);
}
