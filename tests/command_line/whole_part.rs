//! The main job: from the demo's photograph to three cups, a sheet, and a swatch in the log.

use std::fs;
use std::sync::OnceLock;

use dropwise::colour::delta_e_2000;
use serde_json::Value;

use super::{
    PHOTO, assert_same, colour_of, folder, json, lab, number, predict, run, starter_book, word,
};

/// The answer and the sheet of one run, which every test here reads.
fn part() -> &'static (Value, String) {
    static PART: OnceLock<(Value, String)> = OnceLock::new();
    PART.get_or_init(|| {
        let folder = folder();
        let sheet = folder.path().join("sheet.html");
        let answer = json(&format!(
            "match --photo {PHOTO} --base-g 600 --foam-g 300 --paint-g 60 --fibre-g 12 --sheet {}",
            word(&sheet)
        ));
        (answer, fs::read_to_string(&sheet).expect("the sheet"))
    })
}

/// The three cups of an answer: the skin's keys stand at its top.
fn cups(answer: &Value) -> [&Value; 3] {
    [answer, &answer["foam"], &answer["paint"]]
}

fn doses(cup: &Value) -> &Vec<Value> {
    cup["pour"]["doses"].as_array().expect("doses")
}

#[test]
fn a_photograph_gives_the_skin_the_foam_and_the_paint_in_one_call() {
    let (answer, _) = part();
    assert!(answer["elapsed_s"].is_number(), "how long it took");
    assert_eq!(answer["passes"], true, "exit code 0 is within tolerance");
    assert!(
        number(&answer["recipes"][0]["delta_e"]) <= number(&answer["tolerance"]),
        "as it says"
    );
    for (cup, base, base_g, a, b) in [
        (answer, "clear skin", 600.0, Some(300.0), Some(300.0)),
        (
            &answer["foam"],
            "flexible foam",
            300.0,
            Some(100.0),
            Some(200.0),
        ),
        (&answer["paint"], "clear paint", 60.0, None, None),
    ] {
        assert_eq!(cup["base"], base, "the book's first of its kind");
        assert_eq!(number(&cup["base_g"]), base_g, "{base}: as asked for");
        let parts = ["part_a_g", "part_b_g"].map(|part| cup["pour"][part].as_f64());
        for (part, split) in parts.into_iter().zip([a, b]) {
            assert_eq!(part.is_some(), split.is_some(), "{base}: its parts");
            // Let-downs bring some of part B.
            let off = part.unwrap_or_default() - split.unwrap_or_default();
            assert!(off.abs() < 1.0, "{base}: {part:?} for {split:?}");
        }
        if let [Some(a), Some(b)] = parts {
            assert!((a + b - base_g).abs() < 1e-9, "{base}: {a} and {b} are all");
        }
        assert!(
            cup["proven"].is_boolean() && cup["gap"].is_number(),
            "{base}: what is proven"
        );
        let best = &cup["recipes"][0];
        for key in [
            "delta_e",
            "delta_L",
            "delta_a",
            "delta_b",
            "L",
            "a",
            "b",
            "contrast_ratio",
        ] {
            assert!(best[key].is_number(), "{base}: {key}");
        }
        let drops = best["drops"].as_object().expect("drops by name");
        assert!(!drops.is_empty(), "{base}: something goes in");
        assert!(
            drops
                .values()
                .all(|count| count.as_u64().is_some_and(|count| count > 0)),
            "{base}: whole drops"
        );
    }
    let fibre = doses(answer)
        .iter()
        .find(|dose| dose["colorant"] == "fibre")
        .expect("fibre in the skin");
    assert_eq!(number(&fibre["mass_g"]), 12.0, "weighed as asked for");
}

