//! Rows of `swatches.csv` mended, taken out and put back; what stood before is kept in `history.csv`.
//!
//! Every change has a number, and `history.csv` keeps the rows that it changed as they stood, with all their columns.

use std::collections::HashMap;
use std::fmt;
use std::path::Path;

use jiff::civil::Date;

use super::changes::Changes;
use super::files::Files;
use super::number::Number;
use super::swatches::{COLUMNS, SWATCHES, cell, check};
use super::table::{Columns, Row, Table};
use crate::colour::Lab;
use crate::error::{Error, Result};
use crate::materials::{Shelf, Swatch};

/// The file of a book that holds rows as they stood before they were changed.
const HISTORY: &str = "history.csv";

const HISTORY_COLUMNS: Columns = Columns {
    required: &[CHANGE.name, DAY, HOW],
    optional: &[],
};

const CHANGE: Number = Number {
    name: "change_number",
    range: (1.0, 1e9),
    example: "1",
};
const DAY: &str = "changed_on";
const HOW: &str = "changed_how";
const READ_AGAIN: &str = "read again";

/// What was done to rows of the log.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Change {
    /// Something in them was put right.
    Mended,
    /// They were taken out.
    Removed,
    /// A calibration read them again off what is kept of their photograph.
    ReadAgain,
}

impl fmt::Display for Change {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Mended => "mended",
            Self::Removed => "removed",
            Self::ReadAgain => READ_AGAIN,
        })
    }
}

/// A change that was taken back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Undone {
    /// The swatch; the photograph, where readings of one or more were read again.
    pub swatch: String,
    /// How many rows stand again as they did.
    pub rows: usize,
    /// What had been done to them.
    pub change: Change,
}

/// The log and its history, as they stand in a folder whose lock is held.
struct Log<'a> {
    folder: &'a Path,
    files: Files,
    shelf: &'a Shelf,
    text: String,
    table: Table,
}

impl<'a> Log<'a> {
    fn read(folder: &'a Path, shelf: &'a Shelf) -> Result<Self> {
        let files = Files::Folder(folder.to_owned());
        let text = files.text(SWATCHES)?;
        let table = Table::read(&files.label(SWATCHES), &text, &COLUMNS)?;
        Ok(Self {
            folder,
            files,
            shelf,
            text,
            table,
        })
    }

    /// Indices of the rows of the swatch called `id`; none where it isn't there.
    fn rows_if_any(&self, id: &str) -> Vec<usize> {
        let of_swatch =
            |(index, row): (usize, Row<'_>)| (row.text("swatch") == id).then_some(index);
        let rows = self.table.rows().enumerate();
        rows.filter_map(of_swatch).collect()
    }

    /// Indices of the rows of the swatch called `id`, of which there is at least one.
    fn rows_of(&self, id: &str) -> Result<Vec<usize>> {
        let rows = self.rows_if_any(id);
        if rows.is_empty() {
            let known = self.table.rows().map(|row| row.text("swatch"));
            return Err(Error::unknown_name("swatch", id, known));
        }
        Ok(rows)
    }

    /// The text of the history and its table, empty where nothing was changed yet.
    fn history(&self) -> Result<(String, Table)> {
        let text = match self.files.find(HISTORY)? {
            Some(text) => text,
            None => format!("{},{DAY},{HOW}\n", CHANGE.name),
        };
        let table = Table::read(&self.files.label(HISTORY), &text, &HISTORY_COLUMNS)?;
        Ok((text, table))
    }

    /// Keeps these `rows` as they stand, then has the log say `text` instead.
    fn replace(&self, rows: &[usize], change: Change, day: Date, text: &str) -> Result<()> {
        let history = self.history_with(rows, change, day, text)?;
        write(self.folder, history, text.to_owned())
    }

    /// The history with these `rows` as they stand, before the log says `text` instead.
    fn history_with(
        &self,
        rows: &[usize],
        change: Change,
        day: Date,
        text: &str,
    ) -> Result<String> {
        // What nobody can read never takes the place of what can be read.
        check(&self.files, self.shelf, text)
            .map_err(|error| error.without_place().within("the swatch as it would be"))?;
        let (mut history, mut table) = self.history()?;
        let mut last = 0.0;
        for row in table.rows() {
            last = row.number(&CHANGE)?.max(last);
        }
        let header = self.table.header();
        for index in rows {
            let row = self.table.rows().nth(*index).expect("a row of this table");
            let lacking = header.iter().map(String::as_str);
            let lacking: Vec<&str> = lacking.filter(|column| !table.has(column)).collect();
            history = table.with_row(&history, &lacking, |column| match column {
                DAY => day.to_string(),
                HOW => change.to_string(),
                number if number == CHANGE.name => (last + 1.0).to_string(),
                column => cell_of(header, row, column).to_owned(),
            });
            table = Table::read(&self.files.label(HISTORY), &history, &HISTORY_COLUMNS)?;
        }
        Ok(history)
    }
}

/// Has the book in `folder` say both, or neither.
fn write(folder: &Path, history: String, log: String) -> Result<()> {
    let mut changes = Changes::of(folder);
    changes.put(HISTORY, history);
    changes.put(SWATCHES, log);
    changes.write(folder)
}

/// `text`, which is `table`, without these `rows`, which ascend: taken from the end, none moves another.
fn without(table: &Table, text: &str, rows: &[usize]) -> String {
    let rows = rows.iter().rev();
    rows.fold(text.to_owned(), |text, row| table.without_row(&text, *row))
}

/// The cell of `row` in `column` as it is written; empty where `header` has no such column.
fn cell_of<'r>(header: &[String], row: Row<'r>, column: &str) -> &'r str {
    let index = header.iter().position(|name| name == column);
    index
        .and_then(|index| row.cells().nth(index))
        .unwrap_or_default()
}

