//! Foam that is held as it is or to the tone, and one stock for skin and foam. The tones are invented.

use dropwise::colour::delta_e_2000;
use serde_json::Value;

use super::{
    assert_same, file, folder, json, json_with, lab, number, predict, run, starter_book, word,
};

/// A whole part of the demo's materials.
const PART: &str =
    "match --target 65.1,10.6,13.9 --base-g 600 --fibre-g 12 --foam-g 300 --time-limit 60";

fn mix(cup: &Value) -> &str {
    cup["mix"].as_str().expect("a mix")
}

/// Grams of `pigment`'s dispersion that a spelled-out mix weighs in, let down or not.
fn grams_of(pigment: &str, mix: &str) -> f64 {
    let weighed = mix.split("; ").filter_map(|entry| {
        let rest = entry.strip_prefix(pigment)?.strip_suffix(" g")?.trim();
        let (parts, grams) = match rest.strip_prefix("1:") {
            Some(let_down) => let_down.split_once(' ')?,
            None => ("1", rest),
        };
        Some(grams.parse::<f64>().ok()? / parts.parse::<f64>().ok()?)
    });
    weighed.sum()
}

#[test]
fn one_stock_tints_skin_and_foam_and_says_what_that_costs() {
    let free = json(PART);
    let folder = folder();
    let path = folder.path().join("sheet.html");
    let answer = json(&format!(
        "{PART} --flush 58,16.5,16.5 --paint-g 60 --one-tint --sheet {}",
        word(&path)
    ));
    let one_tint = &answer["one_tint"];
    let grams = one_tint["g_per_100_g"].as_object().expect("grams by name");
    assert!(grams.len() > 1, "a stock of several: {one_tint}");
    let sum: f64 = grams.values().map(number).sum();
    assert!((sum - 100.0).abs() < 1e-9, "{sum} g of the stock");

    for (cup, what) in [(&answer, "skin"), (&answer["foam"], "foam")] {
        let drops = cup["recipes"][0]["drops"]
            .as_object()
            .expect("drops by name");
        for name in drops.keys() {
            let white = name.starts_with("titanium white") && what == "skin";
            assert!(
                name.starts_with("flesh stock") || white,
                "{name} in the {what}"
            );
        }
        assert!(
            drops.keys().any(|name| name.starts_with("flesh stock")),
            "{what}: of the stock"
        );
        assert_eq!(cup["proven"], true, "{what}: proven as any recipe");
        let told = [&one_tint[what]["delta_e"], &one_tint[what]["free_delta_e"]].map(number);
        let cost = number(&one_tint[what]["cost"]);
        assert!((cost - (told[0] - told[1])).abs() < 1e-12, "{what}: {cost}");
        // By hand: the masses of a mix stand to each other as those of the stock.
        let masses: Vec<(f64, f64)> = (grams.iter())
            .map(|(name, grams)| (grams_of(name, mix(cup)), number(grams)))
            .collect();
        for (mass, grams) in &masses {
            let off = mass / masses[0].0 / (grams / masses[0].1) - 1.0;
            assert!(off.abs() < 1e-3, "{what}: {masses:?} in {}", mix(cup));
        }
    }
    let paint = answer["paint"]["recipes"][0]["drops"].to_string();
    assert!(
        !paint.contains("flesh stock"),
        "paint has its own recipe: {paint}"
    );

    // Against what the program says elsewhere.
    let skin = &one_tint["skin"];
    assert_eq!(
        number(&skin["delta_e"]),
        number(&answer["recipes"][0]["delta_e"])
    );
    assert_eq!(
        number(&skin["free_delta_e"]),
        number(&free["recipes"][0]["delta_e"])
    );
    let tone = lab(&answer["target"]);
    for (cup, key) in [
        (&answer["foam"], "delta_e"),
        (&free["foam"], "free_delta_e"),
    ] {
        let bare = delta_e_2000(tone, lab(&cup["recipes"][0]));
        assert!(
            (bare - number(&one_tint["foam"][key])).abs() < 1e-9,
            "{key}: {bare}"
        );
    }
    let [skin, foam, paint] = [&answer, &answer["foam"], &answer["paint"]].map(mix);
    let unpainted = format!("clear skin,600,{skin},2,,,flexible foam,300,{foam}");
    let rows = [
        format!("bare,{unpainted}"),
        format!("painted,{unpainted},clear paint,60,{paint},0.03"),
    ];
    let predicted = predict(&rows, "");
    for (cup, predicted) in [&answer, &answer["paint"]].into_iter().zip(&predicted) {
        let off = delta_e_2000(lab(&cup["recipes"][0]), lab(predicted));
        // Hundredths of a milligram, of pigments weighed in place of the stock's drops.
        assert!(off < 0.01, "spelled out it is off by ΔE00 {off}");
    }

    let sheet = std::fs::read_to_string(path).expect("the sheet");
    for (name, grams) in grams {
        let line = format!("☐ </span>{} g {name}", number(grams));
        assert!(sheet.contains(&line), "{line}");
    }
    assert!(sheet.contains("The foam, bare, is ΔE00"), "what it costs");
}

