//! `plan`: chips that a hand can cast, none of them twice, and what a foam is learnt from. The readings here are `predict`'s
//! own: they check the plumbing, never the physics.

use std::collections::{BTreeMap, BTreeSet};

use dropwise::materials::{Amount, Mix};
use serde_json::Value;

use super::calibrating::Bench;
use super::{json, json_with, number, run, starter_book};

fn mix(chip: &Value) -> Mix {
    let mix = chip["mix"].as_str().expect("a mix");
    mix.parse().expect("as a notebook has it")
}

/// How much of each pigment is in a chip: drops of the bottle, or grams of what is weighed.
fn load(chip: &Value) -> BTreeMap<String, f64> {
    let mix = mix(chip);
    let portions = mix.entries().iter().map(|(colorant, amount)| {
        let amount = match amount {
            Amount::Drops(count) => count / colorant.let_down,
            Amount::Mass(mass) => mass.0 / colorant.let_down,
        };
        (colorant.pigment.clone(), amount)
    });
    portions.collect()
}

/// Whether a maker would wonder why both are to be cast.
fn are_alike(one: &BTreeMap<String, f64>, other: &BTreeMap<String, f64>) -> bool {
    const A_QUARTER_APART: f64 = 1.25;
    one.keys().eq(other.keys())
        && one
            .values()
            .zip(other.values())
            .all(|(one, other)| (A_QUARTER_APART.recip()..A_QUARTER_APART).contains(&(one / other)))
}

fn chips(answer: &Value) -> Vec<Value> {
    answer["swatches"].as_array().expect("chips").clone()
}

/// Asserts that no two are alike.
fn assert_distinct(chips: &[Value]) {
    for (place, chip) in chips.iter().enumerate() {
        for other in &chips[..place] {
            assert!(
                !are_alike(&load(chip), &load(other)),
                "{} and {}",
                chip["mix"],
                other["mix"]
            );
        }
    }
}

#[test]
fn a_plan_names_chips_that_a_hand_can_cast_and_each_narrows_the_tones() {
    let answer = json("plan --count 4");
    let chips = answer["swatches"].as_array().expect("chips");
    assert_eq!(chips.len(), 4, "as many as asked for");
    let mut before = f64::INFINITY;
    for chip in chips {
        let mix: Mix = chip["mix"]
            .as_str()
            .expect("a mix")
            .parse()
            .expect("as a notebook has it");
        assert!(mix.entries().len() <= 8, "{mix}");
        assert_eq!(
            chip["backings"],
            serde_json::json!(["white card", "black card"]),
            "both cards"
        );
        let (old, new) = (
            number(&chip["spread_before"]),
            number(&chip["spread_after"]),
        );
        assert!(
            new < old && old <= before + 1e-9,
            "{old} to {new} after {before}"
        );
        before = new + 1e-6;
        assert!(
            !chip["tells"].as_str().expect("words").is_empty(),
            "what it tells"
        );
    }
}

#[test]
#[cfg(all(feature = "page", feature = "photo"))]
fn a_board_is_laid_out_for_its_chips_and_its_list_is_one_that_is_read() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("board.html");
    let answer = json(&format!("plan --count 8 --board \"{}\"", file.display()));
    let page = std::fs::read_to_string(&file).expect("written");
    assert!(page.contains("Board 2 of 2"), "six a board");
    let listed: Vec<String> = page
        .split("<pre>")
        .skip(1)
        .filter_map(|rest| rest.split("</pre>").next())
        .map(|list| list.replace("&quot;", "\""))
        .collect();
    let book = dropwise::book::Book::demo().expect("the demo");
    let mut mixes = Vec::new();
    for (number, list) in listed.iter().enumerate() {
        let path = folder.path().join(format!("{number}.csv"));
        std::fs::write(&path, list).expect("written");
        let chips = dropwise::book::read_board_chips(&path, book.shelf()).expect("as it asks for");
        assert!(
            chips.iter().all(|chip| chip.row <= 6 && chip.column <= 2),
            "{list}"
        );
        mixes.extend(chips.iter().map(|chip| chip.build.skin.mix.to_string()));
    }
    let planned = answer["swatches"].as_array().expect("chips");
    let expected = planned.iter().flat_map(|chip| {
        let mix = chip["mix"].as_str().expect("a mix").to_owned();
        vec![mix; chip["backings"].as_array().expect("backings").len()]
    });
    assert_eq!(
        mixes,
        expected.collect::<Vec<_>>(),
        "each over each of its cards"
    );
    let said = run(&format!("plan --count 8 --board \"{}\"", file.display()));
    assert_eq!(said.code, 0, "over its own: {}", said.err);
    std::fs::write(&file, "<p>mine").expect("written");
    let said = run(&format!("plan --count 8 --board \"{}\"", file.display()));
    assert!(
        said.code == 2 && said.err.contains("--force"),
        "{}",
        said.err
    );
}

