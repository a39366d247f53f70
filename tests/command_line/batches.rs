//! `batch`: a recipe for other amounts.

use std::fs;

use serde_json::{Value, json as expected_json};

use super::{json, number, run, starter_book, word};

fn batch(rest: &str) -> Value {
    json(&format!("batch {rest}"))
}

fn dose<'a>(pour: &'a Value, colorant: &str) -> &'a Value {
    let doses = pour["doses"].as_array().expect("doses");
    let dose = doses.iter().find(|dose| dose["colorant"] == colorant);
    dose.unwrap_or_else(|| panic!("{colorant} in {pour}"))
}

#[test]
fn the_common_ratios_split_a_batch() {
    // Common practice, no source: skins go 1:1, foams 100 B to 50 A, both by mass.
    let skin = batch(r#"--base "clear skin" --base-g 600"#);
    assert_eq!(
        (number(&skin["part_a_g"]), number(&skin["part_b_g"])),
        (300.0, 300.0),
        "1:1"
    );
    let foam = batch(r#"--base "flexible foam" --base-g 300"#);
    assert_eq!(
        (number(&foam["part_a_g"]), number(&foam["part_b_g"])),
        (100.0, 200.0),
        "50 A to 100 B"
    );
    let paint = batch(r#"--base "clear paint" --base-g 60"#);
    assert_eq!(number(&paint["base_g"]), 60.0, "one part");
    assert!(paint["part_a_g"].is_null(), "and no other: {paint}");
}

#[test]
fn eight_ounces_are_227_g_and_not_300() {
    // NIST Handbook 44, appendix C: the avoirdupois ounce is 28.349523125 g, eight of them 226.796 g.
    for mass in ["8oz", "\"8 oz\"", "0.5lb", "226.796 "] {
        let pour = batch(&format!(r#"--base "clear skin" --base-g {mass}"#));
        let base_g = number(&pour["base_g"]);
        assert!(
            (base_g - 226.796).abs() <= 0.05,
            "{mass}: {base_g} g, to the scale's 0.1 g"
        );
        assert_eq!(base_g.round(), 227.0, "{mass}: to the gram");
    }
}

#[test]
fn ten_times_the_batch_is_ten_times_everything() {
    let ten = batch(
        r#"--base "clear skin" --base-g 600 --mix "iron oxide red 10; umber 1; fibre 12.5 g" --times 10"#,
    );
    assert_eq!(number(&ten["base_g"]), 6000.0, "the base");
    assert_eq!(
        number(&dose(&ten, "fibre")["mass_g"]),
        125.0,
        "what was weighed is weighed"
    );
    assert_eq!(dose(&ten, "umber")["drops"], 10, "ten drops can be counted");
    let red = number(&dose(&ten, "iron oxide red")["mass_g"]);
    assert!(
        (red - 100.0 * 0.032).abs() <= 0.05,
        "a hundred drops of 0.032 g are weighed, to 0.1 g: {red}"
    );
    let rounding = number(&dose(&ten, "iron oxide red")["rounding"]);
    assert!(
        (red / (100.0 * 0.032) - 1.0 - rounding).abs() < 1e-9,
        "and it says by how much it is off"
    );
    let to = batch(
        r#"--base "clear skin" --base-g 600 --mix "iron oxide red 10; umber 1; fibre 12.5 g" --to 6kg"#,
    );
    assert_eq!(ten, to, "by times or by mass");
}

#[test]
fn no_pot_is_larger_than_can_be_used_up_and_the_pots_add_up() {
    let pour =
        batch(r#"--base "clear skin" --base-g 600 --mix "umber 2" --times 10 --largest-pot 2.5kg"#);
    assert_eq!(pour["pots"], 3, "6 kg in pots of at most 2.5 kg");
    assert_eq!(number(&pour["base_g"]), 2000.0, "alike");
    let parts = number(&pour["part_a_g"]) + number(&pour["part_b_g"]);
    assert!((parts - 2000.0).abs() < 0.1, "A and B make a pot: {parts}");
    let minutes: Vec<f64> = pour["timeline"]
        .as_array()
        .expect("a timeline")
        .iter()
        .map(|moment| number(&moment["minutes"]))
        .collect();
    assert_eq!(minutes, [4.0, 7.0, 60.0], "pot life, gel, out of the mould");
    // By hand: twenty drops for three pots are seven, seven and six, into 2.1, 2.1 and 1.8 kg.
    let said = run(
        r#"batch --base "clear skin" --base-g 600 --mix "umber 2" --times 10 --largest-pot 2.5kg --pot-by-pot"#,
    );
    for words in [
        "3 pots of unlike size, in whole drops",
        "pots 1 and 2, each: 1050 g part B; umber 7; 1050 g part A",
        "pot 3: 900 g part B; umber 6; 900 g part A",
    ] {
        assert!(said.out.contains(words), "{words}: {}", said.out);
    }
    assert_eq!(number(&pour["in_all"]["base_g"]), 6000.0, "three of 2 kg");
    // By hand: two thirds of ten drops are six, and seven of a let-down.
    let in_all = "umber 18; umber 1:10 21";
    assert_eq!(pour["in_all"]["mix"], in_all, "three times");
    // Where no sizes suit all pigments, pots are alike.
    let said = run(
        r#"batch --base "clear skin" --base-g 600 --mix "iron oxide red 3; iron oxide yellow 5; titanium white 11" --largest-pot 250 --pot-by-pot"#,
    );
    for words in ["3 pots, one after the other", "in all 600 g of base; "] {
        assert!(said.out.contains(words), "{words}: {}", said.out);
    }
}

/// By hand: three pots of 2 kg take 1 kg of part A each, and 3 kg of part B; twenty drops of umber, 0.031 g each in the demo book, are
/// 0.62 g, which a scale of 0.1 g shows too coarsely; five hundred of white, 0.036 g each, are 18 g.
#[test]
fn several_pots_are_tinted_at_once_and_divided() {
    let line = r#"batch --base "clear skin" --base-g 600 --mix "umber 2; titanium white 50; fibre 12 g" --times 10 --largest-pot 2.5kg"#;
    let pour = batch(line.trim_start_matches("batch "));
    let cup = &pour["cups"][0];
    let at_once = &cup["at_once"];
    assert_eq!(number(&at_once["part_b_g"]), 3000.0, "{at_once}");
    let dose = |name: &str| {
        let mut doses = at_once["doses"].as_array().expect("doses").iter();
        doses
            .find(|dose| dose["pigment"] == name)
            .unwrap_or_else(|| panic!("{name}: {at_once}"))
    };
    assert_eq!(
        dose("umber")["drops"],
        20,
        "counted once, for all pots: {at_once}"
    );
    assert!(
        dose("titanium white")["drops"].is_null(),
        "weighed: {at_once}"
    );
    let white = number(&dose("titanium white")["g"]);
    assert!((white / 18.0 - 1.0).abs() < 0.02, "500 drops: {white} g");
    assert_eq!(
        at_once["doses"].as_array().map(Vec::len),
        Some(2),
        "fibre goes in pot by pot"
    );
    let poured = 3.0 * number(&at_once["share_g"]);
    assert_eq!(number(&at_once["part_a_g"]), 1000.0, "{at_once}");
    let tinted = 3000.0 + white + 20.0 * 0.031;
    assert!((poured - tinted).abs() <= 0.3, "{poured} of {tinted}");
    let said = run(line).out;
    for words in [
        "part B of all 3 pots at once",
        "3 pots, one after the other, each:",
        "40 g  fibre",
    ] {
        assert!(said.contains(words), "{words}: {said}");
    }
    let thinned = run(r#"batch --base "clear skin" --base-g 600 --mix "umber 1:10 6" --times 10 --largest-pot 2kg"#).out;
    assert!(
        !thinned.contains("1:10"),
        "nothing is thinned where all is tinted from the bottle: {thinned}"
    );
    let one = batch(r#"--base "clear skin" --base-g 600 --mix "umber 2" --times 2"#);
    assert!(
        one["cups"][0]["at_once"].is_null(),
        "of one pot there is nothing to divide"
    );
}

#[test]
fn a_batch_that_is_matched_in_pots_is_as_many_times_one_whole_drop_recipe() {
    let line = "match --target 35,8,10 --base-g 6000 --fibre-g 120 --foam-g 1500 --largest-pot 1kg --time-limit 60";
    let answer = json(line);
    let foam = &answer["foam"];
    assert_eq!((&answer["pots"], &foam["pots"]), (&6.into(), &2.into()));
    assert_eq!(
        (number(&answer["base_g"]), number(&foam["base_g"])),
        (1000.0, 750.0)
    );
    for cup in [&answer, foam] {
        // What is measured into a pot is the recipe, but for what is weighed in place of many drops.
        for (name, drops) in cup["recipes"][0]["drops"].as_object().expect("drops") {
            let dose = dose(&cup["pour"], name);
            let off = number(&dose["rounding"]).abs();
            assert!(
                dose["drops"] == *drops || dose["drops"].is_null() && off < 0.02,
                "{name}: {dose}"
            );
        }
    }
    assert_eq!(
        number(&dose(&answer["pour"], "fibre")["mass_g"]),
        20.0,
        "a sixth of the fibre"
    );
    // One pot alone is the same recipe.
    let pot =
        json("match --target 35,8,10 --base-g 1000 --fibre-g 20 --foam-g 750 --time-limit 60");
    for (cup, alone) in [(&answer, &pot), (foam, &pot["foam"])] {
        for key in ["drops", "delta_e"] {
            assert_eq!(cup["recipes"][0][key], alone["recipes"][0][key], "{key}");
        }
        assert_eq!((&cup["mix"], &cup["gap"]), (&alone["mix"], &alone["gap"]));
        assert_eq!(cup["proven"], true);
    }
    assert_eq!(pot["pots"], 1);
    assert!(pot["pour"]["in_all"].is_null(), "nothing to sum");

    // The text, and the swatch that it logs, are of a pot, with the sum beside it.
    let text = run(&format!("{line} --why")).out;
    let in_all = answer["pour"]["in_all"]["mix"].as_str().expect("a mix");
    assert!(in_all.contains("fibre 120 g"), "{in_all}");
    let joined = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        joined.contains(&format!("in all 6000 g of base; {in_all}")),
        "{text}"
    );
    assert!(
        text.contains("--base \"clear skin\" --base-g 1000 --mix"),
        "{text}"
    );
    assert!(text.contains("--foam-g 750"), "{text}");
}

#[test]
fn drops_of_a_matched_batch_are_limited_by_the_pot() {
    let line = "match --target 35,8,10 --base-g 2400 --backing \"white card\" --largest-pot 600 --max-total-drops 20 --time-limit 60";
    let said = run(&format!("{line} --json"));
    let answer: Value = serde_json::from_str(&said.out).expect("JSON");
    let drops = answer["recipes"][0]["drops"].as_object().expect("drops");
    let sum: f64 = drops.values().map(number).sum();
    assert!(
        (10.0..=20.0).contains(&sum),
        "of 20 in a pot of four: {drops:?}"
    );
}

#[test]
fn a_long_count_is_weighed_only_where_the_scale_is_surer() {
    // By hand: 46 drops of 0.032 g are 1.472 g, which a scale of 0.1 g shows as 1.5 g, 1.9 % more, and rounds by 1.9 %
    // (0.1 / √12 / 1.5) besides: 2.7 %. Drops scatter by 8 % / √46: 1.2 %.
    let counted = batch(r#"--base "flexible foam" --base-g 600 --mix "iron oxide red 46""#);
    assert_eq!(dose(&counted, "iron oxide red")["drops"], 46, "{counted}");
    // 62 drops are too many to count, where the scale will do.
    let weighed = batch(r#"--base "flexible foam" --base-g 600 --mix "iron oxide red 62""#);
    assert_eq!(
        number(&dose(&weighed, "iron oxide red")["mass_g"]),
        2.0,
        "{weighed}"
    );
}

#[test]
fn what_is_too_little_to_weigh_is_counted_in_one_line_whatever_it_was_let_down_in() {
    // By hand: 0.0113 g and a tenth of 0.07907 g are 0.0192 g, six tenths of a drop of 0.032 g.
    let pour = batch(
        r#"--base "clear skin" --base-g 60 --mix "iron oxide red 0.0113 g; iron oxide red 1:10 0.07907 g""#,
    );
    let doses = pour["doses"].as_array().expect("doses");
    assert_eq!(doses.len(), 1, "{pour}");
    assert_eq!(dose(&pour, "iron oxide red 1:10")["drops"], 6);
    assert_eq!(
        pour["let_downs"].as_array().map(Vec::len),
        Some(1),
        "one to make"
    );
}

#[test]
fn a_tenth_of_a_batch_counts_let_down_drops_and_says_how_they_are_made() {
    let line = r#"batch --base "clear skin" --base-g 600 --mix "iron oxide red 3" --times 0.1"#;
    assert_eq!(
        dose(&json(line), "iron oxide red 1:10")["drops"],
        3,
        "three tenths of a drop"
    );
    let text = run(line).out;
    assert!(
        text.contains("part B of clear skin") && text.contains("iron oxide red 1:10: 1 g + 9 g"),
        "{text}"
    );
    assert!(
        text.contains("isocyanates") && text.contains("safety sheet"),
        "{text}"
    );
}

/// Worked by hand: eleven drops of 1:20, ten times, are five and a half of the bottle, 0.17 g, which a scale of 0.1 g shows too
/// coarsely and whole drops miss by a twelfth: five of the bottle and ten of the let-down are what is wanted.
#[test]
fn what_neither_scale_nor_whole_drops_measure_in_bulk_is_let_down() {
    let line = r#"batch --base "clear skin" --base-g 600 --mix "umber 1:20 11" --times 10 --largest-pot 2kg"#;
    let pour = json(line);
    let at_once = &pour["cups"][0]["at_once"];
    let doses: Vec<(f64, u64)> = (at_once["doses"].as_array().expect("doses").iter())
        .map(|dose| {
            (
                number(&dose["ratio"]),
                dose["drops"].as_u64().expect("drops"),
            )
        })
        .collect();
    assert_eq!(doses, [(1.0, 5), (20.0, 10)], "{at_once}");
    assert_eq!(
        number(&pour["cups"][0]["rounding_delta_e"]),
        0.0,
        "nothing is rounded"
    );
    let said = run(line).out;
    assert!(said.contains("umber 1:20"), "the jar is told of: {said}");
    // What the let-down brings of clear base is not poured of part B: ten drops of 0.031 g, 19 parts of 20.
    let parts = 3.0 * number(&at_once["part_a_g"]) + number(&at_once["part_b_g"]);
    let clear = 110.0 * 0.031 * 0.95 - 10.0 * 0.031 * 0.95;
    assert!((parts - 6000.0 - clear).abs() < 0.2, "{parts} g of A and B");
}

/// Worked by hand: seven drops for three pots are three, two and two, into three sevenths and twice two sevenths of 600 g.
#[test]
fn pots_are_of_unlike_size_where_whole_drops_want_it() {
    let line =
        r#"batch --base "clear skin" --base-g 600 --mix "umber 7; fibre 14 g" --largest-pot 260"#;
    let pour = json(&format!("{line} --pot-by-pot"));
    let pots = pour["unlike"]["pots"].as_array().expect("pots");
    let told: Vec<(f64, &str)> = (pots.iter())
        .map(|pot| (number(&pot["base_g"]), pot["mix"].as_str().expect("a mix")))
        .collect();
    let expected = [
        (257.1, "umber 3; fibre 6 g"),
        (171.4, "umber 2; fibre 4 g"),
        (171.4, "umber 2; fibre 4 g"),
    ];
    assert_eq!(told, expected, "{pour}");
    assert!(
        number(&pour["unlike"]["worst_delta_e"]) < 0.05,
        "of one colour: {pour}"
    );
    let said = run(&format!("{line} --pot-by-pot")).out;
    for words in [
        "3 pots of unlike size, in whole drops",
        "pot 1: 128.5",
        "umber 3; fibre 6 g",
    ] {
        assert!(said.contains(words), "{words}: {said}");
    }
    assert!(
        !said.contains("1:10"),
        "nothing is thinned for them: {said}"
    );
    // Tinted at once there is nothing to count; and no pot is larger than may be.
    assert!(json(line)["unlike"].is_null(), "by default");
    let narrow = json(&format!("{} --pot-by-pot", line.replace("260", "200")));
    let pots = narrow["unlike"]["pots"].as_array().map_or(0, Vec::len);
    assert!(pots == 0 || pots > 3, "{narrow}");
    let alike = json(&format!(
        "{} --pot-by-pot",
        line.replace("umber 7", "umber 6")
    ));
    assert!(alike["unlike"].is_null(), "two drops in each: {alike}");
}

/// A part of one pigment, seven drops of it in 600 g: the same three, two and two as above.
#[test]
fn pots_of_a_part_are_of_unlike_size_where_whole_drops_want_it() {
    let (parent, book) = starter_book();
    let kept = run(&format!(
        "match {book} --target 67.7,8.0,15.9 --base-g 600 --fibre-g 14 --thickness-mm 2 --backing \"white card\" --pigments umber --part bark"
    ));
    assert!(kept.out.contains("7 drops umber"), "{}", kept.out);
    let line = format!("batch {book} --part bark --largest-pot 260");
    let told = json(&format!("{line} --pot-by-pot"));
    let unlike = &told["cups"][0]["unlike"];
    let pots = unlike["pots"].as_array().expect("pots");
    let mixes = pots.iter().map(|pot| pot["mix"].as_str().expect("a mix"));
    let mixes: Vec<&str> = mixes.collect();
    assert_eq!(
        mixes,
        [
            "umber 3; fibre 6 g",
            "umber 2; fibre 4 g",
            "umber 2; fibre 4 g"
        ],
        "{told}"
    );
    assert!(number(&unlike["worst_delta_e"]) < 0.05, "{unlike}");
    assert_eq!(
        told["jars"],
        expected_json!([]),
        "nothing is thinned for them"
    );
    let said = run(&format!("{line} --pot-by-pot")).out;
    assert!(said.contains("3 pots of unlike size"), "{said}");
    assert!(said.contains("with part A in, each: use by"), "{said}");
    assert!(!said.contains("1:10"), "{said}");
    let at_once = json(&line);
    assert!(at_once["cups"][0]["unlike"].is_null(), "{at_once}");

    // The sheet of a part that is poured in such pots has the same three.
    let kept = parent.path().join("bench/parts/bark.toml");
    let text = fs::read_to_string(&kept).expect("the part");
    let narrow = text.replacen("fibre_g = 14.0", "fibre_g = 14.0\nlargest_pot_g = 260.0", 1);
    fs::write(&kept, narrow).expect("written");
    let path = parent.path().join("sheet.html");
    let sheet = |how: &str| {
        let said = run(&format!(
            "part sheet bark {} {book} --force{how}",
            word(&path)
        ));
        assert_eq!((said.code, &*said.err), (0, ""), "{how}");
        fs::read_to_string(&path).expect("the sheet")
    };
    let each = sheet(" --pot-by-pot");
    assert!(
        each.contains("3 pots, one after the other, not all of one size"),
        "{each}"
    );
    assert_eq!(each.matches("3 drops").count(), 1, "{each}");
    assert_eq!(each.matches("2 drops").count(), 2, "{each}");
    assert!(sheet("").contains("of all 3 pots at once"), "by default");
}

/// Worked examples of several pots, with one pigment and with several: pots that are tinted at once are of one colour, and neither
/// they nor pots by themselves lie farther off the recipe, or from each other, than anybody sees.
#[test]
fn pots_of_the_worked_examples_are_of_one_colour_and_that_of_the_recipe() {
    const NOBODY_SEES: f64 = 0.3;
    for rest in [
        r#"--base "clear skin" --base-g 600 --mix "iron oxide red 1:20 6; iron oxide yellow 1:5 2; fibre 12 g" --times 10 --largest-pot 1kg"#,
        r#"--base "clear skin" --base-g 600 --mix "umber 2; titanium white 50; fibre 12 g" --times 10 --largest-pot 2.5kg"#,
        r#"--base "clear skin" --base-g 600 --mix "iron oxide red 3; iron oxide yellow 5; titanium white 11; fibre 12 g" --largest-pot 250"#,
        r#"--base "clear skin" --base-g 600 --mix "umber 7; fibre 14 g" --largest-pot 260"#,
        r#"--base "flexible foam" --base-g 300 --mix "iron oxide red 3; iron oxide yellow 4; umber 2" --times 2 --largest-pot 150"#,
    ] {
        for way in ["", " --pot-by-pot"] {
            let pour = batch(&format!("{rest}{way}"));
            let off = number(&pour["cups"][0]["rounding_delta_e"]);
            assert!(off <= NOBODY_SEES, "{rest}{way}: ΔE00 {off} off the recipe");
            if let Some(apart) = pour["unlike"]["worst_delta_e"].as_f64() {
                assert!(apart <= NOBODY_SEES, "{rest}{way}: ΔE00 {apart} apart");
            }
        }
    }
}
