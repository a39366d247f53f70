//! What `calibrate` prints of its readings. These are `predict`'s own: they check the plumbing, never the physics.

use super::calibrating::{Bench, CARDS};
use super::{json, run};

#[test]
fn the_report_names_the_card_of_each_reading_and_keeps_its_columns() {
    const LONG: &str = "forearm of the lamp keeper, second pour";
    let bench = Bench::new();
    let chip = (LONG, "iron oxide red 6; titanium white 3", 2.0);
    let read = bench.truth(chip.1, chip.2, &CARDS, "bonded");
    bench.log(
        ("pink", "iron oxide red 2; titanium white 6", 2.0),
        CARDS[0],
        &read[0],
        false,
    );
    let one = run(&format!("calibrate --dry-run {}", bench.option("book"))).out;
    assert!(
        one.starts_with("\u{1b}[1mLearnt from 1 reading\u{1b}"),
        "{one}"
    );
    let text = bench.read("swatches.csv");
    let quoted = format!("\"{LONG}\"");
    for (card, read) in CARDS.iter().zip(&read) {
        bench.log(("x", chip.1, chip.2), card, read, false);
    }
    let longer = bench
        .read("swatches.csv")
        .replace("\nx,", &format!("\n{quoted},"));
    assert!(longer.len() > text.len(), "logged");
    bench.write("swatches.csv", &longer);

    let option = bench.option("book");
    let said = run(&format!("calibrate --dry-run --why {option}")).out;
    let table = said
        .lines()
        .skip_while(|line| !line.contains("reading  "))
        .take(4);
    let rows: Vec<&str> = table.collect();
    let places: Vec<Option<usize>> = rows
        .iter()
        .map(|row| {
            ["over", "white card", "black card"]
                .iter()
                .find_map(|word| row.find(word))
        })
        .collect();
    assert!(
        places
            .iter()
            .all(|place| place.is_some() && *place == places[0]),
        "one column: {rows:#?}"
    );
    let widths: Vec<usize> = rows.iter().map(|row| row.chars().count()).collect();
    assert!(
        widths.iter().all(|width| *width == widths[0]),
        "one width: {rows:#?}"
    );
    let answer = json(&format!("calibrate --dry-run {option}"));
    assert_eq!(answer["chips"][2]["over"], "black card", "{answer}");
}