#[test]
fn a_plan_knows_what_the_book_has_already() {
    let (_parent, book) = starter_book();
    let spread = |book: &str| {
        number(&json(&format!("plan --count 1 {book}"))["swatches"][0]["spread_before"])
    };
    let empty = spread(&book);
    // The demo's castings tell of white, red, yellow and fibre.
    assert!(
        spread("") < 0.9 * empty,
        "a book with chips has less to learn"
    );
}

#[test]
fn a_plan_for_a_tone_that_no_pigment_makes_is_refused() {
    let said = run("plan --count 1 --target 50,-80,60");
    assert_eq!((said.code, said.out.as_str()), (2, ""), "{}", said.err);
    assert!(
        said.err
            .contains("no mix of the shelf's pigments comes near"),
        "{}",
        said.err
    );
    let _ = json_with(0, "plan --count 1 --target 62,13,16");
}

#[test]
fn a_planned_chip_is_measured_by_a_hand_and_a_shop_scale() {
    // The starter's scale shows 0.1 g.
    const FEWEST_DROPS: f64 = 2.0;
    const MOST_DROPS: f64 = 30.0;
    const LEAST_G: f64 = 0.5;
    let (_parent, book) = starter_book();
    for mass in [100.0, 400.0] {
        let answer = json(&format!("plan --count 20 --base-g {mass} {book}"));
        let mut made = BTreeSet::new();
        for chip in chips(&answer) {
            assert_eq!(number(&chip["base_g"]), mass, "as asked for");
            let mut new = Vec::new();
            for (colorant, amount) in mix(&chip).entries() {
                match amount {
                    Amount::Drops(count) => assert!(
                        count.fract() == 0.0 && (FEWEST_DROPS..=MOST_DROPS).contains(count),
                        "{colorant} {count}"
                    ),
                    Amount::Mass(mass) => assert!(mass.0 >= LEAST_G - 1e-9, "{colorant} {mass}"),
                }
                if colorant.let_down > 1.0 && made.insert(colorant.to_string()) {
                    new.push(colorant.to_string());
                }
            }
            assert!(
                new.len() <= 1,
                "one jar a chip: {new:?} for {}",
                chip["mix"]
            );
            assert_eq!(chip["new_jar"].as_str(), new.first().map(String::as_str));
        }
    }
    for mass in [5.0, 9000.0] {
        let said = run(&format!("plan --count 1 --base-g {mass} {book}"));
        assert_eq!((said.code, said.out.as_str()), (2, ""), "{mass} g");
        assert!(said.err.contains("10 to 2000 g"), "{}", said.err);
    }
}

#[test]
fn a_jar_that_stands_ready_need_not_be_made() {
    let (_parent, book) = starter_book();
    let first = |book: &str| chips(&json(&format!("plan --count 8 {book}")));
    let jars = |chips: &[Value]| -> Vec<String> {
        let jars = chips.iter().filter_map(|chip| chip["new_jar"].as_str());
        jars.map(str::to_owned).collect()
    };
    let wanted = jars(&first(&book));
    let jar = wanted.first().expect("eight chips want a jar");
    let said = run(&format!(
        "let-down add \"{jar} 20 g\" --base \"clear skin\" {book}"
    ));
    assert_eq!(said.code, 0, "{}", said.err);
    assert!(!jars(&first(&book)).contains(jar), "{jar} stands there");
}

#[test]
fn a_plan_forecasts_how_surely_a_first_part_lands() {
    let (_parent, book) = starter_book();
    let answer = json(&format!("plan --count 6 {book}"));
    let steps = answer["first_part"].as_array().expect("steps");
    let chances: Vec<f64> = steps.iter().map(|step| number(&step["chance"])).collect();
    assert_eq!(chances.len(), 7, "before any and after each");
    assert!(
        chances.windows(2).all(|pair| pair[0] <= pair[1] + 0.01),
        "chips never make it worse: {chances:?}"
    );
    assert!(
        (0.0..0.3).contains(&chances[0]) && (0.4..1.0).contains(&chances[6]),
        "from hardly any to most: {chances:?}"
    );
    // What the demo's swatches tell counts.
    let demo = json("plan --count 1");
    assert!(number(&demo["first_part"][0]["chance"]) > chances[0]);
    let said = run(&format!("plan --count 6 {book}")).out;
    let said = said.replace('\n', " ");
    assert!(said.contains("as the book stands"), "{said}");
    assert!(!said.contains("unknown"), "in plain words: {said}");
    let said = run(&format!("plan --count 6 --why {book}")).out;
    for words in ["unknown", "A let-down is"] {
        assert!(
            said.contains(words),
            "{words} where it is asked for: {said}"
        );
    }
}

