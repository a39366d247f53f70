//! `swatches.csv`: one row a reading of one chip, read and added to.

use std::borrow::Cow;
use std::collections::HashMap;
use std::path::Path;

use super::changes::Changes;
use super::files::Files;
use super::number::Number;
use super::table::{Columns, Row, Table, text_cell};
use super::{builds, spectra, write};
use crate::colour::Lab;
use crate::error::{Error, Result};
use crate::materials::{Build, Contact, Geometry, Shelf, Swatch, Underlay};

/// The file of a book that holds its swatches.
pub(super) const SWATCHES: &str = "swatches.csv";

pub(super) const COLUMNS: Columns = Columns {
    required: &["swatch", "date", "base", "base_g", "mix", "thickness_mm"],
    optional: &[
        "backing",
        "contact",
        "foam",
        "foam_g",
        "foam_mix",
        "paint",
        "paint_g",
        "paint_mix",
        "paint_mm",
        "L",
        "a",
        "b",
        "r_file",
        SPECULAR,
        APERTURE_MM.name,
        "batch",
        PHOTO,
        "note",
    ],
};

/// The column that says whether the light mirrored at the surface was counted; the book's way where it is empty.
const SPECULAR: &str = "specular";

/// The column that names the photograph that a reading came off; empty where an instrument read.
const PHOTO: &str = "photo";

const APERTURE_MM: Number = Number {
    name: "aperture_mm",
    range: Geometry::APERTURE_RANGE_MM,
    example: "8",
};
const L: Number = Number {
    name: "L",
    range: (0.0, 100.0),
    example: "62.4",
};
const A: Number = Number {
    name: "a",
    range: (-150.0, 150.0),
    example: "14.2",
};
const B: Number = Number {
    name: "b",
    range: (-150.0, 150.0),
    example: "17.9",
};

/// The header of a book that has no swatches yet.
pub(super) fn header() -> String {
    // The column of photographs comes with the first reading off one.
    let columns = [COLUMNS.required, COLUMNS.optional].concat();
    let usual = columns.into_iter().filter(|column| *column != PHOTO);
    usual.collect::<Vec<_>>().join(",") + "\n"
}

/// Reads the swatches of a book.
///
/// # Errors
/// The first thing that is wrong, with its place.
pub(super) fn read(files: &Files, shelf: &Shelf) -> Result<Vec<Swatch>> {
    parse(files, shelf, &files.text(SWATCHES)?)
}

/// Reads `text`, which is or is to be the log of a book.
pub(super) fn parse(files: &Files, shelf: &Shelf, text: &str) -> Result<Vec<Swatch>> {
    let table = Table::read(&files.label(SWATCHES), text, &COLUMNS)?;
    let mut swatches: Vec<Swatch> = Vec::new();
    let mut first_of_chip: HashMap<&str, (usize, u64)> = HashMap::new();
    for row in table.rows() {
        let swatch = swatch(files, shelf, row)?;
        let here = (swatches.len(), row.line());
        let (first, line) = *first_of_chip.entry(row.text("swatch")).or_insert(here);
        let first = swatches.get(first).unwrap_or(&swatch);
        if let Some(difference) = difference(&first.build, &swatch.build) {
            let error = Error::input(format!(
                "swatch `{}` has another {difference} than on line {line}; rows of one chip differ in what it lay \
                 on and in how it read",
                swatch.id.escape_debug()
            ));
            let mend = "give another chip its own name";
            return Err(row.fault("swatch", error.mend(mend)));
        }
        swatches.push(swatch);
    }
    Ok(swatches)
}

fn swatch(files: &Files, shelf: &Shelf, row: Row<'_>) -> Result<Swatch> {
    let id = row.filled("swatch", "the chip's name")?;
    let build = builds::build(row, shelf)?;
    let (lab, reflectance) = (lab(row)?, spectra::reflectance(files, row, "r_file")?);
    if lab.is_none() && reflectance.is_none() {
        let error = Error::input("the row has no reading; expected L, a and b, or an r_file");
        return Err(row.fault(L.name, error));
    }
    let specular = match row.text(SPECULAR) {
        "" => None,
        word => Some(row.at(SPECULAR, word.parse())?),
    };
    Ok(Swatch {
        id: id.to_owned(),
        date: row.day("date")?,
        build,
        lab,
        reflectance,
        geometry: Geometry {
            specular,
            aperture_mm: row.optional_number(&APERTURE_MM)?,
        },
        batch: row.text("batch").to_owned(),
        photo: row.text(PHOTO).to_owned(),
        common_errors: Vec::new(),
        note: row.text("note").to_owned(),
    })
}

