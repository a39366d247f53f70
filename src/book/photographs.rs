//! `photographs.csv`: what the camera gave of each chip that was read off a photograph, and of the chart beside it.
//!
//! A chip is read as what its own mix can make, and a calibration knows better what that is: from these values it reads the
//! chips again, and nobody needs the photograph. A row of the log is read again as long as it says what was last read here: a
//! colour that was typed over, or taken back, stays.

use std::collections::HashMap;
use std::path::Path;

use super::changes::Changes;
use super::files::Files;
use super::number::Number;
use super::table::{Columns, Row, Table, row_text, text_cell};
use crate::colour::{Lab, SAMPLES, Spectrum};
use crate::error::{Error, Result};
use crate::materials::Swatch;
use crate::tone::{LinearField, LinearPatch};

/// The file; a book without one keeps no photograph.
pub(super) const PHOTOGRAPHS: &str = "photographs.csv";

const COLUMNS: Columns = Columns {
    required: &[
        PHOTO, SWATCH, "over", L.name, A.name, B.name, X.name, Y.name, Z.name, DOUBT.name,
        RIGHT.name, DOWN.name, MEASURED,
    ],
    optional: &[],
};

const PHOTO: &str = "photo";
/// The chip's name; empty of a patch of the chart.
const SWATCH: &str = "swatch";
const MEASURED: &str = "measured";

const fn number(name: &'static str, range: (f64, f64), example: &'static str) -> Number {
    Number {
        name,
        range,
        example,
    }
}

const L: Number = number("L", (0.0, 100.0), "62.4");
const A: Number = number("a", (-150.0, 150.0), "14.2");
const B: Number = number("b", (-150.0, 150.0), "17.9");
const X: Number = number("x", (-2.0, 4.0), "0.412");
const Y: Number = number("y", (-2.0, 4.0), "0.412");
const Z: Number = number("z", (-2.0, 4.0), "0.412");
const DOUBT: Number = number("doubt", (0.0, 10.0), "0.002");
const RIGHT: Number = number("right", (-100.0, 100.0), "0.75");
const DOWN: Number = number("down", (-100.0, 100.0), "0.1");

/// A photograph of chips, as the book keeps it.
#[derive(Clone, Debug, PartialEq)]
pub struct KeptPhotograph {
    /// What the log calls it.
    pub name: String,
    /// The patches of its chart.
    pub patches: Vec<LinearPatch>,
    /// The chips that were read off it.
    pub chips: Vec<KeptChip>,
}

/// A chip in a photograph, as the book keeps it.
#[derive(Clone, Debug, PartialEq)]
pub struct KeptChip {
    /// The chip's name.
    pub swatch: String,
    /// What it lay on.
    pub over: String,
    /// Its colour as it was last read.
    pub lab: Lab,
    /// What the camera gave of it.
    pub field: LinearField,
}

/// One chip as the camera gave it, and the chart beside it, whose reading is to be logged.
#[derive(Clone, Debug, PartialEq)]
pub struct PhotographedChip {
    /// What the log calls the photograph.
    pub photo: String,
    /// The patches of its chart.
    pub patches: Vec<LinearPatch>,
    /// What the camera gave of the chip.
    pub field: LinearField,
}

impl PhotographedChip {
    /// As the book keeps it, logged as `swatch`.
    pub(super) fn kept_as(&self, swatch: &Swatch) -> KeptPhotograph {
        self.with(KeptChip::of(swatch, self.field))
    }

    fn with(&self, chips: impl IntoIterator<Item = KeptChip>) -> KeptPhotograph {
        KeptPhotograph {
            name: self.photo.clone(),
            patches: self.patches.clone(),
            chips: chips.into_iter().collect(),
        }
    }

    /// As a table like the book's own, that somebody can hold on to until its reading is logged.
    pub fn to_text(&self) -> String {
        let chip = KeptChip {
            swatch: Self::UNNAMED.to_owned(),
            over: String::new(),
            lab: Lab::new(0.0, 0.0, 0.0),
            field: self.field,
        };
        let columns = columns();
        let mut text = columns.join(",") + "\n";
        write(&mut text, &columns, &self.with([chip]), &self.patches);
        text
    }

