//! `let-downs.csv`: the let-downs that stand ready, one row a jar, read, added to and taken from.

use jiff::civil::Date;
use std::collections::HashMap;

use super::changes::Changes;
use super::files::Files;
use super::number::Number;
use super::table::{Columns, Row, Table, text_cell};
use crate::error::{Error, Mend, Result, Setting};
use crate::materials::{Colorant, Grams, LetDown, Shelf, Standing, Supply};

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
    rows(&table, shelf)
}

fn rows(table: &Table, shelf: &Shelf) -> Result<Vec<LetDown>> {
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
        mass: mass_left(row)?,
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

fn mass_left(row: Row<'_>) -> Result<Grams> {
    let (none, most) = MASS_G.range;
    let mass: Option<f64> = row.text(MASS_G.name).parse().ok();
    let read = row.number(&MASS_G).map(Grams);
    match mass {
        Some(mass) if mass < none => {
            read.map_err(|error| error.mend("write what the jar holds, 0 where it is used up"))
        }
        Some(mass) if mass > most => {
            read.map_err(|error| error.mend("write what it holds in grams"))
        }
        _ => read,
    }
}

/// Puts `made` among the let-downs of `changes`, a row each at the end of the table.
///
/// # Errors
/// One that nobody can have made of what stands on `shelf`; a table that has become unsound.
pub(super) fn add(changes: &mut Changes, shelf: &Shelf, made: &[LetDown]) -> Result<()> {
    let files = changes.files.clone();
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
    changes.put(LET_DOWNS, text);
    Ok(())
}

/// Takes `used` of let-downs for `base` off those of `changes` on the day `day`, each as [`Shelf::supply`] draws on them, and
/// returns these as they now are.
///
/// # Errors
/// None stands, or too little is left; less than the book tells.
pub(super) fn take(
    changes: &mut Changes,
    shelf: &Shelf,
    used: &[(Colorant, Grams)],
    base: &str,
    day: Date,
) -> Result<Vec<LetDown>> {
    let files = changes.files.clone();
    let text = files.find(LET_DOWNS)?;
    let text = text.unwrap_or_else(|| HEADER.to_owned());
    let table = Table::read(&files.label(LET_DOWNS), &text, &COLUMNS)?;
    let mut shelf = shelf.clone();
    shelf.let_downs = rows(&table, &shelf)?;
    let mut taken: Vec<usize> = Vec::new();
    for (colorant, mass) in used {
        let supply = drawn(&shelf, colorant, base, *mass, day)?;
        shelf.draw(&supply);
        for (index, _) in supply.draws {
            if !taken.contains(&index) {
                taken.push(index);
            }
        }
    }
    let left = |index: &usize| shelf.let_downs[*index].mass.0.to_string();
    let edits: HashMap<(usize, &str), String> = (taken.iter())
        .map(|index| ((*index, MASS_G.name), left(index)))
        .collect();
    let edited = table.edited(&text, &edits);
    // What is written must be what can be read.
    let after = parse(&files, &shelf, &edited)?;
    changes.put(LET_DOWNS, edited);
    Ok((taken.into_iter())
        .map(|index| after[index].clone())
        .collect())
}

/// Where `mass` of `colorant` is taken from.
fn drawn(shelf: &Shelf, colorant: &Colorant, base: &str, mass: Grams, day: Date) -> Result<Supply> {
    LetDown::check_ratio(colorant)?;
    if mass.0 < LetDown::LEAST.0 {
        let finding = format!("{mass} of `{colorant}` are less than the book tells");
        return Err(Error::input(finding).mend(format!("take {} or more", LetDown::LEAST)));
    }
    let mut alike = (shelf.let_downs.iter())
        .filter(|each| each.colorant == *colorant && each.base == base && each.mass.0 > 0.0);
    let Some(supply) = shelf.supply(colorant, base, mass, day) else {
        let later = alike.find(|each| each.made > day);
        return Err(later.map_or_else(
            || {
                let finding = format!("no let-down `{colorant}` for {base} stands in the book");
                Error::input(finding).mend("see `dropwise let-down list`")
            },
            |jar| {
                let finding = format!(
                    "the let-down `{colorant}` was made on {}, and is to be taken from on {day}",
                    jar.made
                );
                Error::input(finding)
                    .mend(Mend::from("name the day on which it was used with ").set(Setting::Day))
            },
        ));
    };
    let left: Grams = supply.draws.iter().map(|(_, drawn)| *drawn).sum();
    let left = left.rounded_to(LetDown::LEAST);
    let enough = match supply.standing {
        Standing::Ready => true,
        Standing::TooLittle => false,
        Standing::PastItsDate => {
            (supply.draws.iter()).all(|(index, _)| shelf.let_downs[*index].holds(mass))
        }
    };
    if enough {
        return Ok(supply);
    }
    let finding = format!("{left} of `{colorant}` are left, and {mass} are to be taken");
    Err(Error::input(finding)
        .mend("take what is left from it, or mend mass_g in let-downs.csv if more is there"))
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::materials::fixtures::shelf;

    #[test]
    fn a_jar_holds_from_nothing_to_a_hundred_kilograms_and_each_end_has_its_own_mend() {
        let jar = |mass: &str| {
            let text = format!("{HEADER}red 1:10,,skin,2026-03-09,{mass},2026-09-09\n");
            let files = Files::Folder(Path::new("").to_owned());
            parse(&files, &shelf(), &text).map(|jars| jars[0].mass)
        };
        for (mass, grams) in [("0", 0.0), ("20.5", 20.5), ("100000", 100_000.0)] {
            assert_eq!(jar(mass).expect(mass), Grams(grams), "{mass}");
        }
        for (mass, mend) in [
            ("-1", "write what the jar holds, 0 where it is used up"),
            ("100001", "write what it holds in grams"),
            ("20,5", "write 20.5"),
        ] {
            let quoted = format!("\"{mass}\"");
            let line = jar(&quoted).expect_err(mass).to_string();
            assert!(
                line.contains("let-downs.csv:2:") && line.contains(mend),
                "{line}"
            );
        }
    }
}
