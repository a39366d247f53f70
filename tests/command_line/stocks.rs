//! `stock`, and stocks wherever a pigment's name is. Mixes, masses and tones are invented.
//!
//! The check from outside is additivity of K and S over mass: D. R. Duncan (1940), Proceedings of the Physical Society 52,
//! 390–401. A stock is then the same as its ingredients, weighed by hand.

use std::fs;

use serde_json::Value;

use super::{COLUMNS, assert_same, file, json, json_with, lab, number, run, starter_book};

const MIX: &str = "iron oxide red 10 g; iron oxide yellow 20 g; clear carrier 20 g";

fn make(book: &str, name: &str, mix: &str, more: &str) -> Value {
    json(&format!(
        "stock make \"{name}\" {book} --mix \"{mix}\" {more}"
    ))
}

/// What `predict` says of `mix` in 100 g of clear skin over the white card.
fn chip(book: &str, folder: &std::path::Path, mix: &str, more: &str) -> Value {
    let commas = ",".repeat(COLUMNS.split(',').count() - 6);
    let row = format!("{COLUMNS}\nchip,clear skin,100,{mix},2,white card{commas}\n");
    let builds = file(folder, "builds.csv", &row);
    json(&format!("predict {book} --builds {builds} {more}"))["builds"][0].clone()
}

#[test]
fn a_stock_is_its_ingredients_by_mass() {
    let (parent, book) = starter_book();
    let made = make(&book, "flesh", MIX, "--date 2026-03-09");
    assert_eq!(made["made"], "2026-03-09", "{made}");
    assert_eq!(number(&made["left_g"]), 50.0, "{made}");
    // By hand: pigments' drops of 0.032 g each, and a carrier of 40 % that may be 3 % of a cup.
    assert!((number(&made["drop_g"]) - 0.032).abs() < 1e-12, "{made}");
    assert!(
        (number(&made["max_fraction"]) - 0.03 / 0.4).abs() < 1e-12,
        "{made}"
    );
    // Of 0.5 g a fifth is red and two fifths yellow; the rest, nearly clear, is to be like 0.2 g more of base.
    let stock = chip(&book, parent.path(), "flesh 0.5 g", "");
    let by_hand = chip(
        &book,
        parent.path(),
        "iron oxide red 0.1 g; iron oxide yellow 0.2 g",
        "",
    );
    let off = dropwise::colour::delta_e_2000(lab(&stock), lab(&by_hand));
    assert!(off < 0.1, "the carrier alone differs: ΔE00 {off}");
    // Without carrier nothing does, what is not known included.
    make(
        &book,
        "thick",
        "iron oxide red 10 g; iron oxide yellow 20 g",
        "",
    );
    let stock = chip(&book, parent.path(), "thick 0.3 g", "--calibration-only");
    let by_hand = chip(
        &book,
        parent.path(),
        "iron oxide red 0.1 g; iron oxide yellow 0.2 g",
        "--calibration-only",
    );
    assert_same(lab(&stock), lab(&by_hand), "the same colour");
    for key in ["L_sd", "a_sd", "b_sd", "contrast_ratio"] {
        let [one, other] = [&stock[key], &by_hand[key]].map(number);
        assert!((one - other).abs() < 1e-9, "{key}: {one} and {other}");
    }
    // Beside a neat bottle it is off as that one is.
    let both = chip(
        &book,
        parent.path(),
        "thick 0.3 g; iron oxide red 0.1 g",
        "--calibration-only",
    );
    let by_hand = chip(
        &book,
        parent.path(),
        "iron oxide red 0.2 g; iron oxide yellow 0.2 g",
        "--calibration-only",
    );
    for key in ["L_sd", "a_sd", "b_sd"] {
        let [one, other] = [&both[key], &by_hand[key]].map(number);
        assert!(
            (one - other).abs() < 1e-9,
            "{key} with red: {one} and {other}"
        );
    }
}

