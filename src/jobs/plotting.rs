//! What a picture of a kept part shows: its tone, what comes out, its castings, and a drop more or less of each pigment.

use jiff::civil::Date;

use super::batching::Size;
use super::matching::Matched;
use super::nudging::{self, Nudge};
use super::parts::to_pour;
use crate::book::Book;
use crate::colour::Lab;
use crate::error::Result;
use crate::materials::{Amount, LargestPots, whole_number};
use crate::recipe::Part;

/// All that the picture shows.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Plot {
    /// The part.
    pub part: Part,
    /// Its cups, by the book as it is now.
    pub matched: Matched,
    /// Its castings that were read unpainted, by their swatches, the oldest first.
    pub castings: Vec<(String, Lab)>,
    /// What is dropped into its skin, each with what a few drops more or less do.
    pub ladder: Vec<Ladder>,
}

/// What a few drops more or less of one pigment do.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Ladder {
    /// What is dropped.
    pub colorant: String,
    /// Each rung: how many drops go in, what comes out, and its ΔE00 to the aim; the fewest first.
    pub rungs: Vec<Rung>,
}

/// One rung of a ladder.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rung {
    /// Drops in one pot.
    pub drops: u32,
    /// Whether these are the recipe's.
    pub is_the_recipe: bool,
    /// What comes out.
    pub lab: Lab,
    /// ΔE00 to the aim.
    pub delta_e: f64,
}

/// What the picture of the part of `book` called `name` shows on the day `day`.
///
/// # Errors
/// As [`to_pour`] and [`nudging::run`].
pub fn run(book: &Book, name: &str, day: Date) -> Result<Plot> {
    let (part, matched) = to_pour(book, name, Size::Times(1.0), LargestPots::default(), day)?;
    let weights = book.shelf().settings.viewing.weights();
    let castings = book
        .swatches()?
        .iter()
        .filter(|swatch| part.castings.contains(&swatch.id) && swatch.build.paint.is_none());
    let castings = castings
        .filter_map(|swatch| Some((swatch.id.clone(), swatch.measured(&weights)?)))
        .collect();
    let entries = part.recipe.skin.poured.mix.entries().iter();
    let counted: Vec<(String, u32)> = entries
        .filter_map(|(colorant, amount)| match amount {
            Amount::Drops(count) => Some((colorant.to_string(), whole_number(*count))),
            Amount::Mass(_) => None,
        })
        .collect();
    let counts: Vec<u32> = counted.iter().map(|(_, count)| *count).collect();
    let ladder = counted
        .iter()
        .enumerate()
        .map(|(index, (colorant, count))| {
            Ok(Ladder {
                colorant: colorant.clone(),
                rungs: rungs(book, name, &counts, (index, *count), day)?,
            })
        });
    Ok(Plot {
        castings,
        ladder: ladder.collect::<Result<_>>()?,
        part,
        matched,
    })
}

/// The rungs of the colorant at `index`, of which `count` go in, all others as in `counts`.
fn rungs(
    book: &Book,
    name: &str,
    counts: &[u32],
    (index, count): (usize, u32),
    day: Date,
) -> Result<Vec<Rung>> {
    /// Rungs above and below the recipe.
    const EACH_WAY: u32 = 2;
    let drops = count.saturating_sub(EACH_WAY)..=count + EACH_WAY;
    let rungs = drops.map(|drops| {
        let mut counts = counts.to_vec();
        counts[index] = drops;
        let nudge = Nudge {
            drops: Some(&counts),
            thickness: None,
        };
        let nudged = nudging::run(book, name, nudge, day)?;
        Ok(Rung {
            drops,
            is_the_recipe: drops == count,
            lab: nudged.lab,
            delta_e: nudged.delta_e,
        })
    });
    rungs.collect()
}
