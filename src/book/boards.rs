//! The list of the chips on a board: which lies where, and what each was made of.

use std::collections::BTreeSet;
use std::path::Path;

use super::builds;
use super::files;
use super::table::{Columns, Table};
use crate::error::{Error, Result};
use crate::materials::{Build, Shelf};

/// Most rows and columns of a board.
const MOST_LINES: u32 = 50;

/// A chip on a board.
#[derive(Clone, Debug, PartialEq)]
pub struct BoardChip {
    /// Row, from 1 at the top.
    pub row: u32,
    /// Column, from 1 at the left.
    pub column: u32,
    /// The chip's name in the book.
    pub swatch: String,
    /// What it was made of, and what it lies on.
    pub build: Build,
}

/// Reads a list of chips: `row, column, swatch, base, base_g, mix, thickness_mm`, then `backing` and what else a build may
/// have; one row a field, rows and columns of the board from 1 at the top left. Names are looked up on `shelf`.
///
/// # Errors
/// No such file, or the first thing in it that is wrong, with its place: two chips in one field, a row or column of the board
/// in which there is none.
pub fn read_board_chips(path: &Path, shelf: &Shelf) -> Result<Vec<BoardChip>> {
    const COLUMNS: Columns = Columns {
        required: &[
            "row",
            "column",
            "swatch",
            "base",
            "base_g",
            "mix",
            "thickness_mm",
        ],
        optional: &["backing", "contact", "foam", "foam_g", "foam_mix"],
    };
    let table = Table::read(path, &files::named_text(path)?, &COLUMNS)?;
    let mut chips: Vec<(BoardChip, u64)> = Vec::new();
    let mut reader = builds::Reader::on(shelf);
    for row in table.rows() {
        let line = |column: &str| {
            let text = row.filled(column, "a whole number from 1")?;
            let number = text.parse().ok();
            let known = number.filter(|number| (1..=MOST_LINES).contains(number));
            known.ok_or_else(|| {
                let found = text.escape_debug();
                let finding = format!(
                    "{column} is \"{found}\"; expected a whole number from 1 to {MOST_LINES}"
                );
                row.fault(column, Error::input(finding))
            })
        };
        let chip = BoardChip {
            row: line("row")?,
            column: line("column")?,
            swatch: row.filled("swatch", "the chip's name")?.to_owned(),
            build: reader.build(row)?,
        };
        let same =
            |(other, _): &&(BoardChip, u64)| (other.row, other.column) == (chip.row, chip.column);
        if let Some((_, line)) = chips.iter().find(same) {
            let finding = format!(
                "row {} column {} of the board is on line {line} already",
                chip.row, chip.column
            );
            return Err(row.fault(
                "row",
                Error::input(finding).mend("give each field one line"),
            ));
        }
        chips.push((chip, row.line()));
    }
    let chips: Vec<BoardChip> = chips.into_iter().map(|(chip, _)| chip).collect();
    if chips.is_empty() {
        return Err(table.fault(Error::input(
            "the list names no chip; expected one row a field",
        )));
    }
    check_filled("row", chips.iter().map(|chip| chip.row)).map_err(|error| table.fault(error))?;
    check_filled("column", chips.iter().map(|chip| chip.column))
        .map_err(|error| table.fault(error))?;
    Ok(chips)
}

/// Refuses a board with a row or column, as `name` says, in which nothing lies; `taken` are those of its chips.
fn check_filled(name: &str, taken: impl Iterator<Item = u32>) -> Result<()> {
    let taken: BTreeSet<u32> = taken.collect();
    let most = taken.last().copied().unwrap_or(0);
    match (1..=most).find(|line| !taken.contains(line)) {
        None => Ok(()),
        Some(empty) => Err(Error::input(format!(
            "no chip lies in {name} {empty} of the board, which has {most}"
        ))
        .mend(format!(
            "count the {name}s from the first that holds a chip"
        ))),
    }
}
