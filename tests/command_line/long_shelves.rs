//! A shelf of more bottles than a search can prove over: a few are kept, and it is said that others were passed over.

use std::fmt::Write as _;
use std::fs;

use super::{json, json_with, number, starter_book};

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
