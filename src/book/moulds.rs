//! `moulds.csv`: the moulds of the shop, one row a mould, with what it takes or what it measures.
//!
//! It is read when a mould is named, and not with the shelf: no prediction depends on it.

use std::collections::HashMap;
use std::path::Path;

use super::additions::{Cells, grams, with_row};
use super::builds::THICKNESS_MM;
use super::changes::Changes;
use super::files::{Files, MOULDS};
use super::number::Number;
use super::table::{Columns, Row, Table, text_cell};
use super::{Book, write};
use crate::error::{Error, Result};
use crate::materials::{Cup, Grams, Millimetres, Mould};

const COLUMNS: Columns = Columns {
    required: &["mould"],
    optional: &[
        SKIN_G.name,
        AREA_CM2.name,
        THICKNESS_MM.name,
        FOAM_G.name,
        CAVITY_ML.name,
        PACKING.name,
        WASTE.name,
        "note",
    ],
};

const SKIN_G: Number = Number {
    name: "skin_g",
    range: Cup::BASE_MASS_G,
    example: "180",
};
const AREA_CM2: Number = Number {
    name: "skin_area_cm2",
    range: Mould::AREA_CM2,
    example: "450",
};
const FOAM_G: Number = Number {
    name: "foam_g",
    range: Cup::BASE_MASS_G,
    example: "90",
};
const CAVITY_ML: Number = Number {
    name: "cavity_ml",
    range: Mould::CAVITY_ML,
    example: "400",
};
const PACKING: Number = Number {
    name: "packing",
    range: Mould::PACKING,
    example: "1.1",
};
const WASTE: Number = Number {
    name: "waste",
    range: Mould::WASTE,
    example: "0.1",
};

impl Book {
    /// The moulds of the book, in its order; none where it has no `moulds.csv`.
    ///
    /// # Errors
    /// The first thing that is wrong in the table, with its place: a mould without any measure, two of one name.
    pub fn moulds(&self) -> Result<Vec<Mould>> {
        let Some((table, _)) = table(&self.files)? else {
            return Ok(Vec::new());
        };
        table.rows().map(mould).collect()
    }

    /// The mould called `name`.
    ///
    /// # Errors
    /// No such mould; as [`moulds`](Self::moulds).
    pub fn mould(&self, name: &str) -> Result<Mould> {
        self.moulds()
            .and_then(|moulds| found(moulds, name))
            .map(|(_, mould)| mould)
    }

    /// Writes `new` into the book.
    ///
    /// # Errors
    /// The demo, which is never written to; a mould of that name; one without any measure; a number out of range; a failure
    /// of the machine. The table is then as it was.
    pub fn add_mould(&mut self, new: &Mould) -> Result<()> {
        self.change(|book, folder| {
            let known = book.moulds()?;
            let lower = new.name.to_lowercase();
            if known.iter().any(|mould| mould.name.to_lowercase() == lower) {
                let finding = format!(
                    "a mould called `{}` stands in the book already",
                    new.name.escape_debug()
                );
                return Err(Error::input(finding)
                    .mend("give this one another name, or mark the one that is there"));
            }
            let number = |value: Option<f64>| value.map_or_else(String::new, |it| it.to_string());
            let cells: Cells = vec![
                ("mould", text_cell(&new.name).into_owned()),
                (SKIN_G.name, new.skin_mass.map_or_else(String::new, grams)),
                (AREA_CM2.name, number(new.skin_area_cm2)),
                (THICKNESS_MM.name, number(new.thickness.map(|it| it.0))),
                (FOAM_G.name, new.foam_mass.map_or_else(String::new, grams)),
                (CAVITY_ML.name, number(new.cavity_ml)),
                (PACKING.name, new.packing.to_string()),
                (WASTE.name, new.waste.to_string()),
                ("note", text_cell(&new.note).into_owned()),
            ];
            let mut changes = Changes::of(folder);
            if changes.files.find(MOULDS)?.is_none() {
                let columns = COLUMNS.required.iter().chain(COLUMNS.optional);
                changes.put(
                    MOULDS,
                    columns.copied().collect::<Vec<_>>().join(",") + "\n",
                );
            }
            let longer = with_row(&changes.files, MOULDS, &COLUMNS, &cells)?;
            let what = format!("the new mould `{}`", new.name.escape_debug());
            keep(&book.files, folder, &longer, &what)
        })
    }

