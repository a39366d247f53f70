//! A shelf of more bottles than a search can prove over: a few are kept, and it is said that others were passed over.

use std::fmt::Write as _;
use std::fs;

use super::{json, json_with, number, run, starter_book};

/// A book whose shelf has `more` bottles beside the starter's, like them but for the mass of their drops; invented.
fn long_shelf(more: usize) -> (tempfile::TempDir, String) {
    let (parent, book) = starter_book();
    let file = parent.path().join("bench/pigments.csv");
    let mut table = fs::read_to_string(&file).expect("a shelf");
    let like = [
        "titanium white",
        "iron oxide red",
        "iron oxide yellow",
        "umber",
        "blue",
    ];
    for number in 0..more {
        let like = like[number % like.len()];
        let curves = like.replace(' ', "-");
        let drop_g = 0.02 + 0.0005 * (number % 50) as f64;
        writeln!(
            table,
            "bottle {number},{drop_g:.4},0.03,,{like},spectra/{curves}.csv"
        )
        .expect("a row");
    }
    fs::write(file, table).expect("a longer shelf");
    (parent, book)
}

fn notes(answer: &serde_json::Value) -> String {
    answer["notes"].to_string()
}

/// Two pigments a cup: a search that comes to its end is the same each time, and soon there.
const MATCH: &str =
    "match --target 65,11,14 --base-g 600 --foam-g 300 --fibre-g 12 --max-pigments 2";

#[test]
fn of_a_long_shelf_few_bottles_are_looked_at_and_nothing_is_proven_over_all() {
    let (_parent, book) = long_shelf(60);
    let answer = json(&format!("{MATCH} {book}"));
    let kept = "50 bottles of this long shelf were passed over";
    assert!(notes(&answer).contains(kept), "{}", notes(&answer));
    for cup in [&answer, &answer["foam"]] {
        assert_eq!(cup["proven"], false, "not over all: {cup}");
        assert!(cup["gap"].is_null(), "nobody knows how far: {cup}");
        assert_eq!(cup["effort_proven"], false, "nor how handy: {cup}");
    }
    assert_eq!(
        json(&format!("{MATCH} {book}"))["recipes"],
        answer["recipes"],
        "the same each time"
    );
    // Two of these four do not reach the tone.
    let named = json_with(
        1,
        &format!(
            "{MATCH} {book} --pigments 'titanium white,iron oxide red,iron oxide yellow,umber'"
        ),
    );
    assert!(!notes(&named).contains("passed over"), "{}", notes(&named));
    assert_eq!(named["proven"], true, "of those that are named");
    let (few, many) = (&named, &answer);
    assert!(
        number(&many["recipes"][0]["delta_e"]) < number(&few["recipes"][0]["delta_e"]) + 0.3,
        "a longer shelf lands as well: {many} beside {few}"
    );
}

#[test]
fn what_must_go_in_is_kept_and_what_stands_on_no_long_shelf_is_all_looked_at() {
    let (_parent, book) = long_shelf(60);
    let answer = json(&format!("{MATCH} {book} --with 'bottle 57'"));
    let skin = answer["cups"][0].to_string();
    assert!(skin.contains("bottle 57"), "it must go in: {skin}");
    let (_parent, book) = long_shelf(9);
    let short = json(&format!("{MATCH} {book}"));
    assert!(
        !notes(&short).contains("passed over"),
        "sixteen bottles or less"
    );
}

#[test]
fn a_correction_on_a_long_shelf_says_what_it_passed_over() {
    let (_parent, book) = long_shelf(60);
    let line = "correct --target 65,11,14 --measured 68,9,12 --base 'clear skin' --base-g 600 --thickness-mm 2 --no-log \
                --mix 'iron oxide red 3; umber 2; fibre 12 g' --backing 'white card'";
    let answer = json_with(0, &format!("{line} {book}"));
    assert!(
        notes(&answer).contains("bottles of this long shelf were passed over"),
        "{}",
        notes(&answer)
    );
    assert_eq!(answer["next"]["proven"], false, "not over all");
}

#[test]
fn of_many_bottles_that_are_named_few_are_looked_at_and_it_is_said() {
    let (_parent, book) = long_shelf(60);
    let named: Vec<String> = (0..60).map(|number| format!("bottle {number}")).collect();
    // Drops of these alone, with no let-down, do not reach the tone.
    let of = |named: &[String]| {
        let pigments = named.join(",");
        json_with(1, &format!("{MATCH} {book} --pigments '{pigments}'"))
    };
    let answer = of(&named);
    assert!(
        notes(&answer).contains("44 bottles of those that are named were passed over"),
        "{}",
        notes(&answer)
    );
    for cup in [&answer, &answer["foam"]] {
        assert_eq!(cup["proven"], false, "not over all: {cup}");
        assert!(cup["gap"].is_null(), "nobody knows how far: {cup}");
    }
    assert_eq!(
        of(&named)["recipes"],
        answer["recipes"],
        "the same each time"
    );
    let nearest = |answer: &serde_json::Value| number(&answer["recipes"][0]["delta_e"]);
    let few = of(&named[..5]);
    assert!(notes(&few).find("passed over").is_none(), "{}", notes(&few));
    assert!(
        nearest(&answer) < nearest(&few) + 0.3,
        "as good as one bottle of each kind: {} and {}",
        nearest(&answer),
        nearest(&few)
    );
}

#[test]
fn a_plan_for_a_long_shelf_is_of_a_few_bottles_and_says_so() {
    let (_parent, book) = long_shelf(60);
    let plan = json(&format!("plan --count 1 {book}"));
    assert!(number(&plan["passed_over"]) >= 40.0, "{plan}");
    let said = run(&format!("plan --count 1 {book}"));
    assert!(
        said.out.contains("of this long shelf were passed over"),
        "{}",
        said.out
    );
    let plan = json(&format!("stock plan --count 1 --lightness 60,61 {book}"));
    assert!(number(&plan["passed_over"]) >= 30.0, "{plan}");
    let (_parent, book) = starter_book();
    let plan = json(&format!("plan --count 1 {book}"));
    assert_eq!(plan["passed_over"], 0, "a short shelf is planned for whole");
}

#[test]
fn what_is_learnt_before_a_correction_ends_with_the_time_and_counts_whole_or_not_at_all() {
    let (_parent, book) = starter_book();
    let chip =
        "--base 'clear skin' --base-g 60 --thickness-mm 2 --backing 'white card' --date 2026-03-01";
    for (mix, lab) in [("umber 2", "60,10,14"), ("iron oxide red 2", "55,25,18")] {
        let said = run(&format!(
            "swatch add {chip} --mix '{mix}' --lab {lab} {book}"
        ));
        assert_eq!(said.code, 0, "{}", said.err);
    }
    let line = format!(
        "correct --target 65,11,14 --measured 60,12,15 --base 'clear skin' --base-g 600 --thickness-mm 2 --no-log \
         --mix 'iron oxide red 3; umber 2; fibre 12 g' --backing 'white card' {book} --json"
    );
    let late = "the time was over before the swatches were learnt from";
    let in_time = run(&line);
    assert!(!in_time.out.contains(late), "{}", in_time.out);
    let in_haste = run(&format!("{line} --time-limit 0"));
    assert!(in_haste.code < 2, "{}", in_haste.err);
    assert!(in_haste.out.contains(late), "{}", in_haste.out);
}
