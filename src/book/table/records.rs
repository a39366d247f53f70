//! CSV text as records that know their place: RFC 4180, with a byte-order mark, CR LF and blank lines put up with.

use std::cell::RefCell;
use std::ops::Range;

use crate::error::{Error, Result};

/// The records of a text. A log may have millions of cells: they lie in one text, one behind the other, and none is a text of
/// its own.
#[derive(Clone, Debug, Default)]
pub(super) struct Records {
    /// What all cells hold.
    letters: String,
    /// Where in that each cell lies, without space around: where it begins, and behind its last letter.
    cells: Vec<[u32; 2]>,
    /// The records in order.
    records: Vec<Record>,
}

/// One record of a text: a row, the header, or a comment.
#[derive(Clone, Debug)]
pub(super) struct Record {
    /// Its line, from 1.
    pub(super) line: u64,
    /// Where it stands in the text, without the line's end.
    pub(super) span: Range<usize>,
    /// Which of all cells are its own.
    cells: Range<usize>,
}

impl Records {
    /// Every record of `text`, with its place.
    pub(super) fn read(text: &str) -> Result<Self> {
        let mark = text.len() - text.trim_start_matches('\u{feff}').len();
        let mut records = READER.with_borrow_mut(|reader| {
            reader.reset();
            Self::parted_by(reader, &text[mark..])
        });
        let (mut line, mut counted) = (1, 0);
        let mut end = text.len();
        // Where the reader began on each record is known; where it ended is where it began on the next.
        for index in (0..records.records.len()).rev() {
            let span = &mut records.records[index].span;
            let start = mark + span.start;
            *span = start..end;
            end = start;
        }
        for record in &mut records.records {
            // The reader counts the ends of earlier lines, blank ones too, into the record after them.
            let raw = &text[record.span.clone()];
            let start = record.span.start + raw.len() - raw.trim_start_matches(['\r', '\n']).len();
            let raw = raw.trim_matches(['\r', '\n']);
            line += newlines(&text[counted..start]);
            counted = start;
            if raw.contains('\n') && raw.matches('"').count() % 2 == 1 {
                return Err(Error::input("a quote opens in this row and never closes")
                    .mend("put a quote at both ends of the cell, and write a quote inside it twice")
                    .at(line, None));
            }
            record.line = line;
            record.span = start..start + raw.len();
        }
        Ok(records)
    }

    /// The records of `text` as `reader` parts them, each with the byte where it began on it for its span's start.
    fn parted_by(reader: &mut csv_core::Reader, text: &str) -> Self {
        // No cell is longer than the text, and none but the last of a record ends without a comma.
        let mut letters = vec![0; text.len() + 1];
        let commas = text.bytes().filter(|byte| *byte == b',').count();
        let mut ends = vec![0; commas + 2];
        let (mut read, mut written, mut ended) = (0, 0, 0);
        let (mut start, mut first_letter) = (0, 0);
        let mut found = Self::default();
        found.cells.reserve(commas + 1);
        loop {
            let input = &text.as_bytes()[read..];
            let (state, more_read, more_written, more_ended) =
                reader.read_record(input, &mut letters[written..], &mut ends[ended..]);
            read += more_read;
            written += more_written;
            ended += more_ended;
            match state {
                csv_core::ReadRecordResult::Record => {
                    let first_cell = found.cells.len();
                    let mut from = first_letter;
                    found.cells.extend(ends[..ended].iter().map(|end| {
                        // Ends are counted from the record's first letter.
                        let to = first_letter + end;
                        let cell = trimmed(&letters, from, to);
                        from = to;
                        cell
                    }));
                    found.records.push(Record {
                        line: 0,
                        span: start..start,
                        cells: first_cell..found.cells.len(),
                    });
                    (first_letter, ended, start) = (written, 0, read);
                }
                // What was given is all there is: the next call says how the last record ends.
                csv_core::ReadRecordResult::InputEmpty => {}
                csv_core::ReadRecordResult::End => break,
                csv_core::ReadRecordResult::OutputFull
                | csv_core::ReadRecordResult::OutputEndsFull => {
                    unreachable!("there is room for all of the text, and for a cell at every comma")
                }
            }
        }
        letters.truncate(written);
        found.letters = String::from_utf8(letters)
            .expect("UTF-8 that is parted at commas, quotes and line ends is UTF-8");
        found
    }

    /// The records in order.
    pub(super) fn records(&self) -> &[Record] {
        &self.records
    }

    /// Keeps only the records of which `keep` is true.
    pub(super) fn retain(&mut self, keep: impl Fn(&Self, &Record) -> bool) {
        let mut records = std::mem::take(&mut self.records);
        records.retain(|record| keep(self, record));
        self.records = records;
    }

    /// Takes the first record out, if there is any.
    pub(super) fn take_first(&mut self) -> Option<Record> {
        (!self.records.is_empty()).then(|| self.records.remove(0))
    }

    /// How many cells `record` has.
    pub(super) fn width(&self, record: &Record) -> usize {
        record.cells.len()
    }

    /// What the cells of `record` hold, without space around.
    pub(super) fn cells(&self, record: &Record) -> impl ExactSizeIterator<Item = &str> + Clone {
        let cells = self.cells[record.cells.clone()].iter();
        cells.map(|cell| self.letters_of(*cell))
    }

    /// What the cell of `record` at `index` holds.
    pub(super) fn cell(&self, record: &Record, index: usize) -> &str {
        self.letters_of(self.cells[record.cells.clone()][index])
    }

    fn letters_of(&self, [start, end]: [u32; 2]) -> &str {
        &self.letters[start as usize..end as usize]
    }

    /// Whether `record` is blank or a comment.
    pub(super) fn is_remark(&self, record: &Record) -> bool {
        let mut filled = self.cells(record).filter(|cell| !cell.is_empty());
        match (filled.next(), filled.next()) {
            (None, _) => true,
            (Some(only), None) => only.starts_with('#'),
            _ => false,
        }
    }
}

thread_local! {
    /// Setting up a reader takes longer than reading a file of a book does, so one serves all.
    static READER: RefCell<csv_core::Reader> = RefCell::new(csv_core::Reader::new());
}

/// The cell of these `letters`, which are UTF-8, from the one at `from` to that before `to`, without space around.
fn trimmed(letters: &[u8], from: usize, to: usize) -> [u32; 2] {
    let cell = &letters[from..to];
    let is_tight = |byte: Option<&u8>| byte.is_none_or(u8::is_ascii_graphic);
    let (start, end) = if is_tight(cell.first()) && is_tight(cell.last()) {
        (from, to)
    } else {
        let cell = std::str::from_utf8(cell);
        let cell = cell.expect("text is parted at commas, quotes and line ends");
        let start = from + cell.len() - cell.trim_start().len();
        (start, start + cell.trim().len())
    };
    [start, end].map(|at| u32::try_from(at).expect("a table is read up to 32 MiB"))
}

fn newlines(text: &str) -> u64 {
    text.bytes().filter(|byte| *byte == b'\n').count() as u64
}
