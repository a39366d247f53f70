//! Doses weighed on a scale that shows a hundredth of a gram or less, where that asks less of the hands than a let-down. Tones are
//! invented; the weights of effort are this project's own choice, worked by hand here.

use dropwise::colour::{Lab, delta_e_2000};
use serde_json::Value;

use super::{COLUMNS, file, json, lab, number, run, starter_book};

/// A book whose scale shows `step_g`.
fn book_with_a_scale(step_g: &str) -> (tempfile::TempDir, String) {
    let (parent, book) = starter_book();
    let path = parent.path().join("bench/book.toml");
    let text = std::fs::read_to_string(&path).expect("the settings");
    let coarse = "scale_resolution_g = 0.1";
    assert!(text.contains(coarse), "{text}");
    let fine = text.replace(coarse, &format!("scale_resolution_g = {step_g}"));
    std::fs::write(&path, fine).expect("other settings");
    (parent, book)
}

const FAIR: &str =
    "match --target 73.1,9.1,13.7 --base-g 600 --fibre-g 12 --foam-g 300 --time-limit 60";

/// Jars that the skin asks for: what a foam is tinted with is dropped.
fn new_jars(answer: &Value) -> usize {
    let jars = answer["jars"].as_array().expect("jars");
    let is_new = |jar: &&Value| jar["new"] == true && jar["base"] == "clear skin";
    jars.iter().filter(is_new).count()
}

fn skin(answer: &Value) -> &Value {
    let cups = answer["cups"].as_array().expect("cups");
    cups.iter()
        .find(|cup| cup["layer"] == "skin")
        .expect("a skin")
}

#[test]
fn a_fine_scale_saves_the_jars_of_a_fair_skin() {
    let (_coarse, coarse) = book_with_a_scale("0.1");
    let (_fine, fine) = book_with_a_scale("0.001");
    let by_drops = json(&format!("{FAIR} {coarse}"));
    let weighed = json(&format!("{FAIR} {fine}"));
    assert!(
        new_jars(&by_drops) > 0,
        "a drop of red is too coarse: {}",
        by_drops["jars"]
    );
    assert_eq!(new_jars(&weighed), 0, "{}", weighed["jars"]);
    assert!(
        number(&weighed["effort"]) < number(&by_drops["effort"]),
        "less to do"
    );
    assert_eq!(weighed["effort_proven"], true, "and no recipe asks less");
    let recipe = &weighed["recipes"][0];
    let grams = recipe["weighed"].as_object().expect("what is weighed");
    assert!(!grams.is_empty(), "{recipe}");
    let doses = skin(&weighed)["doses"].as_array().expect("doses");
    for (name, mass) in grams {
        let dose = doses.iter().find(|dose| dose["pigment"] == name.as_str());
        let dose = dose.unwrap_or_else(|| panic!("{name} is poured: {doses:?}"));
        assert!(dose["drops"].is_null(), "weighed, not counted: {dose}");
        assert!((number(&dose["g"]) - number(mass)).abs() < 1e-9, "{dose}");
        let steps = number(mass) / 0.001;
        assert!(
            (steps - steps.round()).abs() < 1e-6,
            "as the scale shows it: {mass}"
        );
    }
    // Where the nearest is asked for, it is in drops alone, as it is proven.
    let exact = json(&format!("{FAIR} {fine} --exact"));
    assert!(
        exact["recipes"][0]["weighed"].is_null(),
        "{}",
        exact["recipes"][0]
    );
    assert_eq!(run(&format!("{FAIR} {fine} --part fair")).code, 0, "kept");
    let shown = json(&format!("part {fine} show fair"));
    assert_eq!(
        skin(&shown)["doses"],
        skin(&weighed)["doses"],
        "as it was found"
    );
}

/// All recipes of two pigments, dropped or weighed, tried by `predict`.
#[test]
fn no_recipe_that_asks_less_is_as_near() {
    let (parent, book) = book_with_a_scale("0.01");
    let aim = Lab::new(66.0, 9.0, 9.0);
    let answer = json(&format!(
        "match {book} --target 66,9,9 --base-g 200 --backing \"white card\" --tolerance 9 --time-limit 60 --max-drops 3 \
         --max-total-drops 6 --without \"umber,carbon black,blue,iron oxide yellow\""
    ));
    assert_eq!(answer["effort_proven"], true, "{answer}");
    let found = number(&answer["effort"]);
    let near_enough = number(&answer["nearest_delta_e"]) + 0.1;
    // A drop weighs 0.032 g: three of them are nine steps of the scale. Efforts by hand.
    let doses: Vec<(String, f64)> = (1..=3)
        .map(|count| (count.to_string(), 1.0))
        .chain((1..=9).map(|steps| (format!("{} g", f64::from(steps) / 100.0), 2.0)))
        .collect();
    let mut mixes: Vec<(String, f64)> = Vec::new();
    for (white, white_effort) in &doses {
        mixes.push((format!("titanium white {white}"), *white_effort));
        mixes.push((format!("iron oxide red {white}"), *white_effort));
        for (red, red_effort) in &doses {
            mixes.push((
                format!("titanium white {white}; iron oxide red {red}"),
                white_effort + red_effort,
            ));
        }
    }
    let commas = ",".repeat(COLUMNS.split(',').count() - 6);
    let mut table = COLUMNS.to_owned();
    for (index, (mix, _)) in mixes.iter().enumerate() {
        table += &format!("\n{index},clear skin,200,{mix},2,white card{commas}");
    }
    let builds = file(parent.path(), "builds.csv", &table);
    let tried = json(&format!("predict {book} --builds {builds}"));
    for (made, (mix, effort)) in tried["builds"]
        .as_array()
        .expect("builds")
        .iter()
        .zip(&mixes)
    {
        let apart = delta_e_2000(aim, lab(made));
        let is_handier = *effort < found - 1e-9 && apart <= near_enough;
        assert!(
            !is_handier,
            "{mix}: effort {effort}, ΔE00 {apart}, beside {answer}"
        );
    }
}
