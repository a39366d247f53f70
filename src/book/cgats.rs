//! CGATS.17 text, as ISO 28178 has it too: read leniently, since writers differ, and written strictly.
//!
//! A file is a head of keywords and values, then fields between `BEGIN_DATA_FORMAT` and `END_DATA_FORMAT`, then one
//! set of values a line between `BEGIN_DATA` and `END_DATA`; after that another head and table may follow. Put up
//! with: any line ends, a byte-order mark, Latin-1, tabs or spaces, quotes or none, a decimal comma, keywords in any
//! letters, remarks behind `#`, fields over several lines, a set over several lines. Not put up with, because data
//! are missing: no `END_DATA`, fewer values than fields, fewer sets than `NUMBER_OF_SETS`.
//!
//! Source: ANSI CGATS.17-2009, Exchange format for color and process control data using XML or ASCII text;
//! ISO 28178:2009. Keywords and field names from memory.

use super::grid::{Cell, Grid};
use super::statements::Statement;
use crate::error::{Error, Result};

/// Whether `text` is meant as CGATS.
pub(super) fn is_cgats(text: &str) -> bool {
    let head = text
        .trim_start_matches('\u{feff}')
        .trim_start()
        .to_ascii_uppercase();
    let named = ["CGATS", "ISO28178", "ISO 28178", "IT8."];
    named.iter().any(|name| head.starts_with(name))
        || head.lines().any(|line| {
            let word = line.split_whitespace().next();
            matches!(word, Some("BEGIN_DATA_FORMAT" | "BEGIN_DATA"))
        })
}

/// One word of a line, and whether it stood in quotes.
struct Word {
    text: String,
    quoted: bool,
}

/// The words of `line` up to a remark.
fn words(line: &str) -> Vec<Word> {
    let mut words = Vec::new();
    let mut rest = line.trim_start();
    while let Some(first) = rest.chars().next() {
        if first == '#' {
            break;
        }
        if let Some(inside) = rest.strip_prefix('"') {
            let (text, after) = quoted(inside);
            words.push(Word { text, quoted: true });
            rest = after.trim_start();
        } else {
            let end = rest.find(char::is_whitespace).unwrap_or(rest.len());
            words.push(Word {
                text: rest[..end].to_owned(),
                quoted: false,
            });
            rest = rest[end..].trim_start();
        }
    }
    words
}

/// What stands before the quote that closes `inside`, twice a quote for one, and what follows. A quote that never
/// closes ends with its line.
fn quoted(inside: &str) -> (String, &str) {
    let mut text = String::new();
    let mut rest = inside;
    loop {
        let Some(end) = rest.find('"') else {
            return (text + rest, "");
        };
        text += &rest[..end];
        rest = &rest[end + 1..];
        match rest.strip_prefix('"') {
            Some(after) => {
                text.push('"');
                rest = after;
            }
            None => return (text, rest),
        }
    }
}

/// The values of a set's line. Where tabs part exactly the `expected` count, they alone part: a name may hold spaces,
/// and a value may be empty.
fn values(line: &str, expected: usize) -> Vec<String> {
    if line.contains('\t') {
        let by_tabs: Vec<&str> = line.trim_end_matches(['\r', ' ']).split('\t').collect();
        if by_tabs.len() == expected {
            let bare = |text: &str| match text.trim().strip_prefix('"') {
                Some(inside) => quoted(inside).0,
                None => text.trim().to_owned(),
            };
            return by_tabs.into_iter().map(bare).collect();
        }
    }
    words(line).into_iter().map(|word| word.text).collect()
}

/// The lines of a text with any line ends, counted from 1.
fn lines(text: &str) -> impl Iterator<Item = (u64, &str)> {
    let whole = text.trim_start_matches('\u{feff}');
    let old_style = !whole.contains('\n');
    let ends = move |c: char| c == '\n' || (old_style && c == '\r');
    (1..).zip(whole.split(ends))
}

/// Where the reader stands.
enum Section {
    Head,
    Fields { begun: u64 },
    Sets { begun: u64 },
}

