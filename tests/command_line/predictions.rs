//! `predict`: the columns and the keys that are promised, and what they mean.

use dropwise::colour::{Lab, Spectrum, Viewing, delta_e_2000};
use serde_json::Value;

use super::{assert_same, colour_of, file, folder, json, lab, number, predict, run};

const BUILDS: [&str; 3] = [
    "card,clear skin,600,iron oxide red 3; titanium white 6,2,white card",
    "foam,clear skin,600,iron oxide red 3; fibre 6 g,2,,,flexible foam,300,umber 3",
    "paint,clear skin,600,iron oxide red 3,2,,,flexible foam,300,umber 3,clear paint,60,iron oxide red 9,0.03",
];

#[test]
fn every_build_has_its_colour_its_doubts_and_its_spectrum() {
    for (build, name) in predict(&BUILDS, "--illuminants D65,A")
        .iter()
        .zip(["card", "foam", "paint"])
    {
        assert_eq!(build["build"], name, "in the order of the file");
        let spread = ["L_sd", "a_sd", "b_sd"].map(|key| number(&build[key]));
        assert!(
            spread.iter().all(|sd| (0.01..20.0).contains(sd)),
            "{name}: {spread:?}"
        );
        assert!(
            (0.0..=1.0).contains(&number(&build["contrast_ratio"])),
            "{name}: a ratio"
        );
        let r: Vec<f64> = build["r"]
            .as_array()
            .expect("a spectrum")
            .iter()
            .map(number)
            .collect();
        assert!(
            r.len() == 36 && r.iter().all(|r| (0.0..=1.0).contains(r)),
            "{name}: 380–730 nm by 10"
        );
        let reflectance: Spectrum = serde_json::from_value(build["r"].clone()).expect("a spectrum");
        assert_same(
            Viewing::D65_10.weights().lab(&reflectance),
            lab(build),
            "the spectrum has the colour",
        );
        assert_same(
            lab(&build["under"]["D65"]),
            lab(build),
            "D65 is the book's light",
        );
        let under_a = lab(&build["under"]["A"]);
        assert!(under_a.a > lab(build).a, "{name}: warm light on a red");
    }
}

#[test]
fn the_average_casting_is_told_where_it_is_not_the_colour_itself() {
    // What darkens a skin without end can lighten it no further than its clear base: so of a colour with a great doubt the
    // average lies apart from it; of a clear film on a card it does not.
    let built = predict(&BUILDS, "");
    let apart = |build: &Value| {
        let (mean, own) = (lab(&build["mean"]), lab(build));
        let most = [mean.l - own.l, mean.a - own.a, mean.b - own.b].map(f64::abs);
        most.into_iter().fold(0.0, f64::max)
    };
    let told: Vec<&Value> = built
        .iter()
        .filter(|build| build.get("mean").is_some())
        .collect();
    assert!(!told.is_empty(), "starter pigments are hardly known");
    for build in told {
        assert!((0.2..8.0).contains(&apart(build)), "{build}");
    }
    let folder = folder();
    let header = "build,base,base_g,mix,thickness_mm,backing\n";
    let named = |name: &str, row: &str| {
        let path = file(folder.path(), name, &format!("{header}{row}\n"));
        run(&format!("predict --builds {path}")).out
    };
    let tinted = named("tinted.csv", BUILDS[0]);
    let is_told = built[0].get("mean").is_some();
    assert_eq!(tinted.contains("on average"), is_told, "{tinted}");
    let clear = json(&format!(
        "predict --builds {} --calibration-only",
        file(
            folder.path(),
            "clear.csv",
            &format!("{header}x,clear skin,600,,0.05,white card\n")
        )
    ));
    assert!(clear["builds"][0].get("mean").is_none(), "{clear}");
}

#[test]
fn calibration_alone_leaves_less_in_doubt() {
    let all = predict(&BUILDS, "");
    let calibration = predict(&BUILDS, "--calibration-only");
    for (all, calibration) in all.iter().zip(&calibration) {
        assert_same(lab(all), lab(calibration), "the colour stays");
        for key in ["L_sd", "a_sd", "b_sd"] {
            let (with, without) = (number(&all[key]), number(&calibration[key]));
            assert!(
                without < with,
                "{}: {key} {without} of {with}",
                all["build"]
            );
        }
    }
}

#[test]
fn air_behind_a_chip_is_worth_several_units_of_colour() {
    let [bonded, dry, unsaid] = ["bonded", "dry", ""].map(|contact| {
        colour_of(&format!(
            "x,clear skin,600,iron oxide red 1,2,white card,{contact}"
        ))
    });
    assert_same(bonded, unsaid, "bonded where nothing is said");
    let delta_e = delta_e_2000(bonded, dry);
    assert!(
        (1.0..8.0).contains(&delta_e),
        "2 to 6 ΔE00, give or take: {delta_e}"
    );
}

#[test]
fn ten_drops_of_a_let_down_in_ten_are_one_drop() {
    let neat = colour_of("x,clear skin,600,iron oxide red 2,2,white card");
    let let_down = colour_of("x,clear skin,600,iron oxide red 1:10 20,2,white card");
    // The twenty drops bring 0.6 g of clear base along, a thousandth of the cup.
    assert!(
        delta_e_2000(neat, let_down) < 0.03,
        "{neat:?} and {let_down:?}"
    );
    let by_mass = colour_of("x,clear skin,600,iron oxide red 0.064 g,2,white card");
    assert_same(neat, by_mass, "the same drops, weighed: two of 0.032 g");
}

#[test]
fn columns_may_come_in_any_order_and_strange_ones_are_passed_over() {
    let folder = folder();
    let builds = file(
        folder.path(),
        "builds.csv",
        "note,thickness_mm,backing,mix,base_g,base,build\n\"a, b\",2,white card,umber 2,600,clear skin,x\n",
    );
    let answer = json(&format!("predict --builds {builds}"));
    let expected = colour_of("x,clear skin,600,umber 2,2,white card");
    assert_same(lab(&answer["builds"][0]), expected, "by their names");
    assert_eq!(
        answer["builds"][0]["under"],
        Value::Object(serde_json::Map::new()),
        "no light was asked for"
    );
}

#[test]
fn a_terminal_gets_the_same_numbers_in_words() {
    let folder = folder();
    let columns = "build,base,base_g,mix,thickness_mm,backing";
    let builds = file(
        folder.path(),
        "builds.csv",
        &format!("{columns}\n{}\n", BUILDS[0]),
    );
    let said = run(&format!("predict --builds {builds} --illuminants A"));
    assert_eq!((said.code, said.err.as_str()), (0, ""), "predicted");
    let Lab { l, a, b, .. } = colour_of(BUILDS[0]);
    let numbers = format!("L* {l:5.1}  a* {a:5.1}  b* {b:5.1}");
    assert!(said.out.contains(&numbers), "{numbers}: {}", said.out);
    assert!(
        said.out.contains("contrast ratio") && said.out.contains("under A"),
        "{}",
        said.out
    );
}
