//! Names that are not on the shelf, and colours that are no colours.

use super::{LAYER, assert_all_refused, assert_refused};

#[test]
fn names_that_are_not_on_the_shelf_are_refused_with_the_nearest() {
    assert_all_refused(
        LAYER,
        &[
            (
                "--pigments umbre",
                "no pigment is called `umbre` (did you mean `umber`?)",
            ),
            ("--pigments gold", "(known here: titanium white, "),
            ("--base \"clear skim\"", "(did you mean `clear skin`?)"),
            ("--illuminants D66", "(did you mean `D65`?)"),
            ("--illuminants \"\"", "no light is named in \"\" (name one"),
            (
                "--paint-g 60 --paint-tones flush,flush",
                "the tone flush is to be painted twice (name each once in --paint-tones)",
            ),
            (
                "--flush 57,18,16 --paint-g 60 --paint \"clear pain\"",
                "(did you mean `clear paint`?)",
            ),
            (
                "--flush 57,18,16 --paint-g 60 --paint \"clear skin\"",
                "`clear skin` is a skin; expected a paint",
            ),
        ],
    );
    assert_all_refused(
        "match --target 66,12,17 --base-g 600",
        &[
            (
                "--backing \"white crad\"",
                "no backing is called `white crad` (did you mean `white card`?)",
            ),
            (
                "--foam-g 300 --foam \"flexible foan\"",
                "(did you mean `flexible foam`?)",
            ),
            (
                "--foam-g 300 --foam \"clear skin\"",
                "`clear skin` is a skin; expected a foam",
            ),
            (
                "--foam-g 300 --base \"flexible foam\"",
                "`flexible foam` is a foam; expected a skin over the foam (name a skin with --base",
            ),
        ],
    );
    assert_refused("mach --target 66,12,17", "unrecognized subcommand 'mach'");
    assert_refused("swatch lsit", "'list'");
}

#[test]
fn pigments_that_cannot_be_dropped_or_stand_twice_are_refused() {
    assert_all_refused(
        LAYER,
        &[
            (
                "--pigments fibre",
                "`fibre` is weighed, and a search counts drops",
            ),
            (
                "--with fibre",
                "`fibre` is weighed, and a search counts drops (leave it out of --with;",
            ),
            (
                "--without fibre --fibre-g 2",
                "(leave it out of --without; fibre goes in by --fibre-g alone)",
            ),
            ("--pigments \"\"", "a pigment's name is missing"),
            ("--pigments umber,", "a pigment's name is missing"),
            (
                "--pigments umber,umber",
                "`umber` is named twice among the pigments",
            ),
            (
                "--pigments \"umber 1:10,umber 1:10\"",
                "`umber 1:10` is named twice",
            ),
            (
                "--pigments \"umber 2:10\"",
                "`2:10` is no let-down (write 1:10",
            ),
        ],
    );
    assert_all_refused(
        r#"batch --base "clear skin" --base-g 60 --mix"#,
        &[
            ("\"fibre 3\"", "is weighed: write `fibre 3 g`"),
            ("\"umber 2,5\"", "write 2.5, with a point"),
            ("\"umber\"", "lacks its amount"),
            ("\"umber 2; umber 3\"", "stands twice in the mix"),
            ("\"umber -2\"", "below zero"),
            ("\"umber 1e6\"", "more than 3 % weakens or stops the cure"),
        ],
    );
}

#[test]
fn colours_that_are_no_colours_are_refused() {
    for option in [
        r#"match --base-g 600 --backing "white card" --target"#,
        "target --lab",
    ] {
        assert_all_refused(
            option,
            &[
                (
                    "65,3",
                    "\"65,3\" is not L*,a*,b* (write three numbers with points",
                ),
                ("65,3,12,1,17,2", "is not L*,a*,b*"),
                ("65,NaN,17", "is not L*,a*,b*"),
                ("165,12,17", "L* is 165; expected a number from 0 to 100"),
                ("-5,12,17", "L* is -5"),
                ("65,200,17", "a* is 200; expected a number from -128 to 128"),
                ("95,60,60", "out of the range of real surfaces"),
            ],
        );
    }
    assert_refused(
        &format!("{LAYER} --flush 57,180,16"),
        "the flush tone: a* is 180",
    );
    assert_refused(
        "match --base-g 600 --foam-g 300",
        "nothing to match (give a colour",
    );
    assert_refused(
        "match --base-g 600 --target 66,12,17",
        "nothing lies beneath the skin (give the mass of foam",
    );
}
