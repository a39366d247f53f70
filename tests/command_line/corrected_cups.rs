//! A part's cup that was corrected: its casting is logged with what was really poured, and the next cup by what is kept. Tones and
//! readings are invented, and check that commands agree with each other and with what is documented.

use std::fs;
use std::path::Path;

use serde_json::Value;

use super::{json, run, starter_book};

const MATCH: &str = "match --target 64,12,16 --base-g 600 --foam-g 300 --fibre-g 12 --tolerance 1 --time-limit 60 \
                     --flush 57,18,16 --paint-g 20 --pigments \"titanium white,iron oxide red,iron oxide yellow,umber\" \
                     --part forearm --date 2026-03-14";

fn with_part() -> (tempfile::TempDir, String) {
    let (parent, book) = starter_book();
    let said = run(&format!("{MATCH} {book}"));
    assert!(said.code <= 1, "{}", said.err);
    (parent, book)
}

fn answer(line: &str) -> Value {
    let said = run(&format!("{line} --json"));
    assert!(said.code <= 1, "{line}: {}", said.err);
    serde_json::from_str(&said.out).expect(line)
}

fn correct(book: &str, options: &str) -> Value {
    answer(&format!(
        "correct {book} --part forearm --time-limit 60 --date 2026-03-15 {options}"
    ))
}

fn add(book: &str, options: &str) -> Value {
    json(&format!(
        "swatch add {book} --part forearm --date 2026-03-16 {options}"
    ))
}

fn text<'a>(value: &'a Value, what: &str) -> &'a str {
    value.as_str().unwrap_or_else(|| panic!("{what}: {value}"))
}

fn kept(book: &str) -> Vec<String> {
    let list = json(&format!("part list {book}"));
    let cups = list["parts"][0]["cups"].as_array().expect("cups");
    cups.iter()
        .map(|cup| text(&cup["mix"], "a mix").to_owned())
        .collect()
}

/// The rows of the log, by column.
fn rows(parent: &Path) -> Vec<std::collections::HashMap<String, String>> {
    let log = fs::read_to_string(parent.join("bench/swatches.csv")).expect("the log");
    let mut lines = log.lines();
    let head: Vec<&str> = lines.next().expect("columns").split(',').collect();
    // No field of these has a comma.
    let row = |line: &str| {
        let cells = line
            .split(',')
            .map(|cell| cell.trim_matches('"').to_owned());
        head.iter()
            .map(|name| (*name).to_owned())
            .zip(cells)
            .collect()
    };
    lines.map(row).collect()
}

/// How much of each stands in `mix`.
fn amounts(mix: &str) -> std::collections::BTreeMap<String, f64> {
    let entries = mix.split("; ").filter(|entry| !entry.is_empty());
    let amount = |entry: &str| {
        let entry = entry.trim_end_matches(" g");
        let (name, amount) = entry.rsplit_once(' ').expect(entry);
        (name.to_owned(), amount.parse().expect(entry))
    };
    entries.map(amount).collect()
}

/// `mix` times `share`, with the drops of `add` in.
fn with(mix: &str, share: f64, add: &Value) -> std::collections::BTreeMap<String, f64> {
    let mut amounts = amounts(mix);
    amounts.values_mut().for_each(|amount| *amount *= share);
    for (name, drops) in add.as_object().expect("drops") {
        *amounts.entry(name.clone()).or_default() += drops.as_f64().expect("a count");
    }
    amounts
}

fn assert_holds(mix: &str, expected: &std::collections::BTreeMap<String, f64>) {
    let found = amounts(mix);
    assert!(
        found.keys().eq(expected.keys())
            && found
                .iter()
                .all(|(name, amount)| (amount - expected[name]).abs() < 1e-3),
        "{mix}: expected {expected:?}"
    );
}

#[test]
fn a_casting_is_logged_with_the_drops_that_were_added_and_all_its_layers() {
    let (parent, book) = with_part();
    let before = kept(&book);
    let answer = correct(&book, "--measured 66,12,17 --stage part-b");
    let added = answer["add"].clone();
    assert!(!added.as_object().expect("drops").is_empty(), "{answer}");
    let poured = with(&before[0], 1.0, &added);
    assert_holds(text(&answer["part"]["cup"]["mix"], "the cup"), &poured);
    assert_eq!(kept(&book), before, "what is kept stays");

    let again = correct(&book, "--measured 66,12,17 --stage part-b");
    assert_eq!(again["add"], added, "the same reading adds nothing twice");
    assert_eq!(again["part"]["cup"], answer["part"]["cup"], "nor pours it");

    let shown = run(&format!("part show forearm {book}")).out;
    assert!(shown.contains("its casting is logged so"), "{shown}");
    assert!(!shown.contains("Ten times"), "a cup is in hand: {shown}");
    let file = fs::read_to_string(parent.path().join("bench/parts/forearm.toml")).expect("a part");
    assert!(
        file.contains("\n[bench]\n") && file.contains("as it was really poured"),
        "{file}"
    );

    add(&book, "--lab 63,12,16");
    let logged = rows(parent.path()).pop().expect("a row");
    assert_holds(&logged["mix"], &poured);
    assert_eq!(logged["base_g"], "600", "the whole cup");
    assert_eq!(logged["foam_mix"], before[1], "and the foam");

    let painted = add(&book, "--lab 57,17,16 --tone flush --swatch S001");
    assert_eq!(
        painted["doubtful"],
        serde_json::json!([]),
        "the same casting"
    );
    let logged = rows(parent.path()).pop().expect("a row");
    assert_holds(&logged["mix"], &poured);
    assert_eq!(logged["paint_mix"], before[2], "with its paint");

    let next = add(&book, "--lab 62,12,16");
    let logged = rows(parent.path()).pop().expect("a row");
    assert_eq!(logged["mix"], before[0], "the next cup, by what is kept");
    let doubt = text(&next["doubtful"][0], "a doubt");
    assert!(doubt.contains("`S001`"), "{doubt}");
    let third = add(&book, "--lab 62.5,12,16");
    assert_eq!(third["doubtful"], serde_json::json!([]), "told once");
}

