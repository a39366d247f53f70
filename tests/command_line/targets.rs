//! `target`: a tone typed or photographed, and the file that keeps it.

use dropwise::colour::{Spectrum, Viewing, delta_e_2000};

use super::{assert_same, folder, json, lab, number, word};

#[test]
fn a_typed_tone_has_a_spectrum_that_has_its_colour() {
    let target = json("target --lab 65,12,17 --illuminants A,FL11");
    assert_eq!(
        lab(&target),
        dropwise::colour::Lab::new(65.0, 12.0, 17.0),
        "as typed"
    );
    for key in ["L_sd", "a_sd", "b_sd"] {
        assert_eq!(number(&target[key]), 0.0, "{key}: taken as exact");
    }
    let tones = target["tones"].as_array().expect("tones");
    assert_eq!(tones.len(), 1, "one tone");
    assert_eq!(number(&tones[0]["share"]), 1.0, "all of it");
    assert_eq!(target["r_from"], "skin", "a colour that skin has");
    assert_eq!(
        target["r"].as_array().map(Vec::len),
        Some(36),
        "380–730 nm by 10"
    );
    let reflectance: Spectrum = serde_json::from_value(target["r"].clone()).expect("a spectrum");
    let weights = |light: &str| {
        let light = light.parse().expect("a light");
        Viewing::D65_10.under(light).weights()
    };
    let own = weights("D65").lab(&reflectance);
    assert!(delta_e_2000(own, lab(&target)) < 1e-6, "{own:?}");
    for light in ["A", "FL11"] {
        assert_same(
            weights(light).lab(&reflectance),
            lab(&target["under"][light]),
            light,
        );
    }
    assert_eq!(
        json("target --lab 60,0,-30")["r_from"],
        "smooth",
        "no skin is blue"
    );
}

#[test]
fn a_saved_target_is_what_was_printed() {
    let folder = folder();
    let path = folder.path().join("tone.json");
    let printed = json(&format!(
        "target --lab 65,12,17 --flush 58,17,16 --save {}",
        word(&path)
    ));
    let saved = std::fs::read_to_string(&path).expect("saved");
    let saved: serde_json::Value = serde_json::from_str(&saved).expect("JSON");
    assert_eq!(saved, printed, "the same document");
    assert!(
        saved["tones"]
            .as_array()
            .expect("tones")
            .iter()
            .any(|tone| tone["role"] == "flush"),
        "its flush"
    );
}

#[cfg(feature = "photo")]
#[test]
fn a_photographed_tone_parts_into_as_many_tones_as_asked_for() {
    let target = json(&format!("target {} --tones 4", super::PHOTO));
    let tones = target["tones"].as_array().expect("tones");
    assert_eq!(tones.len(), 4, "as asked for");
    assert_eq!(tones[0]["role"], "base", "the base first");
    let shares: f64 = tones.iter().map(|tone| number(&tone["share"])).sum();
    assert!(
        (shares - 1.0).abs() < 1e-9,
        "all pixels that were read: {shares}"
    );
    assert!(number(&target["L_sd"]) > 0.0, "a photograph is not exact");
    let text = super::run(&format!("target {}", super::PHOTO)).out;
    assert!(text.contains("base ") && text.contains("flush "), "{text}");
}

#[cfg(feature = "photo")]
#[test]
fn a_photograph_without_a_card_is_said_to_be_uncorrected() {
    let line = "target swatches/reference-photo.jpg --region 640,690,760,120";
    let with_card = json(&format!("target {}", super::PHOTO));
    let without = json(line);
    assert!(
        delta_e_2000(lab(&with_card), lab(&without)) > 1.0,
        "the card changes the answer"
    );
    assert!(
        super::run(line).out.contains("note: uncorrected: no card"),
        "{}",
        super::run(line).out
    );
    assert!(
        number(&without["L_sd"]) > number(&with_card["L_sd"]),
        "and leaves less in doubt"
    );
}

#[cfg(feature = "photo")]
#[test]
fn a_photograph_read_by_match_or_by_target_is_one_target() {
    let folder = folder();
    let saved = word(&folder.path().join("tone.json"));
    json(&format!("target {} --save {saved}", super::PHOTO));
    let rest =
        r#"--base-g 600 --backing "white card" --pigments "iron oxide red,titanium white,umber""#;
    let rest = format!("{rest} --tolerance 50");
    let straight = json(&format!("match --photo {} {rest}", super::PHOTO));
    let by_file = json(&format!("match --target {saved} {rest}"));
    assert_eq!(straight["recipes"], by_file["recipes"], "the same recipes");
    assert_eq!(straight["target"], by_file["target"], "the same target");
}
