//! `batch`: a recipe for other amounts.

use serde_json::Value;

use super::{json, number, run};

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
        r#"--base "clear skin" --base-g 600 --mix "iron oxide red 5; umber 1; fibre 12.5 g" --times 10"#,
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
        (red - 50.0 * 0.032).abs() <= 0.05,
        "fifty drops of 0.032 g are weighed, to 0.1 g: {red}"
    );
    let rounding = number(&dose(&ten, "iron oxide red")["rounding"]);
    assert!(
        (red / (50.0 * 0.032) - 1.0 - rounding).abs() < 1e-9,
        "and it says by how much it is off"
    );
    let to = batch(
        r#"--base "clear skin" --base-g 600 --mix "iron oxide red 5; umber 1; fibre 12.5 g" --to 6kg"#,
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
    let said = run(
        r#"batch --base "clear skin" --base-g 600 --mix "umber 2" --times 10 --largest-pot 2.5kg"#,
    );
    assert!(
        said.out.contains("3 pots, one after the other"),
        "{}",
        said.out
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
