//! `let-downs.csv`: what is read, what is refused and in which words, and what a write leaves. The jars are invented.

use std::fs;

use dropwise::book::Book;
use dropwise::materials::{Grams, LetDown};
use jiff::civil::date;

use super::{dir, refusal, starter_book, text};

const FILE: &str = "let-downs.csv";
const HEADER: &str = "let_down,lot,base,made,mass_g,keeps_until\n";

fn write(book: &Book, content: &str) {
    fs::write(dir(book).join(FILE), content).expect(FILE);
}

#[test]
fn a_book_without_the_file_has_none_and_rows_are_read_as_they_stand() {
    let (_parent, book) = starter_book();
    assert!(book.shelf().let_downs.is_empty(), "none was made");
    write(
        &book,
        &format!("{HEADER}iron oxide red 1:20,B7,clear skin,2026-03-03,19.8,2026-03-10\n"),
    );
    let book = Book::open(dir(&book)).expect("a sound table");
    let expected = LetDown {
        colorant: "iron oxide red 1:20".parse().expect("a let-down"),
        lot: "B7".to_owned(),
        base: "clear skin".to_owned(),
        made: date(2026, 3, 3),
        mass: Grams(19.8),
        keeps_until: date(2026, 3, 10),
    };
    assert_eq!(book.shelf().let_downs, [expected], "the row");
}

#[test]
fn a_row_that_cannot_be_is_refused_with_its_place_and_its_mend() {
    let (_parent, book) = starter_book();
    for (row, line) in [
        (
            "umbre 1:10,,clear skin,2026-03-03,20,2026-03-10",
            "let-downs.csv:2:1: no pigment is called `umbre` (did you mean `umber`?)",
        ),
        (
            "umber,,clear skin,2026-03-03,20,2026-03-10",
            "let-downs.csv:2:1: `umber` names no ratio of a let-down (write `umber 1:10` for one part in ten)",
        ),
        (
            "umber 10:1,,clear skin,2026-03-03,20,2026-03-10",
            "let-downs.csv:2:1: `10:1` is no let-down (write 1:10 for one part in ten; up to 1:1000)",
        ),
        (
            "umber 1:10,,clear skim,2026-03-03,20,2026-03-10",
            "let-downs.csv:2:3: no base is called `clear skim` (did you mean `clear skin`?)",
        ),
        (
            "umber 1:10,,clear skin,3 March,20,2026-03-10",
            "let-downs.csv:2:4: made is \"3 March\"; expected a day (write year, month, day as in 2026-03-09)",
        ),
        (
            "umber 1:10,,clear skin,2026-03-03,-1,2026-03-10",
            "let-downs.csv:2:5: mass_g is \"-1\"; expected a number from 0 to 100000 (write what the jar holds, 0 where it is used up)",
        ),
        (
            "umber 1:10,,clear skin,2026-03-03,20,2026-02-10",
            "let-downs.csv:2:6: it was made on 2026-03-03 and keeps until 2026-02-10 (exchange the two days, or mend one)",
        ),
    ] {
        write(&book, &format!("{HEADER}{row}\n"));
        assert_eq!(refusal(&book), line, "{row}");
    }
}

#[test]
fn rows_are_added_and_taken_from_and_a_users_own_columns_stay() {
    let (_parent, mut book) = starter_book();
    let own = "shelf,let_down,base,made,mass_g,keeps_until\n# the cold cupboard,,,,,\n\
               left,umber 1:10,clear skin,2026-03-01,5,2026-03-08\n";
    write(&book, own);
    let made = date(2026, 3, 3);
    let red = LetDown {
        colorant: "iron oxide red 1:20".parse().expect("a let-down"),
        lot: "invented".to_owned(),
        base: "clear skin".to_owned(),
        made,
        mass: Grams(20.0),
        keeps_until: LetDown::usual_end(made),
    };
    book.add_let_downs(std::slice::from_ref(&red))
        .expect("added");
    let longer = "shelf,let_down,base,made,mass_g,keeps_until,lot\n# the cold cupboard,,,,,\n\
                  left,umber 1:10,clear skin,2026-03-01,5,2026-03-08,\n\
                  ,iron oxide red 1:20,clear skin,2026-03-03,20,2026-03-10,invented\n";
    assert_eq!(text(&book, FILE), longer, "a column and a row more");
    let used = [(red.colorant.clone(), Grams(0.19))];
    let taken = book
        .take_let_downs(&used, "clear skin", made)
        .expect("taken");
    assert_eq!(taken[0].mass, Grams(19.81), "what is left");
    let lighter = longer.replace("2026-03-03,20,", "2026-03-03,19.81,");
    assert_eq!(text(&book, FILE), lighter, "the one cell");
    let too_much = [
        (red.colorant, Grams(0.1)),
        ("umber 1:10".parse().expect("one"), Grams(6.0)),
    ];
    book.take_let_downs(&too_much, "clear skin", made)
        .expect_err("six of five grams");
    assert_eq!(text(&book, FILE), lighter, "all or nothing");
}

#[test]
fn a_jar_that_holds_too_much_is_told_to_be_written_in_grams() {
    let (_parent, book) = starter_book();
    write(
        &book,
        &format!("{HEADER}umber 1:10,,clear skin,2026-03-03,200000,2026-03-10\n"),
    );
    assert_eq!(
        refusal(&book),
        "let-downs.csv:2:5: mass_g is \"200000\"; expected a number from 0 to 100000 (write what it holds in grams)"
    );
}
