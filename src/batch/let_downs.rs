//! The let-downs that a cup calls for: how much of each goes in, and whether one stands ready.

use jiff::civil::Date;
use serde::Serialize;

use crate::materials::{Base, Colorant, Cup, Grams, LetDown, Shelf, Standing};

/// A let-down that goes into a cup.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CalledFor {
    /// The pigment and its ratio.
    pub let_down: Colorant,
    /// How much of it goes in, g.
    pub uses_g: f64,
    /// The one of the book to take it from, or that would be if it served.
    pub from: Option<Jar>,
}

/// A let-down of the book.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Jar {
    /// It, with what is left before any is taken.
    #[serde(flatten)]
    pub let_down: LetDown,
    /// Whether it serves.
    pub standing: Standing,
}

impl CalledFor {
    /// The jar that it is taken from, if one serves.
    pub fn ready(&self) -> Option<&LetDown> {
        let jar = self.from.as_ref()?;
        (jar.standing == Standing::Ready).then_some(&jar.let_down)
    }
}

/// Those that `cup` calls for as it is written, on the day `day`, where the let-downs of `shelf` stand.
pub fn let_downs(cup: &Cup<'_>, shelf: &Shelf, day: Date) -> Vec<CalledFor> {
    let portions = cup.portions.iter();
    let portions = portions.map(|portion| (portion.colorant(), portion.mass));
    of(portions, &cup.base, shelf, day)
}

/// Those among `portions` of a cup of `base`.
pub(super) fn of(
    portions: impl Iterator<Item = (Colorant, Grams)>,
    base: &Base,
    shelf: &Shelf,
    day: Date,
) -> Vec<CalledFor> {
    let called_for = |(let_down, mass): (Colorant, Grams)| {
        let standing = shelf.standing(&let_down, &base.name, mass, day);
        CalledFor {
            from: standing.map(|(place, standing)| Jar {
                let_down: shelf.let_downs[place].clone(),
                standing,
            }),
            let_down,
            uses_g: mass.0,
        }
    };
    portions
        .filter(|(colorant, mass)| colorant.let_down > 1.0 && mass.0 > 0.0)
        .map(called_for)
        .collect()
}
