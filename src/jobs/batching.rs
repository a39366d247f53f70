//! A recipe at another size: pots, masses of A and B, drops or grams.

use jiff::civil::Date;

use crate::batch::{Pour, Scale, pour};
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

/// Pours `recipe` at `size` on the day `day`, in pots of at most `largest_pots`.
///
/// # Errors
/// As [`pour`]; names that are not on the shelf; a cup that would not cure.
pub fn run(
    book: &Book,
    recipe: &Poured,
    size: Size,
    largest_pots: LargestPots,
    day: Date,
) -> Result<Pour> {
    let cup = Cup::pour(book.shelf(), recipe)?;
    cup.check_loads()?;
    let factor = match size {
        Size::Times(times) => times,
        Size::To(wanted) | Size::Fill { skin: wanted, .. } => wanted.0 / recipe.base_mass.0,
    };
    let scale = Scale {
        factor,
        largest_pot: largest_pots.of(cup.base.kind.kind()),
    };
    pour(&cup, scale, book.shelf(), day)
}
