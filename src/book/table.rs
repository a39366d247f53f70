//! A table of the book as typed cells, each of which knows its place.
//!
//! The tables are RFC 4180 CSV in UTF-8, parted by commas, the first row naming the columns in any order.
//! A byte-order mark, CR LF, blank lines and space around a cell are put up with. A row whose only filled
//! cell begins with `#` is a comment.

mod edit;
mod header;
mod records;

use std::borrow::Cow;
use std::collections::HashMap;
use std::path::{Path, PathBuf};

use jiff::civil::Date;

pub(super) use edit::row_text;
use header::Header;
use records::{Record, Records};

use super::number::Number;
use crate::error::{Error, Result};
use crate::materials::{check_name, check_seen};

/// The columns that a kind of table has; others are kept and not looked at.
pub(super) struct Columns {
    /// Those that must be there.
    pub(super) required: &'static [&'static str],
    /// Those that may be left out, as if all their cells were empty.
    pub(super) optional: &'static [&'static str],
}

/// What refuses a cell, by the column's name and what the cell holds.
type Check = fn(&str, &str) -> Result<()>;

impl Columns {
    /// What the cells of `column` have to pass; `None` where it is the user's own.
    fn check_of(&self, column: &str) -> Option<Check> {
        if !self.required.contains(&column) && !self.optional.contains(&column) {
            return None;
        }
        Some(if column == "note" || column.ends_with("mix") {
            check_seen
        } else {
            check_name
        })
    }
}

/// A table whose rows all have as many cells as the header.
#[derive(Clone, Debug)]
pub(super) struct Table {
    file: PathBuf,
    header: Record,
    /// The columns' names.
    names: Header,
    /// The rows below the header.
    records: Records,
}

/// One row of a [`Table`].
#[derive(Clone, Copy)]
pub(super) struct Row<'table> {
    table: &'table Table,
    record: &'table Record,
}

/// How a spreadsheet knows a formula.
const FORMULA_STARTS: [char; 4] = ['=', '+', '-', '@'];

/// What a user typed, as a cell that a spreadsheet takes for text: behind an apostrophe where it would
/// else be run as a formula.
pub(super) fn text_cell(typed: &str) -> Cow<'_, str> {
    let typed = typed.trim();
    if typed.trim_start_matches('\'').starts_with(FORMULA_STARTS) {
        format!("'{typed}").into()
    } else {
        typed.into()
    }
}

/// What was typed into a cell; undoes [`text_cell`].
fn typed_text(cell: &str) -> &str {
    match cell.strip_prefix('\'') {
        Some(rest) if rest.trim_start_matches('\'').starts_with(FORMULA_STARTS) => rest,
        _ => cell,
    }
}

impl Table {
    /// Reads `text`, the whole of `file`.
    ///
    /// # Errors
    /// Each names the line: no header, another separator than the comma, a column that is missing or stands
    /// twice, a row with too few or too many fields, a quote that never closes.
    pub(super) fn read(file: &Path, text: &str, columns: &Columns) -> Result<Self> {
        Self::parse(file, text, columns).map_err(|error| error.in_file(file))
    }

    fn parse(file: &Path, text: &str, columns: &Columns) -> Result<Self> {
        let mut records = Records::read(text)?;
        records.retain(|all, record| !all.is_remark(record));
        let header = records.take_first().ok_or_else(|| {
            Error::input("nothing stands in this table")
                .mend(format!(
                    "its first row names the columns: {}",
                    columns.required.join(", ")
                ))
                .at(1, None)
        })?;
        let names: Vec<String> = records.cells(&header).map(str::to_owned).collect();
        check_header(&names, columns).map_err(|error| error.at(header.line, None))?;
        let checks: Vec<Option<Check>> =
            (names.iter()).map(|name| columns.check_of(name)).collect();
        for row in records.records() {
            check_length(&names, records.width(row)).map_err(|error| error.at(row.line, None))?;
            check_shown(&names, &checks, records.cells(row), row.line)?;
        }
        Ok(Self {
            file: file.to_owned(),
            header,
            names: Header::of(names),
            records,
        })
    }

