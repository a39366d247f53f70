//! Text for a terminal: headings, wrapping, columns and plurals; it knows of no subject.
//!
//! Text is wrapped to 80 columns and carries ANSI styles; whoever prints it strips them where they are not wanted.

use std::fmt::{self, Write as _};

use anstyle::Style;

use crate::materials::{MOST_CHARACTERS, Mix};

/// A heading.
pub(super) const HEADING: Style = Style::new().bold();

/// Columns of running text.
pub(super) const WIDTH: usize = 80;

/// `text` after `begin`, wrapped to the width of an old terminal, its lines under each other.
pub(super) fn write_wrapped(out: &mut String, begin: &str, text: &str) -> fmt::Result {
    let under = " ".repeat(begin.chars().count());
    let shape = textwrap::Options::new(WIDTH)
        .initial_indent(begin)
        .subsequent_indent(&under);
    writeln!(out, "{}", textwrap::fill(text, shape))
}

/// `text` in from the edge, and further in where it wraps.
pub(super) fn write_hanging(out: &mut String, text: &str) -> fmt::Result {
    write_hanging_at(out, "  ", text)
}

/// `text` in from the edge by `indent`, and further in where it wraps.
pub(super) fn write_hanging_at(out: &mut String, indent: &str, text: &str) -> fmt::Result {
    let under = format!("{indent}  ");
    let shape = textwrap::Options::new(WIDTH)
        .initial_indent(indent)
        .subsequent_indent(&under);
    writeln!(out, "{}", textwrap::fill(text, shape))
}

/// `  note: …`, wrapped.
pub(super) fn write_notes<'a>(
    out: &mut String,
    notes: impl IntoIterator<Item = &'a String>,
) -> fmt::Result {
    notes
        .into_iter()
        .try_for_each(|note| write_wrapped(out, "  note: ", note))
}

/// `mix` behind `begin`, wrapped between its entries and never within one, so that an amount stays beside its pigment.
pub(super) fn write_mix(out: &mut String, begin: &str, mix: &Mix) -> fmt::Result {
    if mix.is_empty() {
        return writeln!(out, "{begin}unpigmented");
    }
    write_entries(out, begin, &mix.to_string(), "; ")
}

/// `entries` with a `separator` between them behind `begin`, wrapped there and never within one.
pub(super) fn write_entries(
    out: &mut String,
    begin: &str,
    entries: &str,
    separator: &str,
) -> fmt::Result {
    /// A space that no line breaks at.
    const HELD: &str = "\u{a0}";
    // Most fit, and a log may hold thousands.
    if begin.chars().count() + entries.chars().count() <= WIDTH {
        return writeln!(out, "{begin}{entries}");
    }
    let held = |text: &str| text.replace(' ', HELD);
    let mut wrapped = String::new();
    write_wrapped(
        &mut wrapped,
        begin,
        &held(entries).replace(&held(separator), separator),
    )?;
    write!(out, "{}", wrapped.replace(HELD, " "))
}

/// Cells of a table's row, each `width` columns wide and ranged right, with a line end.
pub(super) fn write_row<'a>(
    out: &mut String,
    width: usize,
    cells: impl IntoIterator<Item = &'a str>,
) -> fmt::Result {
    for cell in cells {
        write!(out, "{cell:>width$}")?;
    }
    writeln!(out)
}

/// `1 reading`, `2 readings`: of words whose plural takes an s.
pub(super) fn counted(count: usize, one: &str) -> String {
    let plural = if count == 1 { "" } else { "s" };
    format!("{count} {one}{plural}")
}

/// That only `shown` of `all` are told, where that is so, and that `all_by` shows every one: `the newest 12 of 100000 readings`,
/// `which` being `newest` and `what` `readings`.
pub(super) fn write_some_of(
    out: &mut String,
    (which, shown): (&str, usize),
    (all, what): (usize, &str),
    all_by: &str,
) -> fmt::Result {
    if shown == all {
        return Ok(());
    }
    writeln!(
        out,
        "the {which} {shown} of {all} {what} ({all_by} shows every one)"
    )
}

/// `word` with a capital: `skin` becomes `Skin`.
pub(crate) fn capital(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// The width of a column under `head`, which is ASCII, that holds all `cells`, in characters: at most that of the longest name,
/// whatever the cells hold.
pub(super) fn column<'a>(head: &str, cells: impl Iterator<Item = &'a str>) -> usize {
    let widths = cells.map(|cell| cell.chars().count());
    (widths.max().unwrap_or(0).min(MOST_CHARACTERS)).max(head.len())
}

/// Takes the error of writing to a `String`, which does not fail.
///
/// # Panics
/// Whenever it is called: a [`fmt::Error`] would be a fault of a `Display` of this crate, not of the text.
pub(super) fn never(error: fmt::Error) {
    unreachable!("a string takes any text: {error}")
}