/// Has `edit` change the readings of the swatch called `id`, which are among those `logged`; returns how many rows that are.
pub(super) fn mend(
    folder: &Path,
    shelf: &Shelf,
    logged: &[Swatch],
    id: &str,
    day: Date,
    edit: impl Fn(&mut [Swatch]) -> Result<()>,
) -> Result<usize> {
    let log = Log::read(folder, shelf)?;
    let rows = log.rows_of(id)?;
    let stood: Vec<Swatch> = rows.iter().map(|row| logged[*row].clone()).collect();
    let mut mended = stood.clone();
    edit(&mut mended)?;
    let columns = || COLUMNS.required.iter().chain(COLUMNS.optional);
    let mut edits = HashMap::new();
    for ((row, stood), mended) in rows.iter().zip(&stood).zip(&mended) {
        // The spectrum's file stays what it is.
        let differs = |column: &&&str| cell(stood, column, "") != cell(mended, column, "");
        edits.extend(
            columns()
                .filter(differs)
                .map(|column| ((*row, *column), cell(mended, column, ""))),
        );
    }
    if edits.is_empty() {
        let finding = format!("swatch `{}` says that already", id.escape_debug());
        return Err(Error::input(finding).mend("`dropwise swatch list` shows the log"));
    }
    let changed: Vec<usize> = rows
        .into_iter()
        .filter(|row| edits.keys().any(|(of, _)| of == row))
        .collect();
    let text = log.table.edited(&log.text, &edits);
    log.replace(&changed, Change::Mended, day, &text)?;
    Ok(changed.len())
}

/// Puts among the `changes` that readings of the log, each by its index, have the colours beside them: they were read again.
pub(super) fn read_again(
    changes: &mut Changes,
    folder: &Path,
    shelf: &Shelf,
    again: &[(usize, &Swatch, Lab)],
    day: Date,
) -> Result<()> {
    let log = Log::read(folder, shelf)?;
    let mut edits = HashMap::new();
    for (row, swatch, lab) in again {
        let read = Swatch {
            lab: Some(*lab),
            ..(*swatch).clone()
        };
        edits.extend(COLOUR.map(|column| ((*row, column), cell(&read, column, ""))));
    }
    let text = log.table.edited(&log.text, &edits);
    let mut rows: Vec<usize> = again.iter().map(|(row, ..)| *row).collect();
    rows.sort_unstable();
    let history = log.history_with(&rows, Change::ReadAgain, day, &text)?;
    changes.put(HISTORY, history);
    changes.put(SWATCHES, text);
    Ok(())
}

/// The columns of a reading's colour.
const COLOUR: [&str; 3] = ["L", "a", "b"];

/// Takes the swatch called `id` out of the log; returns how many rows that were.
pub(super) fn remove(folder: &Path, shelf: &Shelf, id: &str, day: Date) -> Result<usize> {
    let log = Log::read(folder, shelf)?;
    let rows = log.rows_of(id)?;
    log.replace(
        &rows,
        Change::Removed,
        day,
        &without(&log.table, &log.text, &rows),
    )?;
    Ok(rows.len())
}