#[test]
fn what_match_says_of_a_part_is_what_predict_says_of_the_same_build() {
    let (answer, _) = part();
    let mix = |cup: &Value| cup["mix"].as_str().expect("a mix").to_owned();
    let [skin, foam, paint] = cups(answer).map(mix);
    let bare = format!("bare,clear skin,600,{skin},2,,,flexible foam,300,{foam}");
    let painted = format!(
        "painted,clear skin,600,{skin},2,,,flexible foam,300,{foam},clear paint,60,{paint},0.03"
    );
    let predicted = predict(&[bare, painted], "");
    for (cup, predicted, what) in [
        (answer, &predicted[0], "skin"),
        (&answer["paint"], &predicted[1], "paint"),
    ] {
        let best = &cup["recipes"][0];
        assert_same(lab(best), lab(predicted), what);
        let delta_e = delta_e_2000(lab(&cup["aim"]), lab(predicted));
        assert!(
            (delta_e - number(&best["delta_e"])).abs() < 1e-9,
            "{what}: ΔE00 {delta_e}"
        );
        for key in ["L_sd", "a_sd", "b_sd", "contrast_ratio"] {
            assert!(
                (number(&best[key]) - number(&predicted[key])).abs() < 1e-9,
                "{what}: {key}"
            );
        }
    }
    let target = &answer["target"];
    assert_same(
        lab(&answer["aim"]),
        lab(target),
        "the skin is aimed at the target",
    );
    let tones = target["tones"].as_array().expect("tones");
    let flush = tones
        .iter()
        .find(|tone| tone["role"] == "flush")
        .expect("a flush tone");
    assert_same(
        lab(&answer["paint"]["aim"]),
        lab(flush),
        "the paint is aimed at the flush",
    );

    // Foam counts as too thick to see through; 50 mm of it, the most that a build may have, nearly is.
    let thick = colour_of(&format!("foam,flexible foam,300,{foam},50,white card"));
    let foam = lab(&answer["foam"]["recipes"][0]);
    assert!(delta_e_2000(thick, foam) < 0.1, "{thick:?} and {foam:?}");
}

#[test]
fn foam_is_told_to_lighten_as_it_rises() {
    // Common practice, no source: a foam's tint is darker in the cup than in the part.
    let foam = &part().0["foam"];
    let (before, after) = (lab(&foam["before_rise"]), lab(&foam["recipes"][0]));
    assert!(
        before.l + 10.0 < after.l,
        "from L* {} to L* {}",
        before.l,
        after.l
    );
}

#[test]
fn the_sheet_holds_every_dose_with_its_boxes_to_tick_and_every_time() {
    let (answer, sheet) = part();
    for cup in cups(answer) {
        for dose in doses(cup) {
            let name = dose["colorant"].as_str().expect("a name");
            let row = sheet.split("<tr>").find(|row| {
                row.contains(&format!("<th scope=\"row\">{name}"))
                    && match (&dose["drops"], &dose["mass_g"]) {
                        (Value::Number(count), _) => {
                            let drops = if count.as_u64() == Some(1) {
                                "1 drop"
                            } else {
                                &format!("{count} drops")
                            };
                            row.contains(drops)
                                && row.matches('☐').count() as u64 == count.as_u64().unwrap_or(0)
                        }
                        (_, mass) => row.contains(&format!("{} g", number(mass))),
                    }
            });
            assert!(row.is_some(), "{dose} stands on the sheet");
        }
        for moment in cup["pour"]["timeline"].as_array().expect("a timeline") {
            let minutes = format!("{} min", number(&moment["minutes"]));
            assert!(sheet.contains(&minutes), "{minutes}");
        }
    }
    let [skin, foam, _] = cups(answer);
    let parts = [skin, foam].map(|cup| ["part_a_g", "part_b_g"].map(|part| &cup["pour"][part]));
    for mass in parts.into_iter().flatten() {
        let mass = format!("<td class=\"mass\">{} g</td>", number(mass));
        assert!(sheet.contains(&mass), "{mass}");
    }
    assert!(sheet.contains("60 g"), "the paint's one part");
    for patch in ["target", "aim", "comes out", "in the cup"] {
        assert!(
            sheet.contains(&format!("<figcaption>{patch}: ")),
            "a patch of {patch}"
        );
    }
}

