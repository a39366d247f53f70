//! Books that open, new ones among them.

use std::fs;
use std::path::Path;

use dropwise::book::{Book, Starter};
use dropwise::colour::Viewing;
use dropwise::materials::{BaseKind, Shelf};

use super::{dir, edit, refusal, starter_book, text};

#[test]
fn the_demo_opens_and_has_all_that_a_starter_book_promises() {
    let book = Book::demo().expect("the demo");
    let shelf = book.shelf();
    for base in ["clear skin", "flexible foam", "clear paint"] {
        shelf.base(base).expect(base);
    }
    for pigment in [
        "titanium white",
        "iron oxide red",
        "iron oxide yellow",
        "umber",
        "carbon black",
        "blue",
        "fibre",
    ] {
        shelf.pigment(pigment).expect(pigment);
    }
    for card in [Shelf::WHITE_CARD, Shelf::BLACK_CARD] {
        shelf.backing(card).expect(card);
    }
    let fibre = shelf.pigment("fibre").expect("fibre");
    assert_eq!(fibre.drop_mass, None, "fibre is weighed");
    assert_eq!(shelf.settings.viewing, Viewing::D65_10, "D65/10°");
    assert!(book.folder().is_none(), "it is on no disk");
    let here = Book::open_or_demo(None).expect("no book.toml in the folder of this package");
    assert_eq!(here.shelf(), shelf, "the demo where there is no book");
}

#[test]
fn a_new_book_is_the_demo_without_its_swatches_and_stocks_and_bears_its_folders_name() {
    let (_parent, book) = starter_book();
    let demo = Book::demo().expect("the demo");
    assert_eq!(
        book.shelf().settings.name,
        "bench",
        "named after its folder"
    );
    let mut of_the_demo = demo.shelf().pigments.clone();
    of_the_demo.retain(|pigment| pigment.ingredients.is_empty());
    assert_eq!(book.shelf().pigments, of_the_demo, "pigments, no stocks");
    assert_eq!(book.shelf().bases, demo.shelf().bases, "bases");
    assert_eq!(book.shelf().backings, demo.shelf().backings, "backings");
    assert!(
        book.swatches().expect("a sound log").is_empty(),
        "nothing cast yet"
    );
    let parent = tempfile::tempdir().expect("a folder");
    let copy = Book::create(parent.path(), Starter::Demo).expect("into an empty folder");
    assert_eq!(copy.shelf(), demo.shelf(), "the demo's very settings");
    assert_eq!(
        copy.swatches().expect("a sound log"),
        demo.swatches().expect("a sound log"),
        "the demo's swatches"
    );
}

#[test]
fn a_new_book_takes_nobody_elses_place() {
    let (_parent, book) = starter_book();
    let says = |dir: &Path| {
        let error = Book::create(dir, Starter::Materials).expect_err("taken");
        assert!(error.is_input(), "{error}");
        error.to_string()
    };
    edit(&book, "pigments.csv", "0.036", "0.041");
    let line = says(dir(&book));
    assert!(line.contains("a swatch book is here already"), "{line}");
    assert!(text(&book, "pigments.csv").contains("0.041"), "untouched");
    let other = tempfile::tempdir().expect("a folder");
    let letter = other.path().join("letter.txt");
    fs::write(&letter, "dear").expect("a file");
    let line = says(other.path());
    assert!(line.contains("not empty: it holds `letter.txt`"), "{line}");
    let line = says(&letter);
    assert!(line.contains("expected a folder"), "{line}");
    assert_eq!(fs::read(&letter).expect("there"), b"dear", "untouched");
    let below = letter.join("book");
    let error = Book::create(&below, Starter::Materials).expect_err("below a file");
    assert_eq!(
        fs::read_dir(other.path()).expect("a folder").count(),
        1,
        "{error}"
    );
}

