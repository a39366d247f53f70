//! Paint, or a skin, over what is there already, and foam by itself.

use dropwise::colour::delta_e_2000;

use super::{colour_of, file, folder, json, lab, mix_of, number, predict, run, starter_book};

/// The casting that is gone over, as `predict` takes it.
const CAST: &str = "clear skin,600,iron oxide red 4; titanium white 6; fibre 6 g,2,white card,,,,,";

#[test]
fn paint_over_what_was_read_comes_out_as_it_does_over_the_casting_itself() {
    let cast = &predict(&[format!("a,{CAST}")], "")[0];
    let mut rows = "wavelength_nm,r\n".to_owned();
    for (band, r) in cast["r"].as_array().expect("36 numbers").iter().enumerate() {
        rows += &format!("{},{}\n", 380 + 10 * band, number(r));
    }
    let folder = folder();
    let reading = file(folder.path(), "reading.csv", &rows);
    let read = super::word(&folder.path().join("cast.json"));
    assert_eq!(
        run(&format!("target --reading {reading} --save {read}")).code,
        0,
        "kept"
    );
    let aim = "55,16,15";
    let answer = json(&format!(
        "match --paint-only --paint-g 60 --over {read} --target {aim} --tolerance 99 --time-limit 60"
    ));
    let [cup] = answer["cups"].as_array().expect("cups").as_slice() else {
        panic!("one cup: {}", answer["cups"]);
    };
    assert_eq!(cup["layer"], "paint", "of paint");
    let recipe = &answer["recipes"][0];
    let mix = mix_of(&recipe["drops"]);
    assert!(!mix.is_empty(), "which is tinted");
    let whole = colour_of(&format!("b,{CAST}clear paint,60,{mix},0.03"));
    let apart = delta_e_2000(whole, lab(recipe));
    // A reading is of what leaves the casting, and not of how deep in it light turns back.
    assert!(
        apart < 1.0,
        "{apart}: {whole:?} over the casting, {recipe} over its reading"
    );
}

#[cfg(feature = "page")]
#[test]
fn a_sheet_is_written_of_what_goes_over_a_reading_that_no_book_has() {
    let folder = folder();
    let sheet = super::word(&folder.path().join("sheet.html"));
    let over = "--over 70,8,12 --pigments \"umber,iron oxide red\"";
    let line =
        format!("match --target 65,11,14 --base-g 600 {over} --tolerance 99 --sheet {sheet}");
    let said = run(&line);
    assert_eq!((said.code, said.err.as_str()), (0, ""), "{line}");
    let written = std::fs::read_to_string(folder.path().join("sheet.html")).expect("a sheet");
    assert!(written.contains("umber"), "{written}");
}

#[test]
fn a_part_that_is_kept_keeps_what_it_goes_over() {
    let (_parent, book) = starter_book();
    let line = format!("match {book} --paint-only --paint-g 60 --over 65,11,14 --target 58,16,16");
    assert_eq!(run(&format!("{line} --part cheek")).code, 0, "kept");
    let again = json(&format!("match {book} --part cheek"));
    assert_eq!(
        again["part"]["kept"], "unchanged",
        "the same with nothing retyped"
    );
    let shown = json(&format!("part {book} show cheek"));
    assert_eq!(shown["cups"][0]["layer"], "paint", "as paint");
    assert_eq!(
        shown["cups"][0]["doses"], again["cups"][0]["doses"],
        "as it was"
    );
    let more = json(&format!("batch {book} --part cheek --times 10"));
    assert_eq!(
        number(&more["cups"][0]["part_b_g"]),
        600.0,
        "ten times as much"
    );
    // The same reading again is the same backing; another one is not.
    assert_eq!(
        run(&format!("{line} --part brow")).code,
        0,
        "another part on it"
    );
    let other = line.replace("65,11,14", "63,12,15");
    assert_eq!(
        run(&format!("{other} --part chin")).code,
        0,
        "and on another"
    );
    let folder = super::words(&book).pop().expect("the book");
    let backings = std::fs::read_to_string(format!("{folder}/backings.csv")).expect("a table");
    let count = backings.matches("cast of").count();
    assert_eq!(count, 2, "{backings}");
}

#[test]
fn foam_by_itself_is_as_it_is_seen_bare() {
    let answer =
        json("match --foam-only --foam-g 300 --target 66,11,14 --tolerance 99 --time-limit 60");
    let cup = &answer["cups"][0];
    assert_eq!(
        (&cup["layer"], cup["part_b_g"].as_f64()),
        (&"foam".into(), Some(200.0)),
        "{cup}"
    );
    // Thick foam on any card reads as foam that nothing is seen through.
    let mix = mix_of(&answer["recipes"][0]["drops"]);
    let black = colour_of(&format!("b,flexible foam,300,{mix},30,black card"));
    let apart = delta_e_2000(black, lab(&answer["recipes"][0]));
    assert!(apart < 0.2, "{apart} over the black card");
}

#[test]
fn what_lacks_or_contradicts_is_refused_with_its_mend() {
    for (line, words) in [
        (
            "match --paint-only --paint-g 60 --target 58,16,16",
            "--over",
        ),
        (
            "match --paint-only --over 65,11,14 --target 58,16,16",
            "--paint-g",
        ),
        (
            "match --paint-only --paint-g 60 --over S99 --target 58,16,16",
            "no swatch of the book",
        ),
        (
            "match --paint-only --paint-g 60 --over 65,11,14 --target 58,16,16 --paint-tones flush",
            "no flush tone",
        ),
        (
            "match --paint-only --paint-g 60 --over 65,11,14 --target 58,16,16 --paint-tones flush,shadow",
            "one tone at a time",
        ),
        (
            "match --paint-only --foam-only --paint-g 60 --foam-g 9 --target 58,16,16",
            "cannot be used with",
        ),
        (
            "match --paint-only --paint-g 60 --paint-mm 9 --over 65,11,14 --target 58,16,16",
            "the paint's dry thickness is 9 mm",
        ),
    ] {
        let said = run(line);
        assert_eq!(said.code, 2, "{line}: {}", said.out);
        assert!(said.err.contains(words), "{line}: {}", said.err);
    }
}
