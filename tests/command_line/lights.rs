//! `--illuminants`: the CIE's lights, lamps by their own spectra, gels, and how a recipe keeps to its target in them.

use dropwise::colour::{Light, Observer, Spectrum, delta_e_2000};

use super::{assert_same, file, folder, json, lab, number, predict, run};

/// Illuminant A at 380–780 nm by 5, by Planck's law at 2848 K with c2 = 1.435e-2 m K, normalised at 560 nm.
///
/// Source: CIE 015:2018 and ISO/CIE 11664-2, the formula of illuminant A.
fn planck(nm: f64) -> f64 {
    let exponent = |nm: f64| (1.435e7 / (2848.0 * nm)).exp() - 1.0;
    100.0 * (560.0 / nm).powi(5) * exponent(560.0) / exponent(nm)
}

fn lamp(power: impl Fn(f64) -> f64) -> String {
    let rows: Vec<String> = (0..=80)
        .map(|step| 380.0 + 5.0 * f64::from(step))
        .map(|nm| format!("{nm},{}", power(nm)))
        .collect();
    format!("wavelength_nm,power\n{}\n", rows.join("\n"))
}

fn gel(transmittance: impl Fn(f64) -> f64) -> String {
    let rows: Vec<String> = Spectrum::wavelengths_nm()
        .map(|nm| format!("{nm},{}", transmittance(nm)))
        .collect();
    format!("wavelength_nm,t\n{}\n", rows.join("\n"))
}

/// Path of a file as a light's name: without the quotes around it.
fn bare(word: &str) -> String {
    word.trim_matches('"').to_owned()
}

#[test]
fn a_lamp_of_plancks_law_is_illuminant_a() {
    let folder = folder();
    let lamp = bare(&file(folder.path(), "bulb.csv", &lamp(planck)));
    let target = json(&format!("target --lab 65,12,17 --illuminants \"A,{lamp}\""));
    let (own, cie) = (lab(&target["under"][&lamp]), lab(&target["under"]["A"]));
    // The CIE's table is rounded to six digits.
    assert!(delta_e_2000(own, cie) < 1e-3, "{own:?} and {cie:?}");
}

#[test]
fn a_gel_changes_what_is_seen_and_two_are_one_after_the_other() {
    let folder = folder();
    let amber = |nm: f64| 0.1 + 0.8 / (1.0 + (-(nm - 560.0) / 20.0).exp());
    let lamp = bare(&file(folder.path(), "bulb.csv", &lamp(planck)));
    let gel = bare(&file(folder.path(), "amber.csv", &gel(amber)));
    let names = [
        "A",
        &format!("A*{gel}"),
        &format!("{lamp}*{gel}"),
        &format!("{lamp}*{gel}*{gel}"),
    ]
    .map(str::to_owned);
    let target = json(&format!(
        "target --lab 65,12,17 --illuminants \"{}\"",
        names.join(",")
    ));
    let under = target["under"].as_object().expect("lights");
    assert_eq!(
        under.keys().cloned().collect::<Vec<_>>(),
        names,
        "called as typed, in order"
    );
    let [plain, on_cie, on_lamp, twice] = names.map(|name| lab(&under[&name]));
    assert!(delta_e_2000(plain, on_cie) > 2.0, "the gel tells");
    assert!(delta_e_2000(on_cie, on_lamp) < 1e-3, "on the same lamp");
    assert!(delta_e_2000(on_lamp, twice) > 0.3, "a second one tells too");
    let r: Spectrum = serde_json::from_value(target["r"].clone()).expect("a spectrum");
    let filter = Spectrum::from_fn(|place| amber(Spectrum::wavelength_nm(place)));
    let light = Light::Cie("A".parse().expect("a light")).through(&filter, "gel");
    assert_same(
        light.weights(Observer::Cie1964).lab(&r),
        on_cie,
        "as the library has it",
    );
}

#[test]
fn the_demos_lamp_behind_its_gel_is_yellower() {
    let lamp = "swatches/lights/gallery-lamp.csv";
    let gelled = format!("{lamp}*swatches/lights/amber-gel.csv");
    let target = json(&format!(
        "target --lab 65,12,17 --illuminants \"{lamp},{gelled}\""
    ));
    let [plain, gelled] = [lamp, &gelled].map(|light| lab(&target["under"][light]));
    assert!(
        gelled.b > plain.b,
        "skin keeps to the white less: {gelled:?} and {plain:?}"
    );
}

