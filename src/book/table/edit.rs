//! The text of a table with cells set or a row more, all else byte for byte.

use std::collections::HashMap;

use super::Table;

impl Table {
    /// `text`, which is this table, with the cells of `edits` (by row, counted from 0 below the header, and column) set.
    /// A column that the table lacks is put at its end; rows without an edit stay byte for byte, but for that.
    pub(crate) fn edited(&self, text: &str, edits: &HashMap<(usize, &str), String>) -> String {
        let mut lacking: Vec<&str> = edits.keys().map(|(_, column)| *column).collect();
        lacking.retain(|column| !self.has(column));
        lacking.sort_unstable();
        lacking.dedup();
        let mut edited = String::with_capacity(text.len() + 64 * edits.len());
        let mut copied = 0;
        let rows = std::iter::once(&self.header).chain(self.records.records());
        for (index, record) in rows.enumerate() {
            edited += &text[copied..record.span.start];
            copied = record.span.end;
            let edit = |column: &str| {
                let row = index.checked_sub(1)?;
                edits
                    .iter()
                    .find(|((of, at), _)| *of == row && *at == column)
                    .map(|(_, cell)| cell)
            };
            let columns = self.header().iter().map(String::as_str);
            if columns.clone().any(|column| edit(column).is_some()) {
                let cells = columns.zip(self.records.cells(record));
                let cells = cells
                    .map(|(column, cell)| edit(column).map_or(cell, String::as_str).to_owned());
                edited += row_text(cells, false).trim_end_matches('\n');
            } else {
                edited += &text[record.span.clone()];
            }
            for column in &lacking {
                edited.push(',');
                edited += if index == 0 {
                    column
                } else {
                    edit(column).map_or("", String::as_str)
                };
            }
        }
        edited + &text[copied..]
    }

    /// `text`, which is this table, with one more row of the cells that `cell` gives, and with the columns `lacking` put at
    /// the end of each row; all else stays byte for byte.
    pub(crate) fn with_row(
        &self,
        text: &str,
        lacking: &[&str],
        cell: impl Fn(&str) -> String,
    ) -> String {
        let mut longer = String::new();
        let mut copied = 0;
        for (row, end) in self.row_ends().enumerate() {
            longer += &text[copied..end];
            for column in lacking {
                longer.push(',');
                longer += if row == 0 { column } else { "" };
            }
            copied = end;
        }
        longer += &text[copied..];
        let crlf = self
            .row_ends()
            .next()
            .is_some_and(|end| text[end..].starts_with("\r\n"));
        if !longer.ends_with('\n') {
            longer += if crlf { "\r\n" } else { "\n" };
        }
        let columns = self.header().iter().map(String::as_str);
        let columns = columns.chain(lacking.iter().copied());
        longer + &row_text(columns.map(cell), crlf)
    }
}

impl Table {
    /// `text`, which is this table, without the row at `index`, counted from 0 below the header; all else stays byte for byte.
    pub(crate) fn without_row(&self, text: &str, index: usize) -> String {
        let span = &self.records.records()[index].span;
        let after = &text[span.end..];
        let line_end = match after {
            after if after.starts_with("\r\n") => 2,
            after if after.starts_with(['\n', '\r']) => 1,
            _ => 0,
        };
        format!("{}{}", &text[..span.start], &after[line_end..])
    }
}

/// A row as RFC 4180 has it, cells in quotes where they must be, with its line's end.
pub(crate) fn row_text(cells: impl Iterator<Item = String>, crlf: bool) -> String {
    let line_end = if crlf {
        csv::Terminator::CRLF
    } else {
        csv::Terminator::Any(b'\n')
    };
    let mut writer = csv::WriterBuilder::new()
        .terminator(line_end)
        .from_writer(Vec::new());
    let written = writer.write_record(cells.collect::<Vec<_>>());
    written.expect("a Vec takes every byte");
    let bytes = writer.into_inner().expect("a Vec takes every byte");
    String::from_utf8(bytes).expect("cells and separators are UTF-8")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: Y. Shafranovich (2005), RFC 4180, section 2, the examples of rules 6 and 7.
    #[test]
    fn a_row_is_quoted_as_rfc_4180_says_and_no_more() {
        let row = |cells: [&str; 3]| row_text(cells.map(str::to_owned).into_iter(), true);
        let expected = "aaa,\"b\r\nbb\",ccc\r\n";
        assert_eq!(row(["aaa", "b\r\nbb", "ccc"]), expected, "rule 6");
        let expected = "aaa,\"b\"\"bb\",ccc\r\n";
        assert_eq!(row(["aaa", "b\"bb", "ccc"]), expected, "rule 7");
        assert_eq!(row(["a,b", "-2.5", ""]), "\"a,b\",-2.5,\r\n", "a comma");
    }
}