/// Reads every table of `text`, with the statements that hold for it.
///
/// # Errors
/// Each with its line: a section that never ends, a set with too few or too many values, another count of sets than
/// the file states, no table.
pub(super) fn read(text: &str) -> Result<Vec<Grid>> {
    let mut tables: Vec<Grid> = Vec::new();
    let mut grid = Grid::default();
    let mut stated_sets: Option<(u64, usize)> = None;
    let mut section = Section::Head;
    for (line, text) in lines(text) {
        let words = words(text);
        let Some(first) = words.first() else { continue };
        let keyword = if first.quoted {
            String::new()
        } else {
            first.text.to_ascii_uppercase()
        };
        match (&section, keyword.as_str()) {
            (Section::Head, "BEGIN_DATA_FORMAT") => {
                grid.fields = fields(&words[1..], line);
                section = Section::Fields { begun: line };
            }
            (Section::Fields { .. }, "END_DATA_FORMAT") => section = Section::Head,
            (Section::Fields { begun }, "BEGIN_DATA") => {
                return Err(never_ends("BEGIN_DATA_FORMAT", "END_DATA_FORMAT", *begun));
            }
            (Section::Fields { .. }, _) => grid.fields.extend(fields(&words, line)),
            (Section::Head, "BEGIN_DATA") => {
                if grid.fields.is_empty() {
                    let finding = "BEGIN_DATA stands before any field is named";
                    let mend =
                        "name the fields between BEGIN_DATA_FORMAT and END_DATA_FORMAT above it";
                    return Err(Error::input(finding).mend(mend).at(line, None));
                }
                section = Section::Sets { begun: line };
            }
            (Section::Sets { begun }, "END_DATA") => {
                check_sets(&grid, *begun, stated_sets.take())?;
                let next = Grid {
                    statements: grid.statements.clone(),
                    ..Grid::default()
                };
                tables.push(std::mem::replace(&mut grid, next));
                section = Section::Head;
            }
            (Section::Sets { begun }, "BEGIN_DATA" | "BEGIN_DATA_FORMAT") => {
                return Err(never_ends("BEGIN_DATA", "END_DATA", *begun));
            }
            (Section::Sets { .. }, _) => add_values(&mut grid, text, line)?,
            (Section::Head, "NUMBER_OF_SETS") => {
                let count = words.get(1).and_then(|word| word.text.parse().ok());
                stated_sets = count.map(|count| (line, count));
            }
            (Section::Head, _) => grid.statements.push(Statement {
                keyword,
                value: words[1..]
                    .iter()
                    .map(|word| word.text.as_str())
                    .collect::<Vec<_>>()
                    .join(" "),
                line,
            }),
        }
    }
    match section {
        Section::Fields { begun } => Err(never_ends("BEGIN_DATA_FORMAT", "END_DATA_FORMAT", begun)),
        Section::Sets { begun } => Err(never_ends("BEGIN_DATA", "END_DATA", begun)),
        Section::Head if !grid.fields.is_empty() => {
            let line = grid.fields.first().map_or(1, |cell| cell.line);
            let error = Error::input("fields are named, and no BEGIN_DATA follows");
            Err(error
                .mend("the file seems cut off: export it again")
                .at(line, None))
        }
        Section::Head if tables.is_empty() => Err(Error::input(
            "the file holds no table; expected BEGIN_DATA and END_DATA",
        )
        .mend("export the readings again")),
        Section::Head => Ok(tables),
    }
}

fn fields(words: &[Word], line: u64) -> Vec<Cell> {
    let cell = |word: &Word| Cell {
        text: word.text.clone(),
        line,
        column: None,
    };
    words.iter().map(cell).collect()
}

fn never_ends(begin: &str, end: &str, line: u64) -> Error {
    Error::input(format!("{begin} never ends; expected {end}"))
        .mend("the file seems cut off: export it again")
        .at(line, None)
}

