//! What a pour takes off the book, whole or not at all: let-downs, stocks, and bottles whose mass is written down.

use std::collections::HashMap;

use jiff::civil::Date;

use super::additions::grams;
use super::changes::Changes;
use super::columns::LEFT_G;
use super::files::{Files, PIGMENTS};
use super::shelf::PIGMENT_COLUMNS;
use super::table::Table;
use super::{Book, left_part_b, let_downs, stocking};
use crate::error::{Error, Result};
use crate::materials::{Colorant, Grams, LeftPartB, LetDown};

/// What a pour takes, and what it leaves in jars that were stirred for it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RunDown {
    /// Let-downs that stood ready, by the base that they are for.
    pub let_downs: Vec<(String, Vec<(Colorant, Grams)>)>,
    /// What is left of those that were stirred.
    pub made: Vec<LetDown>,
    /// Stocks.
    pub stocks: Vec<(String, Grams)>,
    /// Pigments, neat from their bottles; those of which no mass is written down are passed over.
    pub bottles: Vec<(String, Grams)>,
    /// Tinted part B that was left, all of one recipe, and what is taken of it, the first first.
    pub part_b: Option<(Vec<LeftPartB>, Grams)>,
    /// Tinted part B that this pour leaves.
    pub left_part_b: Option<LeftPartB>,
}

/// What is left of something that was taken from.
#[derive(Clone, Debug, PartialEq)]
pub struct Left {
    /// What it is, as a mix names it, with the base that a let-down is for.
    pub name: String,
    /// What was taken of it.
    pub used: Grams,
    /// What is left of it.
    pub left: Grams,
}

impl Left {
    /// For how many more of the same pour it lasts.
    pub fn lasts(&self) -> f64 {
        self.left.0 / self.used.0
    }
}

impl Book {
    /// Takes what `run_down` says off the book on the day `day`, and returns what is left of each, what runs out first at the
    /// top.
    ///
    /// # Errors
    /// The demo, which is never written to; more than is there of anything; a failure of the machine. The book is then as it
    /// was.
    pub fn run_down(&mut self, run_down: &RunDown, day: Date) -> Result<Vec<Left>> {
        self.change(|book, folder| {
            let mut changes = Changes::of(folder);
            let mut left = Vec::new();
            for (base, used) in &run_down.let_downs {
                let jars = let_downs::take(&mut changes, book.shelf(), used, base, day)?;
                left.extend(used.iter().map(|(colorant, used)| {
                    let alike = jars.iter().filter(|jar| jar.colorant == *colorant);
                    Left {
                        name: format!("{colorant} for {base}"),
                        used: *used,
                        left: alike.map(|jar| jar.mass).sum(),
                    }
                }));
            }
            for (name, used) in &run_down.stocks {
                let bottle = stocking::take(&mut changes, book.shelf(), name, *used)?;
                left.push(Left {
                    name: name.clone(),
                    used: *used,
                    left: bottle.left,
                });
            }
            left.extend(take_bottles(&mut changes, &run_down.bottles)?);
            if let Some((standing, used)) = &run_down.part_b {
                left_part_b::take(&mut changes, standing, *used)?;
                let stood: Grams = standing.iter().map(|each| each.left).sum();
                left.extend(standing.first().map(|oldest| Left {
                    name: left_part_b::name_of(&oldest.part, oldest.made),
                    used: *used,
                    left: Grams(stood.0 - used.0).rounded_to(LetDown::LEAST),
                }));
            }
            if let Some(left) = &run_down.left_part_b {
                left_part_b::add(&mut changes, left)?;
            }
            if !run_down.made.is_empty() {
                let_downs::add(&mut changes, book.shelf(), &run_down.made)?;
            }
            left.sort_by(|one, other| one.lasts().total_cmp(&other.lasts()));
            changes.write(folder).map(|()| left)
        })
    }
}

/// Takes what was `used` off the bottles of `changes`.
fn take_bottles(changes: &mut Changes, used: &[(String, Grams)]) -> Result<Vec<Left>> {
    let files: &Files = &changes.files;
    let text = files.text(PIGMENTS)?;
    let table = Table::read(&files.label(PIGMENTS), &text, &PIGMENT_COLUMNS)?;
    let mut edits = HashMap::new();
    let mut all = Vec::new();
    for (index, row) in table.rows().enumerate() {
        let name = row.text("pigment");
        let Some((_, used)) = used.iter().find(|(of, _)| of == name) else {
            continue;
        };
        let Some(was) = row.optional_number(&LEFT_G)? else {
            continue;
        };
        let left = Grams(was - used.0).rounded_to(LetDown::LEAST);
        if left.0 < 0.0 {
            let finding = format!("{was} g of {name} are left, and {used:.2} are to be taken");
            return Err(row.fault(
                LEFT_G.name,
                Error::input(finding).mend("weigh the bottle, and write what it holds"),
            ));
        }
        edits.insert((index, LEFT_G.name), grams(left));
        all.push(Left {
            name: name.to_owned(),
            used: *used,
            left,
        });
    }
    let edited = table.edited(&text, &edits);
    if !edits.is_empty() {
        changes.put(PIGMENTS, edited);
    }
    Ok(all)
}
