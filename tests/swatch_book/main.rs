//! The swatch book from outside: what opens, what is refused and in which words, and what a write leaves.

mod adding;
mod builds;
mod faults;
mod let_downs;
mod opening;

use std::fs;
use std::path::Path;

use dropwise::book::{Book, Starter};
use dropwise::colour::Lab;
use dropwise::materials::{
    Build, Contact, Geometry, Grams, Millimetres, Poured, Shelf, Swatch, Underlay,
};
use tempfile::TempDir;

/// A starter book in a folder of its own.
fn starter_book() -> (TempDir, Book) {
    let parent = tempfile::tempdir().expect("a temporary folder");
    let book = Book::create(&parent.path().join("bench"), Starter::Materials);
    (parent, book.expect("a starter book"))
}

fn dir(book: &Book) -> &Path {
    book.folder().expect("a book on disk")
}

fn text(book: &Book, name: &str) -> String {
    fs::read_to_string(dir(book).join(name)).expect(name)
}

/// Changes one file of a book, in which `from` must occur.
fn edit(book: &Book, name: &str, from: &str, to: &str) {
    let old = text(book, name);
    assert!(old.contains(from), "{name} holds {from:?}");
    fs::write(dir(book).join(name), old.replacen(from, to, 1)).expect(name);
}

/// The line that reading all of the book ends in when `name` holds `content`; the old content is then put back.
fn refusal_with(book: &Book, name: &str, content: &str) -> String {
    let old = text(book, name);
    fs::write(dir(book).join(name), content).expect(name);
    let line = refusal(book);
    fs::write(dir(book).join(name), old).expect(name);
    line
}

/// The line that reading all of the book ends in, places told from the book's folder.
fn refusal(book: &Book) -> String {
    let read = Book::open(dir(book)).and_then(|book| book.swatches().map(<[Swatch]>::len));
    match read {
        Ok(_) => panic!("the book was taken"),
        Err(error) => {
            assert!(error.is_input(), "the user can mend it: {error}");
            let folder = format!("{}/", dir(book).display());
            error.to_string().replace(&folder, "")
        }
    }
}

fn poured(base: &str, mass_g: f64, mix: &str) -> Poured {
    Poured {
        base: base.to_owned(),
        base_mass: Grams(mass_g),
        mix: mix.parse().expect(mix),
    }
}

fn chip(id: &str) -> Swatch {
    Swatch {
        id: id.to_owned(),
        date: "2026-03-09".parse().expect("a day"),
        build: Build {
            skin: poured("clear skin", 600.0, "iron oxide red 3; fibre 12.5 g"),
            thickness: Millimetres(2.1),
            beneath: Underlay::Backing {
                name: Shelf::WHITE_CARD.to_owned(),
                contact: Contact::Bonded,
            },
            paint: None,
        },
        lab: Some(Lab::new(62.4, 14.25, 17.9)),
        reflectance: None,
        geometry: Geometry::default(),
        batch: String::new(),
        common_errors: Vec::new(),
        photo: String::new(),
        note: String::new(),
    }
}
