//! What adding a swatch leaves, whether it succeeds or not.

use std::fs;

use approx::assert_abs_diff_eq;
use dropwise::book::Book;
use dropwise::colour::{SAMPLES, Spectrum};
use dropwise::materials::{Coat, Contact, Geometry, Millimetres, Shelf, Swatch, Underlay};
use dropwise::optics::Specular;

use super::{chip, dir, poured, starter_book, text};

#[test]
fn a_swatch_comes_back_as_it_was_added() {
    let (_parent, mut book) = starter_book();
    let plain = chip("A1");
    let mut over_black = chip("A1");
    over_black.build.beneath = Underlay::Backing {
        name: Shelf::BLACK_CARD.to_owned(),
        contact: Contact::Dry,
    };
    over_black.note = "=SUM(A1), \"wet\"\nsecond line".to_owned();
    let mut hand = chip("hand, left/№ 2");
    hand.build.beneath = Underlay::Foam(poured("flexible foam", 150.0, "iron oxide red 9"));
    hand.build.paint = Some(Coat {
        paint: poured("clear paint", 60.0, "iron oxide red 3; umber 2"),
        dry_thickness: Millimetres(0.03),
    });
    hand.batch = "-7".to_owned();
    hand.geometry = Geometry {
        specular: Some(Specular::Excluded),
        aperture_mm: Some(4.0),
    };
    let mut spectral = chip("S1");
    spectral.lab = None;
    spectral.reflectance = Some(Spectrum::from_fn(|place| 0.2 + 0.01 * place as f64));
    let added = [plain, over_black, hand, spectral];
    for swatch in &added {
        book.add_swatch(swatch).expect(&swatch.id);
    }
    let again = Book::open(dir(&book)).expect("still a book");
    assert_eq!(
        again.swatches().expect("a sound log"),
        book.swatches().expect("a sound log"),
        "on disk as in memory"
    );
    assert_eq!(
        again.swatches().expect("a sound log")[..3],
        added[..3],
        "there and back"
    );
    let read = again.swatches().expect("a sound log")[3]
        .reflectance
        .expect("its spectrum");
    for place in 0..SAMPLES {
        assert_abs_diff_eq!(read[place], 0.2 + 0.01 * place as f64, epsilon = 1e-12);
    }
    let table = text(&book, "swatches.csv");
    assert!(
        table.contains("spectra/S1-1.csv"),
        "its file by name: {table}"
    );
    assert!(
        table.contains("\"'=SUM(A1), \"\"wet\"\"\nsecond line\"\n"),
        "text to a spreadsheet: {table}"
    );
    let mut second = added[3].clone();
    second.build.beneath = added[1].build.beneath.clone();
    book.add_swatch(&second).expect("a second reading");
    assert!(
        text(&book, "swatches.csv").contains("spectra/S1-2.csv"),
        "a second file"
    );
}

#[test]
fn readings_added_by_many_at_once_are_all_kept() {
    const WRITERS: usize = 8;
    const READINGS: usize = 6;
    let (_parent, book) = starter_book();
    std::thread::scope(|scope| {
        for writer in 0..WRITERS {
            let mut book = book.clone();
            scope.spawn(move || {
                for reading in 0..READINGS {
                    let mut swatch = chip(&format!("{writer}-{reading}"));
                    swatch.reflectance = Some(Spectrum::constant(0.01 * writer as f64));
                    book.add_swatch(&swatch).expect("added");
                }
            });
        }
    });
    let again = Book::open(dir(&book)).expect("still a book");
    let mut ids: Vec<&str> = again
        .swatches()
        .expect("a sound log")
        .iter()
        .map(|swatch| swatch.id.as_str())
        .collect();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), WRITERS * READINGS, "none lost, none twice");
    for swatch in again.swatches().expect("a sound log") {
        let writer: f64 = swatch
            .id
            .split('-')
            .next()
            .and_then(|id| id.parse().ok())
            .expect("its writer");
        let reflectance = swatch.reflectance.expect("its spectrum");
        assert_abs_diff_eq!(reflectance[0], 0.01 * writer, epsilon = 1e-12);
    }
}

