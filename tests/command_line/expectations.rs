//! What `match` tells beside its recipes: where doubt comes from, other thicknesses, foam, paint.

use std::fs;

use dropwise::colour::{Lab, delta_e_2000};
use serde_json::Value;

use super::{json, json_with, number, run, starter_book, word};

/// A quick match of one layer.
const LAYER: &str = r#"match --target 62,14,18 --base-g 600 --backing "white card" --fibre-g 12 --pigments "iron oxide red 1:10,iron oxide yellow 1:10" --tolerance 5"#;

/// The same over foam.
const FOAMED: &str = r#"match --target 62,14,18 --base-g 600 --foam-g 300 --fibre-g 12 --pigments "iron oxide red 1:10,iron oxide yellow 1:10,titanium white 1:10" --tolerance 8"#;

fn parts(budget: &Value) -> &Vec<Value> {
    budget["parts"].as_array().expect("parts")
}

#[test]
fn the_parts_of_a_budget_add_up_to_the_spread_and_each_has_its_chance() {
    let answer = json(LAYER);
    let best = &answer["recipes"][0];
    let budget = &best["budget"];
    for key in ["L_sd", "a_sd", "b_sd"] {
        let squares: f64 = parts(budget)
            .iter()
            .map(|part| number(&part[key]).powi(2))
            .sum();
        approx::assert_abs_diff_eq!(squares.sqrt(), number(&best[key]), epsilon = 1e-9);
    }
    let squares: f64 = parts(budget)
        .iter()
        .map(|part| number(&part["delta_e"]).powi(2))
        .sum();
    approx::assert_abs_diff_eq!(squares.sqrt(), number(&budget["delta_e"]), epsilon = 1e-9);
    assert_eq!(best["chance"], budget["chance"], "one chance");
    let names: Vec<&str> = parts(budget)
        .iter()
        .filter_map(|part| part["part"].as_str())
        .collect();
    assert_eq!(
        names,
        [
            "drop_mass",
            "drop_scatter",
            "fibre",
            "thickness",
            "curves",
            "model"
        ],
        "an exact target on a card"
    );
    let next_step = &budget["best_next_step"];
    assert!(
        number(&next_step["delta_e"]) < number(&budget["delta_e"]),
        "it narrows"
    );
    let words = next_step["words"].as_str().expect("words");
    assert!(words.starts_with("what helps most: "), "{words}");
}

#[test]
fn the_best_next_step_follows_what_is_in_doubt() {
    let (_parent, book) = starter_book();
    let folder = book.trim_start_matches("--book ").trim_matches('"');
    let settings = format!("{folder}/book.toml");
    let text = fs::read_to_string(&settings).expect("settings");
    // A hand that brushes anything up to four millimetres.
    let rough = text.replace("thickness_sd_mm = 0.15", "thickness_sd_mm = 2.0");
    assert_ne!(rough, text, "the setting is there");
    fs::write(&settings, rough).expect("written");
    let answer = json(&format!("{LAYER} {book}"));
    let words = answer["recipes"][0]["budget"]["best_next_step"]["words"].to_string();
    assert!(words.contains("brush to 2 ± 1.00 mm"), "{words}");
    assert!(
        words.contains("Of 100 castings"),
        "with its number: {words}"
    );
}

#[test]
fn the_table_of_thicknesses_agrees_with_matching_at_each() {
    let answer = json(LAYER);
    let rows = answer["prospects"]["at_thicknesses"]
        .as_array()
        .expect("rows");
    let mm: Vec<f64> = rows
        .iter()
        .map(|row| number(&row["thickness_mm"]))
        .collect();
    assert_eq!(mm, [0.5, 0.75, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0], "0.5 to 4 mm");
    let ordered = &rows[4];
    let best = &answer["recipes"][0];
    for key in ["L", "a", "b", "contrast_ratio", "tp_ab", "tp_00"] {
        approx::assert_abs_diff_eq!(number(&ordered[key]), number(&best[key]), epsilon = 1e-9);
    }
    let thinnest = &answer["prospects"]["thinnest"];
    assert!(
        number(&thinnest["thickness_mm"]) < 2.0,
        "thinner is near enough"
    );
    assert_eq!(number(&thinnest["within"]), 5.0, "the tolerance");
    let strict = json(&format!("{LAYER} --hide-within 1"));
    assert!(
        number(&strict["prospects"]["thinnest"]["thickness_mm"])
            > number(&thinnest["thickness_mm"]),
        "asking more takes more skin"
    );
}

#[test]
fn a_skin_thicker_than_the_mould_is_refused_and_thicker_rows_are_left_out() {
    let said = run(&format!("{LAYER} --thickness-mm 3 --max-thickness-mm 2.5"));
    assert_eq!(said.code, 2, "{}", said.err);
    assert_eq!(
        said.err,
        "error: the skin is 3 mm thick, and the mould leaves room for 2.5 mm (write --thickness-mm 2.5 or less, or raise --max-thickness-mm)\n",
        "with the mend"
    );
    let answer = json(&format!("{LAYER} --max-thickness-mm 2.5"));
    let rows = answer["prospects"]["at_thicknesses"]
        .as_array()
        .expect("rows");
    assert!(
        rows.iter().all(|row| number(&row["thickness_mm"]) <= 2.5),
        "what the mould allows"
    );
}