    /// The rows in order.
    pub(super) fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        (self.records.records().iter()).map(|record| Row {
            table: self,
            record,
        })
    }

    /// The columns' names in order.
    pub(super) fn header(&self) -> &[String] {
        self.names.names()
    }

    /// The header's line in the file.
    pub(super) fn header_line(&self) -> u64 {
        self.header.line
    }

    /// Whether the table has a column called `name`.
    pub(super) fn has(&self, name: &str) -> bool {
        self.names.index(name).is_some()
    }

    /// How many rows there are.
    pub(super) fn len(&self) -> usize {
        self.records.records().len()
    }

    /// Where each row, the header first, ends in the text, before the line's end.
    fn row_ends(&self) -> impl Iterator<Item = usize> {
        let rows = std::iter::once(&self.header).chain(self.records.records());
        rows.map(|record| record.span.end)
    }

    /// `error` of the table as a whole.
    pub(super) fn fault(&self, error: Error) -> Error {
        error.in_file(&self.file)
    }

    /// Refuses a table with no rows, or in which a cell of `column` is empty or stands twice.
    pub(super) fn check_names(&self, column: &str) -> Result<()> {
        if self.records.records().is_empty() {
            return Err(self.fault(Error::input(format!(
                "the table names no {column}; expected at least one row below the header"
            ))));
        }
        let mut lines = HashMap::new();
        for row in self.rows() {
            let name = row.filled(column, "a name")?;
            if let Some(line) = lines.insert(name, row.record.line) {
                return Err(row.fault(
                    column,
                    Error::input(format!(
                        "{column} `{}` stands on line {line} already",
                        name.escape_debug()
                    ))
                    .mend("give each its own name"),
                ));
            }
        }
        Ok(())
    }
}

impl<'table> Row<'table> {
    /// The row's line in its file.
    pub(super) fn line(&self) -> u64 {
        self.record.line
    }

    /// All its cells, in the order of the header.
    pub(super) fn cells(&self) -> impl ExactSizeIterator<Item = &'table str> + Clone + use<'table> {
        self.table.records.cells(self.record)
    }

    /// The cell in `column`, which may be empty or absent.
    pub(super) fn text(&self, column: &str) -> &'table str {
        self.index(column).map_or("", |index| {
            typed_text(self.table.records.cell(self.record, index))
        })
    }

    /// The cell in `column`, which must hold something; `expected` says what.
    pub(super) fn filled(&self, column: &str, expected: &str) -> Result<&'table str> {
        match self.text(column) {
            "" => Err(self.fault(
                column,
                Error::input(format!("{column} is empty; expected {expected}")),
            )),
            text => Ok(text),
        }
    }

    /// The number in `column`, which must be there.
    pub(super) fn number(&self, column: &Number) -> Result<f64> {
        self.optional_number(column)?.ok_or_else(|| {
            let finding = format!("{} is empty; expected {}", column.name, column.expected());
            self.fault(column.name, Error::input(finding).mend(column.advice()))
        })
    }

    /// The number in `column`, if one is there.
    pub(super) fn optional_number(&self, column: &Number) -> Result<Option<f64>> {
        match self.text(column.name) {
            "" => Ok(None),
            text => self.at(column.name, column.read(text)).map(Some),
        }
    }

    /// The day in `column`, which must be there.
    pub(super) fn day(&self, column: &str) -> Result<Date> {
        let cell = self.text(column);
        cell.parse().map_err(|_| {
            let found = cell.escape_debug();
            let error = Error::input(format!("{column} is \"{found}\"; expected a day"));
            self.fault(
                column,
                error.mend("write year, month, day as in 2026-03-09"),
            )
        })
    }

    /// `outcome` of the cell in `column`, its error with the cell's place.
    pub(super) fn at<T>(&self, column: &str, outcome: Result<T>) -> Result<T> {
        outcome.map_err(|error| self.fault(column, error))
    }

    /// `error` with the place of the cell in `column`.
    pub(super) fn fault(&self, column: &str, error: Error) -> Error {
        let column = self.index(column).map(|index| index as u64 + 1);
        error.in_file(&self.table.file).at(self.record.line, column)
    }

    fn index(&self, column: &str) -> Option<usize> {
        self.table.names.index(column)
    }
}

