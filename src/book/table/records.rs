//! CSV text as records that know their place: RFC 4180, with a byte-order mark, CR LF and blank lines put up with.

use std::cell::RefCell;
use std::ops::Range;

use crate::error::{Error, Result};

/// One record of a text: a row, the header, or a comment.
pub(super) struct Record {
    /// Its line, from 1.
    pub(super) line: u64,
    /// Where it stands in the text, without the line's end.
    pub(super) span: Range<usize>,
    /// What it holds, without space around.
    pub(super) cells: Vec<String>,
}

impl Record {
    /// Whether it is blank or a comment.
    pub(super) fn is_remark(&self) -> bool {
        let mut filled = self.cells.iter().filter(|cell| !cell.is_empty());
        match (filled.next(), filled.next()) {
            (None, _) => true,
            (Some(only), None) => only.starts_with('#'),
            _ => false,
        }
    }
}

/// Every record of `text`, with its place.
pub(super) fn records(text: &str) -> Result<Vec<Record>> {
    let mark = text.len() - text.trim_start_matches('\u{feff}').len();
    let found = cells(&text[mark..]);
    let starts: Vec<usize> = found.iter().map(|(start, _)| mark + *start).collect();
    let (mut line, mut counted) = (1, 0);
    let mut records = Vec::new();
    for (index, (_, cells)) in found.into_iter().enumerate() {
        // The reader counts the ends of earlier lines, blank ones too, into the record after them.
        let start = starts[index];
        let raw = &text[start..starts.get(index + 1).copied().unwrap_or(text.len())];
        let start = start + raw.len() - raw.trim_start_matches(['\r', '\n']).len();
        let raw = raw.trim_matches(['\r', '\n']);
        line += newlines(&text[counted..start]);
        counted = start;
        if raw.contains('\n') && raw.matches('"').count() % 2 == 1 {
            return Err(Error::input("a quote opens in this row and never closes")
                .mend("put a quote at both ends of the cell, and write a quote inside it twice")
                .at(line, None));
        }
        records.push(Record {
            line,
            span: start..start + raw.len(),
            cells,
        });
    }
    Ok(records)
}

thread_local! {
    /// Setting up a reader takes longer than reading a file of a book does, so one serves all.
    static READER: RefCell<csv_core::Reader> = RefCell::new(csv_core::Reader::new());
}

/// The cells of every record of `text`, without space around them, and the byte where the reader began on it.
fn cells(text: &str) -> Vec<(usize, Vec<String>)> {
    READER.with_borrow_mut(|reader| {
        reader.reset();
        cells_by(reader, text)
    })
}

fn cells_by(reader: &mut csv_core::Reader, text: &str) -> Vec<(usize, Vec<String>)> {
    // No cell is longer than the text, and none but the last of a record ends without a comma.
    let mut letters = vec![0; text.len() + 1];
    let mut ends = vec![0; text.matches(',').count() + 2];
    let (mut read, mut written, mut ended) = (0, 0, 0);
    let (mut start, mut found) = (0, Vec::new());
    loop {
        let input = &text.as_bytes()[read..];
        let (state, more_read, more_written, more_ended) =
            reader.read_record(input, &mut letters[written..], &mut ends[ended..]);
        read += more_read;
        written += more_written;
        ended += more_ended;
        match state {
            csv_core::ReadRecordResult::Record => {
                let cells = std::iter::once(0)
                    .chain(ends[..ended].iter().copied())
                    .zip(&ends[..ended])
                    .map(|(from, to)| {
                        let cell = std::str::from_utf8(&letters[from..*to]);
                        let cell = cell.expect("text is parted at commas, quotes and line ends");
                        cell.trim().to_owned()
                    });
                found.push((start, cells.collect()));
                (written, ended, start) = (0, 0, read);
            }
            // What was given is all there is: the next call says how the last record ends.
            csv_core::ReadRecordResult::InputEmpty => {}
            csv_core::ReadRecordResult::End => return found,
            csv_core::ReadRecordResult::OutputFull | csv_core::ReadRecordResult::OutputEndsFull => {
                unreachable!("there is room for all of the text, and for a cell at every comma")
            }
        }
    }
}

fn newlines(text: &str) -> u64 {
    text.matches('\n').count() as u64
}
