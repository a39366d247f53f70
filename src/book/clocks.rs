//! Clocks of cups that were mixed: when part A went into which pot of which cup of which part, in `clocks.csv`.
//!
//! They stand in the book and not in a browser alone, so that a cup whose clock was begun on one screen is counted on another, and
//! after the machine was off. They say nothing of materials, and a book without them is whole.

use std::path::Path;

use jiff::Timestamp;

use super::files::Files;
use super::write::write_whole;
use crate::error::{Error, FileKind, Result, read};

/// The table; a book without one has no clocks.
pub(super) const CLOCKS: &str = "clocks.csv";

/// Clocks that are older than this are taken out, hours: the slowest demoulds in two days. Common practice, no source.
const KEPT_H: i64 = 24 * 7;

/// When a pot of a cup was mixed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Clock {
    /// The part.
    pub part: String,
    /// Which pot of which of its cups, as in `skin 1`.
    pub cup: String,
    /// When part A went in.
    pub begun: Timestamp,
}

/// The clocks of `files`, the oldest first.
///
/// # Errors
/// A table that can't be read, with its place.
pub(super) fn list(files: &Files) -> Result<Vec<Clock>> {
    match files {
        Files::Folder(folder) | Files::Supposed { folder, .. } => read_table(&folder.join(CLOCKS)),
        Files::Demo => Ok(Vec::new()),
    }
}

fn read_table(path: &Path) -> Result<Vec<Clock>> {
    if !path.exists() {
        return Ok(Vec::new());
    }
    let bytes = read(path, FileKind::Table)?;
    let mut rows = csv::Reader::from_reader(bytes.as_slice());
    let mut clocks = Vec::new();
    for (line, row) in (2..).zip(rows.records()) {
        let faulty = |finding: String| {
            Error::input(finding)
                .mend("mend the row, or take it out: no recipe hangs on it")
                .at(line, None)
                .in_file(path)
        };
        let row = row.map_err(|cause| faulty(format!("no row of a table: {cause}")))?;
        let [part, cup, begun] = [0, 1, 2].map(|index| row.get(index).unwrap_or_default());
        let begun = begun.parse().map_err(|_| {
            faulty(format!(
                "begun is \"{}\"; expected a time such as 2026-03-14T15:09:26Z",
                begun.escape_debug()
            ))
        })?;
        clocks.push(Clock {
            part: part.to_owned(),
            cup: cup.to_owned(),
            begun,
        });
    }
    clocks.sort_by_key(|clock| clock.begun);
    Ok(clocks)
}

/// Puts `clock` into the table of the book in `folder`, in the place of an earlier one of the same cup; takes it out where `begun` is
/// `None`. Those that are long over are taken out likewise.
///
/// # Errors
/// A table that can't be read; a failure of the machine. The table is then as it was.
pub(super) fn set(
    folder: &Path,
    part: &str,
    cup: &str,
    begun: Option<Timestamp>,
    now: Timestamp,
) -> Result<()> {
    let path = folder.join(CLOCKS);
    let mut clocks = read_table(&path)?;
    clocks.retain(|clock| {
        let is_it = clock.part == part && clock.cup == cup;
        let age = now.duration_since(clock.begun);
        !is_it && age.as_hours() < KEPT_H
    });
    clocks.extend(begun.map(|begun| Clock {
        part: part.to_owned(),
        cup: cup.to_owned(),
        begun,
    }));
    let mut table = csv::Writer::from_writer(Vec::new());
    let in_memory = "memory takes all that is written";
    table
        .write_record(["part", "cup", "begun"])
        .expect(in_memory);
    for clock in &clocks {
        let begun = clock.begun.to_string();
        table
            .write_record([clock.part.as_str(), clock.cup.as_str(), begun.as_str()])
            .expect(in_memory);
    }
    let bytes = table.into_inner().expect(in_memory);
    write_whole(&path, &bytes)
}
