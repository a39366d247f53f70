//! `swatches.csv`: one row a reading of one chip, read and added to.

use std::borrow::Cow;
use std::collections::HashMap;
use std::collections::hash_map::Entry;
use std::path::Path;

use jiff::civil::Date;

use super::changes::Changes;
use super::files::Files;
use super::number::Number;
use super::photographs::{self, PhotographedChip};
use super::table::{Columns, Row, Table, text_cell};
use super::{builds, spectra, write};
use crate::colour::{Lab, SAMPLES, TristimulusWeights};
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

/// The log of a book, whose rows are read one after the other: a log that has grown for years is longer than what anybody asks
/// of it.
pub(super) struct Log<'a> {
    files: &'a Files,
    shelf: &'a Shelf,
    table: Table,
}

impl<'a> Log<'a> {
    /// The log of a book.
    ///
    /// # Errors
    /// A table of another shape, with its place.
    pub(super) fn read(files: &'a Files, shelf: &'a Shelf) -> Result<Self> {
        Self::parse(files, shelf, &files.text(SWATCHES)?)
    }

    /// The log that `text` is or is to be.
    ///
    /// # Errors
    /// As for [`read`](Self::read).
    pub(super) fn parse(files: &'a Files, shelf: &'a Shelf, text: &str) -> Result<Self> {
        let table = Table::read(&files.label(SWATCHES), text, &COLUMNS)?;
        Ok(Self {
            files,
            shelf,
            table,
        })
    }

    /// Has `take` take each reading, in the order of the rows.
    ///
    /// # Errors
    /// The first thing that is wrong, with its place.
    pub(super) fn each(&self, take: impl FnMut(Swatch)) -> Result<()> {
        self.each_worth(|_| Ok(true), take)
    }

    /// As [`each`](Self::each), of the rows alone that are `worth` more than a glance; what is wrong in others goes unseen.
    ///
    /// # Errors
    /// As for [`each`](Self::each).
    pub(super) fn each_worth(
        &self,
        worth: impl FnMut(Glance<'_>) -> Result<bool>,
        mut take: impl FnMut(Swatch),
    ) -> Result<()> {
        self.each_of(worth, |swatch, _, _| {
            take(swatch);
            Ok(())
        })
    }

    fn each_of<'t>(
        &'t self,
        mut worth: impl FnMut(Glance<'t>) -> Result<bool>,
        mut take: impl FnMut(Swatch, Row<'t>, &mut Reader<'a, 't>) -> Result<()>,
    ) -> Result<()> {
        let mut reader = Reader {
            files: self.files,
            builds: builds::Reader::on(self.shelf),
        };
        let mut first_of_chip: HashMap<&str, Row<'_>> = HashMap::with_capacity(self.table.len());
        for row in self.table.rows() {
            if !worth(Glance(row))? {
                continue;
            }
            let swatch = reader.swatch(row)?;
            let first = *first_of_chip.entry(row.text("swatch")).or_insert(row);
            if let Some(difference) = reader.difference(first, row, &swatch.build)? {
                let error = Error::input(format!(
                    "swatch `{}` has another {difference} than on line {}; rows of one chip differ in what it lay \
                     on and in how it read",
                    swatch.id.escape_debug(),
                    first.line()
                ));
                let mend = "give another chip its own name";
                return Err(row.fault("swatch", error.mend(mend)));
            }
            take(swatch, row, &mut reader)?;
        }
        Ok(())
    }

    /// Has `take` take each reading, with how many come after it, and tells what is doubtful in the log, though it can be read:
    /// rows whose L, a, b and spectrum are not of one reading, that lie on two things, or that stand twice.
    ///
    /// # Errors
    /// As for [`each`](Self::each).
    pub(super) fn doubting(
        &self,
        weights: &TristimulusWeights,
        mut take: impl FnMut(&Swatch, usize),
    ) -> Result<Vec<Error>> {
        let mut doubtful = Vec::new();
        let mut later = self.table.len();
        // By what was read, so that each row is held only against those that it may repeat.
        let mut earlier: HashMap<u64, Row<'_>> = HashMap::with_capacity(self.table.len());
        let mut further: HashMap<u64, Vec<Row<'_>>> = HashMap::new();
        self.each_of(|_| Ok(true), |swatch, row, reader| {
            if let Some(apart) = swatch.contradicts_itself(weights) {
                let finding = format!(
                    "L, a and b lie ΔE00 {apart:.1} from the colour of the spectrum in `{}`, which alone is learnt from",
                    row.text("r_file").escape_debug()
                );
                let mend = "mend the one that is wrong, or leave L, a and b empty";
                doubtful.push(row.fault(L.name, Error::input(finding).mend(mend)));
            }
            if matches!(swatch.build.beneath, Underlay::Foam(_)) && !row.text("backing").is_empty()
            {
                let finding = "foam and backing are both named, and it is taken to lie on the foam";
                let mend = "leave the one empty that it did not lie on";
                doubtful.push(row.fault("backing", Error::input(finding).mend(mend)));
            }
            let bits = read_bits(&swatch);
            match earlier.entry(bits) {
                Entry::Vacant(free) => {
                    free.insert(row);
                }
                Entry::Occupied(first) => {
                    let others = further.entry(bits).or_default();
                    for other in std::iter::once(first.get()).chain(others.iter()) {
                        if swatch.repeats(&reader.swatch(*other)?) {
                            let finding = format!(
                                "this is the casting and the reading of line {} again, and counts twice",
                                other.line()
                            );
                            let mend = "take one of the two rows out, if it was read once";
                            doubtful.push(row.fault("swatch", Error::input(finding).mend(mend)));
                            break;
                        }
                    }
                    others.push(row);
                }
            }
            later -= 1;
            take(&swatch, later);
            Ok(())
        })?;
        Ok(doubtful)
    }
}

/// A row of the log before it is read whole, which takes longer: as much as tells whether it is worth that.
#[derive(Clone, Copy)]
pub struct Glance<'a>(Row<'a>);

impl<'a> Glance<'a> {
    /// What the swatch is called.
    pub fn id(&self) -> &'a str {
        self.0.text("swatch")
    }

