//! The answer of `match` on one screen: how long it is, what stands first, and what is left to the reasons.

use super::{run, words};

/// What a run prints, without colours and the blanks of patches, line by line.
fn lines(line: &str) -> (u8, Vec<String>) {
    let said = run(line);
    assert_eq!(said.err, "", "{line}");
    let plain = anstream::adapter::strip_str(&said.out).to_string();
    (
        said.code,
        plain
            .lines()
            .map(|line| line.trim_end().to_owned())
            .collect(),
    )
}

fn assert_fits(lines: &[String], most: usize) {
    assert!(
        lines.len() <= most,
        "{} lines:\n{}",
        lines.len(),
        lines.join("\n")
    );
    for line in lines {
        assert!(line.chars().count() <= 80, "{line}");
    }
}

const SKIN_AND_FOAM: &str = "match --target 65,11,14 --base-g 600 --foam-g 300 --fibre-g 12";

#[test]
fn skin_and_foam_fit_a_screen_and_each_paint_adds_six_lines_at_most() {
    for (options, most) in [
        ("", 26),
        (" --flush 58,17,16 --paint-g 60", 32),
        (
            " --flush 58,17,16 --paint-g 60 --paint-tones base,flush",
            38,
        ),
    ] {
        let (_, lines) = lines(&format!("{SKIN_AND_FOAM}{options}"));
        assert_fits(&lines, most);
    }
}

#[test]
fn the_verdict_stands_above_the_jars_and_the_jars_above_the_doses_with_their_clock() {
    let (code, lines) = lines(SKIN_AND_FOAM);
    assert_eq!(code, 0, "{lines:?}");
    let at = |part: &str| {
        let found = lines.iter().position(|line| line.contains(part));
        found.unwrap_or_else(|| panic!("{part}: {}", lines.join("\n")))
    };
    let order = [
        "L*  65.0  a*  11.0  b*  14.0",
        "Invented materials",
        "On paper it matches.",
        "1 Skin",
        "g part B",
        "12 g fibre",
        "part A, last: use by 4 min, gels 7 min, open the mould 60 min",
        "2 Foam",
        "part A, last: use by 1.5 min",
        "Care: isocyanates",
        "Next: ",
    ]
    .map(at);
    assert!(order.is_sorted(), "{order:?}: {}", lines.join("\n"));
    // What explains is a word away.
    let flat = lines.join(" ");
    for reason in [
        "proven",
        "TP",
        "± ",
        "in doubt",
        "mm       L*",
        "swatch add",
    ] {
        assert!(!flat.contains(reason), "{reason}: {flat}");
    }
    let why = run(&format!("{SKIN_AND_FOAM} --why")).out;
    for reason in [
        "TP",
        "in doubt",
        "Thicker or thinner",
        "swatch add",
        "aimed at",
    ] {
        assert!(why.contains(reason), "{reason}: {why}");
    }
}

#[test]
fn every_dose_of_the_pour_stands_on_the_screen_with_its_count_beside_it() {
    let line = "match --target 65,11,14 --base-g 600 --backing \"white card\" --fibre-g 12";
    let answer = super::json(line);
    let (_, lines) = lines(line);
    for dose in answer["cups"][0]["doses"].as_array().expect("doses") {
        let count = dose["drops"].as_u64().expect("drops");
        let drops = if count == 1 { "drop" } else { "drops" };
        let ratio = match dose["ratio"].as_u64() {
            Some(1) => String::new(),
            ratio => format!(" 1:{}", ratio.expect("a whole ratio")),
        };
        let name = dose["pigment"].as_str().expect("a name");
        let words = format!("{count} {drops} {name}{ratio}");
        assert!(
            lines.iter().any(|line| line.contains(&words)),
            "{words}: {lines:?}"
        );
    }
}

#[test]
fn a_tone_out_of_reach_is_said_first_and_a_cup_that_misses_says_so_in_its_heading() {
    let (code, lines) = lines(
        "match --target 30,40,-30 --base-g 600 --backing \"white card\" --pigments \"umber,titanium white\"",
    );
    assert_eq!(code, 1, "{lines:?}");
    assert!(lines[0].starts_with("OUT OF REACH"), "{}", lines[0]);
    let heading = lines
        .iter()
        .find(|line| line.starts_with("1 Skin"))
        .expect("a skin");
    assert!(heading.contains("misses: "), "{heading}");
}

#[test]
fn all_that_a_match_lacks_is_named_at_once() {
    let said = run("match");
    assert_eq!((said.code, said.out.as_str()), (2, ""), "{}", said.err);
    for lacking in [
        "--target L,a,b",
        "--base-g MASS",
        "--foam-g MASS, --backing NAME or --over",
    ] {
        assert!(said.err.contains(lacking), "{lacking}: {}", said.err);
    }
    let (_, command) = said.err.split_once("`dropwise ").expect("an example");
    let (command, _) = command.split_once('`').expect("its end");
    assert!(
        words(command).len() > 6 && run(command).code == 0,
        "{command}"
    );
}

#[test]
fn names_of_another_case_are_known_and_a_word_of_a_name_is_suggested() {
    let said = run("batch --base \"Clear Skin\" --base-g 60 --mix \"Umber 2\"");
    assert_eq!((said.code, said.err.as_str()), (0, ""), "other case");
    let red = run("batch --base \"clear skin\" --base-g 60 --mix \"red 2\"");
    assert!(
        red.err.contains("did you mean `iron oxide red`?"),
        "{}",
        red.err
    );
    let neither = run("match --target tan --base-g 600 --foam-g 300");
    assert!(
        neither.err.contains("neither a colour nor a file") && neither.err.contains("L,a,b"),
        "{}",
        neither.err
    );
}