#[test]
fn the_spread_of_a_stock_is_that_of_its_pigments() {
    // One pigment alone is a stock of itself: nothing may change but the names.
    let others = "titanium white,iron oxide yellow,umber,carbon black,blue";
    let one = format!(
        "match --target 52,18,13 --base-g 600 --backing \"white card\" --without \"{others}\" --time-limit 60"
    );
    let free = json(&one);
    let stocked = json(&format!("{one} --one-tint"));
    let grams = &stocked["one_tint"]["g_per_100_g"];
    assert_eq!(
        grams.to_string(),
        r#"{"iron oxide red":100.0}"#,
        "nothing else"
    );
    let (one, other) = (&free["recipes"][0], &stocked["recipes"][0]);
    assert_eq!(
        (one["drops"].to_string()).replace("iron oxide red", "flesh stock"),
        other["drops"].to_string(),
        "as many drops"
    );
    assert_same(lab(one), lab(other), "the same colour");
    for key in ["L_sd", "a_sd", "b_sd"] {
        let [one, other] = [&one[key], &other[key]].map(number);
        assert!((one - other).abs() < 1e-9, "{key}: {one} and {other}");
    }
    assert_eq!(
        number(&stocked["one_tint"]["skin"]["cost"]),
        0.0,
        "it costs nothing"
    );
}

#[test]
fn a_part_of_one_tint_is_logged_in_pigments_that_the_book_knows() {
    let said = run(&format!("{PART} --one-tint --why"));
    assert_eq!((said.code, said.err.as_str()), (0, ""), "a part");
    for words in [
        "Flesh stock",
        "one tint for skin and foam; 100 g of it are:",
        "off the base tone",
    ] {
        assert!(said.out.contains(words), "{words}: {}", said.out);
    }
    let (_, command) = said
        .out
        .rsplit_once("dropwise swatch add")
        .expect("a command");
    let (command, rest) = command.split_once("\n\n").expect("more");
    let (_, again) = rest.split_once("At another size").expect("how");
    // Ten times of it, in what the book knows, is one batch for each cup.
    let again: Vec<&str> = again.split("dropwise ").skip(1).collect();
    assert_eq!(again.len(), 2, "skin and foam: {again:?}");
    for line in again {
        let pour = json(line.trim());
        let doses = pour["doses"].as_array().expect("doses");
        let mut names: Vec<String> = (doses.iter())
            .map(|dose| dose["colorant"].to_string())
            .collect();
        names.sort();
        names.dedup();
        assert_eq!(names.len(), doses.len(), "a line for each: {pour}");
        let of_the_stock = names.iter().any(|name| name.contains("flesh stock"));
        assert!(!of_the_stock && names.len() > 1, "{names:?}");
        let ten = [6000.0, 3000.0].contains(&number(&pour["base_g"]));
        assert!(ten, "ten times: {}", pour["base_g"]);
    }
    assert!(!command.contains("flesh stock"), "{command}");
    let (_parent, book) = starter_book();
    let command = command
        .trim()
        .replace("--book DIR", &book)
        .replace("L,a,b", "64,11,14");
    let added = run(&format!("swatch add {command}"));
    assert_eq!((added.code, added.err.as_str()), (0, ""), "{command}");
}

