//! The page on JSON keeps its word: each key that it names stands in a real answer, and each key of a real answer on it.

use std::collections::BTreeSet;

use serde_json::Value;

use super::{json, json_with, run, starter_book};

/// The keys that the page names under `chapter`, as paths.
fn documented(page: &str, chapter: &str) -> BTreeSet<String> {
    let (_, rest) = page
        .split_once(&format!("\n{chapter}\n\n"))
        .expect("a chapter");
    let rows = rest.lines().take_while(|line| !is_heading(line));
    let rows = rows.filter_map(|line| line.strip_prefix("  "));
    let keys = rows.filter(|row| !row.starts_with(' '));
    keys.map(|row| row.split("  ").next().unwrap_or(row).trim().to_owned())
        .collect()
}

fn is_heading(line: &str) -> bool {
    !line.is_empty() && (line.chars()).all(|letter| letter.is_ascii_uppercase() || letter == ' ')
}

/// Objects whose keys are names, and what the page writes for one.
fn name_in(key: &str) -> Option<&'static str> {
    match key {
        "add" | "drops" | "g_per_100_g" | "weighed" => Some("NAME"),
        "delta_e_under" | "metamerism_under" | "under" => Some("LIGHT"),
        _ => None,
    }
}

/// The paths of what is in `value`. A path that is documented is not entered; the other cups have the skin's keys.
fn walk(
    value: &Value,
    path: &str,
    key: &str,
    documented: &BTreeSet<String>,
    found: &mut BTreeSet<String>,
) {
    if documented.contains(path) {
        found.insert(path.to_owned());
        if ["foam", "paint", "shadow_paint", "base_paint"].contains(&path) {
            walk(value, "", "", documented, found);
        }
        return;
    }
    match value {
        Value::Object(fields) => {
            for (name, field) in fields {
                let shown = name_in(key).unwrap_or(name);
                let path = if path.is_empty() {
                    shown.to_owned()
                } else {
                    format!("{path}.{shown}")
                };
                walk(field, &path, name, documented, found);
            }
        }
        Value::Array(items) if !items.is_empty() => {
            for item in items {
                walk(item, &format!("{path}[]"), key, documented, found);
            }
        }
        // What is not known, or of which there is nothing, has no keys to show.
        Value::Null | Value::Array(_) => {
            let below = |known: &&String| {
                known.starts_with(&format!("{path}.")) || known.starts_with(&format!("{path}["))
            };
            let known: Vec<String> = documented.iter().filter(below).cloned().collect();
            if known.is_empty() {
                found.insert(path.to_owned());
            }
            found.extend(known);
        }
        Value::Bool(_) | Value::Number(_) | Value::String(_) => {
            found.insert(path.to_owned());
        }
    }
}

pub(super) fn assert_documented(chapter: &str, answers: &[Value]) {
    let page = run("help json").out;
    let documented = documented(&page, chapter);
    let mut found = BTreeSet::new();
    for answer in answers {
        walk(answer, "", "", &documented, &mut found);
    }
    let unknown: Vec<&String> = found.difference(&documented).collect();
    assert!(unknown.is_empty(), "{chapter}: the page lacks {unknown:?}");
    let missing: Vec<&String> = documented.difference(&found).collect();
    assert!(missing.is_empty(), "{chapter}: no answer has {missing:?}");
}

