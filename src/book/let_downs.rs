//! `let-downs.csv`: the let-downs that stand ready, one row a jar, read, added to and taken from.

use std::collections::HashMap;
use std::path::Path;

use jiff::civil::Date;

use super::files::Files;
use super::number::Number;
use super::table::{Columns, Row, Table, text_cell};
use super::write;
use crate::error::{Error, Result};
use crate::materials::{Colorant, Grams, LetDown, Shelf, Standing};

/// The file of a book that holds its let-downs; a book without one has none.
const LET_DOWNS: &str = "let-downs.csv";

const HEADER: &str = "let_down,lot,base,made,mass_g,keeps_until\n";

const COLUMNS: Columns = Columns {
    required: &["let_down", "base", "made", MASS_G.name, KEEPS_UNTIL],
    optional: &["lot"],
};

const KEEPS_UNTIL: &str = "keeps_until";

/// What is left in the jar.
const MASS_G: Number = Number {
    name: "mass_g",
    range: (0.0, 100_000.0),
    example: "20",
};

/// The smallest mass that is told of a jar, g.
const MILLIGRAM: Grams = Grams(0.001);

/// Reads the let-downs of a book whose other materials stand on `shelf`.
///
/// # Errors
/// The first thing that is wrong, with its place.
pub(super) fn read(files: &Files, shelf: &Shelf) -> Result<Vec<LetDown>> {
    match files.find(LET_DOWNS)? {
        Some(text) => parse(files, shelf, &text),
        None => Ok(Vec::new()),
    }
}

fn parse(files: &Files, shelf: &Shelf, text: &str) -> Result<Vec<LetDown>> {
    let table = Table::read(&files.label(LET_DOWNS), text, &COLUMNS)?;
    table.rows().map(|row| let_down(row, shelf)).collect()
}

fn let_down(row: Row<'_>, shelf: &Shelf) -> Result<LetDown> {
    let name = row.filled("let_down", "a pigment and its ratio, such as umber 1:10")?;
    let base = row.filled("base", "the base that it is stirred into")?;
    row.at("base", shelf.base(base))?;
    let read = LetDown {
        colorant: row.at("let_down", name.parse())?,
        lot: row.text("lot").to_owned(),
        base: base.to_owned(),
        made: row.day("made")?,
        mass: Grams(row.number(&MASS_G)?),
        keeps_until: row.day(KEEPS_UNTIL)?,
    };
    let column = if read.keeps_until < read.made {
        KEEPS_UNTIL
    } else {
        "let_down"
    };
    row.at(column, read.check(shelf))?;
    Ok(read)
}

/// Puts `made` into the book in `folder`, whose lock is held, a row each at the end of the table.
///
/// # Errors
/// One that nobody can have made of what stands on `shelf`; a table that has become unsound; a failure of the machine. The
/// table is then as it was.
pub(super) fn add(folder: &Path, shelf: &Shelf, made: &[LetDown]) -> Result<()> {
    let files = Files::Folder(folder.to_owned());
    let found = files.find(LET_DOWNS)?;
    let mut text = found.unwrap_or_else(|| HEADER.to_owned());
    for let_down in made {
        let_down.check(shelf)?;
        let table = Table::read(&files.label(LET_DOWNS), &text, &COLUMNS)?;
        let lacks_lot = !let_down.lot.is_empty() && !table.has("lot");
        let lacking: &[&str] = if lacks_lot { &["lot"] } else { &[] };
        text = table.with_row(&text, lacking, |column| match column {
            "let_down" => text_cell(&let_down.colorant.to_string()).into_owned(),
            "lot" => text_cell(&let_down.lot).into_owned(),
            "base" => text_cell(&let_down.base).into_owned(),
            "made" => let_down.made.to_string(),
            "mass_g" => let_down.mass.0.to_string(),
            KEEPS_UNTIL => let_down.keeps_until.to_string(),
            _ => String::new(),
        });
    }
    // What is written must be what can be read.
    parse(&files, shelf, &text)?;
    write::write_whole(&folder.join(LET_DOWNS), text.as_bytes())
}

/// Takes `used` of let-downs for `base` off those of the book in `folder`, whose lock is held, on the day `day`, and returns
/// the places of the rows that it took them from.
///
/// # Errors
/// None stands, or too little is left; a failure of the machine. The table is then as it was.
pub(super) fn take(
    folder: &Path,
    shelf: &Shelf,
    used: &[(Colorant, Grams)],
    base: &str,
    day: Date,
) -> Result<Vec<usize>> {
    let mut shelf = shelf.clone();
    let mut taken = Vec::new();
    for (colorant, mass) in used {
        let standing = shelf.standing(colorant, base, *mass, day);
        let Some((place, standing)) = standing else {
            let finding = format!("no let-down `{colorant}` for {base} stands in the book");
            return Err(Error::input(finding).mend("see `dropwise let-down list`"));
        };
        // No one jar has enough: all are drawn on.
        let jars = if standing == Standing::TooLittle {
            shelf.jars_in_their_time(colorant, base, day)
        } else {
            vec![place]
        };
        let in_all: f64 = jars.iter().map(|jar| shelf.let_downs[*jar].mass.0).sum();
        let in_all = Grams(in_all).rounded_to(MILLIGRAM);
        if in_all.0 < mass.0 {
            let finding = format!("{in_all} of `{colorant}` are left, and {mass} are to be taken");
            return Err(Error::input(finding).mend(
                "take what is left from it, or mend mass_g in let-downs.csv if more is there",
            ));
        }
        let mut wanted = *mass;
        for jar in jars {
            let left = &mut shelf.let_downs[jar].mass;
            let drawn = left.0.min(wanted.0);
            if drawn > 0.0 {
                *left = Grams(left.0 - drawn).rounded_to(MILLIGRAM);
                wanted = Grams(wanted.0 - drawn);
                taken.push(jar);
            }
        }
    }
    taken.sort_unstable();
    taken.dedup();
    let files = Files::Folder(folder.to_owned());
    let text = files.text(LET_DOWNS)?;
    let table = Table::read(&files.label(LET_DOWNS), &text, &COLUMNS)?;
    let left = |place: &usize| shelf.let_downs[*place].mass.0.to_string();
    let edits: HashMap<(usize, &str), String> = (taken.iter())
        .map(|place| ((*place, MASS_G.name), left(place)))
        .collect();
    let edited = table.edited(&text, &edits);
    write::write_whole(&folder.join(LET_DOWNS), edited.as_bytes())?;
    Ok(taken)
}