#[test]
fn a_foam_that_is_there_already_is_held_and_the_skin_worked_out_over_it() {
    const FOAM: &str = "iron oxide red 4; iron oxide yellow 6; umber 1";
    let line = format!(
        "match --target 65.1,10.6,13.9 --base-g 600 --fibre-g 12 --foam-g 300 --foam-mix \"{FOAM}\""
    );
    let answer = json(&format!("{line} --time-limit 60"));
    assert!(
        answer["foam"].is_null(),
        "no foam to pour: {}",
        answer["foam"]
    );
    let row = format!(
        "part,clear skin,600,{},2,,,flexible foam,300,{FOAM}",
        mix(&answer)
    );
    let predicted = predict(&[row], "");
    assert_same(
        lab(&answer["recipes"][0]),
        lab(&predicted[0]),
        "over that foam",
    );
    let text = run(&format!("{line} --why")).out;
    assert!(
        text.contains(&format!("--foam-mix \"{FOAM}\"")),
        "logged with it: {text}"
    );
    assert!(text.contains("over the foam as it is"), "{text}");
    assert!(text.contains("the foam shows"), "and no backing: {text}");

    let stocked = json(&format!("{line} --one-tint --time-limit 60"));
    assert!(
        stocked["one_tint"]["foam"].is_null(),
        "the stock is for the skin alone"
    );
}

#[test]
fn a_foam_may_be_held_to_the_tone_where_a_lighter_one_would_do_better() {
    let tone = "match --target 60,28,25 --base-g 600 --fibre-g 12 --foam-g 300 --time-limit 4";
    let (lighter, at_tone) = (
        json_with(1, tone),
        json_with(1, &format!("{tone} --foam-at-tone")),
    );
    assert!(lab(&lighter["foam"]["aim"]).l > 60.0, "lightened of itself");
    assert_same(
        lab(&at_tone["foam"]["aim"]),
        lab(&at_tone["target"]),
        "at the tone",
    );
    let [lighter, at_tone] =
        [&lighter, &at_tone].map(|answer| number(&answer["recipes"][0]["delta_e"]));
    assert!(
        lighter < at_tone,
        "which the skin pays for: {lighter} and {at_tone}"
    );
}

#[test]
fn a_stock_of_nothing_and_a_foam_of_no_mass_are_refused() {
    let refused = |line: &str, says: &str| {
        let said = run(line);
        assert_eq!(said.code, 2, "{line}: {}", said.out);
        assert!(said.err.contains(says), "{line}: {}", said.err);
    };
    refused(
        &format!("{PART} --foam-mix \"umbre 2\""),
        "did you mean `umber`?",
    );
    refused(&format!("{PART} --foam-mix \"umber\""), "lacks its amount");
    refused(
        &format!("{PART} --foam-mix \"umber 2\" --foam-at-tone"),
        "cannot be used with",
    );
    let chip = "match --target 66,12,17 --base-g 600 --backing \"white card\"";
    refused(
        &format!("{chip} --foam-mix \"umber 2\""),
        "cannot be used with",
    );
    refused(&format!("{chip} --foam-at-tone"), "cannot be used with");
    refused(
        &format!("{chip} --pigments \"titanium white\" --one-tint"),
        "there is no tint to make a stock of",
    );
    let (parent, book) = starter_book();
    let pigments = parent.path().join("bench/pigments.csv");
    let table = std::fs::read_to_string(&pigments).expect("a table");
    let table = table.replace("\niron oxide red,", "\nflesh stock,");
    file(&parent.path().join("bench"), "pigments.csv", &table);
    let said = run(&format!("{PART} --one-tint {book}"));
    assert_eq!(said.code, 0, "{}", said.err);
    let free = said.out.contains("drops flesh stock 2");
    assert!(free, "a name that nothing bears: {}", said.out);
}