    /// What [`to_text`](Self::to_text) wrote.
    ///
    /// # Errors
    /// What no book could keep, with its place in the table.
    pub fn from_text(text: &str) -> Result<Self> {
        let read = listed(Path::new("what the camera gave"), text)?;
        match <[KeptPhotograph; 1]>::try_from(read) {
            Ok([photograph]) if photograph.chips.len() == 1 => Ok(Self {
                photo: photograph.name,
                patches: photograph.patches,
                field: photograph.chips[0].field,
            }),
            _ => Err(Error::input("this is no chip off a photograph").mend("read it off again")),
        }
    }

    /// What a chip is called that has no name yet.
    const UNNAMED: &str = "-";
}

impl KeptChip {
    /// The chip that `swatch` is a reading of, which is kept as the camera gave it.
    pub fn of(swatch: &Swatch, field: LinearField) -> Option<Self> {
        Some(Self {
            swatch: swatch.id.clone(),
            over: swatch.build.beneath.name().to_owned(),
            lab: swatch.lab?,
            field,
        })
    }

    /// Whether `swatch`, off the same photograph, is the reading that was last made of it.
    pub fn is_read_in(&self, swatch: &Swatch) -> bool {
        self.swatch == swatch.id
            && self.over == swatch.build.beneath.name()
            && swatch.lab == Some(self.lab)
    }
}

/// The photographs that the book of `files` keeps.
///
/// # Errors
/// A table that can't be read, with its place.
pub(super) fn list(files: &Files) -> Result<Vec<KeptPhotograph>> {
    match files.find(PHOTOGRAPHS)? {
        Some(text) => listed(&files.label(PHOTOGRAPHS), &text),
        None => Ok(Vec::new()),
    }
}

/// Those of a table, the `text` of what is called `label`.
fn listed(label: &Path, text: &str) -> Result<Vec<KeptPhotograph>> {
    let table = Table::read(label, text, &COLUMNS)?;
    let mut photographs: Vec<KeptPhotograph> = Vec::new();
    for row in table.rows() {
        let name = row.filled(PHOTO, "the photograph's name")?;
        let known = photographs.iter().position(|known| known.name == name);
        let index = known.unwrap_or_else(|| {
            photographs.push(KeptPhotograph {
                name: name.to_owned(),
                patches: Vec::new(),
                chips: Vec::new(),
            });
            photographs.len() - 1
        });
        let photograph = &mut photographs[index];
        match row.text(SWATCH) {
            "" => photograph.patches.push(LinearPatch {
                field: field(row)?,
                reflectance: reflectance(row)?,
                measured: row.text(MEASURED) == "yes",
            }),
            swatch => photograph.chips.push(KeptChip {
                swatch: swatch.to_owned(),
                over: row.text("over").to_owned(),
                lab: Lab::new(row.number(&L)?, row.number(&A)?, row.number(&B)?),
                field: field(row)?,
            }),
        }
    }
    Ok(photographs)
}

fn field(row: Row<'_>) -> Result<LinearField> {
    Ok(LinearField {
        xyz: [row.number(&X)?, row.number(&Y)?, row.number(&Z)?],
        doubt: row.number(&DOUBT)?,
        offset: [row.number(&RIGHT)?, row.number(&DOWN)?],
    })
}

fn reflectance(row: Row<'_>) -> Result<Spectrum> {
    let mut reflectance = [0.0; SAMPLES];
    for (band, sample) in reflectance.iter_mut().enumerate() {
        let column = of_band(band);
        let text = row.text(&column);
        let value = text.parse().ok().filter(|r| (0.0..=1.5).contains(r));
        *sample = value.ok_or_else(|| {
            let finding = format!(
                "{column} is \"{}\"; expected a patch's reflectance, from 0 to 1.5",
                text.escape_debug()
            );
            let mend =
                "or take the rows of this photograph out: its chips then stay as they were read";
            row.fault(&column, Error::input(finding).mend(mend))
        })?;
    }
    Ok(Spectrum::from_fn(|band| reflectance[band]))
}

/// The column of a patch's reflectance at the wavelength of `band`, `r380` and on.
fn of_band(band: usize) -> String {
    format!("r{:.0}", Spectrum::wavelength_nm(band))
}

