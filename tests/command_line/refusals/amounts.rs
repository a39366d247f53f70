//! Masses, thicknesses, counts and limits that make no sense.

use super::super::starter_book;
use super::{LAYER, assert_all_refused, assert_refused};

#[test]
fn masses_that_no_cup_holds_are_refused_in_every_option() {
    let skin = r#"match --target 66,12,17 --backing "white card" --base-g"#;
    let foam = "match --target 66,12,17 --base-g 600 --foam-g";
    let paint = &format!("{LAYER} --flush 57,18,16 --paint-g");
    let batch = r#"batch --base "clear skin" --base-g"#;
    let to = r#"batch --base "clear skin" --base-g 60 --to"#;
    let pot = r#"batch --base "clear skin" --base-g 60 --largest-pot"#;
    let (_parent, book) = starter_book();
    let chip = &format!(r#"swatch add {book} --base "clear skin" --thickness-mm 2 --lab 60,9,9"#);
    let swatch = &format!(r#"{chip} --backing "white card" --base-g"#);
    let swatch_foam = &format!(r#"{chip} --base-g 60 --foam "flexible foam" --foam-g"#);
    let swatch_paint = &format!(
        r#"{chip} --backing "white card" --base-g 60 --paint "clear paint" --paint-mm 0.03 --paint-g"#
    );
    for option in [
        skin,
        foam,
        paint,
        batch,
        to,
        pot,
        swatch,
        swatch_foam,
        swatch_paint,
    ] {
        for (mass, says) in [
            ("-1", "expected none below zero"),
            ("NaN", "\"NaN\" is not a number"),
            ("inf", "\"inf\" is not a number"),
            ("2,5", "write 2.5, with a point"),
            ("5cups", "write g, kg, oz or lb"),
            ("\"\"", "is not a number"),
        ] {
            assert_refused(&format!("{option} {mass}"), says);
        }
        assert_refused(&format!("{option} 0"), "expected");
        if option != pot {
            assert_refused(&format!("{option} 1e9"), "expected from 0.01 to 1000000 g");
        }
    }
    assert_all_refused(
        LAYER,
        &[
            ("--fibre-g -1", "expected none below zero"),
            (
                "--fibre-g 60",
                "`fibre` would be 9.09 % of the cup; more than 8 % weakens or stops the cure",
            ),
            ("--fibre-g NaN", "is not a number"),
        ],
    );
}

#[test]
fn thicknesses_that_no_part_has_are_refused_in_every_option() {
    let (_parent, book) = starter_book();
    let chip = format!(
        r#"swatch add {book} --base "clear skin" --base-g 60 --backing "white card" --lab 60,9,9"#
    );
    for option in [
        &format!("{LAYER} --thickness-mm"),
        "match --target 66,12,17 --base-g 600 --foam-g 300 --thickness-mm",
        &format!("{LAYER} --flush 57,18,16 --paint-g 60 --paint-mm"),
        &format!("{chip} --thickness-mm"),
        &format!(r#"{chip} --thickness-mm 2 --paint "clear paint" --paint-g 60 --paint-mm"#),
    ] {
        for (thickness, says) in [
            ("0", "thickness is 0 mm; expected from 0.0"),
            ("-1", "expected none below zero"),
            ("1e9", "mm; expected from 0.0"),
            ("NaN", "\"NaN\" is not a number"),
            ("inf", "\"inf\" is not a number"),
            ("2,1", "write 2.1, with a point"),
        ] {
            assert_refused(&format!("{option} {thickness}"), says);
        }
    }
}

#[test]
fn limits_of_a_search_that_make_no_sense_are_refused() {
    assert_all_refused(
        LAYER,
        &[
            ("--top 0", "expected a whole number from 1 to 1000"),
            ("--top 2.5", "expected a whole number from 1 to 1000"),
            ("--max-pigments 0", "expected a whole number from 1 to 1000"),
            ("--max-drops 0", "expected a whole number from 1 to 10000"),
            (
                "--max-total-drops -1",
                "expected a whole number from 1 to 10000",
            ),
            ("--time-limit -1", "'--time-limit <S>': a number below zero"),
            ("--time-limit NaN", "is not a number"),
            ("--within NaN", "is not a number"),
            ("--within -0.1", "'--within <GAP>': a number below zero"),
            ("--within 0,1", "write 0.1, with a point"),
            ("--tolerance NaN", "is not a number"),
            ("--tolerance -1", "a number below zero"),
            ("--tolerance 1e308", "expected a number from 0 to 100"),
            (
                "--min-contrast 2",
                "a contrast ratio above 1; expected 0 (clear) to 1 (hides all)",
            ),
            ("--max-contrast 1.01", "a contrast ratio above 1"),
            (
                "--with \"iron oxide red=3\" --max-drops 2",
                "3 drops of `iron oxide red` must be in, and at most 2 may be (write --max-drops 3 or more",
            ),
            (
                "--with \"iron oxide red=3,umber\" --max-total-drops 3",
                "at least 4 drops must be in, and at most 3 may be in all (write --max-total-drops 4 or more",
            ),
            (
                "--with \"iron oxide red,umber=2,blue,iron oxide yellow,titanium white\"",
                "5 pigments must be in, and at most 4 may be (write --max-pigments 5 or more",
            ),
        ],
    );
}

#[test]
fn batches_that_make_no_sense_are_refused() {
    assert_all_refused(
        r#"batch --base "clear skin" --base-g 60 --mix "umber 2""#,
        &[
            (
                "--times 0",
                "the mass of the batch is 0 g; expected from 0.01 to 1000000 g (check the mass of the recipe",
            ),
            ("--times -1", "a number below zero"),
            ("--times NaN", "is not a number"),
            ("--times inf", "is not a number"),
            ("--times 1,5", "write 1.5, with a point"),
            (
                "--times 1e12",
                "the mass of the batch is 6e13 g; expected from 0.01 to 1000000 g",
            ),
            ("--times 2 --to 600", "cannot be used with"),
            ("--pieces 0", "expected a whole number from 1 to 100000"),
            ("--largest-pot 0.5", "pots of 0.5 g; expected at least 1 g"),
        ],
    );
    assert_refused(
        r#"batch --base "clear skim" --base-g 60"#,
        "(did you mean `clear skin`?)",
    );
}
