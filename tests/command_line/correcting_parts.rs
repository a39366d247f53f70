//! A kept part corrected by its name: nothing is retyped, its window is held, its history tells; and the test piece drawn from its
//! tinted part B. Tones and readings are invented, and check that commands agree with each other and with what is documented.

use dropwise::book::Book;
use dropwise::colour::Lab;
use dropwise::jobs::correcting::{self, Replacing};
use dropwise::jobs::logging::{CupOf, OfPart};
use dropwise::jobs::part_cups::PartCup;
use serde_json::Value;

use super::{dir_of, json, json_with, number, run, starter_book};

/// A veil, and pigments few enough that every search ends with its proof.
const MATCH: &str = "match --target 64,12,16 --base-g 600 --foam-g 300 --fibre-g 12 --tolerance 2 --time-limit 60 \
                     --pigments \"titanium white,iron oxide red,iron oxide yellow,umber\" --part forearm --date 2026-03-14";

/// A book with the part `forearm` in it.
fn with_part() -> (tempfile::TempDir, String) {
    let (parent, book) = starter_book();
    let said = run(&format!("{MATCH} {book}"));
    assert!(said.code <= 1, "{}", said.err);
    (parent, book)
}

fn correct(book: &str, options: &str) -> String {
    format!("correct {book} --part forearm --time-limit 60 --date 2026-03-15 {options}")
}

fn part(book: &str) -> Value {
    let said = run(&format!(
        "part show forearm {book} --date 2026-03-15 --json"
    ));
    serde_json::from_str::<Value>(&said.out).expect("a document")["part"].clone()
}

/// The mix of the skin that the part keeps, as `part list` tells it.
fn kept_mix(book: &str) -> String {
    let list = json(&format!("part list {book}"));
    let mix = &list["parts"][0]["cups"][0]["mix"];
    mix.as_str().expect("a mix").to_owned()
}

#[test]
fn a_part_is_corrected_by_its_name_as_if_all_of_it_were_typed() {
    let (_parent, book) = with_part();
    let mix = kept_mix(&book);
    let list = json(&format!("part list {book}"));
    let foam = list["parts"][0]["cups"][1]["mix"].as_str().expect("a foam");
    let by_name = json(&correct(&book, "--measured 61,13,16 --no-log"));
    let window = &by_name["contrast_window"];
    let typed = json(&format!(
        "correct {book} --target 64,12,16 --measured 61,13,16 --base \"clear skin\" --base-g 600 --mix \"{mix}\" --thickness-mm 2 \
         --foam \"flexible foam\" --foam-g 300 --foam-mix \"{foam}\" --tolerance 2 --time-limit 60 --date 2026-03-15 --no-log \
         --min-contrast {} --max-contrast {}",
        window[0], window[1]
    ));
    for key in ["now", "predicted", "measured", "seen_now", "add", "verdict"] {
        assert_eq!(by_name[key], typed[key], "{key}");
    }
    assert_eq!(typed["part"], Value::Null, "it is no part's");
    assert_eq!(by_name["part"]["name"], "forearm", "whose cup it is");
    assert_eq!(
        by_name["part"]["keeping"], "not asked",
        "the book is as it was"
    );
    assert_eq!(
        part(&book)["castings"],
        serde_json::json!([]),
        "nothing is logged"
    );
}

#[test]
fn what_comes_next_keeps_the_window_of_the_part_and_its_pigments() {
    let (_parent, book) = with_part();
    let answer = json(&correct(&book, "--measured 61,13,16 --no-log"));
    let [least, most] = [0, 1].map(|end| number(&answer["contrast_window"][end]));
    for cup in [&answer["seen_after"], &answer["next"]] {
        let ratio = number(&cup["contrast_ratio"]);
        let is_as_poured = cup == &answer["seen_now"];
        assert!(
            is_as_poured || (least..=most).contains(&ratio),
            "{ratio} of {least} to {most}"
        );
    }
    for cup in [&answer["add"], &answer["next"]["drops"]] {
        for name in cup.as_object().expect("drops by name").keys() {
            let pigment = name.split(" 1:").next().expect("a name");
            let asked = [
                "titanium white",
                "iron oxide red",
                "iron oxide yellow",
                "umber",
            ];
            assert!(asked.contains(&pigment), "{name} was not asked for");
        }
    }
    let typed = json(&correct(
        &book,
        "--measured 61,13,16 --no-log --min-contrast 0.1 --max-contrast 0.9",
    ));
    assert_eq!(
        typed["contrast_window"],
        serde_json::json!([0.1, 0.9]),
        "what is typed binds"
    );
    let free = json(&correct(
        &book,
        "--measured 61,13,16 --no-log --any-contrast",
    ));
    assert_eq!(free["contrast_window"], Value::Null, "let go");
}