#[test]
fn the_sheet_tells_the_usual_cautions_and_defers_to_those_who_know() {
    let sheet = part().1.to_lowercase();
    for caution in [
        "isocyanates",
        "skin contact",
        "heat of reaction",
        "spraying",
        "flame rating",
        "rising foam",
        "safety data sheet",
        "local code",
        "licensed",
        "not for a body",
    ] {
        assert!(sheet.contains(caution), "{caution}");
    }
}

#[test]
fn the_sheet_is_one_file_that_needs_nothing_else_and_escapes_what_is_typed() {
    let (_, sheet) = part();
    assert!(
        sheet.starts_with("<!DOCTYPE html>") && sheet.trim_end().ends_with("</html>"),
        "whole"
    );
    for outside in [
        "http:", "https:", "src=", "href=", "url(", "@import", "<script", "<link",
    ] {
        assert!(!sheet.contains(outside), "{outside}");
    }
    let folder = folder();
    let path = folder.path().join("sheet.html");
    let said = run(&format!(
        r#"match --target 66,12,17 --base-g 600 --backing "white card" --title "<script>a & b" --sheet {}"#,
        word(&path)
    ));
    assert_eq!(
        (said.code, said.err.as_str()),
        (0, ""),
        "a sheet with a strange title"
    );
    let sheet = fs::read_to_string(path).expect("the sheet");
    assert!(
        sheet.contains("<h1>&lt;script&gt;a &amp; b</h1>"),
        "escaped"
    );
    assert!(!sheet.contains("Spraying"), "no paint, no spraying");
}

#[test]
fn the_printed_command_logs_the_part_in_a_fresh_book_beside_its_prediction() {
    let (answer, sheet) = part();
    assert!(!sheet.contains("swatch add"), "nothing is typed off paper");
    let said = run(&format!(
        "match --photo {PHOTO} --base-g 600 --foam-g 300 --paint-g 60 --fibre-g 12 --why"
    ));
    let (_, command) = said
        .out
        .split_once("\n  dropwise swatch add")
        .expect("a command to copy");
    let command = format!("swatch add{}", command.lines().next().expect("a line"));
    // The demo's stocks stand on the shelf of the new book, too.
    let (parent, book) = starter_book();
    fs::copy(
        "swatches/stocks.csv",
        parent.path().join("bench/stocks.csv"),
    )
    .expect("copied");
    let command = command
        .replace("--book DIR", &book)
        .replace("--lab L,a,b", "--lab 56.1,17.2,14.9");
    let added = run(&command);
    assert_eq!((added.code, added.err.as_str()), (0, ""), "{command}");
    assert!(added.out.contains("off by ΔE00"), "{}", added.out);

    let plain = json(&format!("swatch list {book}"));
    assert!(
        plain["swatches"][0].get("predicted").is_none(),
        "not unless asked: {plain}"
    );
    let list = json(&format!("swatch list {book} --predicted"));
    let rows = list["swatches"].as_array().expect("swatches");
    assert_eq!(rows.len(), 1, "one reading in the log");
    let predicted = lab(&answer["paint"]["recipes"][0]);
    assert_same(lab(&rows[0]["predicted"]), predicted, "the painted part");
    let measured = lab(&rows[0]["measured"]);
    assert_same(
        measured,
        dropwise::colour::Lab::new(56.1, 17.2, 14.9),
        "as read",
    );
    let delta_e = delta_e_2000(measured, predicted);
    assert!(
        (number(&rows[0]["delta_e"]) - delta_e).abs() < 1e-9,
        "ΔE00 {delta_e}"
    );
    assert!(
        (number(&rows[0]["delta_L"]) - (measured.l - predicted.l)).abs() < 1e-9,
        "its sign"
    );
    let text = run(&format!("swatch list {book} --predicted")).out;
    assert!(
        text.contains("read ") && text.contains("predicted "),
        "side by side: {text}"
    );
    let text = run(&format!("swatch list {book}")).out;
    assert!(
        text.contains("read ") && !text.contains("predicted "),
        "as read: {text}"
    );
}