fn check_header(names: &[String], columns: &Columns) -> Result<()> {
    if let [only] = names {
        for (mark, name) in [(';', "semicolons"), ('\t', "tabs")] {
            if only.contains(mark) {
                return Err(Error::input(format!(
                    "the columns are parted by {name}; expected commas"
                ))
                .mend("export the table again as CSV with commas, and numbers with a point"));
            }
        }
    }
    let known = || columns.required.iter().chain(columns.optional);
    for name in known() {
        if names.iter().filter(|cell| cell == name).count() > 1 {
            return Err(
                Error::input(format!("the column {name} stands twice in the header"))
                    .mend("keep one of the two"),
            );
        }
    }
    for name in columns.required {
        if !names.iter().any(|cell| cell == name) {
            let strangers: Vec<&str> = names
                .iter()
                .map(String::as_str)
                .filter(|cell| !cell.is_empty() && !known().any(|name| name == cell))
                .collect();
            let no_known_column = !names.iter().any(|cell| known().any(|name| name == cell));
            return Err(if no_known_column {
                Error::input("the first row names no column of this table")
                    .mend(format!("it must name {}", columns.required.join(", ")))
            } else if strangers.is_empty() {
                Error::input(format!("the column {name} is missing"))
                    .mend("the first row names the columns")
            } else {
                Error::unknown_name("column", name, strangers)
            });
        }
    }
    Ok(())
}

fn check_length(names: &[String], found: usize) -> Result<()> {
    let expected = names.len();
    if found < expected {
        return Err(Error::input(format!(
            "{found} fields in a row of {expected}; {} is the first that is missing",
            names[found]
        ))
        .mend("an empty cell keeps its comma"));
    }
    if found > expected {
        return Err(
            Error::input(format!("{found} fields in a row of {expected}"))
                .mend("write 2.1, not 2,1; put text that holds a comma in quotes"),
        );
    }
    Ok(())
}