#[test]
fn amounts_are_what_the_scale_shows() {
    let (_parent, book) = starter_book();
    let made = make(
        &book,
        "flesh",
        "iron oxide red 2 g; iron oxide yellow 6 g; clear carrier 22 g",
        "--g 10",
    );
    assert_eq!(
        made["mix"], "iron oxide red 0.7 g; iron oxide yellow 2 g; clear carrier 7.3 g",
        "in steps of 0.1 g"
    );
    let rounded = made["rounded"].as_array().expect("a list");
    assert_eq!(rounded.len(), 2, "yellow needs none: {made}");
    let said = run(&format!(
        "stock make small {book} --mix \"umber 1 g; clear carrier 99 g\" --g 2"
    ));
    assert_eq!(said.code, 2, "{}", said.out);
    assert!(
        said.err.contains(
            "0.0200 g of `umber` don't show on a scale of 0.1 g (make 10 g or more of it)"
        ),
        "{}",
        said.err
    );
}

#[test]
fn a_stock_is_a_bottle_like_any_other() {
    let (parent, book) = starter_book();
    make(&book, "flesh", MIX, "");
    // Weighed.
    let weighed = json(&format!(
        "calibrate {book} --weigh \"flesh 20 drops 0.7 g\""
    ));
    assert!(
        (number(&weighed["weighed"][0]["drop_g"]) - 0.035).abs() < 1e-12,
        "{weighed}"
    );
    let listed = json(&format!("stock list {book}"));
    assert!(
        (number(&listed["stocks"][0]["drop_g"]) - 0.035).abs() < 1e-12,
        "{listed}"
    );
    // Dropped, into skin, foam and paint.
    for base in ["clear skin", "flexible foam", "clear paint"] {
        let poured = json(&format!(
            "batch {book} --base \"{base}\" --base-g 100 --mix \"flesh 4; titanium white 1\""
        ));
        assert!(poured.to_string().contains("flesh"), "{base}: {poured}");
    }
    let card = "--base-g 200 --backing \"white card\" --time-limit 30";
    let found = json_with(
        1,
        &format!("match {book} --target 60,30,30 --tolerance 0 {card} --pigments flesh,umber"),
    );
    assert!(
        found["recipes"][0]["drops"].to_string().contains("flesh"),
        "{found}"
    );
    // Let down, and run down.
    json(&format!("let-down add {book} \"flesh 1:10 20 g\""));
    let left = json(&format!("stock take flesh 2 {book}"));
    assert_eq!(number(&left["stocks"][0]["left_g"]), 48.0, "{left}");
    // Read, and learnt from by itself.
    for (card, reading) in [("white card", "62,14,24"), ("black card", "40,8,10")] {
        json(&format!(
            "swatch add {book} --swatch one --base \"clear skin\" --base-g 100 --mix \"flesh 20\" --thickness-mm 2 --backing \
             \"{card}\" --lab {reading}"
        ));
    }
    json(&format!("calibrate {book}"));
    let listed = json(&format!("stock list {book}"));
    assert_eq!(listed["stocks"][0]["has_own_curves"], true, "{listed}");
    let before = chip(&book, parent.path(), "flesh 20", "");
    // An ingredient that later is twice as strong moves it no more.
    let red = parent.path().join("bench/spectra/iron-oxide-red.csv");
    let yellow =
        fs::read(parent.path().join("bench/spectra/iron-oxide-yellow.csv")).expect("a curve");
    fs::write(&red, yellow).expect("written");
    assert_same(
        lab(&chip(&book, parent.path(), "flesh 20", "")),
        lab(&before),
        "its own curve",
    );
    // Calibrated again it comes out the same: it begins where it began.
    let curve =
        || fs::read_to_string(parent.path().join("bench/spectra/flesh.csv")).expect("its curve");
    let first = curve();
    json(&format!("calibrate {book}"));
    assert_eq!(curve(), first, "the same chips, the same curve");
    let said = run(&format!("stock remove flesh {book}"));
    assert_eq!(said.code, 2, "swatches speak of it: {}", said.out);
    assert!(
        said.err.contains("keep its row, with mass_g 0"),
        "{}",
        said.err
    );
}

#[test]
fn what_the_user_wrote_in_the_table_stays() {
    let (parent, book) = starter_book();
    make(&book, "flesh", MIX, "");
    let path = parent.path().join("bench/stocks.csv");
    let own = fs::read_to_string(&path)
        .expect("the table")
        .replace("mass_g", "mass_g,shelf")
        .replace(",50,", ",50,left,");
    let own = format!("{own}# the rest is older,,,,,,,\n");
    fs::write(&path, &own).expect("written");
    make(&book, "other", "umber 3 g", "--date 2026-01-02");
    let after = fs::read_to_string(&path).expect("the table");
    assert_eq!(
        after,
        format!("{own}other,2026-01-02,umber 3 g,3,,,,\n"),
        "a row more"
    );
    json(&format!("stock remove other {book}"));
    assert_eq!(
        fs::read_to_string(&path).expect("the table"),
        own,
        "and gone again"
    );
    json(&format!("stock take flesh 50 {book}"));
    let used = run(&format!(
        "match {book} --target 55,18,18 --base-g 200 --backing \"white card\" --json"
    ))
    .out;
    assert!(
        !used.contains("\"flesh"),
        "used up, it is not asked for: {used}"
    );
}