#[test]
fn foam_tells_what_its_cells_cost_and_what_is_not_known_of_them() {
    let answer = json(FOAMED);
    let foaming = &answer["prospects"]["foaming"];
    assert!(
        number(&foaming["pigment_multiplier"]) > 1.0,
        "cells are white"
    );
    assert!(
        foaming["cells_from_half_to_double"].is_null(),
        "they were measured"
    );
    let (_parent, book) = starter_book();
    let folder = book.trim_start_matches("--book ").trim_matches('"');
    let bases = format!("{folder}/bases.csv");
    let text = fs::read_to_string(&bases).expect("bases");
    fs::write(&bases, text.replacen("6,0.4", "6,", 1)).expect("written");
    let unknown = json(&format!("{FOAMED} {book}"));
    let range = &unknown["prospects"]["foaming"]["cells_from_half_to_double"];
    assert!(
        number(&range[0][0]) > number(&range[1][0]),
        "fine cells are lighter"
    );
    let foam_l_sd = |answer: &Value| number(&answer["foam"]["recipes"][0]["L_sd"]);
    assert!(
        foam_l_sd(&unknown) > foam_l_sd(&answer),
        "and less is known"
    );
}

#[test]
fn paint_is_tinted_to_the_tones_asked_for_and_tried_on_a_card() {
    let painted = format!("{LAYER} --flush 56,20,18 --paint-g 60");
    let answer = json(&painted);
    assert!(answer["paint"].is_object(), "the flush");
    assert!(
        answer["shadow_paint"].is_null(),
        "this target has no shadow"
    );
    let spraying = &answer["prospects"]["spraying"][0];
    assert_eq!(spraying["tone"], "flush", "which");
    let wet = number(&spraying["wet_g_per_100_cm2"]);
    // Density 0.95, solids 0.35 of the demo's invented paint: 0.03 mm × 10 ml × 0.95 / 0.35 = 0.8143 g; pigment, which
    // stays, takes it down by less than one per cent.
    assert!((0.806..=0.8143).contains(&wet), "{wet} g on 100 cm²");
    let coats = spraying["after_each_coat"].as_array().expect("coats");
    let last = &coats[coats.len() - 1];
    approx::assert_abs_diff_eq!(
        number(&last[0]),
        number(&answer["paint"]["recipes"][0]["L"]),
        epsilon = 1e-9
    );
    assert!(
        number(&spraying["on_the_card"][0]) > number(&last[0]),
        "on white it is lighter"
    );
    let both = json(&format!("{painted} --paint-tones base,flush"));
    assert!(
        both["base_paint"].is_object() && both["paint"].is_object(),
        "both"
    );
    let said = run(&format!("{painted} --paint-tones blush"));
    assert_eq!(said.code, 2, "no such tone: {}", said.out);
}

#[test]
fn the_second_scale_stands_beside_the_first() {
    let best = &json(LAYER)["recipes"][0];
    // 1.8 at L* 70 to 2.6 at L* 35: 1.8 + 0.8 × 8 / 35.
    approx::assert_abs_diff_eq!(
        number(&best["acceptable_ab"]),
        1.8 + 0.8 * 8.0 / 35.0,
        epsilon = 1e-9
    );
    assert!(
        number(&best["delta_e_ab"]) >= number(&best["delta_e"]),
        "the wider unit"
    );
    json_with(1, &LAYER.replace("--tolerance 5", "--tolerance 0.01"));
}

#[test]
fn after_one_chip_the_chance_of_its_own_recipe_is_that_of_the_spread_that_is_told() {
    const DRAWS: u32 = 4000;
    // The spread of L*, a*, b* is told without how they go together, which ΔE00 near a skin hardly asks.
    const TOGETHER: f64 = 0.08;
    let parent = tempfile::tempdir().expect("a folder");
    let book = word(&parent.path().join("book"));
    assert_eq!(run(&format!("new {book}")).code, 0, "a new book");
    for (card, lab) in [("white card", "59,11.5,15.5"), ("black card", "56,9,13")] {
        let said = run(&format!(
            "swatch add --book {book} --swatch arm --base \"clear skin\" --base-g 100 --mix \"titanium white 6; iron oxide red 1; \
             iron oxide yellow 2; umber 1\" --thickness-mm 2 --backing \"{card}\" --lab {lab}"
        ));
        assert_eq!(said.code, 0, "logged: {}", said.err);
    }
    assert_eq!(run(&format!("calibrate --book {book}")).code, 0, "learnt");
    let mut random = fastrand::Rng::with_seed(3);
    let mut normal =
        || (-2.0 * (1.0 - random.f64()).ln()).sqrt() * (std::f64::consts::TAU * random.f64()).cos();
    for tolerance in [0.72, 1.0, 2.0] {
        let answer = json(&format!(
            "match --book {book} --like arm --like-over \"white card\" --base-g 100 --backing \"white card\" --pigments \"titanium \
             white,iron oxide red,iron oxide yellow,umber\" --max-drops 8 --tolerance {tolerance}"
        ));
        let best = &answer["recipes"][0];
        let of = |keys: [&str; 3]| keys.map(|key| number(&best[key]));
        let (made, sd) = (of(["L", "a", "b"]), of(["L_sd", "a_sd", "b_sd"]));
        let aim = Lab::new(59.0, 11.5, 15.5);
        let landed = (0..DRAWS).filter(|_| {
            let [l, a, b] = std::array::from_fn(|axis| made[axis] + sd[axis] * normal());
            delta_e_2000(aim, Lab::new(l, a, b)) <= tolerance
        });
        let share = landed.count() as f64 / f64::from(DRAWS);
        let chance = number(&best["chance"]);
        assert!(
            (chance - share).abs() < TOGETHER,
            "within {tolerance}: {chance} is told, {share} of the draws"
        );
    }
}
