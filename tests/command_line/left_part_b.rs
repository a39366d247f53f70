//! Tinted part B that is left: noted with the pour, offered to the next of its tone, run down. Tone and masses are invented; what is
//! checked is arithmetic.

use std::fs;

use serde_json::Value;

use super::{json, number, run, starter_book};

/// A book with a part of one skin cup, the options that name it, and the part's answer.
fn with_part() -> (tempfile::TempDir, String, Value) {
    let (parent, book) = starter_book();
    let pigments = parent.path().join("bench/pigments.csv");
    let table = fs::read_to_string(&pigments).expect("pigments");
    let mut lines = table.lines();
    let head = format!("{},left_g\n", lines.next().expect("a header"));
    let rows = lines.map(|row| format!("{row},500\n"));
    fs::write(&pigments, head + &rows.collect::<String>()).expect("weighed");
    let answer = json(&format!(
        "match {book} --target 60,14,17 --base-g 600 --fibre-g 6 --backing \"white card\" --tolerance 99 --pigments \"iron oxide \
         red,iron oxide yellow\" --part arm --date 2026-03-10"
    ));
    (parent, book, answer)
}

/// What is left of the bottle of `pigment`.
fn bottle(parent: &tempfile::TempDir, pigment: &str) -> f64 {
    let table = fs::read_to_string(parent.path().join("bench/pigments.csv")).expect("pigments");
    let row = table
        .lines()
        .find(|row| row.starts_with(&format!("{pigment},")));
    let cell = row.and_then(|row| row.rsplit(',').next());
    cell.and_then(|cell| cell.parse().ok()).expect("a mass")
}

#[test]
fn what_is_left_of_tinted_part_b_is_offered_and_taken_before_more_is_tinted() {
    let (parent, book, answer) = with_part();
    let cup = &answer["cups"][0];
    let doses = cup["doses"].as_array().expect("doses");
    let tint: f64 = doses.iter().map(|dose| number(&dose["g"])).sum();
    let all = number(&cup["part_b_g"]) + tint;
    let full = bottle(&parent, "iron oxide red");

    json(&format!(
        "part poured arm {book} --date 2026-03-10 --left-part-b-g 120"
    ));
    let for_one = full - bottle(&parent, "iron oxide red");
    assert!(for_one > 0.0, "the whole pour took its red: {answer}");
    let left = json(&format!("part left {book}"));
    super::documented_json::assert_documented("PART LEFT", std::slice::from_ref(&left));
    let row = &left["left_part_b"][0];
    assert_eq!(
        (&row["part"], &row["made"]),
        (&"arm".into(), &"2026-03-10".into()),
        "{left}"
    );
    assert_eq!(number(&row["left_g"]), 120.0, "{left}");
    assert!(
        !row["mix"].as_str().expect("a mix").contains("fibre"),
        "{left}"
    );

    // On the Saturday after that Tuesday.
    let more = (all - 120.0).round();
    let as_for = (600.0 * (all - 120.0) / all).round();
    let says = format!(
        "se the 120 g of tinted part B left from Tuesday (arm), stirred first, and tint {more} g more: the doses of {as_for} g of \
         skin"
    );
    for line in ["part show arm", "batch --part arm --times 1"] {
        let said = run(&format!("{line} {book} --date 2026-03-14")).out;
        let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(said.contains(&says), "{line}: {says}: {said}");
    }
    // Another part of that tone can take it too, and one of another tone cannot.
    let other = |target: &str, tolerance: f64| {
        run(&format!(
            "match {book} --target {target} --base-g 300 --fibre-g 3 --backing \"white card\" --tolerance {tolerance} --pigments \
             \"iron oxide red,iron oxide yellow\" --date 2026-03-14"
        ))
        .out
    };
    let made = &answer["recipes"][0];
    let tone = format!("{},{},{}", made["L"], made["a"], made["b"]);
    let near = other(&tone, 1.5);
    assert!(
        near.contains("of tinted part B left from Tuesday"),
        "{near}"
    );
    let far = other("75,4,9", 1.5);
    assert!(!far.contains("of tinted part B"), "{far}");

    let before = bottle(&parent, "iron oxide red");
    let poured = json(&format!("part poured arm {book} --date 2026-03-14"));
    let taken = before - bottle(&parent, "iron oxide red");
    // As much as who pours only that, jars that are stirred for broken drops included.
    let (twin, twin_book, _) = with_part();
    let exact = 600.0 * (all - 120.0) / all;
    let stood = bottle(&twin, "iron oxide red");
    json(&format!(
        "part poured arm {twin_book} --date 2026-03-14 --to {exact}"
    ));
    let alone = stood - bottle(&twin, "iron oxide red");
    assert!(
        (taken - alone).abs() < 0.011,
        "only what was tinted anew: {taken}, not {alone}: {poured}"
    );
    assert!(
        poured["left"].as_array().expect("left").iter().any(|left| {
            left["name"] == "tinted part B of arm, from 2026-03-10"
                && number(&left["left_g"]) == 0.0
        }),
        "{poured}"
    );
    let left = json(&format!("part left {book}"));
    assert_eq!(
        left["left_part_b"].as_array().map(Vec::len),
        Some(0),
        "{left}"
    );
}

#[test]
fn more_left_than_was_tinted_is_refused_and_what_is_thrown_away_is_gone() {
    let (parent, book, _) = with_part();
    let full = bottle(&parent, "iron oxide red");
    let said = run(&format!(
        "part poured arm {book} --date 2026-03-10 --left-part-b-g 400"
    ));
    assert_eq!(said.code, 2, "{}", said.out);
    assert!(
        said.err.contains("400 g of tinted part B are left of 30"),
        "{}",
        said.err
    );
    assert_eq!(bottle(&parent, "iron oxide red"), full, "nothing is taken");

    // More than a small pour takes: none of it is tinted anew.
    json(&format!(
        "part poured arm {book} --date 2026-03-10 --left-part-b-g 200"
    ));
    let before = bottle(&parent, "iron oxide red");
    let said = run(&format!("part show arm {book} --date 2026-03-30")).out;
    assert!(said.contains("left from 2026-03-10"), "no week ago: {said}");
    let said = run(&format!(
        "batch --part arm {book} --to 200 --date 2026-03-11"
    ))
    .out;
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        said.contains("of the 200 g of tinted part B left from Tuesday"),
        "{said}"
    );
    assert!(said.contains("nothing is to be tinted"), "{said}");
    json(&format!(
        "part poured arm {book} --to 200 --date 2026-03-11"
    ));
    assert_eq!(
        bottle(&parent, "iron oxide red"),
        before,
        "none of the bottle"
    );
    let left = number(&json(&format!("part left {book}"))["left_part_b"][0]["left_g"]);
    assert!(
        (98.0..100.0).contains(&left),
        "a hundred and its pigment less: {left}"
    );
    json(&format!(
        "part poured arm {book} --to 200 --date 2026-03-11 --all-fresh"
    ));
    assert!(bottle(&parent, "iron oxide red") < before, "all of it anew");

    let said = run(&format!("part left arm {book} --part-b-g 500"));
    assert_eq!(said.code, 2, "{}", said.out);
    let said = run(&format!("part left leg {book} --part-b-g 0"));
    assert_eq!(said.code, 2, "{}", said.out);
    let said = run(&format!("part left arm {book} --part-b-g 0"));
    assert_eq!(
        (said.code, said.out.as_str()),
        (0, "no tinted part B is left\n"),
        "{}",
        said.err
    );
}
