//! `calibrate --weigh` and `--new-lot`: what becomes of the shelf. Masses and lots are invented; readings are `predict`'s
//! own and check the plumbing alone.

use serde_json::Value;

use super::calibrating::Bench;
use super::{COLUMNS, file, folder, json, number, run};

fn row_of(table: &str, name: &str) -> String {
    let start = format!("{name},");
    let line = table.lines().find(|line| line.starts_with(&start));
    line.unwrap_or_else(|| panic!("{name}: {table}")).to_owned()
}

fn weigh(bench: &Bench, runs: &[&str]) -> Value {
    let runs: Vec<String> = runs
        .iter()
        .map(|run| format!("--weigh \"{run}\""))
        .collect();
    bench.calibrate(&runs.join(" "))
}

#[test]
fn weighed_drops_are_logged_and_their_mean_stands_on_the_shelf() {
    let bench = Bench::new();
    let before = row_of(&bench.read("pigments.csv"), "iron oxide red");
    let answer = weigh(&bench, &["iron oxide red 20 drops 0.61 g"]);
    let row = &answer["weighed"][0];
    assert_eq!(row["pigment"], "iron oxide red", "{answer}");
    assert!((number(&row["drop_g"]) - 0.0305).abs() < 1e-12, "{row}");
    assert_eq!(number(&row["drop_g_before"]), 0.032, "{row}");
    assert!(row["drop_g_sd"].is_null(), "one run tells no spread: {row}");
    assert!(
        row["notes"][0]
            .as_str()
            .is_some_and(|note| note.contains("weigh 3 runs or more")),
        "{row}"
    );
    let shelf = bench.read("pigments.csv");
    assert_eq!(
        row_of(&shelf, "iron oxide red"),
        before.replace("0.032", "0.0305") + ",",
        "the one cell, and room for a spread"
    );

    // Mean 0.0305, deviations 0, +0.001 and −0.001: standard deviation 0.001.
    let answer = weigh(
        &bench,
        &[
            "iron oxide red 20 drops 0.63 g",
            "iron oxide red 20 drops 0.59 g",
        ],
    );
    let row = &answer["weighed"][0];
    assert_eq!(number(&row["runs"]), 3.0, "all runs of the bottle: {row}");
    assert!((number(&row["drop_g"]) - 0.0305).abs() < 1e-12, "{row}");
    let hidden = 0.1 / 12.0_f64.sqrt() / 20.0;
    assert!(
        (number(&row["drop_g_sd"]) - hidden).abs() < 1e-12,
        "no less than a scale of 0.1 g hides: {row}"
    );
    assert_eq!(
        row["notes"],
        Value::Array(Vec::new()),
        "nothing to say: {row}"
    );
    let log = bench.read("weighings.csv");
    assert_eq!(log.lines().count(), 4, "one row a run: {log}");
    assert!(log.starts_with("date,pigment,lot,drops,mass_g\n"), "{log}");
    assert!(
        log.lines().all(
            |line| line.starts_with("date,") || line.contains(",iron oxide red,invented,20,0.")
        ),
        "{log}"
    );
}

#[test]
fn runs_that_scatter_and_drops_out_of_the_usual_are_pointed_out() {
    let bench = Bench::new();
    let scattered = [
        "umber 20 drops 0.60 g",
        "umber 20 drops 0.72 g",
        "umber 20 drops 0.60 g",
    ];
    let notes = weigh(&bench, &scattered)["weighed"][0]["notes"].to_string();
    assert!(
        notes.contains(
            "a run lies 12 % from the mean of all; three runs of a standard dropper stay within 5 %"
        ),
        "{notes}"
    );
    let notes = weigh(&bench, &["blue 20 drops 4 g"])["weighed"][0]["notes"].to_string();
    assert!(notes.contains("a drop of 0.2000 g is unusual"), "{notes}");
    let table = bench.read("pigments.csv");
    for (line, part) in [
        (
            "umber 20 drops 31 g",
            "a drop of umber is 1.55 g; expected from 0.002 to 0.3 g",
        ),
        (
            "umber 20 drops 0.01 g",
            "a drop of umber is 0.0005 g; expected from 0.002 to 0.3 g (check the point, the count",
        ),
        (
            "umber 0 drops 0.6 g",
            "0 drops; expected a whole number from 1 to 1000 (twenty are customary)",
        ),
        (
            "umber 20 drops -0.6 g",
            "a mass of -0.6 g; expected none below zero (write it as in 12.5 g)",
        ),
        (
            "fibre 20 drops 0.6 g",
            "`fibre` has no drop mass: it goes in by the gram (if it does come in drops, enter a first drop_g",
        ),
        (
            "umber 20 drops",
            "is no run of drops (write the pigment, how many drops, and what they weigh",
        ),
        (
            "amber 20 drops 0.6 g",
            "no pigment is called `amber` (did you mean `umber`?)",
        ),
    ] {
        let said = run(&format!(
            "calibrate {} --weigh \"{line}\"",
            bench.option("book")
        ));
        assert_eq!(said.code, 2, "{line}: {}", said.out);
        assert!(said.err.contains(part), "{line}: {}", said.err);
    }
    assert_eq!(bench.read("pigments.csv"), table, "nothing is lost");
}

