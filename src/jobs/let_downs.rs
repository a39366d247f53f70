//! The let-downs that stand ready in the book: made, taken from, listed.

use jiff::civil::Date;

use super::bases::base_name;
use crate::batch::{self, CalledFor};
use crate::book::Book;
use crate::error::{Error, Result};
use crate::materials::{Amount, Colorant, Cup, Grams, Kind, LetDown, Mix, Shelf};

/// Let-downs for one base, as they are written.
#[derive(Clone, Debug)]
pub struct Jars {
    /// The let-downs and their masses.
    pub mix: Mix,
    /// The base that they are for; the book's first skin where `None`.
    pub base: Option<String>,
    /// The day on which they are made or used.
    pub day: Date,
}

/// The let-downs that a cup calls for.
#[derive(Clone, Debug)]
pub struct Wanted {
    /// The base of the cup.
    pub base: String,
    /// Whether that comes as one part.
    pub is_single: bool,
    /// Each of them; may be none.
    pub called_for: Vec<CalledFor>,
}

impl Wanted {
    /// Those that `cup` calls for as it is written, on the day `day`, where the let-downs of `shelf` stand.
    pub fn of_cup(cup: &Cup<'_>, shelf: &Shelf, day: Date) -> Self {
        Self {
            base: cup.base.name.clone(),
            is_single: cup.base.ratio.is_single(),
            called_for: batch::let_downs(cup, shelf, day),
        }
    }
}

impl Jars {
    /// Each let-down with its mass.
    fn masses(&self) -> Result<Vec<(Colorant, Grams)>> {
        let mass = |(colorant, amount): &(Colorant, Amount)| match amount {
            Amount::Mass(mass) if mass.0 > 0.0 => Ok((colorant.clone(), *mass)),
            Amount::Mass(_) => Err(Error::input(format!("no mass of `{colorant}`"))
                .mend(format!("write grams, as in `{colorant} 20 g`"))),
            Amount::Drops(count) => {
                let finding = format!("`{colorant} {count}` counts drops, and a jar is weighed");
                Err(Error::input(finding)
                    .mend(format!("write grams, as in `{colorant} {count} g`")))
            }
        };
        for (colorant, _) in self.mix.entries() {
            LetDown::check_ratio(colorant)?;
        }
        let masses: Vec<_> = self.mix.entries().iter().map(mass).collect::<Result<_>>()?;
        if masses.is_empty() {
            let finding = "no let-down is named";
            return Err(Error::input(finding).mend("write one as in \"iron oxide red 1:20 20 g\""));
        }
        Ok(masses)
    }

    fn base(&self, shelf: &Shelf) -> Result<String> {
        base_name(shelf, self.base.as_deref(), Kind::Skin)
    }
}

/// Puts `jars` into the book, good until `keeps_until` or as long as is usual.
///
/// # Errors
/// What is no let-down with a mass; names that are not on the shelf; as [`Book::add_let_downs`].
pub fn add(book: &mut Book, jars: &Jars, keeps_until: Option<Date>) -> Result<Vec<LetDown>> {
    let base = jars.base(book.shelf())?;
    let let_down = |(colorant, mass): (Colorant, Grams)| {
        let lot = book.shelf().pigment(&colorant.pigment)?.lot.clone();
        Ok(LetDown {
            colorant,
            lot,
            base: base.clone(),
            made: jars.day,
            mass,
            keeps_until: keeps_until.unwrap_or_else(|| LetDown::usual_end(jars.day)),
        })
    };
    let masses = jars.masses()?.into_iter();
    let let_downs: Vec<LetDown> = masses.map(let_down).collect::<Result<_>>()?;
    book.add_let_downs(&let_downs)?;
    Ok(let_downs)
}

/// Takes `jars` off what is left in the book, and returns what they were taken from.
///
/// # Errors
/// What is no let-down with a mass; as [`Book::take_let_downs`].
pub fn take(book: &mut Book, jars: &Jars) -> Result<Vec<LetDown>> {
    let base = jars.base(book.shelf())?;
    book.take_let_downs(&jars.masses()?, &base, jars.day)
}

/// What stands in the book; those that are used up as well if `all`.
pub fn list(book: &Book, all: bool) -> Vec<LetDown> {
    let jars = book.shelf().let_downs.iter();
    jars.filter(|jar| all || jar.mass.0 > 0.0)
        .cloned()
        .collect()
}
