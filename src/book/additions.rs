//! New rows of the shelf's tables: a pigment, a base, a backing, written as a hand would write them, at the end.
//!
//! What is written is first read, as the book that it would make: a row that could not be read back is refused with the
//! words of its own table, and nothing is written.

use std::collections::HashMap;
use std::path::Path;

use jiff::civil::Date;

use super::changes::Changes;
use super::files::{BACKINGS, BASES, Files, PIGMENTS};
use super::names::check_stands_in_a_mix;
use super::shelf::{BASE_COLUMNS, PIGMENT_COLUMNS};
use super::table::{Columns, Table, text_cell};
use super::{Book, bottles, spectra, write};
use crate::colour::Spectrum;
use crate::error::{Error, Result};
use crate::materials::{Grams, RatioBy, Shelf, Weighed, Weighing};

/// A pigment that is to stand on the shelf.
#[derive(Clone, Debug, PartialEq)]
pub struct NewPigment {
    /// Its name.
    pub name: String,
    /// Mass of one drop; `None` for what is weighed only, and until drops are weighed.
    pub drop_mass: Option<Grams>,
    /// The largest share of a cup's mass that still cures well.
    pub max_fraction: f64,
    /// Its lot; empty where unknown.
    pub lot: String,
    /// The starter pigment that it is like; empty for none.
    pub like: String,
}

/// A base that is to stand on the shelf; its curves are those of one that nobody has read.
#[derive(Clone, Debug, PartialEq)]
pub struct NewBase {
    /// Its name.
    pub name: String,
    /// What it is for, as `bases.csv` says it.
    pub kind: String,
    /// Density of the mixed liquid, g/ml.
    pub density_g_ml: f64,
    /// Parts of A, and of B; 1 and 0 for what comes as one part.
    pub parts: (f64, f64),
    /// What these are parts of.
    pub by: RatioBy,
    /// Minutes until it no longer flows well.
    pub pot_life_min: Option<f64>,
    /// Minutes until it gels.
    pub gel_min: Option<f64>,
    /// Minutes until it may leave the mould.
    pub demold_min: Option<f64>,
    /// A foam's volume over the liquid's.
    pub expansion: Option<f64>,
    /// Width of a foam's cells, mm.
    pub cell_mm: Option<f64>,
    /// The share of a paint's mass that stays when it dries.
    pub solids: Option<f64>,
    /// A carrier's largest share of a cup's mass.
    pub max_fraction: Option<f64>,
}