#[test]
fn a_folder_without_a_book_and_a_book_without_a_file_say_so() {
    let empty = tempfile::tempdir().expect("a folder");
    let line = Book::open(empty.path()).expect_err("no book").to_string();
    assert!(
        line.contains(
            "there is no swatch book here: book.toml is missing (begin one with `dropwise new "
        ),
        "{line}"
    );
    for name in ["bases.csv", "pigments.csv", "backings.csv", "swatches.csv"] {
        let (_parent, book) = starter_book();
        fs::remove_file(dir(&book).join(name)).expect(name);
        let line = refusal(&book);
        let start = format!("{name}: this file of the swatch book is missing (");
        assert!(line.starts_with(&start), "{line}");
    }
}

#[test]
fn what_a_spreadsheet_does_to_a_table_is_put_up_with() {
    let (_parent, book) = starter_book();
    let loose = format!(
        "\u{feff}{}\r\n,,,,,\r\n",
        text(&book, "pigments.csv")
            .trim_end()
            .replace('\n', "\r\n\r\n")
            .replace("umber,", "\"umber\" ,")
    );
    fs::write(dir(&book).join("pigments.csv"), loose).expect("written");
    let again = Book::open(dir(&book)).expect("a loose table");
    assert_eq!(again.shelf(), book.shelf(), "the same shelf");
}

#[test]
fn a_pigment_without_a_file_takes_the_curve_it_is_like_or_a_grey_that_knows_little() {
    let (_parent, book) = starter_book();
    let rows = "ochre,0.03,0.03,,iron oxide yellow,\nmystery,0.03,0.03,,,\n";
    let pigments = text(&book, "pigments.csv") + rows;
    fs::write(dir(&book).join("pigments.csv"), pigments).expect("written");
    let book = Book::open(dir(&book)).expect("two more pigments");
    let named = |name: &str| book.shelf().pigment(name).expect(name).clone();
    let (ochre, yellow) = (named("ochre"), named("iron oxide yellow"));
    assert_eq!(ochre.coefficients, yellow.coefficients, "its curve");
    assert_eq!(ochre.spread, yellow.spread, "and its spread");
    let mystery = named("mystery");
    assert_eq!(
        mystery.coefficients.k.min(),
        mystery.coefficients.k.max(),
        "grey"
    );
    assert!(
        mystery.spread.k_sd.min() > yellow.spread.k_sd.max(),
        "less is known"
    );
}

#[test]
fn a_foam_without_a_cell_size_opens_and_knows_little_of_its_cells() {
    let (_parent, book) = starter_book();
    edit(&book, "bases.csv", "6,0.4", "6,");
    let book = Book::open(dir(&book)).expect("a book with an unmeasured foam");
    let base = book.shelf().base("flexible foam").expect("on the shelf");
    let BaseKind::Foam(foam) = base.kind else {
        panic!("a foam");
    };
    assert!(foam.is_unmeasured(), "nobody measured it");
    // By hand: 6 × 2.25 / (2.25 + 5).
    assert_eq!(foam.absorption_gain, 1.86, "nor read it");
}

#[test]
fn a_foams_absorption_gain_is_read_and_belongs_to_foams_alone() {
    let (_parent, book) = starter_book();
    edit(&book, "bases.csv", "cell_mm", "cell_mm,absorption_gain");
    edit(&book, "bases.csv", "60,1,,1", "60,1,,,1");
    edit(&book, "bases.csv", "6,0.4", "6,0.4,1.25");
    edit(&book, "bases.csv", ",1,,0.35", ",1,,,0.35");
    edit(&book, "bases.csv", "mass,,,,1,,1", "mass,,,,1,,,1");
    let opened = Book::open(dir(&book)).expect("a book with a gain");
    let base = opened.shelf().base("flexible foam").expect("on the shelf");
    let BaseKind::Foam(foam) = base.kind else {
        panic!("a foam");
    };
    assert_eq!(foam.absorption_gain, 1.25, "as written");
    edit(&book, "bases.csv", "60,1,,,1", "60,1,,1.25,1");
    assert_eq!(
        refusal(&book),
        "bases.csv:2:12: absorption_gain is 1.25 for a skin; expected 1 or nothing (is its kind right?)",
        "a skin has no cells"
    );
}
