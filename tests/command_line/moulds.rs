//! `mould`, and cups by what moulds take. Moulds, masses and tones are invented; the checks are worked by hand, with the densities
//! and the expansion of the starter book.

use std::fs;

use serde_json::Value;

use super::{json, json_with, number, run, starter_book};

/// A mould of a hand by its measures, and one of a forearm by what was marked on it.
fn moulds(book: &str) {
    json(&format!(
        "mould add hand {book} --skin-area-cm2 400 --thickness-mm 2.5 --cavity-ml 500 --packing 1.2 --waste 0.25"
    ));
    json(&format!(
        "mould add forearm {book} --skin-g 300 --foam-g 210 --note \"north shelf\""
    ));
}

#[test]
fn what_a_mould_takes_is_worked_out_from_its_measures_or_as_marked() {
    let (parent, book) = starter_book();
    moulds(&book);
    let bases = fs::read_to_string(parent.path().join("bench/bases.csv")).expect("bases");
    let column = |row: &str, name: &str| {
        let head = bases.lines().next().expect("a header").split(',');
        let index = head.clone().position(|column| column == name);
        let row = bases.lines().find(|line| line.starts_with(row));
        let cell = row.and_then(|row| row.split(',').nth(index.expect(name)));
        cell.expect(name).parse::<f64>().expect(name)
    };
    let listed = json(&format!("mould list {book}"));
    let [hand, forearm] = listed["moulds"].as_array().expect("moulds").as_slice() else {
        panic!("{listed}")
    };
    // 400 cm² of 2.5 mm are 100 ml, and a quarter more for cup and brush.
    let skin = (125.0 * column("clear skin", "density_g_ml") - 1e-9).ceil();
    assert_eq!(number(&hand["takes"]["skin"]["g"]), skin, "{hand}");
    let foam = 500.0 / column("flexible foam", "expansion") * 1.2 * 1.25;
    let foam = (foam * column("flexible foam", "density_g_ml") - 1e-9).ceil();
    assert_eq!(number(&hand["takes"]["foam"]["g"]), foam, "{hand}");
    assert_eq!(number(&forearm["takes"]["skin"]["g"]), 300.0, "{forearm}");
    assert_eq!(number(&forearm["takes"]["foam"]["g"]), 210.0, "{forearm}");

    // What it took is written down, and counts from then on; all else stays as a hand wrote it.
    let file = parent.path().join("bench/moulds.csv");
    let kept = fs::read_to_string(&file).expect("moulds") + "# looked over in spring,,,,,,,,\n";
    fs::write(&file, &kept).expect("a remark");
    let marked = json(&format!("mould mark Hand {book} --skin-g 118.5"));
    let hand = &marked["moulds"][0];
    assert_eq!(number(&hand["takes"]["skin"]["g"]), 118.5, "{hand}");
    assert_eq!(number(&hand["takes"]["foam"]["g"]), foam, "{hand}");
    let text = fs::read_to_string(&file).expect("moulds");
    assert!(text.contains("# looked over in spring"), "{text}");
    json(&format!("mould remove hand {book}"));
    let text = fs::read_to_string(&file).expect("moulds");
    assert!(text.contains("forearm") && !text.contains("hand"), "{text}");
}

