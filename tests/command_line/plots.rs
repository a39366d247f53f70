//! `part plot`: a picture of a part. Tone and reading are invented.

use std::fs;

use super::{json, number, run, starter_book, word};

/// That `picture` is XML, by the rules of the W3C's XML 1.0 (fifth edition), as a general-purpose parser reads it.
pub(super) fn assert_well_formed(picture: &str) {
    if let Err(error) = roxmltree::Document::parse(picture) {
        panic!("{error}: {picture}");
    }
}

#[test]
fn the_picture_of_a_part_names_what_it_shows_and_says_what_predict_says() {
    let (parent, book) = starter_book();
    let answer = json(&format!(
        "match {book} --target 64,12,16 --base-g 600 --foam-g 300 --fibre-g 12 --tolerance 2 --part arm --title \"arm <left>\""
    ));
    json(&format!("swatch add {book} --part arm --lab 62.5,13,17"));
    let file = parent.path().join("arm.svg");
    let said = run(&format!("part plot arm {} {book}", word(&file)));
    assert_eq!((said.code, said.err.as_str()), (0, ""), "{}", said.out);
    let picture = fs::read_to_string(&file).expect("the picture");
    assert!(
        picture.starts_with("<svg xmlns=") && picture.ends_with("</svg>"),
        "{picture}"
    );
    assert_well_formed(&picture);
    for words in [
        "arm &lt;left&gt;",
        ">the tone<",
        ">comes out<",
        ">S001<",
        "What is in doubt",
    ] {
        assert!(picture.contains(words), "{words}: {picture}");
    }
    // Each count of the recipe stands on its ladder, with what is predicted of it.
    let drops = answer["recipes"][0]["drops"].as_object().expect("drops");
    let off = number(&answer["recipes"][0]["delta_e"]);
    for (name, count) in drops {
        assert!(picture.contains(&format!(">{name}<")), "{name}: {picture}");
        let count = count.as_u64().expect("a count");
        let what = if count == 1 { "drop" } else { "drops" };
        let rung = format!("{count} {what}: {off:.1}");
        assert!(picture.contains(&rung), "{rung}: {picture}");
    }
    let again = run(&format!("part plot arm {} {book} --json", word(&file)));
    assert!(again.out.contains("\"picture\""), "{}", again.out);
}

/// The demo's photograph is invented, and shows a limb with a flush and a shadow on it.
#[cfg(feature = "photo")]
#[test]
fn the_zones_of_a_photograph_are_outlined_numbered_and_told_with_their_coats() {
    let (parent, book) = starter_book();
    json(&format!(
        "match {book} --target 64,12,16 --flush 58,19,17 --base-g 600 --foam-g 300 --fibre-g 12 --paint-g 60 --tolerance 9 --part arm"
    ));
    let file = parent.path().join("arm.svg");
    let plot = |rest: &str| run(&format!("part plot arm {} {book} {rest}", word(&file)));
    let said = plot("--photo swatches/reference-photo.jpg --region 640,690,760,120");
    assert_eq!((said.code, said.err.as_str()), (0, ""), "{}", said.out);
    let picture = fs::read_to_string(&file).expect("the picture");
    assert_well_formed(&picture);
    for words in [
        "Where each tone lies in reference-photo.jpg",
        "Base: the skin as it is cast",
        "Flush paint, ",
        " thin coat",
        "Shadow: this part has no paint for it",
    ] {
        assert!(picture.contains(words), "{words}");
    }
    // Each zone has its number in the photograph and in the legend.
    for number in ["1", "2", "3"] {
        let labels = picture
            .matches(&format!(r##"font-weight="600">{number}</text>"##))
            .count();
        assert!(labels >= 2, "{number}: {labels}");
    }
    assert_eq!(plot("").code, 0, "without a photograph");
    let picture = fs::read_to_string(&file).expect("the picture");
    assert!(!picture.contains("Where each tone lies"), "there is no map");
    let refused = plot("--photo swatches/reference-photo.jpg --region 1,1,9999,9");
    assert_eq!(refused.code, 2, "{}", refused.err);
    assert!(
        refused.err.contains("reference-photo.jpg"),
        "{}",
        refused.err
    );
    let told = plot("--photo swatches/reference-photo.jpg");
    assert!(
        fs::read_to_string(&file)
            .expect("it")
            .contains("as it is, background and all"),
        "{}",
        told.out
    );
    let refused = plot("--region 1,1,9,9");
    assert_eq!(refused.code, 2, "a region of nothing: {}", refused.err);
}

/// The same photograph, whose grey card a part remembers: what is not skin is no tone of the part.
#[cfg(feature = "photo")]
#[test]
fn the_photograph_of_a_part_is_read_as_its_tone_was_and_its_background_is_left_blank() {
    let (parent, book) = starter_book();
    let photo = "--photo swatches/reference-photo.jpg";
    let read = "--region 640,690,760,120 --card 310,240,330,160 --card-lab grey";
    json(&format!(
        "match {book} {photo} {read} --base-g 600 --fibre-g 12 --foam-g 300 --paint-g 60 --tolerance 9 --part arm"
    ));
    let kept = parent.path().join("bench/parts/arm.toml");
    let text = fs::read_to_string(&kept).expect("the part");
    let line = "{ file = \"reference-photo.jpg\", region = \"640,690,760,120\", card = \"310,240,330,160\", card_lab = \"grey\" }";
    assert!(text.contains(line), "by hand, too: {text}");

    let file = parent.path().join("arm.svg");
    let plot = |rest: &str| {
        let said = run(&format!(
            "part plot arm {} {book} --force {photo} {rest}",
            word(&file)
        ));
        assert_eq!((said.code, said.err.as_str()), (0, ""), "{rest}");
        (said.out, fs::read_to_string(&file).expect("the picture"))
    };
    let blank = |said: &str| -> f64 {
        let share = said
            .split_once("; ")
            .and_then(|(_, rest)| rest.split_once(" %"));
        share.map_or(0.0, |(share, _)| share.parse().expect("a share"))
    };
    // All of the picture: what lies around the arm is none of the tones.
    let (said, by_itself) = plot("");
    assert!((40.0..95.0).contains(&blank(&said)), "{said}");
    let told = format!(
        "{:.0} % of the photograph is none of these tones",
        blank(&said)
    );
    assert!(by_itself.contains(&told), "the picture says so too: {said}");
    let card = "--card 310,240,330,160 --card-lab grey";
    let (_, by_hand) = plot(card);
    assert_eq!(by_itself, by_hand, "nothing is typed again");
    for words in ["Base: ", "Flush paint, ", "Shadow paint, "] {
        assert!(by_itself.contains(words), "{words}");
    }
    let (said, _) = plot("--region 640,690,760,120");
    assert!(blank(&said) < 20.0, "skin alone: {said}");

    // A part of an older file knows no photograph, and is told.
    let older: Vec<&str> = text
        .lines()
        .filter(|line| !line.contains("file = "))
        .collect();
    fs::write(&kept, older.join("\n")).expect("written");
    let (_, told) = plot(card);
    assert_eq!(told, by_itself, "as the options say");
    let (_, untold) = plot("");
    assert!(
        untold.contains("as it is, background and all"),
        "uncorrected"
    );
}