    /// Writes what the mould called `name` took of mixed skin and foam (what is `None` stays as it is), and returns it as it now
    /// is.
    ///
    /// # Errors
    /// The demo; no such mould; a mass out of range; a failure of the machine. The table is then as it was.
    pub fn mark_mould(
        &mut self,
        name: &str,
        skin: Option<Grams>,
        foam: Option<Grams>,
    ) -> Result<Mould> {
        self.change(|book, folder| {
            let (index, mould) = found(book.moulds()?, name)?;
            let (table, text) = table(&book.files)?.expect("it was found in it just now");
            let taken = [(SKIN_G.name, skin), (FOAM_G.name, foam)];
            let cells = taken
                .into_iter()
                .filter_map(|(column, mass)| Some((column, mass?)));
            let edits: HashMap<_, _> = cells
                .map(|(column, mass)| ((index, column), grams(mass)))
                .collect();
            let edited = table.edited(&text, &edits);
            let what = format!("the mark on `{}`", mould.name.escape_debug());
            keep(&book.files, folder, &edited, &what)?;
            Ok(Mould {
                skin_mass: skin.or(mould.skin_mass),
                foam_mass: foam.or(mould.foam_mass),
                ..mould
            })
        })
    }

    /// Takes the mould called `name` out of the book, and returns it as it was.
    ///
    /// # Errors
    /// The demo; no such mould; a failure of the machine. The table is then as it was.
    pub fn remove_mould(&mut self, name: &str) -> Result<Mould> {
        self.change(|book, folder| {
            let (index, mould) = found(book.moulds()?, name)?;
            let (table, text) = table(&book.files)?.expect("it was found in it just now");
            let shorter = table.without_row(&text, index);
            write::write_whole(&folder.join(MOULDS), shorter.as_bytes())?;
            Ok(mould)
        })
    }
}

/// The table of `files` and its text; `None` where there is none, or no mould stands in it.
fn table(files: &Files) -> Result<Option<(Table, String)>> {
    let found = files.find(MOULDS)?;
    found
        .map(|text| Ok((parse(files, &text)?, text)))
        .transpose()
}

fn parse(files: &Files, text: &str) -> Result<Table> {
    let table = Table::read(&files.label(MOULDS), text, &COLUMNS)?;
    if table.rows().next().is_some() {
        table.check_names("mould")?;
    }
    Ok(table)
}

/// Writes `text` as the table of `folder`, if it can be read back; a fault is that of `what` is new.
fn keep(files: &Files, folder: &Path, text: &str, what: &str) -> Result<()> {
    let read_back =
        parse(files, text).and_then(|table| table.rows().try_for_each(|row| mould(row).map(drop)));
    read_back.map_err(|error| error.without_place().within(what))?;
    write::write_whole(&folder.join(MOULDS), text.as_bytes())
}

/// The mould of `moulds` called `name`, be it in other case, and its index.
fn found(moulds: Vec<Mould>, name: &str) -> Result<(usize, Mould)> {
    let lower = name.to_lowercase();
    let index = moulds
        .iter()
        .position(|mould| mould.name.to_lowercase() == lower);
    match index {
        Some(index) => Ok((index, moulds.into_iter().nth(index).expect("it is in it"))),
        None if moulds.is_empty() => {
            let finding = format!(
                "no mould called `{}` stands in the book",
                name.escape_debug()
            );
            Err(Error::input(finding).mend(
                "write it down with `dropwise mould add`, by what it takes or what it measures",
            ))
        }
        None => Err(Error::unknown_name(
            "mould",
            name,
            moulds.iter().map(|mould| mould.name.as_str()),
        )),
    }
}

fn mould(row: Row<'_>) -> Result<Mould> {
    let optional = |column| row.optional_number(column);
    let mould = Mould {
        name: row.filled("mould", "what the mould is called")?.to_owned(),
        skin_mass: optional(&SKIN_G)?.map(Grams),
        skin_area_cm2: optional(&AREA_CM2)?,
        thickness: optional(&THICKNESS_MM)?.map(Millimetres),
        foam_mass: optional(&FOAM_G)?.map(Grams),
        cavity_ml: optional(&CAVITY_ML)?,
        packing: optional(&PACKING)?.unwrap_or(1.0),
        waste: optional(&WASTE)?.unwrap_or(Mould::USUAL_WASTE),
        note: row.text("note").to_owned(),
    };
    let is_measured = mould.skin_mass.is_some() || mould.skin_area_cm2.is_some();
    if !is_measured && !mould.holds_foam() {
        let finding = format!(
            "nothing tells how much the mould `{}` takes",
            mould.name.escape_debug()
        );
        return Err(row.fault(
            "mould",
            Error::input(finding).mend(
                "write what it is known to take (skin_g, foam_g), or what it measures (skin_area_cm2, cavity_ml)",
            ),
        ));
    }
    Ok(mould)
}