/// What is doubtful in the table of a book, though it can be read: rows whose L, a, b and spectrum are not of one reading,
/// that lie on two things, or that stand twice.
///
/// # Errors
/// As for [`read`].
pub(super) fn doubtful(files: &Files, shelf: &Shelf) -> Result<Vec<Error>> {
    let weights = shelf.settings.viewing.weights();
    let table = Table::read(&files.label(SWATCHES), &files.text(SWATCHES)?, &COLUMNS)?;
    let mut doubtful = Vec::new();
    // By what was read, so that each row is held only against those that it may repeat.
    let mut earlier: HashMap<Option<[u64; 3]>, Vec<(Swatch, u64)>> = HashMap::new();
    for row in table.rows() {
        let swatch = swatch(files, shelf, row)?;
        if let Some(apart) = swatch.contradicts_itself(&weights) {
            let finding = format!(
                "L, a and b lie ΔE00 {apart:.1} from the colour of the spectrum in `{}`, which alone is learnt from",
                row.text("r_file").escape_debug()
            );
            let mend = "mend the one that is wrong, or leave L, a and b empty";
            doubtful.push(row.fault(L.name, Error::input(finding).mend(mend)));
        }
        if matches!(swatch.build.beneath, Underlay::Foam(_)) && !row.text("backing").is_empty() {
            let finding = "foam and backing are both named, and it is taken to lie on the foam";
            let mend = "leave the one empty that it did not lie on";
            doubtful.push(row.fault("backing", Error::input(finding).mend(mend)));
        }
        let read = swatch
            .lab
            .map(|lab| [lab.l, lab.a, lab.b].map(f64::to_bits));
        let alike = earlier.entry(read).or_default();
        if let Some((_, line)) = alike.iter().find(|(other, _)| swatch.repeats(other)) {
            let finding = format!(
                "this is the casting and the reading of line {line} again, and counts twice"
            );
            let mend = "take one of the two rows out, if it was read once";
            doubtful.push(row.fault("swatch", Error::input(finding).mend(mend)));
        }
        alike.push((swatch, row.line()));
    }
    Ok(doubtful)
}

fn lab(row: Row<'_>) -> Result<Option<Lab>> {
    let [l, a, b] = [&L, &A, &B].map(|column| row.optional_number(column));
    match (l?, a?, b?) {
        (Some(l), Some(a), Some(b)) => Ok(Some(Lab::new(l, a, b))),
        (None, None, None) => Ok(None),
        (l, a, _) => {
            let missing = match (l, a) {
                (None, _) => L.name,
                (_, None) => A.name,
                _ => B.name,
            };
            let error = Error::input(format!("{missing} is empty, and the reading goes on"))
                .mend("give all of L, a and b, or none and an r_file");
            Err(row.fault(missing, error))
        }
    }
}

/// What tells two builds apart that cannot be one chip; a chip may lie on one card and then on another.
fn difference(one: &Build, other: &Build) -> Option<&'static str> {
    let foams_differ = match (&one.beneath, &other.beneath) {
        (Underlay::Foam(one), Underlay::Foam(other)) => one != other,
        (Underlay::Backing { .. }, Underlay::Backing { .. }) => false,
        _ => true,
    };
    [
        (one.skin.base != other.skin.base, "base"),
        (one.skin.base_mass != other.skin.base_mass, "base_g"),
        (one.skin.mix != other.skin.mix, "mix"),
        (one.thickness != other.thickness, "thickness_mm"),
        (foams_differ, "foam"),
        (one.paint != other.paint, "paint"),
    ]
    .into_iter()
    .find_map(|(differs, what)| differs.then_some(what))
}

/// Adds `swatch` to those `logged` in the book in `folder`, whose lock is held.
///
/// The rows that were there stay byte for byte, save that a column which the new row needs and the table
/// lacks is put at the end of each. The reflectance goes to a file of its own. What is written has been
/// read back before it takes the old table's place. Returns what the swatch is called.
///
/// # Errors
/// The table as it stands is not sound; the new row would not be; the machine fails. The table is then as
/// it was.
pub(super) fn add(
    folder: &Path,
    shelf: &Shelf,
    logged: &[Swatch],
    swatch: &Swatch,
) -> Result<String> {
    check_read_once(logged, swatch)?;
    let files = Files::Folder(folder.to_owned());
    let text = files.text(SWATCHES)?;
    let table = Table::read(&files.label(SWATCHES), &text, &COLUMNS)?;
    let mut swatch = Cow::Borrowed(swatch);
    if swatch.id.is_empty() {
        swatch.to_mut().id = next_id(logged);
    }
    let swatch = &*swatch;
    let r_file = match &swatch.reflectance {
        Some(_) => {
            let id = write::plain(&swatch.id);
            write::free_name(folder, &format!("spectra/{id}"))
        }
        None => String::new(),
    };
    let mut changes = Changes::of(folder);
    if let Some(reflectance) = &swatch.reflectance {
        changes.put(r_file.as_str(), spectra::reflectance_text(reflectance));
    }
    let longer = with_row(&text, &table, |column| cell(swatch, column, &r_file));
    // The old rows have just been read: a fault is the new one's.
    parse(&changes.files, shelf, &longer)
        .map_err(|error| error.without_place().within("the new swatch"))?;
    changes.put(SWATCHES, longer);
    changes.write(folder).map(|()| swatch.id.clone())
}