#[test]
fn no_two_planned_chips_are_alike_and_none_is_like_one_in_the_book() {
    let bench = Bench::new();
    let option = bench.option("book");
    let first = chips(&json(&format!("plan --count 6 {option}")));
    assert_distinct(&first);
    for (place, chip) in first.iter().enumerate() {
        let mix = chip["mix"].as_str().expect("a mix");
        let cards = ["white card", "black card"];
        for (card, read) in cards.iter().zip(bench.truth(mix, 2.0, &cards, "bonded")) {
            let id = ["P0", "P1", "P2", "P3", "P4", "P5"][place];
            bench.log((id, mix, 2.0), card, &read, false);
        }
    }
    for target in ["", "--target 65,12,17"] {
        let next = chips(&json(&format!("plan --count 10 {option} {target}")));
        assert_eq!(next.len(), 10, "as many as asked for");
        assert_distinct(&[first.clone(), next].concat());
    }
}

#[test]
fn where_every_chip_is_cast_a_second_one_says_so() {
    let (parent, book) = starter_book();
    // Of two pigments there are only so many chips.
    let file = parent.path().join("bench/pigments.csv");
    let table = std::fs::read_to_string(&file).expect("pigments");
    let is_kept = |row: &&str| {
        ["pigment,", "titanium white,", "iron oxide red,"]
            .iter()
            .any(|name| row.starts_with(name))
    };
    let kept: Vec<&str> = table.lines().filter(is_kept).collect();
    std::fs::write(&file, kept.join("\n") + "\n").expect("two pigments");
    let all = chips(&json(&format!("plan --count 70 {book}")));
    assert_eq!(all.len(), 70, "as many as asked for");
    let is_again = |chip: &Value| {
        let tells = chip["tells"].as_str().expect("words");
        tells.contains("one like it is cast already")
    };
    let fresh = all.iter().take_while(|chip| !is_again(chip)).count();
    assert!((20..70).contains(&fresh), "{fresh} that differ");
    assert_distinct(&all[..fresh]);
    assert!(all[fresh..].iter().all(is_again), "then none that differs");
}

#[test]
fn a_foam_that_was_never_read_gets_a_tint_foamed_and_unfoamed() {
    let (parent, book) = starter_book();
    let pair = json(&format!("plan --count 1 {book}"))["foam"].clone();
    let [skin, foam] = pair.as_array().expect("two chips").as_slice() else {
        panic!("two chips: {pair}");
    };
    assert_eq!(skin["base"], "clear skin", "{pair}");
    assert_eq!(foam["base"], "flexible foam", "{pair}");
    assert_eq!(skin["mix"], foam["mix"], "the same tint");
    assert!(!mix(skin).is_empty(), "which is one: {pair}");
    let said = run(&format!("plan --count 1 {book}")).out;
    assert!(
        said.contains("one tint twice, each over white card and black card"),
        "{said}"
    );
    assert!(said.contains("no chip is of it yet"), "{said}");
    let last = said.trim_end().rsplit("Care: ").next();
    assert!(
        last.is_some_and(|care| care.trim_end().ends_with("last word")),
        "a caution ends it: {said}"
    );

    // Cast as it says, it is logged, learnt from, and asked for no more.
    for chip in [skin, foam] {
        for card in ["white card", "black card"] {
            let line = format!(
                "swatch add {book} --swatch {} --base {} --base-g {} --mix {} --thickness-mm {} --backing \"{card}\" --lab 60,12,14",
                chip["base"].as_str().expect("a name").replace(' ', "-"),
                chip["base"],
                chip["base_g"],
                chip["mix"],
                chip["thickness_mm"]
            );
            let said = run(&line);
            assert_eq!(said.code, 0, "{line}: {}", said.err);
        }
    }
    let answer = json(&format!("plan --count 1 {book}"));
    assert_eq!(answer["foam"], serde_json::json!([]), "read: {answer}");
    drop(parent);
}
