//! Photographs, targets, builds, books and logs that cannot be read or written.

use std::fs;

use super::super::{file, folder, run, starter_book, word};
use super::{assert_all_refused, assert_refused};

#[test]
fn files_that_hold_no_target_are_refused() {
    let folder = folder();
    let dir = folder.path();
    let line = |file: &str| format!(r#"match --base-g 600 --backing "white card" --target {file}"#);
    let refused =
        |content: &str, says: &str| assert_refused(&line(&file(dir, "tone.json", content)), says);
    refused("a tone", "tone.json:1:1: this is not a target");
    refused(
        "{\"a\": 12, \"b\": 17}",
        "missing field `L` (a target is the JSON that `dropwise target` prints",
    );
    refused(
        "{\"L\": 66, \"a\": 12, \"b\": 17, \"illuminant\": \"D51\"}",
        "did you mean `D50`?",
    );
    refused(
        "{\"L\": 66, \"a\": 12, \"b\": 17, \"illuminant\": \"D50\", \"observer\": \"2\"}",
        "the target is given for D50/2°, this book for D65/10°",
    );
    refused("{\"L\": 166, \"a\": 12, \"b\": 17}", "L* is 166");
    assert_refused(
        &line(&word(&dir.join("none.json"))),
        "is neither a colour nor a file that is there",
    );
    assert_refused(&line(&word(dir)), "this is a folder; expected a file");
}

#[cfg(feature = "photo")]
#[test]
fn photographs_that_cannot_be_read_are_refused() {
    let folder = folder();
    let text = file(folder.path(), "note.jpg", "no picture");
    for command in [
        "target",
        r#"match --base-g 600 --backing "white card" --photo"#,
    ] {
        let (good, _) = super::super::PHOTO.split_once(' ').expect("a path first");
        assert_all_refused(
            command,
            &[
                ("none.jpg", "none.jpg: there is no such file"),
                (&text, "note.jpg: this is not a picture that can be read"),
                (&word(folder.path()), "this is a folder; expected a file"),
                (
                    &format!("{good} --region 2000,0,10,10"),
                    "does not lie in the picture",
                ),
                (&format!("{good} --region 0,0,0,4"), "expected X,Y,W,H"),
                (&format!("{good} --region 1,2,3"), "expected X,Y,W,H"),
                (&format!("{good} --region -1,2,3,4"), "expected X,Y,W,H"),
                (
                    &format!("{good} --card 310,240,330,160"),
                    "--card-lab <grey|white|L,a,b>",
                ),
                (&format!("{good} --card-lab grey"), "--card <X,Y,W,H|find>"),
                (
                    &format!("{good} --card 310,240,330,160 --card-lab green"),
                    "expected grey, white or L,a,b",
                ),
                (
                    &format!("{good} --card 310,240,3,3 --card-lab grey"),
                    "the card's region holds 9 pixels",
                ),
                (
                    &format!("{good} --chart 1,1,9,1,9,9,1,9"),
                    "--chart-values <FILE|NAME>",
                ),
                (
                    &format!("{good} --chart 1,1,9,1 --chart-values \"published 1976\""),
                    "expected X,Y,X,Y,X,Y,X,Y",
                ),
                (
                    &format!("{good} --chart 1,1,9,1,9,9,1,9 --chart-values \"published 1977\""),
                    "paper of 1976",
                ),
                (
                    &format!("{good} --chart 1,9,9,1,9,9,1,1 --chart-values \"published 1976\""),
                    "corners cross",
                ),
                (
                    &format!("{good} --region 2:1,2,30,40"),
                    "there is no photograph 2",
                ),
                (
                    &format!("{good} --tones 0"),
                    "0 tones are asked for; expected from 1 to 8",
                ),
                (
                    &format!("{good} --tones 9"),
                    "9 tones are asked for; expected from 1 to 8",
                ),
            ],
        );
    }
    // What belongs to a photograph is no use beside a typed colour.
    assert_refused(
        "target --lab 65,12,17 --region 1,2,3,4",
        "cannot be used with '--region",
    );
    assert_refused(
        &format!("{} --tones 2", super::LAYER),
        "cannot be used with '--tones",
    );
}

#[cfg(feature = "photo")]
#[test]
fn cards_that_are_clipped_or_black_are_refused() {
    let folder = folder();
    for (level, name, says) in [(255, "bright.png", "clipped"), (2, "dark.png", "dark")] {
        let path = folder.path().join(name);
        let picture = image::RgbImage::from_fn(60, 40, |x, _| {
            if x < 30 {
                image::Rgb([level; 3])
            } else {
                image::Rgb([200, 150, 120])
            }
        });
        picture.save(&path).expect("a picture");
        let line = format!(
            "target {} --region 35,5,20,20 --card 5,5,20,20 --card-lab grey",
            word(&path)
        );
        assert_refused(&line, says);
    }
}

#[test]
fn swatches_that_cannot_be_logged_are_refused_and_the_log_is_as_it_was() {
    let (parent, book) = starter_book();
    let log = parent.path().join("bench/swatches.csv");
    let before = fs::read(&log).expect("the log");
    let chip = format!(r#"swatch add {book} --base "clear skin" --base-g 60 --thickness-mm 2"#);
    assert_all_refused(
        &chip,
        &[
            (
                "--lab 60,9,9",
                "nothing lies beneath the skin (name a --backing or a --foam)",
            ),
            ("--backing \"white card\"", "--lab <L,a,b>"),
            (
                "--backing \"white card\" --lab 160,9,9",
                "L is \"160\"; expected a number from 0 to 100",
            ),
            (
                "--backing \"white card\" --lab 60,9,9 --date 2026-13-01",
                "(write year, month and day",
            ),
            (
                "--backing \"white card\" --lab 60,9,9 --contact wet",
                "(known here: bonded, dry)",
            ),
            (
                "--backing \"white card\" --lab 60,9,9 --paint \"clear paint\"",
                "--paint-g <MASS>",
            ),
            (
                "--backing \"white card\" --lab 60,9,9 --foam-mix \"umber 2\"",
                "--foam <NAME>",
            ),
            (
                "--backing \"white card\" --r-file none.csv",
                "none.csv: there is no such file",
            ),
            (
                "--backing \"white card\" --mix \"umbre 2\" --lab 60,9,9",
                "(did you mean `umber`?)",
            ),
        ],
    );
    assert_eq!(fs::read(&log).expect("the log"), before, "untouched");
}

#[test]
fn builds_that_cannot_be_predicted_are_refused_with_their_place() {
    let folder = folder();
    let dir = folder.path();
    let refused = |content: &str, says: &str| {
        assert_refused(
            &format!("predict --builds {}", file(dir, "builds.csv", content)),
            says,
        );
    };
    let row = |row: &str, says: &str| {
        refused(
            &format!("build,base,base_g,mix,thickness_mm,backing\n{row}\n"),
            says,
        );
    };
    row(
        "x,clear skin,600,umber 2,\"2,1\",white card",
        "builds.csv:2:5: thickness_mm is \"2,1\"",
    );
    row(
        "x,clear skin,0,umber 2,2,white card",
        "builds.csv:2:3: base_g is \"0\"",
    );
    row(
        "x,clear skin,600,umbre 2,2,white card",
        "builds.csv:2:4: no pigment is called `umbre`",
    );
    row(
        "x,clear skin,600,fibre 2,2,white card",
        "builds.csv:2:4: `fibre 2` counts drops",
    );
    row(
        "x,clear skin,600,umber 2000,2,white card",
        "build `x`: `umber` would be",
    );
    row(
        "x,clear skin,600,umber 2,2,",
        "builds.csv:2:6: neither backing nor foam is named",
    );
    row(
        "x,clear skin,600,umber 2,NaN,white card",
        "builds.csv:2:5: thickness_mm is \"NaN\"",
    );
    row("x,clear skin,600,umber 2,2", "the first that is missing");
    refused(
        "build,base,base_g,mix,thickness_mm,backing,foam,foam_g\nx,clear skin,600,umber 2,2,white card,flexible foam,300\n",
        "builds.csv:2:6: backing and foam are both named; expected one of them (leave out",
    );
    refused(
        "build,base,base_g,thickness_mm,backing\n",
        "builds.csv:1: the column mix is missing",
    );
    refused(
        "L,a,b\n66,12,17\n",
        "the first row names no column of this table (it must name build, base,",
    );
    refused("", "nothing stands in this table");
    assert_refused(
        &format!("predict --builds {}", word(dir)),
        "this is a folder; expected a file",
    );
    assert_refused(
        "predict --builds none.csv",
        "none.csv: there is no such file",
    );
}

#[test]
fn books_that_cannot_be_read_are_refused() {
    let empty = folder();
    let line = format!("swatch list --book {}", word(empty.path()));
    assert_refused(
        &line,
        "there is no swatch book here: book.toml is missing (begin one with `dropwise new ",
    );
    assert_refused(
        &format!("swatch list --book {}", word(&empty.path().join("none"))),
        "none: there is no such folder (check the name, or begin a book with `dropwise new ",
    );
    let (parent, book) = starter_book();
    let bench = parent.path().join("bench");
    assert_refused(
        &format!("swatch list --book {}", word(&bench.join("book.toml"))),
        "book.toml: this is a file; expected the folder of a swatch book (name the folder that it lies in)",
    );
    let refused_with = |name: &str, from: &str, to: &str, says: &str| {
        let path = bench.join(name);
        let old = fs::read_to_string(&path).expect("a file of the book");
        assert!(old.contains(from), "{name} holds {from}");
        fs::write(&path, old.replacen(from, to, 1)).expect("changed");
        assert_refused(&format!("swatch list {book}"), says);
        fs::write(&path, old).expect("put back");
    };
    refused_with(
        "book.toml",
        "format = 1",
        "format = 2",
        "this book was written by a newer version of dropwise",
    );
    refused_with(
        "pigments.csv",
        "drop_g,",
        "drop,",
        "no column is called `drop_g` (did you mean `drop`?)",
    );
    refused_with(
        "bases.csv",
        "clear skin,skin,1.04,1,1,mass",
        "clear skin,skin,1.04",
        "the first that is missing",
    );
    refused_with(
        "pigments.csv",
        "0.036",
        "0,036",
        "bench/pigments.csv:2: 7 fields in a row of 6",
    );
    assert_eq!(
        run(&format!("swatch list {book}")).code,
        0,
        "the book itself is sound"
    );
}

#[test]
fn a_book_that_cannot_be_written_to_is_told_and_stays_as_it_was() {
    let (parent, book) = starter_book();
    let bench = parent.path().join("bench");
    let add = format!(
        r#"swatch add {book} --base "clear skin" --base-g 60 --thickness-mm 2 --backing "white card" --lab 60,9,9"#
    );
    assert_eq!(run(&add).code, 0, "a first reading");
    let before = super::super::calibrating::contents(&bench);
    let mark = |name: &str, read_only: bool| {
        let path = bench.join(name);
        let mut permissions = fs::metadata(&path).expect("there").permissions();
        permissions.set_readonly(read_only);
        fs::set_permissions(&path, permissions).expect("marked");
    };
    for (line, name) in [
        (add.as_str(), "swatches.csv"),
        (
            &format!("calibrate {book} --weigh \"umber 20 drops 0.6 g\""),
            "pigments.csv",
        ),
        (
            &format!("calibrate {book} --new-lot umber=B7"),
            "pigments.csv",
        ),
    ] {
        mark(name, true);
        let said = run(line);
        mark(name, false);
        assert_eq!(
            (said.code, said.out.as_str()),
            (3, ""),
            "{line}: {}",
            said.err
        );
        let says = format!(
            "{name}: cannot write this file: it is marked read-only (allow it in the permissions"
        );
        assert!(said.err.contains(&says), "{line}: {}", said.err);
    }
    // What keeps a second writer waiting can't be made: it is the book that is named.
    fs::remove_file(bench.join(".lock")).expect("no lock");
    fs::create_dir(bench.join(".lock")).expect("a folder in its place");
    let said = run(&add);
    assert_eq!(said.code, 3, "{}", said.err);
    assert!(
        said.err.contains("bench: cannot write to this folder: "),
        "{}",
        said.err
    );
    assert!(
        super::super::calibrating::contents(&bench) == before,
        "nothing is lost, and nothing half done"
    );
}

#[test]
fn answers_that_cannot_be_written_are_refused() {
    let folder = folder();
    let missing = word(&folder.path().join("none/x"));
    let says = "none` to write to (make it first, or check the name)";
    assert_refused(&format!("target --lab 65,12,17 --save {missing}"), says);
    assert_refused(
        &format!("target --lab 65,12,17 --save {}", word(folder.path())),
        "this is a folder",
    );
    #[cfg(feature = "page")]
    {
        assert_refused(&format!("{} --sheet {missing}", super::LAYER), says);
        assert_refused(
            &format!("{} --sheet {}", super::LAYER, word(folder.path())),
            "this is a folder",
        );
    }
    let taken = file(folder.path(), "taken", "a note");
    assert_refused(
        &format!("new {taken}"),
        "this is a file; expected a folder, or nothing yet",
    );
    assert_refused(
        &format!("new {}", word(folder.path())),
        "the folder is not empty: it holds `taken`",
    );
    assert_eq!(
        fs::read_to_string(folder.path().join("taken")).expect("the note"),
        "a note",
        "nothing lost"
    );
}