/// Refuses a chip in a photograph that was read off it already: told by its name, or by all that it is and the colour read.
fn check_read_once(logged: &[Swatch], swatch: &Swatch) -> Result<()> {
    let again = |other: &&Swatch| {
        let same = if swatch.id.is_empty() {
            other.repeats(swatch)
        } else {
            other.id == swatch.id && other.build.beneath == swatch.build.beneath
        };
        same && !swatch.photo.is_empty() && other.photo == swatch.photo
    };
    match logged.iter().find(again) {
        None => Ok(()),
        Some(other) => Err(Error::input(format!(
            "`{}` was read off the photograph {} already, on {}",
            other.id.escape_debug(),
            other.photo.escape_debug(),
            other.date
        ))
        .mend("name the file otherwise if it is another photograph; else take that reading out of the log first")),
    }
}

/// Puts `swatches`, none of which has a reflectance and each of which has a name, among the `changes`: as [`add`] does one.
///
/// # Errors
/// As for [`add`], with the name of the swatch.
#[cfg(feature = "photo")]
pub(super) fn add_all(
    changes: &mut Changes,
    folder: &Path,
    shelf: &Shelf,
    swatches: &[Swatch],
) -> Result<()> {
    let files = Files::Folder(folder.to_owned());
    let mut text = files.text(SWATCHES)?;
    for swatch in swatches {
        let table = Table::read(&files.label(SWATCHES), &text, &COLUMNS)?;
        let longer = with_row(&text, &table, |column| cell(swatch, column, ""));
        // The old rows have just been read: a fault is the new one's.
        parse(&files, shelf, &longer).map_err(|error| {
            let within = format!("the new swatch `{}`", swatch.id.escape_debug());
            error.without_place().within(within)
        })?;
        text = longer;
    }
    changes.put(SWATCHES, text);
    Ok(())
}

/// `S001` and on: the first number above all in use.
fn next_id(swatches: &[Swatch]) -> String {
    let number = |swatch: &Swatch| swatch.id.strip_prefix('S')?.parse::<u32>().ok();
    let highest = swatches.iter().filter_map(number).max().unwrap_or(0);
    format!("S{:03}", highest.saturating_add(1))
}

/// What `swatch` has in `column`; empty for a column of the user's own.
pub(super) fn cell(swatch: &Swatch, column: &str, r_file: &str) -> String {
    let reading = |value: fn(&Lab) -> f64| {
        let lab = swatch.lab.as_ref();
        lab.map_or_else(String::new, |lab| value(lab).to_string())
    };
    let typed = |text: &str| text_cell(text).into_owned();
    match column {
        "swatch" => typed(&swatch.id),
        "date" => swatch.date.to_string(),
        "L" => reading(|lab| lab.l),
        "a" => reading(|lab| lab.a),
        "b" => reading(|lab| lab.b),
        "r_file" => r_file.to_owned(),
        SPECULAR => {
            let specular = swatch.geometry.specular;
            specular.map_or_else(String::new, |specular| specular.to_string())
        }
        "aperture_mm" => {
            let aperture_mm = swatch.geometry.aperture_mm;
            aperture_mm.map_or_else(String::new, |mm| mm.to_string())
        }
        "batch" => typed(&swatch.batch),
        PHOTO => typed(&swatch.photo),
        "note" => typed(&swatch.note),
        "base" | "mix" | "backing" | "foam" | "foam_mix" | "paint" | "paint_mix" => {
            typed(&builds::cell(&swatch.build, column).unwrap_or_default())
        }
        _ => builds::cell(&swatch.build, column).unwrap_or_default(),
    }
}

/// `text`, which is `table`, with one more row, and with the columns that this row fills and the table lacks.
fn with_row(text: &str, table: &Table, cell: impl Fn(&str) -> String) -> String {
    let usual_contact = Contact::default().to_string();
    let says_something = |column: &str| match cell(column) {
        empty if empty.is_empty() => false,
        // A table without this column says it of every row.
        contact if column == "contact" => contact != usual_contact,
        _ => true,
    };
    let lacking: Vec<&str> = COLUMNS
        .optional
        .iter()
        .copied()
        .filter(|column| !table.has(column) && says_something(column))
        .collect();
    table.with_row(text, &lacking, &cell)
}