#[test]
fn a_part_may_ask_for_one_stock_and_the_cost_is_told() {
    let (_parent, book) = starter_book();
    make(
        &book,
        "flesh",
        "iron oxide red 4 g; iron oxide yellow 6 g; umber 2 g; clear carrier 10 g",
        "",
    );
    let part = format!(
        "match {book} --target 62,13,16 --base-g 600 --foam-g 300 --fibre-g 12 --time-limit 30 --tolerance 30 --exact"
    );
    let answer = json(&format!("{part} --stock flesh"));
    for cup in [&answer, &answer["foam"]] {
        let drops = cup["recipes"][0]["drops"].as_object().expect("drops");
        assert!(
            drops.keys().any(|name| name.starts_with("flesh")),
            "of the stock: {drops:?}"
        );
        let others = drops.keys().filter(|name| !name.starts_with("flesh"));
        assert!(
            others
                .clone()
                .all(|name| name.starts_with("titanium white")),
            "{drops:?}"
        );
    }
    let told = &answer["one_tint"];
    assert_eq!(
        (&told["stock"], &told["stands"]),
        (&Value::from("flesh"), &Value::from(true)),
        "{told}"
    );
    let [with, free, cost] =
        ["delta_e", "free_delta_e", "cost"].map(|key| number(&told["skin"][key]));
    assert!((cost - (with - free)).abs() < 1e-12, "{told}");
    assert!(
        answer["mix"]
            .as_str()
            .is_some_and(|mix| mix.contains("flesh")),
        "by its name: {}",
        answer["mix"]
    );
}

#[test]
fn the_stock_of_a_part_is_made_by_what_the_answer_says() {
    let (_parent, book) = starter_book();
    let part = format!(
        "match {book} --target 62,13,16 --base-g 300 --backing \"white card\" --tolerance 30 --one-tint"
    );
    let told = json(&part)["one_tint"].clone();
    let [stock, mix] = ["stock", "mix"].map(|key| told[key].as_str().expect(key));
    let made = make(&book, stock, mix, "");
    assert_eq!(made["g"], told["g"], "{made}");
    assert!(
        (number(&made["drop_g"]) - number(&told["drop_g"])).abs() < 1e-12,
        "{made}"
    );
    let next = json(&part)["one_tint"]["stock"].clone();
    assert_eq!(next, "flesh stock 2", "a name that nothing has");
}