#[test]
fn a_correction_is_logged_and_noted_once_and_replaces_the_recipe_only_when_told_to() {
    let (_parent, book) = with_part();
    let before = kept_mix(&book);
    let line = correct(&book, "--measured 61,13,16");
    let first = json(&line);
    assert_eq!(first["logged"], "S001", "a casting of the part");
    assert_eq!(first["part"]["keeping"], "noted", "and no more");
    json(&line);
    let noted = part(&book);
    assert_eq!(
        noted["castings"],
        serde_json::json!(["S001"]),
        "one casting"
    );
    let history = noted["history"].as_array().expect("a history");
    let deeds: Vec<&str> = history
        .iter()
        .filter_map(|event| event["what"].as_str())
        .collect();
    assert_eq!(
        deeds,
        ["matched", "cast", "corrected"],
        "asked twice, noted once"
    );
    assert_eq!(history[2]["swatch"], "S001", "by which reading");
    assert_eq!(kept_mix(&book), before, "the recipe stays");

    let replaced = json(&correct(&book, "--measured 61,13,16 --replace"));
    assert_eq!(replaced["part"]["keeping"], "replaced", "told to");
    assert_eq!(
        Value::from(kept_mix(&book)),
        replaced["next"]["mix"],
        "the next cup's"
    );
    let history = part(&book)["history"].clone();
    let last = history
        .as_array()
        .and_then(|events| events.last())
        .expect("an event");
    assert_eq!(last["what"], "corrected", "{last}");
    let was = last["was"][0].as_str().expect("what was given up");
    assert!(was.ends_with(&before), "{was} was {before}");
}

#[test]
fn a_reading_that_nothing_is_found_for_is_logged_all_the_same_and_answered_later() {
    let (_parent, book) = with_part();
    // No skin of these pigments hides so much.
    let out_of_reach = correct(&book, "--measured 61,13,16 --min-contrast 0.995");
    let said = run(&format!("{out_of_reach} --no-log"));
    assert_eq!((said.code, said.out.as_str()), (1, ""), "out of reach");
    assert!(!said.err.contains("logged"), "{}", said.err);
    for _ in 0..2 {
        let said = run(&out_of_reach);
        assert_eq!((said.code, said.out.as_str()), (1, ""), "out of reach");
        let says = "the reading is logged as `S001`, but nothing was found for it: no recipe";
        assert!(said.err.contains(says), "{}", said.err);
    }
    let deeds = || -> Vec<String> {
        let history = part(&book)["history"].clone();
        let deeds = history.as_array().expect("a history").iter();
        deeds.map(|event| event["what"].to_string()).collect()
    };
    assert_eq!(
        deeds(),
        ["\"matched\"", "\"cast\""],
        "asked twice, logged once"
    );
    let answered = json(&correct(&book, "--measured 61,13,16"));
    assert_eq!(answered["logged"], "S001", "the same reading");
    let all = ["\"matched\"", "\"cast\"", "\"corrected\""];
    assert_eq!(deeds(), all, "and what came of it");
    let castings = &part(&book)["castings"];
    assert_eq!(*castings, serde_json::json!(["S001"]), "one casting");
}

