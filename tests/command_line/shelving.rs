//! `pigment add`, `base add`, `backing add`: rows as a hand would write them. Names and masses are invented.

use std::fs;

use super::{file, folder, json, number, run, starter_book, word};

#[test]
fn a_pigment_is_a_row_at_the_end_and_all_else_stays_byte_for_byte() {
    let (parent, book) = starter_book();
    let path = parent.path().join("bench/pigments.csv");
    let before = fs::read_to_string(&path).expect("the table");
    let own = before
        .replacen("ks_file", "ks_file,shop", 1)
        .replace(".csv\n", ".csv,Rope Lane\n")
        + "# bought in spring,,,,,,\n";
    fs::write(&path, &own).expect("written");
    let answer = json(&format!(
        "pigment add ochre {book} --like \"iron oxide yellow\" --drop-g 0.03 --lot B7 --max-fraction 0.02"
    ));
    assert_eq!(answer["pigment"], "ochre", "{answer}");
    assert_eq!(number(&answer["drop_g"]), 0.03, "{answer}");
    assert_eq!(
        answer["unread"], false,
        "it is like one that is known: {answer}"
    );
    let after = fs::read_to_string(&path).expect("the table");
    assert_eq!(
        after,
        own + "ochre,0.03,0.02,B7,iron oxide yellow,,\n",
        "one row more"
    );
    let said = run(&format!(
        "match {book} --target 60,8,20 --base-g 200 --backing \"white card\" --pigments ochre,umber"
    ));
    assert!(said.code <= 1, "it serves in recipes: {}", said.err);
}

#[test]
fn the_first_weighing_needs_no_invented_drop_mass() {
    let (parent, book) = starter_book();
    let answer = json(&format!(
        "pigment add ochre {book} --like umber --weigh \"20 drops 0.61 g\""
    ));
    // By hand: 0.61 g by 20.
    assert!(
        (number(&answer["drop_g"]) - 0.0305).abs() < 1e-12,
        "{answer}"
    );
    assert_eq!(number(&answer["weighed"][0]["runs"]), 1.0, "{answer}");
    let bare = json(&format!("pigment add ink {book} --like blue"));
    assert!(bare["drop_g"].is_null(), "weighed until then: {bare}");
    let weighed = json(&format!("calibrate {book} --weigh \"ink 20 drops 0.7 g\""));
    assert!(
        weighed["weighed"][0]["drop_g_before"].is_null(),
        "{weighed}"
    );
    let table = fs::read_to_string(parent.path().join("bench/pigments.csv")).expect("the table");
    assert!(table.contains("\nink,0.035,0.03,,blue,"), "{table}");
    let log = fs::read_to_string(parent.path().join("bench/weighings.csv")).expect("the log");
    assert_eq!(log.lines().count(), 3, "both runs: {log}");
}

#[test]
fn a_pigment_that_nothing_tells_of_is_left_out_and_named() {
    let (_parent, book) = starter_book();
    let added = json(&format!("pigment add ink {book} --drop-g 0.03"));
    assert_eq!(added["unread"], true, "{added}");
    let part = format!("match {book} --target 66,12,17 --base-g 200 --backing \"white card\"");
    let said = run(&part);
    let plain = said.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        plain.contains("nothing tells of their colour yet: ink"),
        "{plain}"
    );
    let notes = run(&format!("{part} --json")).out;
    assert!(
        !notes.contains("\"ink\":") && !notes.contains("\"ink 1:"),
        "no drop of it: {notes}"
    );
    let asked = run(&format!(
        "{part} --pigments \"ink,titanium white,iron oxide red\""
    ));
    assert!(
        !asked.out.contains("nothing tells of their colour"),
        "asked for by name: {}",
        asked.out
    );
}

#[test]
fn bases_and_backings_serve_at_once() {
    let (parent, book) = starter_book();
    json(&format!(
        "base add \"soft skin\" {book} --kind skin --density-g-ml 1.05 --parts 1:1 --pot-life-min 5"
    ));
    json(&format!(
        "base add \"slow foam\" {book} --kind foam --density-g-ml 1.05 --parts 1:2 --expansion 4"
    ));
    json(&format!(
        "base add varnish {book} --kind paint --density-g-ml 0.9 --solids 0.4"
    ));
    let vehicle = json(&format!(
        "base add vehicle {book} --kind carrier --density-g-ml 1 --max-fraction 0.05"
    ));
    assert_eq!(vehicle["kind"], "carrier", "{vehicle}");
    let spectrum: String = (38..=73)
        .map(|tens| format!("{},0.5\n", 10 * tens))
        .collect();
    let spectrum = file(
        parent.path(),
        "grey.csv",
        &format!("wavelength_nm,r\n{spectrum}"),
    );
    let read = json(&format!(
        "backing add \"grey card\" {book} --r-file {spectrum}"
    ));
    json(&format!("backing add \"pale card\" {book} --lab 80,1,3"));
    let r_file = read["r_file"].as_str().expect("a file");
    let kept = fs::read_to_string(parent.path().join("bench").join(r_file)).expect("kept");
    assert!(kept.contains("\n550,0.5\n"), "{kept}");
    for backing in ["grey card", "pale card"] {
        json(&format!(
            "swatch add {book} --base \"soft skin\" --base-g 100 --mix \"umber 2\" --thickness-mm 2 --backing \"{backing}\" \
             --lab 60,5,9"
        ));
    }
}

