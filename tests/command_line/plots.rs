//! `part plot`: a picture of a part. Tone and reading are invented.

use std::fs;

use super::{json, number, run, starter_book, word};

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
