//! A recipe at another size: pots, masses of A and B, drops or grams.

use jiff::civil::Date;

use super::rounding::{OffRecipe, apart, cast_thick};
use crate::batch::{Pour, Scale, Unlike, pour, unlike};
use crate::book::Book;
use crate::error::Result;
use crate::materials::{Cup, Grams, LargestPots, Poured};

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
    /// How far what is measured out lies from the recipe, each by itself and too thick to see through.
    pub off_recipe: OffRecipe,
    /// Pots of unlike size in whole drops, where pots alike take none and each is tinted for itself.
    pub unlike: Option<Unlike>,
}

/// Pours `recipe` at `size` on the day `day`, in pots of at most `largest_pots`, each of which is tinted for itself where that is
/// asked for.
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
    let mut pour = pour(&cup, scale, shelf, day)?;
    if is_pot_by_pot {
        pour.at_once = None;
    }
    let weights = shelf.settings.viewing.weights();
    let cast = |poured: &Poured| cast_thick(shelf, poured);
    let off_recipe = OffRecipe::of(&pour, recipe, &weights, cast)?;
    let unlike = match pour.at_once {
        Some(_) => None,
        None => unlike(&cup, scale, &pour.doses, &shelf.settings, |one, other| {
            apart(one, other, &weights, cast)
        })?,
    };
    if let Some(unlike) = &unlike {
        unlike.leave_out_of(&mut pour);
    }
    Ok(Batched {
        pour,
        off_recipe,
        unlike,
    })
}