#[test]
fn a_new_bottle_of_a_pigment_is_weighed_by_itself() {
    let bench = Bench::new();
    weigh(&bench, &["umber 20 drops 0.60 g"]);
    let relabelled = bench
        .read("pigments.csv")
        .replace("umber,0.03,0.03,invented", "umber,0.03,0.03,spring");
    bench.write("pigments.csv", &relabelled);
    let row = weigh(&bench, &["umber 20 drops 0.80 g"])["weighed"][0].clone();
    assert_eq!(row["lot"], "spring", "{row}");
    assert_eq!(
        number(&row["runs"]),
        1.0,
        "the earlier bottle's runs are not its own: {row}"
    );
    assert!((number(&row["drop_g"]) - 0.04).abs() < 1e-12, "{row}");
}

/// Standard deviation of L* of a tint by drops.
fn spread(bench: &Bench) -> f64 {
    let folder = folder();
    let table = format!(
        "{COLUMNS}\n1,clear skin,100,titanium white 3; umber 40,2,white card{}",
        ",".repeat(8)
    );
    let builds = file(folder.path(), "builds.csv", &table);
    let whole = json(&format!(
        "predict --builds {builds} {}",
        bench.option("book")
    ));
    number(&whole["builds"][0]["L_sd"])
}

#[test]
fn the_measured_spread_of_a_drop_is_that_of_predictions() {
    let bench = Bench::new();
    let with = |cell: &str| {
        let table = "pigment,drop_g,drop_g_sd,max_fraction,ks_file\n\
                     titanium white,0.036,,0.03,spectra/titanium-white.csv\n";
        bench.write(
            "pigments.csv",
            &format!("{table}umber,0.03,{cell},0.03,spectra/umber.csv\n"),
        );
        spread(&bench)
    };
    let (usual, steady, same, shaky) = (with(""), with("0"), with("0.0015"), with("0.015"));
    assert!(
        (usual - same).abs() < 1e-12,
        "5 % where nobody weighed: {usual} and {same}"
    );
    assert!(
        steady < usual && usual < shaky,
        "{steady}, {usual}, {shaky}"
    );
}

#[test]
fn one_chip_of_a_new_lot_tells_its_strength_and_leaves_all_else() {
    let bench = Bench::new();
    bench.log_all();
    let answer = bench.calibrate("--new-lot \"iron oxide red=B7\" --new-lot umber=U2");
    assert_eq!(answer["new_lots"][0], "iron oxide red B7", "{answer}");
    assert_eq!(
        answer["lots_alone"][0], "umber U2",
        "no chip tells of umber: {answer}"
    );
    let lot = &answer["lots"][0];
    assert_eq!(number(&lot["readings"]), 0.0, "not read yet: {lot}");
    assert!(
        (number(&lot["strength"]) - 1.0).abs() < 1e-6,
        "taken for the old: {lot}"
    );
    let unsure = number(&lot["strength_sd"]);
    assert!(unsure > 0.05, "but not surely: {lot}");
    let shelf = bench.read("pigments.csv");
    assert!(
        row_of(&shelf, "iron oxide red B7").contains("B7"),
        "{shelf}"
    );
    assert!(
        row_of(&shelf, "iron oxide red").contains("invented"),
        "both lots stand there: {shelf}"
    );

    let old_curves = ["iron-oxide-red", "titanium-white", "base-clear-skin"]
        .map(|name| bench.read(&format!("spectra/{name}.csv")));
    let chips: Vec<Value> = answer["chips"].as_array().expect("chips").clone();
    // In truth the new bottle is 0.8 of the old one.
    bench.strengthen("truth", "iron-oxide-red", 0.8);
    let mix = "iron oxide red 3; titanium white 6";
    let read = bench.truth(mix, 2.0, &["white card"], "bonded").remove(0);
    let chip = ("B7-1", "iron oxide red B7 3; titanium white 6", 2.0);
    bench.log(chip, "white card", &read, true);
    let answer = bench.calibrate("");
    let lot = &answer["lots"][0];
    assert_eq!(
        (&lot["pigment"], &lot["lot_of"]),
        (&"iron oxide red B7".into(), &"iron oxide red".into()),
        "{lot}"
    );
    assert!(
        (number(&lot["strength"]) - 0.8).abs() < 2.0 * number(&lot["strength_sd"]),
        "{lot}"
    );
    assert!(
        number(&lot["strength_sd"]) < unsure,
        "surer than before: {lot}"
    );
    for key in ["delta_a", "delta_b"] {
        assert!(number(&lot[key]).abs() < 0.5, "the same hue: {lot}");
    }
    assert_eq!(
        answer["chips"].as_array().expect("chips")[..chips.len()],
        chips[..],
        "old chips are told as before"
    );
    let last = &answer["chips"][chips.len()];
    assert!(
        number(&last["delta_e_after"]) < 0.3 * number(&last["delta_e_before"]),
        "{last}"
    );
    let now = ["iron-oxide-red", "titanium-white", "base-clear-skin"]
        .map(|name| bench.read(&format!("spectra/{name}.csv")));
    assert_eq!(now, old_curves, "all else is held");
    let after = super::calibrating::contents(&bench.path("book"));
    let said = run(&format!("calibrate {}", bench.option("book"))).out;
    assert!(
        said.contains("beside iron oxide red, by 1 reading\n"),
        "{said}"
    );
    assert_eq!(
        super::calibrating::contents(&bench.path("book")),
        after,
        "byte for byte"
    );
}

