//! A patch: a small cup that must match a large one, which whole drops from the bottle cannot.

use dropwise::colour::delta_e_2000;

use super::{json, lab, mix_of, number, predict};

#[test]
fn a_patch_of_fifty_grams_matches_the_six_hundred_gram_part_by_let_downs_alone() {
    const FOAM: &str =
        "flexible foam,300,iron oxide red 4; iron oxide red 1:5 2; iron oxide yellow 6";
    let part = format!(
        "part,clear skin,600,titanium white 2; iron oxide red 1; iron oxide yellow 1; titanium white 1:5 2; iron oxide \
         yellow 1:5 1; fibre 12 g,2,,,{FOAM}"
    );
    let part = lab(&predict(&[part], "")[0]);
    let target = format!("--target {},{},{}", part.l, part.a, part.b);
    let cup = "--base-g 50 --fibre-g 1 --foam-g 300 --time-limit 60";
    let patch = json(&format!("match {target} {cup}"));
    let drops = &patch["recipes"][0]["drops"];
    let names = drops.as_object().expect("drops by name");
    assert!(
        names.keys().any(|name| name.contains(" 1:")),
        "by let-downs: {drops}"
    );
    let foam = patch["foam"]["mix"].as_str().expect("a foam");
    let row = format!(
        "patch,clear skin,50,{}; fibre 1 g,2,,,flexible foam,300,{foam}",
        mix_of(drops)
    );
    let patched = lab(&predict(&[row], "")[0]);
    // The smallest difference that is seen on skin as light: see `recipe::tolerance`.
    let tolerance = number(&patch["tolerance"]);
    assert!(tolerance < 0.7, "hardly seen: {tolerance}");
    assert!(
        delta_e_2000(part, patched) <= tolerance,
        "{patched:?} beside {part:?}"
    );

    let neat =
        r#"--pigments "titanium white,iron oxide red,iron oxide yellow,umber,carbon black,blue""#;
    let without = json(&format!("match {target} {cup} {neat} --tolerance 99"));
    let delta_e = number(&without["recipes"][0]["delta_e"]);
    assert!(delta_e > 1.2, "whole drops are too coarse: {delta_e}");
    assert_eq!(without["proven"], true, "and no recipe of them does better");
}