#[test]
fn what_is_no_stock_is_refused_and_nothing_is_written() {
    let (parent, book) = starter_book();
    make(&book, "flesh", MIX, "");
    make(&book, "thin", "umber 1 g; clear carrier 9 g", "");
    let path = parent.path().join("bench/stocks.csv");
    let before = fs::read(&path).expect("the table");
    for (line, words) in [
        (
            "stock make flesh --mix \"umber 2 g\"",
            "a pigment called `flesh` stands on the shelf already",
        ),
        (
            "stock make umber --mix \"umber 2 g\"",
            "a pigment called `umber` stands on the shelf already",
        ),
        ("stock make x --mix \"\"", "no pigment goes into the stock"),
        (
            "stock make x --mix \"clear carrier 20 g\"",
            "no pigment goes into the stock",
        ),
        (
            "stock make x --mix \"umber 20\"",
            "counts drops, and a stock is weighed (write grams, as in `umber 20 g`)",
        ),
        (
            "stock make x --mix \"umber 2 g; clear skin 20 g\"",
            "is a base, and a stock that holds one does not keep (thin it in `clear carrier` instead)",
        ),
        (
            "stock make x --mix \"umber 1:10 2 g\"",
            "is let down in part B",
        ),
        (
            "stock make x --mix \"flesh 2 g\"",
            "`flesh` is a stock itself",
        ),
        ("stock make x --mix \"amber 2 g\"", "did you mean `umber`?"),
        (
            "stock make x --mix \"umber 2 g\" --g 0",
            "no mass of the stock",
        ),
        (
            "stock make x --mix \"umber 2 g\" --date spring",
            "no such day",
        ),
        (
            "stock take flesh 60",
            "50 g of `flesh` are left, and 60 g are to be taken",
        ),
        (
            "stock take flush 1",
            "no stock is called `flush` (did you mean `flesh`?)",
        ),
        ("stock take flesh 0", "nothing to take"),
        ("stock remove flush", "no stock is called `flush`"),
        (
            "calibrate --new-lot flesh=B7",
            "`flesh` is a stock, and has no lots",
        ),
        (
            "match --target 62,13,16 --base-g 100 --backing \"white card\" --stock flush",
            "no stock is called `flush` (did you mean `flesh`?)",
        ),
        (
            "batch --base \"clear skin\" --base-g 100 --mix \"thin 5 g\"",
            "`clear carrier` would be 4.29 % of the cup; more than 3 % weakens",
        ),
        (
            "batch --base \"clear carrier\" --base-g 100 --mix \"umber 3\"",
            "`clear carrier` is a carrier, which does not set",
        ),
    ] {
        let said = run(&format!("{line} {book}"));
        assert_eq!(said.code, 2, "{line}: {}", said.out);
        assert!(said.err.contains(words), "{line}: {}", said.err);
    }
    assert_eq!(fs::read(&path).expect("the table"), before, "as it was");
    for (cell, wrong, words) in [
        (
            "iron oxide red 10 g",
            "iron oxide rad 10 g",
            "did you mean `iron oxide red`?",
        ),
        (",50,", ",-5,", "mass_g"),
        ("flesh,", "umber,", "is a pigment already"),
    ] {
        let text = String::from_utf8(before.clone())
            .expect("text")
            .replace(cell, wrong);
        fs::write(&path, text).expect("written");
        let said = run(&format!("stock list {book}"));
        assert!(
            said.err.contains("stocks.csv:2:") && said.err.contains(words),
            "{wrong}: {}",
            said.err
        );
    }
}

#[test]
fn fibre_goes_in_by_feel() {
    let card = "match --target 66,12,17 --base-g 600 --backing \"white card\" --tolerance 30";
    let sources = |line: &str| json(line)["recipes"][0]["budget"].to_string();
    assert!(
        sources(&format!("{card} --fibre-g 12")).contains("\"fibre\""),
        "it is in doubt"
    );
    assert!(!sources(card).contains("\"fibre\""), "none is in");
}

#[test]
fn planned_stocks_match_the_tones_that_they_were_planned_for() {
    let (_parent, book) = starter_book();
    let tones = [
        ("fair", "68,10,15"),
        ("tanned", "58,12,17"),
        ("warm", "62,13,19"),
    ];
    const CUPS: &str = "--base-g 600 --fibre-g 12 --foam-g 300";
    for (name, tone) in tones {
        let line = format!(
            "match {book} --target {tone} {CUPS} --part {name} --time-limit 0 --tolerance 99"
        );
        assert_eq!(run(&line).code, 0, "{name} is kept");
    }
    // Two pigments make few proportions.
    let plan = json(&format!(
        "stock plan {book} --count 2 --parts --without \"umber,carbon black,blue\""
    ));
    assert_eq!(number(&plan["skins"]), 3.0, "{plan}");
    assert_eq!(plan["covered"], 1.0, "{plan}");
    let mut names = Vec::new();
    for stock in plan["stocks"].as_array().expect("stocks") {
        let (name, mix) = (
            stock["name"].as_str().expect("a name"),
            stock["mix"].as_str().expect("a mix"),
        );
        let made = make(&book, name, mix, "");
        assert_eq!(
            made["rounded"],
            serde_json::json!([]),
            "the scale shows it: {made}"
        );
        names.push(name.to_owned());
    }
    assert_eq!(names.len(), 2, "{plan}");
    // The same in the maker's own hands, by the same rule of what passes.
    for (tone, planned) in tones.iter().zip(plan["tones"].as_array().expect("tones")) {
        let matched = json(&format!(
            "match {book} --target {} {CUPS} --pigments \"{},titanium white\" --max-pigments 3 --time-limit 0",
            tone.1,
            names.join(",")
        ));
        let found = number(&matched["recipes"][0]["delta_e"]);
        let planned = number(&planned["delta_e"]);
        assert!(
            (found - planned).abs() < 1e-9,
            "{tone:?}: {found} where {planned} was planned"
        );
    }
    let again = run(&format!("stock plan {book} --count 5"));
    assert_eq!(again.code, 2, "{}", again.out);
    assert!(again.err.contains("expected 1 to 4"), "{}", again.err);
    for (line, words) in [
        ("stock plan --parts", "no tone to plan stocks for"),
        (
            "stock plan --without \"umber,carbon black,blue,iron oxide red\"",
            "fewer than two pigments",
        ),
    ] {
        let said = run(line);
        assert_eq!(said.code, 2, "{line}: {}", said.out);
        assert!(said.err.contains(words), "{line}: {}", said.err);
    }
}