#[test]
fn what_a_second_reading_adds_goes_to_what_the_first_added() {
    let (parent, book) = with_part();
    let before = kept(&book);
    let first = correct(&book, "--measured 66,12,17 --stage part-b");
    let second = correct(&book, "--measured 61,13,16 --stage part-b");
    assert!(
        !first["add"].as_object().expect("drops").is_empty(),
        "{first}"
    );
    let once = with(&before[0], 1.0, &first["add"]);
    let mix: Vec<String> = (once.iter())
        .map(|(name, amount)| format!("{name} {amount}"))
        .collect();
    add(&book, "--lab 63,12,16");
    let logged = rows(parent.path()).pop().expect("a row");
    assert_holds(&logged["mix"], &with(&mix.join("; "), 1.0, &second["add"]));
}

#[test]
fn what_the_hand_poured_instead_is_logged() {
    let (parent, book) = with_part();
    let slip = "titanium white 9; iron oxide red 3; fibre 12 g";
    let answer = correct(&book, &format!("--poured \"{slip}\""));
    add(&book, "--lab 63,12,16");
    let logged = rows(parent.path()).pop().expect("a row");
    let added = match &answer["start_again"] {
        Value::Bool(true) => serde_json::json!({}),
        _ => answer["add"].clone(),
    };
    assert_holds(&logged["mix"], &with(slip, 1.0, &added));
}

#[test]
fn a_test_piece_is_logged_as_it_was_drawn_and_the_part_as_what_remained_and_the_drops() {
    let (parent, book) = with_part();
    let before = kept(&book);
    let line = "--measured 66,12,17 --stage test --drawn-g 60";
    let answer = correct(&book, line);
    let logged = rows(parent.path());
    assert_eq!(
        (logged.len(), &logged[0]["mix"]),
        (1, &before[0]),
        "the piece"
    );
    let cup = &answer["part"]["cup"];
    let is_used = cup["poured_away"] == false;
    assert!(is_used, "drops help it: {answer}");
    assert_eq!(cup["base_g"], 540.0, "{cup}");
    assert_holds(
        text(&cup["mix"], "the rest"),
        &with(&before[0], 0.9, &answer["add"]),
    );

    let replaced = correct(&book, &format!("{line} --replace"));
    assert_eq!(replaced["add"], answer["add"], "the same piece");
    assert_eq!(replaced["logged"], "S001", "logged once");
    assert_eq!(
        Value::from(kept(&book)[0].clone()),
        answer["next"]["mix"],
        "the next cup"
    );

    add(&book, "--lab 63,12,16");
    let logged = rows(parent.path());
    assert_eq!(logged.len(), 2, "the part too");
    assert_eq!(logged[1]["base_g"], "540", "what remained");
    assert_eq!(
        Value::from(logged[1]["mix"].clone()),
        cup["mix"],
        "as poured"
    );
}

#[test]
fn the_part_that_is_read_at_last_is_of_the_corrected_cup() {
    let (parent, book) = with_part();
    let first = correct(&book, "--measured 66,12,17 --stage part-b");
    assert!(
        !first["add"].as_object().expect("drops").is_empty(),
        "{first}"
    );
    let read = correct(&book, "--measured 63,12,16 --stage part");
    let logged = rows(parent.path()).pop().expect("a row");
    assert_eq!(
        Value::from(logged["mix"].clone()),
        first["part"]["cup"]["mix"],
        "as poured"
    );
    assert_eq!(read["part"]["cup"]["logged"], "S001", "and no longer waits");
    let again = correct(&book, "--measured 63,12,16 --stage part --replace");
    assert_eq!(
        again["delta_e_now"], read["delta_e_now"],
        "of the same casting"
    );
    assert_eq!(rows(parent.path()).len(), 1, "once");
}

#[test]
fn a_cup_that_is_not_to_be_logged_leaves_the_part_as_it_is_and_a_wrong_file_is_told() {
    let (parent, book) = with_part();
    let file = parent.path().join("bench/parts/forearm.toml");
    let before = fs::read_to_string(&file).expect("a part");
    correct(&book, "--measured 66,12,17 --stage part-b --no-log");
    assert_eq!(
        fs::read_to_string(&file).expect("a part"),
        before,
        "untouched"
    );
    correct(&book, "--measured 66,12,17 --stage part-b");
    let text = fs::read_to_string(&file).expect("a part");
    let wrong = text.replace("mix_before", "mix_befor");
    fs::write(&file, &wrong).expect("a slip");
    let said = run(&format!("part show forearm {book}"));
    assert_eq!(said.code, 2, "{}", said.out);
    assert!(
        said.err.contains("forearm.toml:") && said.err.contains("mix_before"),
        "{}",
        said.err
    );
}

#[test]
fn more_is_offered_of_a_part_and_not_of_a_batch_of_it() {
    let (_parent, book) = with_part();
    let shown = run(&format!("part show forearm {book}")).out;
    assert!(shown.contains("Ten times as much"), "{shown}");
    for size in ["", " --times 10", " --to 900g", " --pieces 3"] {
        let batch = run(&format!("batch --part forearm {book}{size}")).out;
        assert!(
            !batch.contains("Ten times") && !batch.contains("--times"),
            "{batch}"
        );
        assert!(
            batch.contains("Next: cast it, read it and log it"),
            "{batch}"
        );
    }
}