#[test]
fn every_key_of_match_stands_on_the_page_and_every_key_of_the_page_in_an_answer() {
    let whole = json(
        "match --target 62,14,18 --flush 56,20,18 --base-g 1200 --largest-pot 600 --foam-g 300 --fibre-g 24 --paint-g 60 \
         --paint-tones base,flush --pigments \"iron oxide red 1:10,iron oxide yellow 1:10,titanium white 1:10\" --tolerance 8 \
         --illuminants D65,A --one-tint --within 2",
    );
    let missed = json_with(
        1,
        "match --target 40,30,25 --base-g 600 --backing \"white card\" --pigments \"umber,titanium white\" --max-drops 3",
    );
    let toned = format!("{}/tone.json", env!("CARGO_TARGET_TMPDIR"));
    std::fs::write(
        &toned,
        r#"{"L": 66, "a": 11, "b": 14, "tones": [{"role": "shadow", "L": 60, "a": 14, "b": 15, "share": 0.2}], "notes": ["invented"], "photographs": [{"file": "invented.jpg", "region": "9,9,90,90", "card": "1,1,9,9", "card_lab": "grey",
            "chart": "0,0,60,0,60,40,0,40", "chart_values": "published 1976"}]}"#,
    )
    .expect("a tone");
    let shadowed = json(&format!(
        "match --target \"{toned}\" --base-g 600 --backing \"white card\" --paint-g 60 --tolerance 99 --within 2"
    ));
    let (parent, book) = starter_book();
    let settings = parent.path().join("bench/book.toml");
    let text = std::fs::read_to_string(&settings).expect("the settings");
    let fine = text.replace("scale_resolution_g = 0.1", "scale_resolution_g = 0.001");
    std::fs::write(&settings, fine).expect("a fine scale");
    let weighed = json(&format!(
        "match {book} --target 73,9,14 --base-g 600 --fibre-g 12 --backing \"white card\" --time-limit 60"
    ));
    let (_counted, book) = starter_book();
    let kept = run(&format!(
        "match {book} --target 67.7,8.0,15.9 --base-g 600 --fibre-g 14 --backing \"white card\" --pigments umber --part bark"
    ));
    assert_eq!(kept.code, 0, "{}", kept.err);
    let mut unlike = json(&format!(
        "batch {book} --part bark --largest-pot 260 --pot-by-pot"
    ));
    // What is kept of a part is told where a part is asked for, beside the keys of a match.
    unlike.as_object_mut().expect("a document").remove("part");
    assert_documented("MATCH", &[whole, missed, shadowed, weighed, unlike]);
}

#[test]
fn every_key_of_batch_stands_on_the_page_and_every_key_of_the_page_in_an_answer() {
    let batch = |rest: &str| {
        json(&format!(
            "batch --base \"clear skin\" --base-g 600 --mix \"umber 1:10 2; iron oxide red 70; fibre 12 g\" {rest}"
        ))
    };
    let unlike = json(
        r#"batch --base "clear skin" --base-g 600 --mix "umber 7" --largest-pot 260 --pot-by-pot"#,
    );
    let answers = [batch("--times 10 --largest-pot 2kg"), batch(""), unlike];
    assert_documented("BATCH", &answers);
}

#[test]
fn every_key_of_correct_stands_on_the_page_and_every_key_of_the_page_in_an_answer() {
    let (_parent, book) = starter_book();
    let kept = run(&format!(
        "match {book} --target 64,12,16 --base-g 600 --foam-g 300 --fibre-g 12 --within 2 --part forearm --date 2026-03-14"
    ));
    assert!(kept.code <= 1, "{}", kept.err);
    let dated = "--date 2026-03-15 --time-limit 60";
    let answer = |line: &str| {
        let said = run(&format!("{line} {dated} --json"));
        assert!(said.code <= 1, "{line}: {}", said.err);
        serde_json::from_str::<Value>(&said.out).expect(line)
    };
    let of_part = answer(&format!(
        "correct {book} --part forearm --measured 66,12,17"
    ));
    let cup = "--base \"clear skin\" --base-g 100 --thickness-mm 2 --backing \"white card\"";
    let free = answer(&format!(
        "correct {book} {cup} --target 64,12,20 --measured 64,12,17 --no-log --mix \"iron oxide yellow 1:10 4; iron oxide red 1:10 2\""
    ));
    let unheld = answer(&format!(
        "correct {book} {cup} --target 75,5,10 --measured 55,5,10 --no-log --mixed-since-min 1 --mix \"umber 2\""
    ));
    assert_documented("CORRECT", &[of_part, free, unheld]);
}

