//! `part poured`: what was poured goes off jars, stocks and bottles in one go. Tone and masses are invented; what is checked is
//! arithmetic.

use std::fs;

use super::{json, number, run, starter_book};

#[test]
fn what_was_poured_goes_off_every_jar_and_bottle_or_off_none() {
    let (parent, book) = starter_book();
    let at = |name: &str| parent.path().join("bench").join(name);
    let table = fs::read_to_string(at("pigments.csv")).expect("pigments");
    let with_left = |left: &str| -> String {
        let mut lines = table.lines();
        let head = format!("{},left_g\n", lines.next().expect("a header"));
        let rows = lines.map(|row| {
            let of_yellow = row.starts_with("iron oxide yellow,");
            format!("{row},{}\n", if of_yellow { left } else { "" })
        });
        head + &rows.collect::<String>()
    };
    fs::write(at("pigments.csv"), with_left("50")).expect("weighed");
    json(&format!(
        "let-down add \"iron oxide red 1:20 20 g\" {book} --date 2026-03-14"
    ));
    let answer = json(&format!(
        "match {book} --target 66,11,17 --base-g 600 --fibre-g 6 --backing \"white card\" --tolerance 99 --pigments \"iron oxide red \
         1:20,iron oxide yellow\" --exact --part arm --date 2026-03-14"
    ));
    let doses = answer["cups"][0]["doses"].as_array().expect("doses");
    // Of a long count the bottle gives a part, whose mass nobody wrote down.
    let dose = |(pigment, ratio): (&str, u64)| {
        let mut doses = doses.iter();
        let found = doses.find(|dose| dose["pigment"] == pigment && dose["ratio"] == ratio);
        number(&found.unwrap_or_else(|| panic!("{pigment}: {answer}"))["g"])
    };
    let [red, yellow] = [("iron oxide red", 20), ("iron oxide yellow", 1)].map(dose);
    let told = run(&format!("part why arm {book} --date 2026-03-14")).out;
    assert!(
        told.contains("dropwise part poured"),
        "nothing to retype: {told}"
    );

    let poured = json(&format!("part poured arm {book} --date 2026-03-14"));
    let left = |name: &str| {
        let mut all = poured["left"].as_array().expect("what is left").iter();
        let found = all.find(|each| each["name"].as_str().is_some_and(|of| of.starts_with(name)));
        number(&found.unwrap_or_else(|| panic!("{name}: {poured}"))["left_g"])
    };
    assert!(
        (left("iron oxide red 1:20") - (20.0 - red)).abs() < 0.011,
        "{poured}"
    );
    assert!(
        (left("iron oxide yellow") - (50.0 - yellow)).abs() < 0.011,
        "{poured}"
    );
    let lasts = poured["left"]
        .as_array()
        .expect("left")
        .iter()
        .map(|each| number(&each["lasts"]));
    let lasts: Vec<f64> = lasts.collect();
    assert!(
        lasts.is_sorted(),
        "what runs out first at the top: {poured}"
    );

    // Less than is poured: nothing is taken of anything.
    fs::write(at("pigments.csv"), with_left("0.001")).expect("weighed");
    let jars = fs::read(at("let-downs.csv")).expect("jars");
    let said = run(&format!("part poured arm {book} --date 2026-03-14"));
    assert_eq!((said.code, said.out.as_str()), (2, ""), "{}", said.err);
    assert!(
        said.err.contains("pigments.csv:") && said.err.contains("weigh the bottle"),
        "{}",
        said.err
    );
    assert_eq!(
        fs::read(at("let-downs.csv")).expect("jars"),
        jars,
        "as it was"
    );
}