#[test]
fn a_jar_that_is_wanted_is_offered_as_a_bottle_that_keeps() {
    let (_parent, book) = starter_book();
    let line = format!(
        "match {book} --target 65.1,10.6,13.9 --base-g 600 --fibre-g 12 --foam-g 300 --time-limit 60"
    );
    let answer = json(&line);
    let new = |answer: &Value| -> Vec<Value> {
        let jars = answer["jars"].as_array().expect("jars").iter();
        jars.filter(|jar| jar["new"] == true).cloned().collect()
    };
    let [jar] = &new(&answer)[..] else {
        panic!("one jar is wanted: {}", answer["jars"]);
    };
    let said = run(&line).out;
    assert!(
        said.contains("thinned in carrier instead, it keeps"),
        "{said}"
    );
    let command = answer["instead_of_jars"].as_str().expect("a command");
    assert!(said.contains(command), "{command}: {said}");
    // By hand: 30 g of one part in so many.
    let mix = format!(
        "{} {} g; clear carrier {} g",
        jar["pigment"].as_str().expect("a pigment"),
        30.0 / number(&jar["ratio"]),
        30.0 - 30.0 / number(&jar["ratio"])
    );
    assert!(command.contains(&mix), "{mix}: {command}");
    let made = run(command.strip_prefix("dropwise ").expect("a command"));
    assert_eq!(made.code, 0, "{}", made.err);
    let again = json(&line);
    assert_eq!(new(&again), Vec::<Value>::new(), "no jar any more");
    assert!(again["instead_of_jars"].is_null(), "{again}");
}

#[test]
fn a_jar_of_a_stock_that_is_made_for_the_part_alone_is_offered_no_other() {
    let (_parent, book) = starter_book();
    let answer = json(&format!(
        "match {book} --target 72,9,14 --base-g 60 --fibre-g 1 --foam-g 30 --one-tint --time-limit 60"
    ));
    let jars = answer["jars"].as_array().expect("jars");
    let of_the_stock = |jar: &Value| jar["pigment"] == "flesh stock" && jar["new"] == true;
    assert!(jars.iter().any(of_the_stock), "{jars:?}");
    assert!(answer["instead_of_jars"].is_null(), "{answer}");
}

#[test]
fn dark_skins_are_planned_for_by_their_lightness_and_what_would_help_is_told() {
    let (_parent, book) = starter_book();
    let few = "--without \"carbon black,blue,iron oxide yellow\"";
    let plan = json(&format!(
        "stock plan {book} --count 1 --lightness 40,44 {few}"
    ));
    let tones = plan["tones"].as_array().expect("tones");
    assert!(
        tones
            .iter()
            .all(|tone| (40.0..=44.0).contains(&number(&tone["aim"][0]))),
        "{tones:?}"
    );
    // By hand: two hues of L* 40 and 42.5, and the darkest of the measured skins.
    assert_eq!(tones.len(), 5, "{tones:?}");
    assert_eq!(plan["apart"], serde_json::json!([]), "all are planned for");
    assert!(
        number(&plan["next"]["covers"]) >= 1.0,
        "one stock more: {plan}"
    );
    for (range, words) in [
        ("44,40", "expected two numbers, as in 25,45"),
        ("80,90", "no skin is known of L* 80 to 90"),
    ] {
        let said = run(&format!("stock plan {book} --lightness {range}"));
        assert_eq!(said.code, 2, "{}", said.out);
        assert!(said.err.contains(words), "{words}: {}", said.err);
    }
}