#[test]
fn a_match_and_a_batch_by_moulds_need_no_masses() {
    let (_parent, book) = starter_book();
    moulds(&book);
    let tone = "--target 64,12,16 --fibre-g 3 --tolerance 9 --within 2 --part arm";
    let answer = json(&format!("match {book} --mould hand {tone}"));
    let taken = json(&format!("mould list {book}"));
    let hand = &taken["moulds"][0]["takes"];
    let mass = |answer: &Value, index: usize| {
        let cup = &answer["cups"][index];
        number(&cup["part_a_g"]) + number(&cup["part_b_g"])
    };
    let near = |one: f64, other: f64| (one - other).abs() < 0.11;
    let skin = number(&hand["skin"]["g"]);
    let foam = number(&hand["foam"]["g"]);
    assert!(near(mass(&answer, 0), skin), "{}", answer["cups"]);
    assert!(near(mass(&answer, 1), foam), "{}", answer["cups"]);
    let shown = run(&format!("part show arm {book}")).out;
    assert!(
        shown.contains("brushed 2.5 mm thick"),
        "the mould's own: {shown}"
    );

    // Six of each, in one tone: the skin by the part's thickness, the foam as each mould wants it.
    let batch = json_with(
        0,
        &format!("batch {book} --part arm --mould hand --mould forearm --pieces 6"),
    );
    let wanted = [6.0 * (skin + 300.0), 6.0 * (foam + 210.0)];
    for (index, wanted) in wanted.into_iter().enumerate() {
        let made = mass(&batch, index);
        assert!((made - wanted).abs() < 0.5, "{made} and {wanted}");
    }
    // A recipe that is no part fills moulds too.
    let plain = json(&format!(
        "batch {book} --base \"flexible foam\" --base-g 100 --mix \"iron oxide red 2\" --mould forearm --pieces 2"
    ));
    assert!(near(mass(&plain, 0), 420.0), "{}", plain["cups"]);
}

#[test]
fn a_mould_that_tells_nothing_is_refused_and_nothing_is_lost() {
    let (parent, book) = starter_book();
    moulds(&book);
    let file = parent.path().join("bench/moulds.csv");
    let before = fs::read(&file).expect("moulds");
    let refused = |line: &str, words: &[&str]| {
        let said = run(line);
        assert_eq!((said.code, said.out.as_str()), (2, ""), "{line}");
        for word in words {
            assert!(said.err.contains(word), "{line}: {}", said.err);
        }
    };
    refused(
        &format!("mould add foot {book} --note bare"),
        &["foot", "skin_g", "cavity_ml"],
    );
    refused(&format!("mould add Hand {book} --skin-g 10"), &["already"]);
    refused(
        &format!("mould add foot {book} --skin-area-cm2 0"),
        &["skin_area_cm2", "foot"],
    );
    refused(&format!("mould mark hand {book}"), &["nothing to write"]);
    refused(
        &format!("mould mark hnad {book} --skin-g 10"),
        &["did you mean `hand`"],
    );
    refused(
        &format!("batch {book} --base \"clear skin\" --base-g 100 --mould hand --pieces 0"),
        &["--pieces"],
    );
    refused(
        &format!("batch {book} --base \"clear paint\" --base-g 100 --mould hand"),
        &["clear paint"],
    );
    assert_eq!(fs::read(&file).expect("moulds"), before, "as it was");
    fs::write(&file, "mould,skin_g,waste\nhand,120,15\n").expect("edited by hand");
    refused(
        &format!("mould list {book}"),
        &["moulds.csv:2:3", "waste", "0.15"],
    );
    fs::write(&file, "mould,skin_g,waste\nhand,,\n").expect("edited by hand");
    refused(
        &format!("match {book} --target 60,12,16 --mould hand"),
        &["moulds.csv:2:1", "hand"],
    );
    let (_parent, empty) = starter_book();
    refused(
        &format!("match {empty} --target 60,12,16 --mould hand"),
        &["hand", "dropwise mould add"],
    );
}

#[cfg(feature = "page")]
#[test]
fn the_card_of_a_mould_holds_what_it_takes_and_escapes_its_note() {
    let (parent, book) = starter_book();
    json(&format!(
        "mould add hand {book} --skin-g 120 --foam-g 90 --note \"vent <b>up</b>\""
    ));
    let card = parent.path().join("card.html");
    let said = run(&format!("mould card hand {} {book}", super::word(&card)));
    assert_eq!((said.code, said.err.as_str()), (0, ""), "{}", said.out);
    let text = fs::read_to_string(&card).expect("the card");
    for part in ["120 g", "90 g", "clear skin", "vent &lt;b&gt;up"] {
        assert!(text.contains(part), "{part}: {text}");
    }
}