#[test]
fn advice_for_a_cup_that_was_changed_meanwhile_is_refused_and_nothing_is_written() {
    let (_parent, book) = with_part();
    let day = jiff::civil::date(2026, 3, 15);
    let mut opened = Book::open(&dir_of(&book)).expect("a book");
    let of = OfPart {
        name: "forearm",
        tone: None,
        thickness: None,
        cup: CupOf::Bench,
    };
    let kept = PartCup::of(&opened, of, day).expect("a part");
    let measured = Lab::new(61.0, 13.0, 16.0);
    let mut request = correcting::Request::new(kept.build.clone(), measured, day);
    kept.settle(&mut request, Replacing::No);
    let elsewhere = run(&correct(&book, "--looks darker"));
    assert!(elsewhere.code <= 1, "{}", elsewhere.err);
    let before = part(&book);
    let run_now =
        |opened: &mut Book| correcting::run(opened, &kept.part.target, &request, &mut |_| {});
    let error = run_now(&mut opened).expect_err("drops for a cup that holds others by now");
    assert!(error.is_outdated(), "{error}");
    assert!(
        error.to_string().contains("the part `forearm` was changed"),
        "{error}"
    );
    assert_eq!(part(&book), before, "nothing is noted");
    let logged = opened.swatches().expect("a log").len();
    assert_eq!(logged, 0, "nothing is logged");
}

#[test]
fn the_eye_the_scale_and_part_b_correct_a_part_too_and_log_nothing() {
    let (_parent, book) = with_part();
    for (options, evidence, stage) in [
        ("--looks \"darker, a little redder\"", "looks", "test"),
        (
            "--poured \"titanium white 9; iron oxide red 3; fibre 12 g\"",
            "poured",
            "part-b",
        ),
        ("--measured 58,14,17 --stage part-b", "reading", "part-b"),
    ] {
        let answer = json_with_any_code(&correct(&book, options));
        assert_eq!(answer["evidence"], evidence, "{options}");
        assert_eq!(answer["stage"], stage, "{options}");
        assert_eq!(
            answer["logged"],
            Value::Null,
            "{options}: no casting was read"
        );
        assert_eq!(answer["part"]["keeping"], "noted", "{options}");
        // Where no clock runs, what comes nearer goes in, and it is read again.
        let is_nearer = answer["verdict"] == "add nearer";
        assert!(
            !is_nearer || answer["start_again"] == (stage == "test"),
            "{options}: {}",
            answer["says"]
        );
    }
    assert_eq!(part(&book)["castings"], serde_json::json!([]), "none");
}

#[test]
fn the_part_itself_takes_no_more_drops_and_asks_for_the_next() {
    let (_parent, book) = with_part();
    let answer = json(&correct(&book, "--measured 60,13,16 --stage part"));
    assert_eq!(answer["add"], serde_json::json!({}), "it is cast");
    assert_eq!(answer["verdict"], "next cup", "{}", answer["says"]);
    assert_eq!(answer["logged"], "S001", "and read");
}

#[test]
fn a_cup_past_its_pot_life_hears_nothing_of_what_drops_would_gain() {
    let (_parent, book) = with_part();
    let answer = json(&correct(
        &book,
        "--measured 60,13,16 --no-log --mixed-since-min 60",
    ));
    assert_eq!(answer["verdict"], "pot life over", "{}", answer["says"]);
    assert_eq!(answer["notes"], serde_json::json!([]), "no drop helps it");
}

#[test]
fn what_a_part_can_not_have_is_refused_with_its_mend() {
    let (_parent, book) = with_part();
    for (options, says) in [
        ("--measured 60,13,16 --target 60,12,16", "--target"),
        ("--measured 60,13,16 --mix \"umber 2\"", "--mix"),
        ("--measured 60,13,16 --replace --no-log", "--no-log"),
        ("--measured 60,13,16 --tone flush", "has no flush paint"),
        (
            "--measured 60,13,16 --stage test --drawn-g 600",
            "leaves nothing",
        ),
        ("", "--measured"),
    ] {
        let said = run(&correct(&book, options));
        assert_eq!((said.code, said.out.as_str()), (2, ""), "{options}");
        assert!(said.err.contains(says), "{options}: {}", said.err);
    }
    let misspelt = run(&format!("correct {book} --part forarm --measured 60,13,16"));
    assert_eq!(misspelt.code, 2, "{}", misspelt.out);
    assert!(
        misspelt.err.contains("did you mean `forearm`?"),
        "{}",
        misspelt.err
    );
    let no_tone = run(&format!("correct {book} --measured 60,13,16"));
    assert_eq!(no_tone.code, 2, "{}", no_tone.out);
    assert!(no_tone.err.contains("--target"), "{}", no_tone.err);
}