    /// The day on which it was read.
    ///
    /// # Errors
    /// No day, with its place.
    pub fn date(&self) -> Result<Date> {
        self.0.day("date")
    }

    /// The colour as read, under the book's viewing; `None` where a spectrum alone tells it.
    ///
    /// # Errors
    /// No colour, or half of one, with its place.
    pub fn lab(&self) -> Result<Option<Lab>> {
        lab(self.0)
    }

    /// Whether `pigment` may be in any of its cups: not where no mix names it.
    pub fn may_hold(&self, pigment: &str) -> bool {
        let mut mixes = builds::MIXES.into_iter().map(|column| self.0.text(column));
        mixes.any(|mix| mix.contains(pigment))
    }
}

impl std::fmt::Debug for Glance<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_tuple("Glance").field(&self.id()).finish()
    }
}

/// Refuses `text`, which is to be the log of a book, if it could not be read.
///
/// # Errors
/// As for [`Log::each`].
pub(super) fn check(files: &Files, shelf: &Shelf, text: &str) -> Result<()> {
    Log::parse(files, shelf, text)?.each(|_| ())
}

/// A number that tells most readings apart: of colour, a band of the spectrum, and mass.
fn read_bits(swatch: &Swatch) -> u64 {
    let lab = swatch.lab.unwrap_or(Lab::new(-1.0, 0.0, 0.0));
    let middle = (swatch.reflectance.as_ref()).map_or(-1.0, |r| r.values()[SAMPLES / 2]);
    let base_g = swatch.build.skin.base_mass.0;
    let read = [lab.l, lab.a, lab.b, middle, base_g].map(f64::to_bits);
    read.into_iter().fold(0, |bits: u64, more| {
        // Any odd number will do that has as many ones as zeros.
        (bits.rotate_left(23) ^ more).wrapping_mul(0x9e37_79b9_7f4a_7c15)
    })
}

/// Reads the rows of one log.
struct Reader<'a, 't> {
    files: &'a Files,
    builds: builds::Reader<'a, 't>,
}

impl<'t> Reader<'_, 't> {
    /// The reading of `row`.
    fn swatch(&mut self, row: Row<'t>) -> Result<Swatch> {
        let id = row.filled("swatch", "the chip's name")?;
        let build = self.builds.build(row)?;
        let (lab, reflectance) = (lab(row)?, spectra::reflectance(self.files, row, "r_file")?);
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

    /// What tells `build`, that of `row`, from that of the row `first` of the chip of that name, if anything does.
    fn difference(
        &mut self,
        first: Row<'t>,
        row: Row<'t>,
        build: &Build,
    ) -> Result<Option<&'static str>> {
        const WHAT: [&str; 11] = [
            "base",
            "base_g",
            "mix",
            "thickness_mm",
            "foam",
            "foam_g",
            "foam_mix",
            "paint",
            "paint_g",
            "paint_mix",
            "paint_mm",
        ];
        if first.line() == row.line()
            || WHAT
                .iter()
                .all(|column| first.text(column) == row.text(column))
        {
            return Ok(None);
        }
        self.builds
            .build(first)
            .map(|first| difference(&first, build))
    }
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
/// read back before it takes the old table's place. What the camera gave of one that was `photographed` is kept beside it.
/// Returns what the swatch is called.
///
/// # Errors
/// The table as it stands is not sound; the new row would not be; the machine fails. The table is then as
/// it was.
pub(super) fn add(
    folder: &Path,
    shelf: &Shelf,
    logged: &[Swatch],
    swatch: &Swatch,
    photographed: Option<&PhotographedChip>,
) -> Result<String> {
    let mut changes = Changes::of(folder);
    let id = put(&mut changes, folder, shelf, (logged, swatch), photographed)?;
    changes.write(folder).map(|()| id)
}

/// The same among `changes` that are not written yet, of a swatch beside those that are `logged`.
pub(super) fn put(
    changes: &mut Changes,
    folder: &Path,
    shelf: &Shelf,
    (logged, swatch): (&[Swatch], &Swatch),
    photographed: Option<&PhotographedChip>,
) -> Result<String> {
    check_read_once(logged, swatch)?;
    let text = changes.files.text(SWATCHES)?;
    let table = Table::read(&changes.files.label(SWATCHES), &text, &COLUMNS)?;
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
    if let Some(reflectance) = &swatch.reflectance {
        changes.put(r_file.as_str(), spectra::reflectance_text(reflectance));
    }
    let longer = with_row(&text, &table, |column| cell(swatch, column, &r_file));
    // The old rows have just been read: a fault is the new one's.
    check(&changes.files, shelf, &longer)
        .map_err(|error| error.without_place().within("the new swatch"))?;
    changes.put(SWATCHES, longer);
    if let Some(photographed) = photographed {
        let still_read = logged.iter().any(|other| other.photo == photographed.photo);
        photographs::put(changes, &photographed.kept_as(swatch), still_read)?;
    }
    Ok(swatch.id.clone())
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
        check(&files, shelf, &longer).map_err(|error| {
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