#[test]
fn what_others_wrote_into_the_table_stays_byte_for_byte() {
    let (_parent, mut book) = starter_book();
    let old = "\u{feff}humidity,swatch,date,base,base_g,mix,thickness_mm,backing,L,a,b,note\r\n\
               # the warm week,,,,,,,,,,,\r\n\
               \r\n\
               \" 41 %\" , W9 ,2026-01-02,clear skin, 100.0,umber  1,2.00,white card,70,10,12.0,\"two\r\nlines\"\r\n\
               ,W8,2026-01-01,clear skin,100,,2,white card,80,0,0,";
    fs::write(dir(&book).join("swatches.csv"), old).expect("written");
    let mut swatch = chip("A1");
    swatch.note = "new".to_owned();
    book.add_swatch(&swatch).expect("added");
    let row = "\r\n,A1,2026-03-09,clear skin,600,iron oxide red 3; fibre 12.5 g,2.1,white card,62.4,14.25,17.9,new\r\n";
    let once = format!("{old}{row}");
    assert_eq!(text(&book, "swatches.csv"), once, "one row more");
    swatch.id = "A2".to_owned();
    swatch.build.beneath = Underlay::Backing {
        name: Shelf::WHITE_CARD.to_owned(),
        contact: Contact::Dry,
    };
    book.add_swatch(&swatch).expect("added");
    // That it lay dry is said in a column that the table lacks, so each row grows by one cell at its end.
    let twice = format!("{once}{}", row.trim_start().replace("A1", "A2"))
        .replace("b,note\r\n", "b,note,contact\r\n")
        .replace("lines\"\r\n", "lines\",\r\n")
        .replace("80,0,0,\r\n", "80,0,0,,\r\n")
        .replacen("17.9,new\r\n", "17.9,new,\r\n", 1)
        .replace("17.9,new\r\n", "17.9,new,dry\r\n");
    assert_eq!(text(&book, "swatches.csv"), twice, "and one column more");
    let ids: Vec<&str> = book
        .swatches()
        .expect("a sound log")
        .iter()
        .map(|swatch| swatch.id.as_str())
        .collect();
    assert_eq!(ids, ["W9", "W8", "A1", "A2"], "in the order of the rows");
}

#[test]
fn a_swatch_that_cannot_be_kept_leaves_the_book_as_it_was() {
    let (_parent, mut book) = starter_book();
    book.add_swatch(&chip("A1")).expect("a first one");
    let before = text(&book, "swatches.csv");
    let files = |book: &Book| {
        fs::read_dir(dir(book).join("spectra"))
            .expect("spectra")
            .count()
    };
    let spectra = files(&book);
    let mut cases: Vec<(Swatch, &str)> = Vec::new();
    let mut with = |change: fn(&mut Swatch), line| {
        let mut swatch = chip("A2");
        swatch.reflectance = Some(Spectrum::constant(0.4));
        change(&mut swatch);
        cases.push((swatch, line));
    };
    with(
        |s| s.build.thickness = Millimetres(210.0),
        "the new swatch: thickness_mm is \"210\"; expected a number from 0.05 to 50",
    );
    with(
        |s| s.build.skin = poured("clear skin", 600.0, "iron oxide rot 3"),
        "the new swatch: no pigment is called `iron oxide rot` (did you mean `iron oxide red`?)",
    );
    with(
        |s| s.build.skin = poured("clear skin", 600.0, "fibre 3"),
        "the new swatch: `fibre 3` counts drops (`fibre` has no drop mass and is weighed: write `fibre 3 g`, or enter drop_g)",
    );
    with(
        |s| s.reflectance = Some(Spectrum::constant(40.0)),
        "the new swatch: r is \"40\"; expected a number from 0 to 1 (in percent? write 0.4)",
    );
    with(
        |s| {
            s.id = "A1".to_owned();
            s.build.thickness = Millimetres(3.0);
        },
        "the new swatch: swatch `A1` has another thickness_mm than on line 2; rows of one chip differ in what it lay on and in how it read (give another chip its own name)",
    );
    with(
        |s| s.id = "  ".to_owned(),
        "the new swatch: swatch is empty; expected the chip's name",
    );
    for (swatch, line) in &cases {
        let error = book.add_swatch(swatch).expect_err(line);
        let folder = format!("{}/", dir(&book).display());
        assert_eq!(error.to_string().replace(&folder, ""), *line, "refused");
    }
    assert_eq!(text(&book, "swatches.csv"), before, "the table");
    assert_eq!(files(&book), spectra, "and no spectrum left over");
    let error = Book::demo()
        .expect("the demo")
        .add_swatch(&chip("A1"))
        .expect_err("the demo");
    assert!(
        error
            .to_string()
            .contains("the demo book is never written to"),
        "{error}"
    );
}

#[test]
fn a_machine_that_fails_leaves_the_book_as_it_was() {
    let (_parent, mut book) = starter_book();
    let before = text(&book, "swatches.csv");
    let mut swatch = chip("A1");
    swatch.reflectance = Some(Spectrum::constant(0.4));
    let spectrum = dir(&book).join("spectra/A1-1.csv");
    let table = dir(&book).join("swatches.csv");
    let mut permissions = fs::metadata(&table).expect("there").permissions();
    let writable = permissions.clone();
    permissions.set_readonly(true);
    fs::set_permissions(&table, permissions).expect("marked read-only");
    let error = book.add_swatch(&swatch).expect_err("read-only");
    assert!(error.is_machine(), "{error}");
    assert!(
        error
            .to_string()
            .contains("swatches.csv: cannot write this file: it is marked read-only (allow it in"),
        "{error}"
    );
    fs::set_permissions(&table, writable).expect("writable again");
    assert_eq!(text(&book, "swatches.csv"), before, "the table");
    assert!(!spectrum.exists(), "no spectrum that no row names");
    let (spectra, aside) = (dir(&book).join("spectra"), dir(&book).join("aside"));
    fs::rename(&spectra, &aside).expect("set aside");
    fs::write(&spectra, "a file in the folder's place").expect("written");
    let error = book
        .add_swatch(&swatch)
        .expect_err("nowhere to put the spectrum");
    assert!(!error.to_string().is_empty(), "{error}");
    assert_eq!(text(&book, "swatches.csv"), before, "the table");
}