#[test]
fn builds_are_predicted_in_the_lamp_of_the_venue() {
    let folder = folder();
    let lamp = bare(&file(folder.path(), "bulb.csv", &lamp(planck)));
    let row = "b,clear skin,600,iron oxide red 3; fibre 12 g,2,white card";
    let built = &predict(&[row], &format!("--illuminants \"A,{lamp}\""))[0];
    let (own, cie) = (lab(&built["under"][&lamp]), lab(&built["under"]["A"]));
    assert!(delta_e_2000(own, cie) < 1e-3, "{own:?} and {cie:?}");
}

#[test]
fn a_recipe_tells_its_difference_and_metamerism_in_every_light_and_its_worst() {
    let folder = folder();
    let lamp = bare(&file(folder.path(), "bulb.csv", &lamp(planck)));
    let lights = format!("D65,FL11,{lamp}");
    let line = format!(
        "match --target 65,12,17 --base-g 600 --fibre-g 12 --backing \"white card\" --tolerance 50 --top 3 --illuminants \"{lights}\""
    );
    let answer = json(&line);
    let recipes = answer["recipes"].as_array().expect("recipes");
    assert_eq!(recipes.len(), 3, "as asked for");
    for recipe in recipes {
        let of = |key: &str, light: &str| number(&recipe[key][light]);
        let names: Vec<&str> = lights.split(',').collect();
        let differences: Vec<f64> = names
            .iter()
            .map(|light| of("delta_e_under", light))
            .collect();
        for (light, difference) in names.iter().zip(&differences) {
            let aim = lab(&answer["target"]["under"][*light]);
            let made = lab(&recipe["under"][*light]);
            assert!(
                (delta_e_2000(aim, made) - difference).abs() < 1e-9,
                "{light}"
            );
        }
        let mean = differences.iter().sum::<f64>() / 3.0;
        assert!(
            (number(&recipe["delta_e"]) - mean).abs() < 1e-9,
            "the mean is made least"
        );
        assert!(
            of("metamerism_under", "D65") < 1e-6,
            "none under the book's own light"
        );
        assert!(of("metamerism_under", "FL11") > 0.0, "pigments are no skin");
        let worst = differences.iter().copied().fold(0.0, f64::max);
        assert_eq!(
            number(&recipe["worst_under"]["delta_e"]),
            worst,
            "the worst"
        );
        assert_eq!(
            of(
                "delta_e_under",
                recipe["worst_under"]["light"].as_str().expect("a name")
            ),
            worst,
            "by name"
        );
    }
    let said = run(&format!("{line} --why")).out;
    assert!(said.contains("worst under "), "{said}");
    assert!(said.contains("metamerism"), "{said}");
    assert!(
        said.contains("the target's spectrum is skin's by its colour"),
        "a guess is told: {said}"
    );
}

#[test]
fn lamps_and_gels_that_can_not_be_are_refused() {
    let folder = folder();
    let refused = |light: &str, line: &str| {
        let said = run(&format!("target --lab 65,12,17 --illuminants \"{light}\""));
        assert_eq!(said.code, 2, "{light}");
        let found = said
            .err
            .replace(&format!("{}/", folder.path().display()), "");
        assert_eq!(found.trim_end(), line, "{light}");
    };
    let named = |name: &str, text: &str| bare(&file(folder.path(), name, text));
    let whole = lamp(planck);
    let short: String = whole
        .lines()
        .take(40)
        .map(|line| format!("{line}\n"))
        .collect();
    refused(
        &named("short.csv", &short),
        "error: short.csv: the lamp is not read over all of 400 to 700 nm in steps of 10 nm or less (export the reading over the whole visible range)",
    );
    refused(
        &named("dark.csv", &lamp(|_| 0.0)),
        "error: dark.csv: the lamp gives no light (export the reading again)",
    );
    refused(
        &named("below.csv", &lamp(|nm| nm - 385.0)),
        "error: below.csv:2:2: power is \"-5\"; expected a number from 0 to 1000000000000",
    );
    let percent = named("percent.csv", &gel(|_| 62.0));
    refused(
        &format!("A*{percent}"),
        "error: percent.csv:2:2: t is \"62\"; expected a number from 0 to 1 (in percent? write 0.62)",
    );
    refused(
        "A*",
        "error: no gel is named behind the * of `A*` (write it as in A*gel.csv)",
    );
    refused(
        "none.csv",
        "error: none.csv: there is no such file (check the name and the folder)",
    );
    refused(
        "D64",
        "error: no illuminant is called `D64` (did you mean `D65`?)",
    );
    refused(
        "A,a",
        "error: the light `A` is named twice (name each once)",
    );
}