#[test]
fn each_lot_is_told_beside_the_one_before_it_and_nothing_within_the_doubt() {
    let bench = Bench::new();
    bench.log_all();
    let lots = |name: &str| {
        let line = format!("pigment lots \"{name}\" {}", bench.option("book"));
        (json(&line)["lots"].clone(), run(&line).out)
    };
    let (alone, said) = lots("iron oxide red");
    assert_eq!(alone.as_array().map(Vec::len), Some(1), "{alone}");
    assert!(said.contains("one bottle alone"), "{said}");
    bench.calibrate("--new-lot \"iron oxide red=B7\" --new-lot \"iron oxide red=C2\"");
    let (unread, said) = lots("iron oxide red");
    assert!(unread[1]["beside"].is_null(), "{unread}");
    assert_eq!(
        said.matches("no chip of it has been learnt").count(),
        2,
        "{said}"
    );

    // In truth the second bottle is 0.8 of the first, and the third is the second again.
    bench.strengthen("truth", "iron-oxide-red", 0.8);
    let mix = "iron oxide red 3; titanium white 6";
    let read = bench.truth(mix, 2.0, &["white card"], "bonded").remove(0);
    for lot in ["B7", "C2"] {
        let id = format!("{lot}-1");
        let mix = format!("iron oxide red {lot} 3; titanium white 6");
        bench.log((&id, &mix, 2.0), "white card", &read, true);
    }
    bench.calibrate("");
    // By the name of any lot.
    let (drift, said) = lots("iron oxide red C2");
    let answer = serde_json::json!({ "lots": drift.clone() });
    super::documented_json::assert_documented("PIGMENT LOTS", &[answer]);
    let [first, weaker, same] = drift.as_array().expect("lots").as_slice() else {
        panic!("three bottles: {drift}");
    };
    assert_eq!(first["learnt"], true, "{first}");
    assert!(first["beside"].is_null(), "nothing before it: {first}");
    let beside = &weaker["beside"];
    assert_eq!(beside["from"], "iron oxide red", "{weaker}");
    assert_eq!(beside["strength_told"], true, "{weaker}");
    assert_eq!(
        beside["hue_told"], false,
        "the same paste, thinned: {weaker}"
    );
    let off = (number(&beside["strength"]) / 0.8).ln().abs();
    assert!(off < 2.0 * number(&beside["ln_strength_sd"]), "{weaker}");
    let drops = number(&beside["drops"]) * number(&beside["strength"]);
    assert!((drops - 1.0).abs() < 1e-9, "drops of one mass: {weaker}");
    let beside = &same["beside"];
    assert_eq!(beside["from"], "iron oxide red B7", "{same}");
    assert_eq!(beside["strength_told"], false, "{same}");
    assert!(number(&beside["delta_e"]) < 1.0, "{same}");
    assert!(number(&beside["delta_e_sd"]) > 0.0, "{same}");
    assert_eq!(
        number(&beside["drops"]),
        1.0,
        "nothing told, nothing changed: {same}"
    );
    for words in [
        "% weaker (± ",
        "no other, as far as its chips tell",
        "drop for drop",
    ] {
        assert!(said.contains(words), "{words}: {said}");
    }
    let said = run(&format!(
        "pigment lots \"iron oxide read\" {}",
        bench.option("book")
    ));
    assert_eq!(said.code, 2, "{}", said.out);
    assert!(
        said.err.contains("did you mean `iron oxide red`?"),
        "{}",
        said.err
    );
}

