//! What a picture of a kept part shows: its tone, what comes out, its castings, and a drop more or less of each pigment.

use jiff::civil::Date;

use super::batching::Size;
use super::matching::Matched;
use super::parts::{Pots, to_pour};
use crate::book::Book;
use crate::colour::{Lab, delta_e_2000};
use crate::error::Result;
use crate::materials::{Amount, Build, Casting, Mix, Poured, Shelf, whole_number};
use crate::recipe::Part;
use crate::tone::ToneMap;

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
    /// Where its tones lie in a photograph, and what that is called; where one was named.
    pub tone_map: Option<(String, ToneMap)>,
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
/// As [`to_pour`] and [`ladder`].
pub fn run(book: &Book, name: &str, day: Date) -> Result<Plot> {
    let (part, matched) = to_pour(book, name, Size::Times(1.0), Pots::default(), day)?;
    let weights = book.shelf().settings.viewing.weights();
    let castings = book
        .swatches()?
        .iter()
        .filter(|swatch| part.castings.contains(&swatch.id) && swatch.build.paint.is_none());
    let castings = castings
        .filter_map(|swatch| Some((swatch.id.clone(), swatch.measured(&weights)?)))
        .collect();
    Ok(Plot {
        castings,
        ladder: ladder(&book.shelf().on_the_day(day), &matched)?,
        tone_map: None,
        part,
        matched,
    })
}

/// What a few drops more or less of each pigment in the skin of `matched` do, all others and what is weighed as they are, by the
/// shelf that was `serving` it.
///
/// # Errors
/// As [`Casting::new`].
pub fn ladder(serving: &Shelf, matched: &Matched) -> Result<Vec<Ladder>> {
    let shelf = (matched.one_tint.as_ref()).map_or(serving, |tint| &tint.shelf);
    let weights = shelf.settings.viewing.weights();
    let poured = &matched.skin.recipe.best().poured;
    let entries = poured.mix.entries();
    let rung = |index: usize, count: u32, drops: u32| {
        let with = entries.iter().enumerate();
        let with = with.map(|(of, (colorant, amount))| {
            let amount = if of == index {
                Amount::Drops(drops.into())
            } else {
                *amount
            };
            (colorant.clone(), amount)
        });
        let is_in = |(_, amount): &(_, Amount)| *amount != Amount::Drops(0.0);
        let build = Build {
            skin: Poured {
                mix: Mix::new(with.filter(is_in).collect())?,
                ..poured.clone()
            },
            paint: None,
            ..matched.build.clone()
        };
        let lab = weights.lab(&Casting::new(shelf, &build)?.reading());
        Ok(Rung {
            drops,
            is_the_recipe: drops == count,
            lab,
            delta_e: delta_e_2000(matched.skin.recipe.aim, lab),
        })
    };
    let counted = entries.iter().enumerate();
    let counted = counted.filter_map(|(index, (colorant, amount))| match amount {
        Amount::Drops(count) => Some((index, colorant.to_string(), whole_number(*count))),
        Amount::Mass(_) => None,
    });
    let ladders = counted.map(|(index, colorant, count)| {
        let drops = count.saturating_sub(Ladder::EACH_WAY)..=count + Ladder::EACH_WAY;
        Ok(Ladder {
            colorant,
            rungs: drops
                .map(|drops| rung(index, count, drops))
                .collect::<Result<_>>()?,
        })
    });
    ladders.collect()
}

impl Ladder {
    /// Rungs above and below the recipe.
    const EACH_WAY: u32 = 2;
}