/// Columns of a row, with what stands in each.
pub(super) type Cells = Vec<(&'static str, String)>;

impl Book {
    /// Puts `new` on the shelf, and logs `runs` of its drops, weighed on the day `today`, with what they tell.
    ///
    /// # Errors
    /// The demo, which is never written to; a name that stands there already or cannot be told in a mix; no such starter
    /// pigment; a value out of range; a failure of the machine. The tables are then as they were.
    pub fn add_pigment(
        &mut self,
        new: &NewPigment,
        runs: &[Weighing],
        today: Date,
    ) -> Result<Vec<Weighed>> {
        self.change(|book, folder| {
            check_free(book.shelf(), &new.name)?;
            let cells = vec![
                ("pigment", text_cell(&new.name).into_owned()),
                ("drop_g", new.drop_mass.map_or_else(String::new, grams)),
                ("max_fraction", new.max_fraction.to_string()),
                ("lot", text_cell(&new.lot).into_owned()),
                ("like", text_cell(&new.like).into_owned()),
            ];
            let text = with_row(&book.files, PIGMENTS, &PIGMENT_COLUMNS, &cells)?;
            let what = format!("the new pigment `{}`", new.name.escape_debug());
            let supposed = supposing(folder, [(PIGMENTS, text.clone())], &what)?;
            if runs.is_empty() {
                write::write_whole(&folder.join(PIGMENTS), text.as_bytes())?;
                return Ok(Vec::new());
            }
            let (files, shelf) = (&supposed.files, &supposed.shelf);
            let weighings = bottles::weigh(files, shelf, supposed.swatches()?, runs, today)?;
            let mut changes = Changes::of(folder);
            changes.put(PIGMENTS, text);
            let weighed = weighings.put(&mut changes);
            changes.write(folder).map(|()| weighed)
        })
    }

    /// Puts `new` on the shelf.
    ///
    /// # Errors
    /// The demo, which is never written to; a name that stands there already; what its kind needs or cannot have; a value out
    /// of range; a failure of the machine. The table is then as it was.
    pub fn add_base(&mut self, new: &NewBase) -> Result<()> {
        self.change(|book, folder| {
            let shelf = book.shelf();
            let bases = shelf.bases.iter().map(|base| base.name.as_str());
            check_unused("base", &new.name, bases)?;
            check_unused("pigment", &new.name, names_in_a_mix(shelf))?;
            let number = |value: Option<f64>| value.map_or_else(String::new, |it| it.to_string());
            let (part_a, part_b) = new.parts;
            let cells = vec![
                ("base", text_cell(&new.name).into_owned()),
                ("kind", new.kind.clone()),
                ("density_g_ml", new.density_g_ml.to_string()),
                ("part_a", part_a.to_string()),
                ("part_b", part_b.to_string()),
                ("ratio_by", new.by.to_string()),
                ("pot_life_min", number(new.pot_life_min)),
                ("gel_min", number(new.gel_min)),
                ("demold_min", number(new.demold_min)),
                ("expansion", number(new.expansion)),
                ("cell_mm", number(new.cell_mm)),
                ("solids", number(new.solids)),
                ("max_fraction", number(new.max_fraction)),
            ];
            let text = with_row(&book.files, BASES, &BASE_COLUMNS, &cells)?;
            let what = format!("the new base `{}`", new.name.escape_debug());
            supposing(folder, [(BASES, text.clone())], &what)?;
            write::write_whole(&folder.join(BASES), text.as_bytes())
        })
    }

    /// Puts a backing of this `reflectance` (0–1) on the shelf, called `name`, and returns the file that holds it, as
    /// `backings.csv` names it.
    ///
    /// # Errors
    /// The demo, which is never written to; a name that stands there already; a failure of the machine. The table is then as
    /// it was.
    pub fn add_backing(&mut self, name: &str, reflectance: &Spectrum) -> Result<String> {
        self.change(|book, folder| {
            let mut changes = Changes::of(folder);
            let r_file = put_backing(&mut changes, book, folder, name, reflectance)?;
            changes.write(folder).map(|()| r_file)
        })
    }
}

/// Puts a backing of this `reflectance` among `changes` of `book`, which lies in `folder`; returns the file that holds it.
///
/// # Errors
/// As [`Book::add_backing`].
pub(super) fn put_backing(
    changes: &mut Changes,
    book: &Book,
    folder: &Path,
    name: &str,
    reflectance: &Spectrum,
) -> Result<String> {
    const COLUMNS: Columns = Columns {
        required: &["backing", "r_file"],
        optional: &[],
    };
    let backings = book.shelf().backings.iter();
    check_unused("backing", name, backings.map(|each| each.name.as_str()))?;
    let stem = format!("spectra/{}", write::plain(name));
    let r_file = write::free_name(folder, &stem);
    let cells = vec![
        ("backing", text_cell(name).into_owned()),
        ("r_file", r_file.clone()),
    ];
    let text = with_row(&book.files, BACKINGS, &COLUMNS, &cells)?;
    changes.put(r_file.as_str(), spectra::reflectance_text(reflectance));
    changes.put(BACKINGS, text);
    let what = format!("the new backing `{}`", name.escape_debug());
    Book::read(changes.files.clone()).map_err(|error| error.without_place().within(what))?;
    Ok(r_file)
}

/// A mass as a table has it.
pub(super) fn grams(mass: Grams) -> String {
    mass.0.to_string()
}

/// The table `name` of `files` with one more row of `cells`, and with the columns that these fill and it lacks.
pub(super) fn with_row(
    files: &Files,
    name: &str,
    columns: &Columns,
    cells: &Cells,
) -> Result<String> {
    let text = files.text(name)?;
    let table = Table::read(&files.label(name), &text, columns)?;
    let filled = cells.iter().filter(|(_, cell)| !cell.is_empty());
    let lacking: Vec<&str> = filled
        .map(|(column, _)| *column)
        .filter(|column| !table.has(column))
        .collect();
    Ok(table.with_row(&text, &lacking, |column| {
        let cell = cells.iter().find(|(of, _)| *of == column);
        cell.map_or_else(String::new, |(_, cell)| cell.clone())
    }))
}

/// The book in `folder` as it would be with other `texts` for some of its tables. The old rows are sound: a fault is that of
/// `what` is new.
pub(super) fn supposing(
    folder: &Path,
    texts: impl IntoIterator<Item = (&'static str, String)>,
    what: &str,
) -> Result<Book> {
    let files = Files::Supposed {
        folder: folder.to_owned(),
        texts: HashMap::from_iter(
            texts
                .into_iter()
                .map(|(name, text)| (name.to_owned(), text)),
        ),
    };
    Book::read(files).map_err(|error| error.without_place().within(what))
}

/// What a mix may name: pigments, stocks and carriers.
fn names_in_a_mix(shelf: &Shelf) -> impl Iterator<Item = &str> {
    let all = shelf.pigments.iter().chain(&shelf.carriers);
    all.map(|pigment| pigment.name.as_str())
}

/// Refuses `name` for a new pigment or stock.
pub(super) fn check_free(shelf: &Shelf, name: &str) -> Result<()> {
    check_unused("pigment", name, names_in_a_mix(shelf))?;
    let bases = shelf.bases.iter().map(|base| base.name.as_str());
    check_unused("base", name, bases)?;
    if name.contains([',', '=']) {
        let finding = format!("`{}` cannot be told in a list", name.escape_debug());
        return Err(Error::input(finding).mend("leave commas and = out of the name"));
    }
    check_stands_in_a_mix(name)
}

/// Refuses `name` where a `kind` of thing is called so already, be it in other case.
fn check_unused<'a>(kind: &str, name: &str, used: impl IntoIterator<Item = &'a str>) -> Result<()> {
    if name.trim().is_empty() {
        return Err(Error::input("the name is empty").mend("give it the name that its label has"));
    }
    let same = |used: &&str| used.to_lowercase() == name.to_lowercase();
    match used.into_iter().find(same) {
        None => Ok(()),
        Some(used) => {
            let finding = format!(
                "a {kind} called `{}` stands on the shelf already",
                used.escape_debug()
            );
            Err(Error::input(finding)
                .mend("give this one another name, or mend the row that is there"))
        }
    }
}
