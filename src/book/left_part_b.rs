//! `left-part-b.csv`: tinted part B that stands ready, one row for each pour that left some.

use std::collections::HashMap;

use jiff::civil::Date;

use super::Book;
use super::additions::grams;
use super::changes::Changes;
use super::files::Files;
use super::number::Number;
use super::table::{Columns, Row, Table, text_cell};
use crate::error::{Error, Result};
use crate::materials::{Cup, Grams, LeftPartB, LetDown, Mix, Poured};

/// The table; a book without one has none left.
const LEFT_PART_B: &str = "left-part-b.csv";

const HEADER: &str = "part,made,base,base_g,mix,left_g\n";

const COLUMNS: Columns = Columns {
    required: &["part", "made", "base", BASE_G.name, "mix", LEFT_G.name],
    optional: &[],
};

const BASE_G: Number = Number {
    name: "base_g",
    range: Cup::BASE_MASS_G,
    example: "600",
};
const LEFT_G: Number = Number {
    name: "left_g",
    range: (0.0, 100_000.0),
    example: "120",
};

impl Book {
    /// The tinted part B that is left, the oldest first.
    ///
    /// # Errors
    /// The first thing that is wrong in the table, with its place; names are not looked up, since what has left the shelf may
    /// still stand in a jug.
    pub fn left_part_b(&self) -> Result<Vec<LeftPartB>> {
        let Some(text) = self.files.find(LEFT_PART_B)? else {
            return Ok(Vec::new());
        };
        let table = Table::read(&self.files.label(LEFT_PART_B), &text, &COLUMNS)?;
        let left: Result<Vec<LeftPartB>> = table.rows().map(left_part_b).collect();
        let mut left = left?;
        left.retain(|each| each.left.0 > 0.0);
        left.sort_by_key(|each| each.made);
        Ok(left)
    }

    /// Writes down that `left` of it stands there of what the part called `name` has left, all of it: nothing, where it was thrown
    /// away. The last that was left counts first. Waits for its turn where others write.
    ///
    /// # Errors
    /// The demo, which is never written to; nothing that is left of that part, or less than `left`; a failure of the machine.
    pub fn set_left_part_b(&mut self, name: &str, left: Grams) -> Result<()> {
        self.change(|book, folder| {
            let mut standing = book.left_part_b()?;
            let known: Vec<String> = standing.iter().map(|each| each.part.clone()).collect();
            standing.retain(|each| each.part == name);
            if standing.is_empty() {
                let known = known.iter().map(String::as_str);
                return Err(Error::unknown_name(
                    "part with tinted part B left",
                    name,
                    known,
                ));
            }
            let stands: Grams = standing.iter().map(|each| each.left).sum();
            let over = Grams(stands.0 - left.0).rounded_to(LetDown::LEAST);
            if over.0 < 0.0 {
                let finding = format!("{stands} of it were left, and {left} are to stand there");
                let mend = "note what another pour left as that is noted";
                return Err(Error::input(finding).mend(mend));
            }
            let mut changes = Changes::of(folder);
            take(&mut changes, &standing, over)?;
            changes.write(folder)
        })
    }
}

fn left_part_b(row: Row<'_>) -> Result<LeftPartB> {
    let mix: Mix = row.at("mix", row.text("mix").parse())?;
    Ok(LeftPartB {
        part: row
            .filled("part", "the part that it was tinted for")?
            .to_owned(),
        made: row.day("made")?,
        poured: Poured {
            base: row
                .filled("base", "the base whose part B it is")?
                .to_owned(),
            base_mass: Grams(row.number(&BASE_G)?),
            mix,
        },
        left: Grams(row.number(&LEFT_G)?),
    })
}

/// Puts `left` at the end of the table in `changes`.
pub(super) fn add(changes: &mut Changes, left: &LeftPartB) -> Result<()> {
    let found = changes.files.find(LEFT_PART_B)?;
    let text = found.unwrap_or_else(|| HEADER.to_owned());
    let table = Table::read(&changes.files.label(LEFT_PART_B), &text, &COLUMNS)?;
    let longer = table.with_row(&text, &[], |column| match column {
        "part" => text_cell(&left.part).into_owned(),
        "made" => left.made.to_string(),
        "base" => text_cell(&left.poured.base).into_owned(),
        "base_g" => grams(left.poured.base_mass),
        "mix" => text_cell(&left.poured.mix.to_string()).into_owned(),
        "left_g" => grams(left.left),
        _ => String::new(),
    });
    changes.put(LEFT_PART_B, longer);
    Ok(())
}

/// Takes `used` off what is left in `changes` of `standing`, the first of them first.
///
/// # Errors
/// Too little is left of them.
pub(super) fn take(changes: &mut Changes, standing: &[LeftPartB], used: Grams) -> Result<()> {
    let files: &Files = &changes.files;
    let text = files
        .find(LEFT_PART_B)?
        .unwrap_or_else(|| HEADER.to_owned());
    let table = Table::read(&files.label(LEFT_PART_B), &text, &COLUMNS)?;
    let rows: Vec<LeftPartB> = table.rows().map(left_part_b).collect::<Result<_>>()?;
    let mut edits = HashMap::new();
    let mut wanted = used;
    for each in standing {
        let index = rows.iter().position(|row| row == each);
        let Some(index) = index.filter(|_| wanted.0 > 0.0) else {
            continue;
        };
        let taken = each.left.0.min(wanted.0);
        wanted = Grams(wanted.0 - taken).rounded_to(LetDown::LEAST);
        let left = Grams(each.left.0 - taken).rounded_to(LetDown::LEAST);
        edits.insert((index, LEFT_G.name), grams(left));
    }
    if wanted.0 >= LetDown::LEAST.0 {
        let finding = format!("{wanted} more tinted part B are to be taken than is left");
        return Err(Error::input(finding).mend("say that all of it was tinted anew"));
    }
    let edited = table.edited(&text, &edits);
    if !edits.is_empty() {
        changes.put(LEFT_PART_B, edited);
    }
    Ok(())
}

/// What is left of tinted part B, `made` on that day for `part`, as a pour tells of it.
pub(super) fn name_of(part: &str, made: Date) -> String {
    format!("tinted part B of {part}, from {made}")
}