/// Puts the rows back as they stood before the last change, and takes that change out of the history.
pub(super) fn undo(folder: &Path, shelf: &Shelf) -> Result<Undone> {
    let log = Log::read(folder, shelf)?;
    let (history, table) = log.history()?;
    let last = table.rows().last().ok_or_else(|| {
        let finding = "nothing in this book was mended or removed";
        Error::input(finding).mend("`dropwise swatch mend` and `swatch remove` can be taken back")
    })?;
    let (number, swatch) = (last.number(&CHANGE)?, last.text("swatch").to_owned());
    let change = match last.text(HOW) {
        "removed" => Change::Removed,
        "mended" => Change::Mended,
        READ_AGAIN => Change::ReadAgain,
        other => {
            let finding = format!("`{}` is no change", other.escape_debug());
            return Err(last.fault(
                HOW,
                Error::input(finding).mend("write mended, removed or read again"),
            ));
        }
    };
    let mut kept = Vec::new();
    for (index, row) in table.rows().enumerate() {
        if row.number(&CHANGE)? == number {
            kept.push((index, row));
        }
    }
    let header = table.header();
    if change == Change::ReadAgain {
        return undo_read_again(&log, &history, &table, &kept);
    }
    let stands = log.rows_if_any(&swatch);
    let mut text = match change {
        Change::ReadAgain => unreachable!("it was taken back just above"),
        Change::Removed if !stands.is_empty() => {
            let finding = format!("another swatch is called `{}` now", swatch.escape_debug());
            return Err(
                Error::input(finding).mend("give that one another name in swatches.csv first")
            );
        }
        Change::Removed => log.text.clone(),
        // A chip of several readings may have been mended in one of them: that which lies on the same thing.
        Change::Mended => {
            let backings: Vec<&str> = kept
                .iter()
                .map(|(_, row)| cell_of(header, *row, "backing"))
                .collect();
            let lies_there = |row: &usize| {
                let row = log.table.rows().nth(*row).expect("a row of this table");
                backings.contains(&cell_of(log.table.header(), row, "backing"))
            };
            let all = stands.len() == kept.len();
            let out: Vec<usize> = stands
                .into_iter()
                .filter(|row| all || lies_there(row))
                .collect();
            without(&log.table, &log.text, &out)
        }
    };
    let current = Table::read(&log.files.label(SWATCHES), &text, &COLUMNS)?;
    for (_, row) in &kept {
        text = current.with_row(&text, &[], |column| {
            cell_of(header, *row, column).to_owned()
        });
    }
    check(&log.files, shelf, &text)
        .map_err(|error| error.without_place().within("the swatch as it stood"))?;
    let taken: Vec<usize> = kept.iter().map(|(index, _)| *index).collect();
    write(folder, without(&table, &history, &taken), text)?;
    Ok(Undone {
        swatch,
        rows: taken.len(),
        change,
    })
}

/// Gives the readings that are `kept` in the `history`, rows of its `table`, the colours that they had; what was mended of them
/// since stays.
fn undo_read_again(
    log: &Log<'_>,
    history: &str,
    table: &Table,
    kept: &[(usize, Row<'_>)],
) -> Result<Undone> {
    let header = table.header();
    let mut edits = HashMap::new();
    let mut taken = Vec::new();
    for (_, row) in kept {
        let is_it = |(index, there): &(usize, Row<'_>)| {
            ["swatch", "photo", "backing", "foam"]
                .iter()
                .all(|column| there.text(column) == cell_of(header, *row, column))
                && !taken.contains(index)
        };
        // A reading that was removed since is not brought back.
        if let Some((index, _)) = log.table.rows().enumerate().find(is_it) {
            taken.push(index);
            edits.extend(
                COLOUR.map(|column| ((index, column), cell_of(header, *row, column).to_owned())),
            );
        }
    }
    let text = log.table.edited(&log.text, &edits);
    check(&log.files, log.shelf, &text)
        .map_err(|error| error.without_place().within("the readings as they stood"))?;
    let rows: Vec<usize> = kept.iter().map(|(index, _)| *index).collect();
    write(log.folder, without(table, history, &rows), text)?;
    let photo = kept
        .first()
        .map_or("", |(_, row)| cell_of(header, *row, "photo"));
    Ok(Undone {
        swatch: photo.to_owned(),
        rows: taken.len(),
        change: Change::ReadAgain,
    })
}