/// Refuses a cell that would not be shown as it is, or is too long for what its column holds; the user's own columns are
/// let be.
fn check_shown<'a>(
    names: &[String],
    checks: &[Option<Check>],
    cells: impl Iterator<Item = &'a str>,
    line: u64,
) -> Result<()> {
    for (index, (check, cell)) in checks.iter().zip(cells).enumerate() {
        if let Some(check) = check {
            check(&names[index], cell).map_err(|error| error.at(line, Some(index as u64 + 1)))?;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    const COLUMNS: Columns = Columns {
        required: &["name", "depth_mm"],
        optional: &["note"],
    };
    const DEPTH_MM: Number = Number {
        name: "depth_mm",
        range: (0.5, 10.0),
        example: "2.1",
    };

    fn read(text: &str) -> Result<Table> {
        Table::read(Path::new("t.csv"), text, &COLUMNS)
    }

    fn refusal(text: &str) -> String {
        match read(text) {
            Ok(_) => panic!("taken: {text:?}"),
            Err(error) => error.to_string(),
        }
    }

    fn cells(text: &str) -> Vec<Vec<String>> {
        let all = Records::read(text).unwrap_or_else(|error| panic!("{text:?}: {error}"));
        let cells = |record| all.cells(record).map(str::to_owned).collect();
        all.records().iter().map(cells).collect()
    }

    /// Source: Y. Shafranovich (2005), RFC 4180, section 2, the examples of rules 1 to 7.
    #[test]
    fn the_examples_of_rfc_4180_are_read_as_it_says() {
        let two = vec![vec!["aaa", "bbb", "ccc"], vec!["zzz", "yyy", "xxx"]];
        assert_eq!(cells("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n"), two, "rule 1");
        assert_eq!(cells("aaa,bbb,ccc\r\nzzz,yyy,xxx"), two, "rule 2");
        assert_eq!(
            cells("\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx"),
            two,
            "rule 5"
        );
        let broken = vec![vec!["aaa", "b\r\nbb", "ccc"], vec!["zzz", "yyy", "xxx"]];
        assert_eq!(
            cells("\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx"),
            broken,
            "rule 6"
        );
        assert_eq!(
            cells("\"aaa\",\"b\"\"bb\",\"ccc\""),
            [["aaa", "b\"bb", "ccc"]],
            "rule 7"
        );
    }

    #[test]
    fn lines_are_counted_through_blanks_comments_line_ends_and_quoted_breaks() {
        for end in ["\n", "\r\n"] {
            let text = [
                "\u{feff}name,depth_mm,note",
                "",
                "# a comment,,",
                "a,1,\"one",
                "two\"",
                "   ",
                "",
                "b,2,",
            ]
            .join(end);
            let table = read(&text).expect("a loose but sound table");
            let lines: Vec<u64> = table.rows().map(|row| row.line()).collect();
            assert_eq!(lines, [4, 8], "with line end {end:?}");
            let ends: Vec<&str> = table.row_ends().map(|end| &text[..end]).collect();
            assert!(ends[0].ends_with("note"), "the header's end");
            assert!(ends[1].ends_with("two\""), "the end of a row of two lines");
            assert!(ends[2].ends_with("b,2,"), "the end of the last row");
        }
    }

    #[test]
    fn a_table_of_another_shape_is_refused_in_one_line() {
        let cases = [
            (
                "",
                "t.csv:1: nothing stands in this table (its first row names the columns: name, depth_mm)",
            ),
            (
                "name;depth_mm\na;2,1\n",
                "t.csv:1: the columns are parted by semicolons; expected commas (export the table again as CSV with commas, and numbers with a point)",
            ),
            (
                "name,depth\na,1\n",
                "t.csv:1: no column is called `depth_mm` (did you mean `depth`?)",
            ),
            (
                "name,note\na,1\n",
                "t.csv:1: the column depth_mm is missing (the first row names the columns)",
            ),
            (
                "name,depth_mm,name\n",
                "t.csv:1: the column name stands twice in the header (keep one of the two)",
            ),
            (
                "name,depth_mm\n\na,2,1\n",
                "t.csv:3: 3 fields in a row of 2 (write 2.1, not 2,1; put text that holds a comma in quotes)",
            ),
            (
                "name,depth_mm,note\na,2\n",
                "t.csv:2: 2 fields in a row of 3; note is the first that is missing (an empty cell keeps its comma)",
            ),
            (
                "name,depth_mm,note\na,2,\"open\nb,3,\n",
                "t.csv:2: a quote opens in this row and never closes (put a quote at both ends of the cell, and write a quote inside it twice)",
            ),
        ];
        for (text, line) in cases {
            assert_eq!(refusal(text), line, "{text:?}");
        }
    }

    #[test]
    fn a_number_out_of_place_is_mended() {
        let line = |cell: &str| {
            let text = format!("name,depth_mm\na,{cell}\n");
            let table = read(&text).expect("its shape is sound");
            let row = table.rows().next().expect("one row");
            row.number(&DEPTH_MM).expect_err(cell).to_string()
        };
        let expected = "expected a number from 0.5 to 10";
        let cases = [
            (
                "\"2,1\"",
                format!("t.csv:2:2: depth_mm is \"2,1\"; {expected} with a point (write 2.1)"),
            ),
            (
                "two",
                format!(
                    "t.csv:2:2: depth_mm is \"two\"; {expected} with a point (write digits, such as 2.1)"
                ),
            ),
            (
                "NaN",
                format!(
                    "t.csv:2:2: depth_mm is \"NaN\"; {expected} with a point (write digits, such as 2.1)"
                ),
            ),
            ("500", format!("t.csv:2:2: depth_mm is \"500\"; {expected}")),
            (
                "",
                format!("t.csv:2:2: depth_mm is empty; {expected} (write digits, such as 2.1)"),
            ),
        ];
        for (cell, expected) in cases {
            assert_eq!(line(cell), expected, "{cell:?}");
        }
    }

    /// Source: OWASP, CSV Injection, which names the signs that a spreadsheet takes for the start of a formula; from memory.
    /// It names tab and carriage return too, which are space and don't stay at a cell's start.
    #[test]
    fn typed_text_comes_back_and_is_no_formula_to_a_spreadsheet() {
        for typed in [
            "=1+1", "-3 °C", "+", "@all", "'=quoted", "'tis", "3-4", "", "#12",
        ] {
            let cell = text_cell(typed);
            let would_be_run = ['=', '+', '-', '@'].contains(&cell.chars().next().unwrap_or(' '));
            assert!(!would_be_run, "{cell} would be run");
            assert_eq!(typed_text(&cell), typed, "there and back");
        }
        for (typed, cell) in [
            ("=1+1", "'=1+1"),
            ("+1", "'+1"),
            ("-1", "'-1"),
            ("@all", "'@all"),
            ("\t=1", "'=1"),
            ("\r@all", "'@all"),
        ] {
            assert_eq!(text_cell(typed), cell, "marked as text");
        }
        assert_eq!(text_cell("plain"), "plain", "left alone");
    }
}