#[test]
fn every_key_of_a_plan_stands_on_the_page_and_every_key_of_the_page_in_an_answer() {
    let (_parent, book) = starter_book();
    assert_documented("PLAN", &[json(&format!("plan --count 2 {book}"))]);
}

#[test]
fn every_key_of_a_stock_plan_stands_on_the_page_and_every_key_of_the_page_in_an_answer() {
    let (_parent, book) = starter_book();
    let kept = "--base-g 600 --fibre-g 12 --foam-g 300 --part arm --time-limit 0 --tolerance 99";
    json(&format!("match {book} --target 62,12,16 {kept}"));
    let plan = json(&format!(
        "stock plan {book} --count 1 --parts --without \"umber,carbon black,blue\""
    ));
    let dark = json(&format!(
        "stock plan {book} --count 1 --lightness 40,44 --without \"carbon black,blue,iron oxide yellow\""
    ));
    assert_documented("STOCK PLAN", &[plan, dark]);
}

#[test]
fn an_error_is_a_document_too_beside_the_line_for_people() {
    let mut documents = Vec::new();
    for line in [
        "match --base-g 600 --json",
        "match --target 65,11 --base-g 600 --foam-g 300 --json",
        "swatch list --book /nowhere/at/all --json",
        "match --no-such-option --json",
    ] {
        let said = run(line);
        assert_eq!(said.code, 2, "{line}: {}", said.out);
        let document: Value = serde_json::from_str(&said.out).expect(line);
        let message = document["error"]["message"].as_str().expect("a message");
        assert_eq!(said.err, format!("error: {message}\n"), "{line}");
        documents.push(document);
    }
    assert_documented("ERROR", &documents);
}

#[test]
fn a_cup_says_the_same_of_all_pots_as_of_each_and_a_jar_stands_once() {
    let answer = json(
        "match --target 62,14,18 --base-g 1200 --largest-pot 600 --foam-g 300 --fibre-g 24 --pigments \"iron oxide red 1:10,iron \
         oxide yellow 1:10,titanium white 1:10\" --tolerance 8 --within 2",
    );
    let cups = answer["cups"].as_array().expect("cups");
    let of = |cup: &Value, key: &str| cup[key].as_f64().unwrap_or_else(|| panic!("{key}: {cup}"));
    for cup in cups {
        let pots = of(cup, "pots");
        for key in ["part_b_g", "part_a_g", "fibre_g"] {
            let each = of(&cup["per_pot"], key);
            assert!((of(cup, key) - pots * each).abs() < 1e-9, "{key}: {cup}");
        }
        let [all, each] = [&cup["doses"], &cup["per_pot"]["doses"]];
        let all = all.as_array().expect("doses");
        for (all, each) in all.iter().zip(each.as_array().expect("doses")) {
            assert_eq!(of(all, "drops"), pots * of(each, "drops"), "{cup}");
        }
    }
    assert_eq!(
        of(&cups[0], "part_a_g") + of(&cups[0], "part_b_g"),
        1200.0,
        "{cups:?}"
    );
    assert_eq!(of(&cups[0], "fibre_g"), 24.0, "of both pots");
    let jars = answer["jars"].as_array().expect("jars");
    let mut names: Vec<String> = jars
        .iter()
        .map(|jar| format!("{} {} {}", jar["base"], jar["pigment"], jar["ratio"]))
        .collect();
    let count = names.len();
    names.sort();
    names.dedup();
    assert_eq!(names.len(), count, "each once: {jars:?}");
    for jar in jars {
        let drawn: f64 = (cups.iter())
            .filter(|cup| cup["base"] == jar["base"])
            .flat_map(|cup| cup["doses"].as_array().expect("doses"))
            .filter(|dose| dose["pigment"] == jar["pigment"] && dose["ratio"] == jar["ratio"])
            .map(|dose| of(dose, "g"))
            .sum();
        assert!((drawn - of(jar, "uses_g")).abs() < 1e-9, "{jar}: {drawn}");
        assert!(
            of(jar, "pigment_g") + of(jar, "base_g") >= drawn,
            "enough: {jar}"
        );
    }
}