/// Puts `photograph` among the `changes`, in the place of what is kept of one of this name that no reading is left of; beside
/// what is kept where one is, `still_read`.
///
/// # Errors
/// A table that can't be read, with its place.
pub(super) fn put(
    changes: &mut Changes,
    photograph: &KeptPhotograph,
    still_read: bool,
) -> Result<()> {
    let header = || columns().join(",") + "\n";
    let mut text = (changes.files.find(PHOTOGRAPHS)?).unwrap_or_else(header);
    let label = changes.files.label(PHOTOGRAPHS);
    let mut table = Table::read(&label, &text, &COLUMNS)?;
    let of_it: Vec<usize> = (table.rows().enumerate())
        .filter(|(_, row)| row.text(PHOTO) == photograph.name)
        .map(|(index, _)| index)
        .collect();
    let patches = if of_it.is_empty() || !still_read {
        for index in of_it.iter().rev() {
            text = table.without_row(&text, *index);
        }
        table = Table::read(&label, &text, &COLUMNS)?;
        photograph.patches.as_slice()
    } else {
        // One chart serves all chips of a photograph.
        &[]
    };
    let columns = table.header().to_vec();
    if !text.ends_with('\n') {
        text.push('\n');
    }
    write(&mut text, &columns, photograph, patches);
    changes.put(PHOTOGRAPHS, text);
    Ok(())
}

/// The columns of a table that this program begins.
fn columns() -> Vec<String> {
    let columns = COLUMNS.required.iter().map(|column| (*column).to_owned());
    columns.chain((0..SAMPLES).map(of_band)).collect()
}

/// Adds a row for each of the `patches` of `photograph` and each of its chips to `text`, a table of these `columns`.
fn write(
    text: &mut String,
    columns: &[String],
    photograph: &KeptPhotograph,
    patches: &[LinearPatch],
) {
    for patch in patches {
        let cells = columns.iter().map(|column| match column.as_str() {
            PHOTO => text_cell(&photograph.name).into_owned(),
            MEASURED => if patch.measured { "yes" } else { "no" }.to_owned(),
            column => match (0..SAMPLES).find(|band| of_band(*band) == column) {
                Some(band) => format!("{:.5}", patch.reflectance[band]),
                None => of_field(&patch.field, column),
            },
        });
        *text += &row_text(cells, false);
    }
    for chip in &photograph.chips {
        let cells = columns.iter().map(|column| match column.as_str() {
            PHOTO => text_cell(&photograph.name).into_owned(),
            SWATCH => text_cell(&chip.swatch).into_owned(),
            "over" => text_cell(&chip.over).into_owned(),
            "L" => chip.lab.l.to_string(),
            "a" => chip.lab.a.to_string(),
            "b" => chip.lab.b.to_string(),
            column => of_field(&chip.field, column),
        });
        *text += &row_text(cells, false);
    }
}

/// What the cell in `column` says of a field; nothing in another column.
fn of_field(field: &LinearField, column: &str) -> String {
    let value = match column {
        "x" => field.xyz[0],
        "y" => field.xyz[1],
        "z" => field.xyz[2],
        "doubt" => field.doubt,
        "right" => field.offset[0],
        "down" => field.offset[1],
        _ => return String::new(),
    };
    format!("{value:.6}")
}

/// Has each chip of `read_again`, readings as they stand and their colours as read again, say its new colour.
///
/// # Errors
/// A table that can't be read, with its place.
pub(super) fn mark(changes: &mut Changes, read_again: &[(&Swatch, Lab)]) -> Result<()> {
    let Some(text) = changes.files.find(PHOTOGRAPHS)? else {
        return Ok(());
    };
    let table = Table::read(&changes.files.label(PHOTOGRAPHS), &text, &COLUMNS)?;
    let mut edits = HashMap::new();
    let mut taken = vec![false; table.rows().count()];
    for (swatch, lab) in read_again {
        for (index, row) in table.rows().enumerate() {
            let stands = [
                (&L, |lab: &Lab| lab.l),
                (&A, |lab| lab.a),
                (&B, |lab| lab.b),
            ] as [(&Number, fn(&Lab) -> f64); 3];
            let says = |(column, of): &(&Number, fn(&Lab) -> f64)| {
                row.optional_number(column).ok().flatten() == swatch.lab.as_ref().map(of)
            };
            let is_it = row.text(PHOTO) == swatch.photo
                && row.text(SWATCH) == swatch.id
                && row.text("over") == swatch.build.beneath.name()
                && stands.iter().all(says);
            if is_it && !taken[index] {
                taken[index] = true;
                for (column, of) in stands {
                    edits.insert((index, column.name), of(lab).to_string());
                }
                break;
            }
        }
    }
    changes.put(PHOTOGRAPHS, table.edited(&text, &edits));
    Ok(())
}