#[test]
fn the_answer_fits_one_screen() {
    let (_parent, book) = with_part();
    for options in [
        "--measured 61,13,16 --no-log",
        "--measured 61,13,16",
        "--measured 58,14,17 --stage part-b",
        "--measured 60,13,16 --stage part",
    ] {
        let said = run(&correct(&book, options));
        let plain = anstream::adapter::strip_str(&said.out).to_string();
        let lines: Vec<&str> = plain.lines().collect();
        assert!(lines.len() <= 26, "{} lines:\n{}", lines.len(), said.out);
        for line in lines {
            assert!(line.chars().count() <= 80, "{line}");
        }
    }
}

#[test]
fn a_test_piece_and_what_remains_make_up_the_whole_cup() {
    let (_parent, book) = with_part();
    let piece = json(&format!(
        "part test forearm --g 60 {book} --date 2026-03-15"
    ));
    let cup = json_with_any_code(&format!("part show forearm {book} --date 2026-03-15"))["cups"][0]
        .clone();
    let doses: f64 = cup["doses"]
        .as_array()
        .expect("doses")
        .iter()
        .map(|dose| number(&dose["g"]))
        .sum();
    let whole = number(&cup["part_b_g"]) + doses;
    assert!(
        (number(&piece["tinted_part_b_g"]) - whole).abs() < 1e-9,
        "all of part B, tinted"
    );
    for (key, whole) in [
        ("part_b_g", whole),
        ("part_a_g", number(&cup["part_a_g"])),
        ("fibre_g", number(&cup["fibre_g"])),
    ] {
        let [drawn, rest] = ["drawn", "rest"].map(|share| number(&piece[share][key]));
        assert!(
            (drawn + rest - whole).abs() < 1e-9,
            "{key}: {drawn} and {rest} of {whole}"
        );
        assert!((drawn - whole / 10.0).abs() < 1e-9, "{key}: 60 g of 600 g");
    }
    let next = piece["commands"]["correct"].as_str().expect("a command");
    let next = next.strip_prefix("dropwise ").expect("a command of ours");
    let next = next.replace("L,a,b", "61,13,16");
    let said = run(&format!("{next} --date 2026-03-15"));
    assert!(
        said.err.is_empty() && said.out.contains("forearm: 540 g of clear skin"),
        "{}{}",
        said.out,
        said.err
    );
    let text = run(&format!("part test forearm --g 60 {book}")).out;
    assert!(text.lines().count() <= 26, "{text}");
    assert!(
        text.contains("  30 g part A last") || text.contains("30 g part A last: use by"),
        "{text}"
    );
}

#[test]
fn a_test_piece_that_can_not_be_drawn_is_refused() {
    let (_parent, book) = with_part();
    for mass in ["600", "0", "900"] {
        let said = run(&format!("part test forearm --g {mass} {book}"));
        assert_eq!((said.code, said.out.as_str()), (2, ""), "{mass}");
        assert!(
            said.err.contains("test piece") || said.err.contains("--g"),
            "{mass}: {}",
            said.err
        );
    }
}

#[test]
fn with_every_pigment_counted_that_recipe_is_told() {
    let cup = "--base-g 600 --backing \"white card\" --target 60,14,16";
    let line = format!(
        "match {cup} --pigments \"titanium white,iron oxide red\" --with \"titanium white=6,iron oxide red=3\""
    );
    let said = run(&format!("{line} --json"));
    assert!(said.code <= 1, "{}", said.err);
    let answer: Value = serde_json::from_str(&said.out).expect("a document");
    let told = &answer["recipes"][0];
    assert_eq!(
        told["drops"],
        serde_json::json!({"titanium white": 6, "iron oxide red": 3}),
        "as asked"
    );
    let row = "x,clear skin,600,titanium white 6; iron oxide red 3,2,white card";
    let predicted = super::colour_of(row);
    for (key, value) in [("L", predicted.l), ("a", predicted.a), ("b", predicted.b)] {
        assert!(
            (number(&told[key]) - value).abs() < 1e-6,
            "{key}: what is predicted of it"
        );
    }
    let none = run(&format!("match {cup} --pigments \"\""));
    assert_eq!(none.code, 2, "no pigment at all: {}", none.out);
}

/// A document, whatever the code.
fn json_with_any_code(line: &str) -> Value {
    let said = run(&format!("{line} --json"));
    assert!(said.code <= 1, "{line}: {}", said.err);
    json_with(said.code, line)
}
