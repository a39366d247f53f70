//! A table of readings as words, whichever format it came in.

use super::statements::Statement;

/// A word of a file, and where it stands.
#[derive(Clone, Debug)]
pub(super) struct Cell {
    pub(super) text: String,
    pub(super) line: u64,
    pub(super) column: Option<u64>,
}

/// A table of readings, before its words are understood.
#[derive(Clone, Debug, Default)]
pub(super) struct Grid {
    pub(super) statements: Vec<Statement>,
    pub(super) fields: Vec<Cell>,
    pub(super) sets: Vec<Vec<Cell>>,
}
