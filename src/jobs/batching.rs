//! A recipe at another size: pots, masses of A and B, drops or grams.

use jiff::civil::Date;

use crate::batch::{Pour, Scale, pour};
use crate::book::Book;
use crate::error::Result;
use crate::materials::{Cup, Grams, Poured};

/// How much is wanted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Size {
    /// So many times the recipe.
    Times(f64),
    /// This much of the mixed base.
    To(Grams),
}

/// Pours `recipe` at `size` on the day `day`, in pots of at most `largest_pot`.
///
/// # Errors
/// As [`pour`]; names that are not on the shelf; a cup that would not cure.
pub fn run(
    book: &Book,
    recipe: &Poured,
    size: Size,
    largest_pot: Option<Grams>,
    day: Date,
) -> Result<Pour> {
    let cup = Cup::pour(book.shelf(), recipe)?;
    cup.check_loads()?;
    let factor = match size {
        Size::Times(times) => times,
        Size::To(wanted) => wanted.0 / recipe.base_mass.0,
    };
    let scale = Scale {
        factor,
        largest_pot,
    };
    pour(&cup, scale, book.shelf(), day)
}
