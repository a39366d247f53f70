//! A recipe at another size: pots, masses of A and B, drops or grams.

use jiff::civil::Date;

use super::rounding::{apart, cast_thick, off_recipe};
use crate::batch::{Pour, Scale, Unlike, pour, unlike};
use crate::book::Book;
use crate::error::Result;
use crate::materials::{Casting, Cup, Grams, LargestPots, Poured, Shelf};

/// How much is wanted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Size {
    /// So many times the recipe.
    Times(f64),
    /// This much of the mixed base.
    To(Grams),
    /// What moulds take: so much mixed skin, and so much mixed foam behind it, where they tell.
    Fill {
        /// Mixed skin, or whatever a recipe of one base is of.
        skin: Grams,
        /// Mixed foam.
        foam: Option<Grams>,
    },
}

/// A recipe at another size, as it is poured.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Batched {
    /// All its pots.
    pub pour: Pour,
    /// How far what is measured out lies from the recipe, ΔE00.
    pub off_recipe: f64,
    /// Pots of unlike size in whole drops, where each is tinted for itself and pots alike take none.
    pub unlike: Option<Unlike>,
}

impl Batched {
    /// `recipe`, which is the `cup`, at `scale`, with the let-downs of `shelf` on the day `day`, each of several pots tinted for itself
    /// where that is asked for; `cast` tells how such a cup is seen.
    ///
    /// # Errors
    /// As [`pour`] and `cast`.
    pub(super) fn of<'shelf>(
        (recipe, cup): (&Poured, &Cup<'_>),
        scale: Scale,
        (shelf, day): (&Shelf, Date),
        is_pot_by_pot: bool,
        cast: impl Fn(&Poured) -> Result<Casting<'shelf>>,
    ) -> Result<Self> {
        let mut pour = pour(cup, scale, shelf, day)?;
        if is_pot_by_pot {
            pour.at_once = None;
        }
        let weights = shelf.settings.viewing.weights();
        let off_recipe = off_recipe(&pour, recipe, &weights, &cast)?;
        let unlike = match pour.at_once {
            Some(_) => None,
            None => unlike(cup, scale, &pour.doses, &shelf.settings, |one, other| {
                apart(one, other, &weights, &cast)
            })?,
        };
        if let Some(unlike) = &unlike {
            unlike.leave_out_of(&mut pour);
        }
        Ok(Self {
            pour,
            off_recipe,
            unlike,
        })
    }
}

/// Pours `recipe` at `size` on the day `day`, in pots of at most `largest_pots`, each of which is tinted for itself where that is
/// asked for. How it is seen is told of each cup by itself, too thick to see through.
///
/// # Errors
/// As [`pour`]; names that are not on the shelf; a cup that would not cure.
pub fn run(
    book: &Book,
    recipe: &Poured,
    size: Size,
    largest_pots: LargestPots,
    is_pot_by_pot: bool,
    day: Date,
) -> Result<Batched> {
    let shelf = book.shelf();
    let cup = Cup::pour(shelf, recipe)?;
    cup.check_loads()?;
    let factor = match size {
        Size::Times(times) => times,
        Size::To(wanted) | Size::Fill { skin: wanted, .. } => wanted.0 / recipe.base_mass.0,
    };
    let scale = Scale {
        factor,
        largest_pot: largest_pots.of(cup.base.kind.kind()),
    };
    Batched::of(
        (recipe, &cup),
        scale,
        (shelf, day),
        is_pot_by_pot,
        |poured| cast_thick(shelf, poured),
    )
}