#[test]
fn a_sheet_of_several_pots_has_a_box_for_each_drop_of_all_and_one_for_what_each_pot_takes() {
    let folder = folder();
    let path = folder.path().join("sheet.html");
    let answer = json(&format!(
        "match --target 66,12,17 --base-g 1500 --fibre-g 30 --backing \"white card\" --largest-pot 500 --sheet {}",
        word(&path)
    ));
    assert_eq!(answer["pots"], 3);
    let sheet = fs::read_to_string(path).expect("the sheet");
    let (_, table) = sheet.split_once("<table class=\"doses\">").expect("doses");
    let (table, after) = table.split_once("</table>").expect("its end");
    let rows: Vec<&str> = table.split("<tr>").skip(1).collect();
    let doses = answer["cups"][0]["at_once"]["doses"]
        .as_array()
        .expect("doses");
    let counts = doses.iter().map(|dose| dose["drops"].as_u64().unwrap_or(1));
    // Part B of all, what is stirred into it; then pot by pot a share of that, fibre and part A.
    let counts: Vec<u64> = std::iter::once(1).chain(counts).chain([3, 3, 3]).collect();
    let boxes: Vec<u64> = (rows.iter().map(|row| row.matches('☐').count() as u64)).collect();
    assert_eq!(boxes, counts, "{table}");
    assert!(after.contains("pot 3 begun"), "when each was begun");
    // What is in doubt stands after the doses, and not among them.
    let (bench, end) = after.split_once("How sure it is").expect("a section");
    assert!(
        !bench.contains("In doubt") && end.contains("In doubt"),
        "{after}"
    );
}

#[test]
fn a_paint_that_misses_its_tone_says_so_and_the_whole_answers_for_the_skin() {
    // A red that no thin coat makes, and a flush that one makes.
    let answer_to = |flush: &str| {
        format!(
            "match --target 65,11,15 --flush {flush} --base-g 600 --fibre-g 12 --backing \"white card\" --paint-g 60 \
             --tolerance 1.5 --time-limit 5"
        )
    };
    let [missed, reached] = ["50,40,10", "57,17,16"].map(|flush| json(&answer_to(flush)));
    for (answer, passes) in [(&missed, false), (&reached, true)] {
        assert_eq!(answer["passes"], true, "the skin's");
        let paint = &answer["paint"];
        assert_eq!(paint["passes"], passes, "the paint's");
        let delta_e = number(&paint["recipes"][0]["delta_e"]);
        assert_eq!(delta_e <= 1.5, passes, "ΔE00 {delta_e}");
        let spraying = &answer["prospects"]["spraying"][0];
        assert_eq!(spraying["reaches_at"].is_number(), passes, "{spraying}");
    }
    let flat = |text: String| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let said = flat(run(&format!("{} --why", answer_to("50,40,10"))).out);
    for says in [
        "NOT WITHIN TOLERANCE of its tone: ΔE00 ",
        "the nearest is not red enough",
        "The flush paint misses its tone by ΔE00 ",
    ] {
        assert!(said.contains(says), "{says}: {said}");
    }
    let said = flat(run(&format!("{} --why", answer_to("57,17,16"))).out);
    assert!(!said.contains("its tone by"), "{said}");
    // What is not in the budget is in no doubt: a typed target, and no foam.
    let (_, doubt) = said.split_once("the doubt lies in ").expect("a verdict");
    let (doubt, _) = doubt.split_once('.').expect("a sentence");
    assert!(doubt.contains("thickness"), "{doubt}");
    assert!(
        !doubt.contains("target") && !doubt.contains("foam"),
        "{doubt}"
    );
}