/// Adds what stands on `line` to the last set, or begins one where that is full.
fn add_values(grid: &mut Grid, text: &str, line: u64) -> Result<()> {
    let expected = grid.fields.len();
    let open = grid.sets.last().is_some_and(|set| set.len() < expected);
    if !open {
        grid.sets.push(Vec::with_capacity(expected));
    }
    let set = grid
        .sets
        .last_mut()
        .expect("one is open, or has just been begun");
    for value in values(text, expected) {
        let column = Some(set.len() as u64 + 1);
        set.push(Cell {
            text: value,
            line,
            column,
        });
    }
    if set.len() > expected {
        let begun = set.first().map_or(line, |cell| cell.line);
        let found = set.len();
        let finding = format!("{found} values in a set of {expected} fields");
        let mend = "put a value that holds a space in quotes, and give every field a value";
        return Err(Error::input(finding).mend(mend).at(begun, None));
    }
    Ok(())
}

fn check_sets(grid: &Grid, begun: u64, stated: Option<(u64, usize)>) -> Result<()> {
    let expected = grid.fields.len();
    if let Some(short) = grid.sets.last().filter(|set| set.len() < expected) {
        let missing = &grid.fields[short.len()].text;
        let finding = format!(
            "{} values in a set of {expected} fields; {} is the first that is missing",
            short.len(),
            missing.escape_debug()
        );
        let line = short.first().map_or(begun, |cell| cell.line);
        return Err(Error::input(finding)
            .mend("export the readings again")
            .at(line, None));
    }
    match stated {
        Some((line, count)) if count != grid.sets.len() => Err(Error::input(format!(
            "NUMBER_OF_SETS is {count}, and {} sets follow",
            grid.sets.len()
        ))
        .mend("export the readings again, or write the count of sets that are there")
        .at(line, None)),
        _ => Ok(()),
    }
}

/// One table, as it is written.
pub(super) struct Written {
    /// Names of the fields; those that the standard does not have are declared.
    pub(super) fields: Vec<String>,
    /// Values, a row a set.
    pub(super) sets: Vec<Vec<Value>>,
}

/// A value, as it is written.
pub(super) enum Value {
    /// All its digits.
    Number(f64),
    /// In quotes.
    Text(String),
}

/// The fields of the standard that are written here.
const STANDARD_FIELDS: [&str; 5] = ["SAMPLE_ID", "SAMPLE_NAME", "LAB_L", "LAB_A", "LAB_B"];

/// A file of `tables` under a head of `statements`, keywords and values; keywords of `own` are declared as the
/// standard asks.
pub(super) fn text(statements: &[(&str, String)], own: &[&str], tables: &[Written]) -> String {
    let mut text = "CGATS.17\n".to_owned();
    for (keyword, value) in statements {
        if own.contains(keyword) {
            text += &format!("KEYWORD \"{keyword}\"\n");
        }
        text += &format!("{keyword} {}\n", in_quotes(value));
    }
    for Written { fields, sets } in tables {
        let strange = fields
            .iter()
            .filter(|field| !STANDARD_FIELDS.contains(&field.as_str()));
        for field in strange {
            text += &format!("KEYWORD \"{field}\"\n");
        }
        text += &format!(
            "NUMBER_OF_FIELDS {}\nBEGIN_DATA_FORMAT\n{}\nEND_DATA_FORMAT\n",
            fields.len(),
            fields.join("\t")
        );
        text += &format!("NUMBER_OF_SETS {}\nBEGIN_DATA\n", sets.len());
        for set in sets {
            let values = set.iter().map(|value| match value {
                Value::Number(number) => number.to_string(),
                Value::Text(text) => in_quotes(text),
            });
            text += &values.collect::<Vec<_>>().join("\t");
            text.push('\n');
        }
        text += "END_DATA\n";
    }
    text
}

/// `value` on one line between quotes.
fn in_quotes(value: &str) -> String {
    let one_line = value.replace(char::is_control, " ");
    format!("\"{}\"", one_line.replace('"', "\"\""))
}
