//! The list of the chips on a board: which lies where, and what each was made of.

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
            build: builds::build(row, shelf)?,
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
    let lines: [(&str, fn(&BoardChip) -> u32); 2] =
        [("row", |chip| chip.row), ("column", |chip| chip.column)];
    for (name, of) in lines {
        let most = chips.iter().map(of).max().ok_or_else(|| {
            table.fault(Error::input(
                "the list names no chip; expected one row a field",
            ))
        })?;
        if let Some(empty) = (1..=most).find(|line| chips.iter().all(|chip| of(chip) != *line)) {
            let finding = format!("no chip lies in {name} {empty} of the board, which has {most}");
            let mend = format!("count the {name}s from the first that holds a chip");
            return Err(table.fault(Error::input(finding).mend(mend)));
        }
    }
    Ok(chips)
}
