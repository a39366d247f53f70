//! Tables of builds to predict.

use std::fs;

use dropwise::book::{Book, read_builds};
use dropwise::materials::{Contact, Millimetres, Underlay};

use super::poured;

#[test]
fn builds_to_predict_are_read_whole_and_refused_by_place() {
    let demo = Book::demo().expect("the demo");
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("builds.csv");
    let read = |text: &str| {
        fs::write(&path, text).expect("written");
        read_builds(&path, demo.shelf())
    };
    let sound = "build,base,base_g,mix,thickness_mm,backing,foam,foam_g,foam_mix,paint,paint_g,paint_mix,paint_mm\n\
                 chip,clear skin,600,iron oxide red 3; iron oxide red 1:10 4,2,black card,,,,,,,\n\
                 hand,clear skin,600,fibre 12.5 g,2,,flexible foam,150,umber 4,clear paint,60,umber 2,0.03\n";
    let builds = read(sound).expect("two builds");
    assert_eq!(builds[0].0, "chip", "in order");
    let on_card = Underlay::Backing {
        name: "black card".to_owned(),
        contact: Contact::Bonded,
    };
    assert_eq!(
        builds[0].1.beneath, on_card,
        "bonded unless it says otherwise"
    );
    assert_eq!(builds[0].1.skin.mix.entries().len(), 2, "neat and let down");
    assert_eq!(
        builds[1].1.beneath,
        Underlay::Foam(poured("flexible foam", 150.0, "umber 4")),
        "foam"
    );
    let coat = builds[1].1.paint.as_ref().expect("painted");
    assert_eq!(coat.dry_thickness, Millimetres(0.03), "dry");
    let bare = read("build,base,base_g,mix,thickness_mm,backing\n0,clear skin,600,,2,white card\n");
    assert!(
        bare.expect("an unpigmented chip")[0].1.skin.mix.is_empty(),
        "no pigment"
    );
    for (from, to, line) in [
        (
            "hand,",
            "chip,",
            "builds.csv:3:1: build `chip` stands on line 2 already (give each its own name)",
        ),
        (
            "black card",
            "",
            "builds.csv:2:6: neither backing nor foam is named; expected one of them (what it lay on when it was read, such as white card)",
        ),
        (
            "black card,",
            "black card",
            "builds.csv:2: 12 fields in a row of 13; paint_mm is the first that is missing (an empty cell keeps its comma)",
        ),
        (
            ",2,black",
            ",0,black",
            "builds.csv:2:5: thickness_mm is \"0\"; expected a number from 0.05 to 50",
        ),
    ] {
        let error = read(&sound.replacen(from, to, 1))
            .expect_err(line)
            .to_string();
        assert!(error.ends_with(line), "{error}");
    }
    let gone = read_builds(&folder.path().join("none.csv"), demo.shelf()).expect_err("no file");
    assert!(gone.is_input(), "{gone}");
    assert!(
        gone.to_string().contains("none.csv: there is no such file"),
        "{gone}"
    );
}