#[test]
fn what_cannot_stand_on_the_shelf_is_refused_and_nothing_is_written() {
    let (parent, book) = starter_book();
    let read = |name: &str| fs::read(parent.path().join("bench").join(name)).expect(name);
    let tables = ["pigments.csv", "bases.csv", "backings.csv"];
    let before = tables.map(read);
    let broken = file(
        parent.path(),
        "broken.csv",
        "wavelength_nm,r\n380,0.5\n390,blue\n",
    );
    let foreign = word(&folder().path().join("none.csv"));
    for (line, words) in [
        (
            "pigment add umber --drop-g 0.03",
            "a pigment called `umber` stands on the shelf already (give this one another name",
        ),
        (
            "pigment add Umber --drop-g 0.03",
            "a pigment called `umber` stands on the shelf already",
        ),
        (
            "pigment add \"clear carrier\"",
            "a pigment called `clear carrier` stands",
        ),
        (
            "pigment add x --like \"iron oxide rad\"",
            "no starter pigment is called `iron oxide rad` (did you mean `iron oxide red`?)",
        ),
        (
            "pigment add x --drop-g 3",
            "drop_g is \"3\"; expected a number from 0.002 to 0.3",
        ),
        (
            "pigment add x --max-fraction 3",
            "a share of 3; expected above 0, up to 1 (write it as a fraction, such as 0.03 for 3 %)",
        ),
        (
            "pigment add \"x 1:10\"",
            "cannot be told from other parts of a mix",
        ),
        ("pigment add \"a,b\"", "cannot be told in a list"),
        ("pigment add \" \"", "the name is empty"),
        (
            "pigment add x --weigh \"umber 20 drops 0.6 g\"",
            "these drops are of `umber`, and the new pigment is `x`",
        ),
        ("pigment add x --weigh \"20 drops\"", "is no run of drops"),
        ("pigment add x --weigh \"20 drops 60 g\"", "check the point"),
        (
            "base add \"clear skin\" --kind skin --density-g-ml 1",
            "a base called `clear skin` stands on the shelf already",
        ),
        (
            "base add x --kind skun --density-g-ml 1",
            "no kind of base is called `skun` (did you mean `skin`?)",
        ),
        (
            "base add x --kind foam --density-g-ml 1",
            "expansion is empty for a foam",
        ),
        (
            "base add x --kind paint --density-g-ml 1",
            "solids is empty for a paint",
        ),
        (
            "base add x --kind skin --density-g-ml 1 --parts 1",
            "write parts of A and of B, as in 1:1 or 50:100",
        ),
        (
            "base add x --kind skin --density-g-ml 100",
            "density_g_ml is \"100\"; expected a number from 0.1 to 10",
        ),
        (
            "base add x --kind carrier --density-g-ml 1 --parts 1:1",
            "part_b is not 0 for a carrier",
        ),
        (
            "backing add \"white card\" --lab 50,0,0",
            "a backing called `white card` stands on the shelf already",
        ),
        (
            "backing add x --lab 50,200,0",
            "no surface has the colour 50,200,0",
        ),
        ("backing add x", "--r-file"),
        (
            &format!("backing add x --r-file {broken}"),
            "broken.csv:3:2: r is \"blue\"",
        ),
        (
            &format!("backing add x --r-file {foreign}"),
            "there is no such file",
        ),
    ] {
        let said = run(&format!("{line} {book}"));
        assert_eq!(said.code, 2, "{line}: {}", said.out);
        assert!(said.err.contains(words), "{line}: {}", said.err);
        assert_eq!(said.err.lines().count(), 1, "{line}: {}", said.err);
    }
    assert_eq!(tables.map(read), before, "as it was");
    let said = run("pigment add x");
    assert!(
        said.err.contains("the demo book is never written to"),
        "{}",
        said.err
    );
}