#[test]
fn a_lot_is_refused_that_stands_there_or_belongs_to_nothing() {
    let bench = Bench::new();
    let new_lot = |typed: &str| {
        run(&format!(
            "calibrate {} --new-lot \"{typed}\"",
            bench.option("book")
        ))
    };
    let said = new_lot("iron oxide red=B7");
    assert_eq!(said.code, 0, "{}", said.err);
    assert!(said.out.contains("stands on the shelf"), "{}", said.out);
    let shelf = bench.read("pigments.csv");
    for (typed, part) in [
        (
            "iron oxide red=B7",
            "lot `B7` of `iron oxide red` stands on the shelf already",
        ),
        (
            "iron oxide read=B8",
            "no pigment is called `iron oxide read` (did you mean `iron oxide red`?)",
        ),
        (
            "iron oxide red",
            "names no pigment and its new lot (write both, as in",
        ),
        (
            "iron oxide red=1:10",
            "cannot be told from other parts of a mix",
        ),
    ] {
        let said = new_lot(typed);
        assert_eq!(said.code, 2, "{typed}: {}", said.out);
        assert!(said.err.contains(part), "{typed}: {}", said.err);
    }
    assert_eq!(bench.read("pigments.csv"), shelf, "nothing is lost");
    assert_eq!(new_lot("iron oxide red B7=B8").code, 0, "a lot of a lot");
    assert!(
        row_of(&bench.read("pigments.csv"), "iron oxide red B8").contains(",iron oxide red"),
        "is one of the same pigment"
    );
    let shelf = bench.read("pigments.csv");
    let chained = shelf.replace(
        ",B8,iron oxide red,,iron oxide red",
        ",B8,iron oxide red,,iron oxide red B7",
    );
    assert_ne!(chained, shelf, "a lot of a lot, by hand");
    bench.write("pigments.csv", &chained);
    let said = run(&format!("calibrate {}", bench.option("book")));
    assert_eq!(said.code, 2, "{}", said.out);
    assert!(
        said.err.contains(
            "lot_of names `iron oxide red B7`, which is itself a lot of `iron oxide red`"
        ),
        "{}",
        said.err
    );
}

#[test]
fn a_new_lot_of_what_is_weighed_is_told_of_no_drops() {
    let (_parent, book) = super::starter_book();
    let told = |lot: &str| {
        let said = run(&format!("calibrate --new-lot \"{lot}\" {book}"));
        assert_eq!(said.code, 0, "{lot}: {}", said.err);
        // Running text is wrapped.
        said.out.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let [fibre, umber] = ["fibre=F2", "umber=U2"].map(told);
    assert!(
        fibre.contains("stands on the shelf") && !fibre.contains("its drops"),
        "{fibre}"
    );
    assert!(umber.contains("its drops for as heavy"), "{umber}");
}

#[test]
fn a_calibration_that_fails_leaves_no_run_and_no_bottle_behind() {
    let bench = Bench::new();
    let read = bench.truth("titanium white 3", 2.0, &["white card"], "");
    bench.log(
        ("white", "titanium white 3", 2.0),
        "white card",
        &read[0],
        true,
    );
    bench.calibrate("");
    let pigments = bench.read("pigments.csv");
    // Its first guess is read by a calibration alone.
    let mut columns = pigments.lines().next().expect("a header").split(',');
    let column = columns.position(|name| name == "first_guess");
    let row = row_of(&pigments, "titanium white");
    let first = row.split(',').nth(column.expect("a first guess"));
    bench.write(first.expect("its file"), "wavelength_nm,k,s\n");
    let options = "--weigh \"iron oxide red 20 drops 0.61 g\" --new-lot \"umber=B7\"";
    let said = run(&format!("calibrate {} {options}", bench.option("book")));
    assert_eq!(said.code, 2, "{}", said.out);
    let after = bench.read("pigments.csv");
    assert_eq!(after, pigments, "no bottle and no drop mass: {}", said.err);
    let log = bench.path("book").join("weighings.csv");
    assert!(!log.exists(), "no run: {}", said.err);
}

#[test]
fn a_log_that_tells_no_lots_tells_them_from_the_next_run_on() {
    let bench = Bench::new();
    bench.write(
        "weighings.csv",
        "date,pigment,drops,mass_g\n2026-03-01,umber,20,0.6\n",
    );
    let answer = weigh(&bench, &["umber 20 drops 0.80 g"]);
    assert_eq!(answer["weighed"][0]["lot"], "invented", "{answer}");
    assert_eq!(
        number(&answer["weighed"][0]["runs"]),
        1.0,
        "whose the earlier run was nobody knows: {answer}"
    );
    let log = bench.read("weighings.csv");
    assert!(log.contains("invented"), "{log}");
}
