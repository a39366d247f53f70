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
    /// What those of the book are good for; `None` where none stands.
    pub standing: Option<Standing>,
    /// Those to take it from, the first to be used up first, or that would be if they served.
    pub from: Vec<Jar>,
}

/// A let-down of the book.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Jar {
    /// It, with what is left before any is taken.
    #[serde(flatten)]
    pub let_down: LetDown,
    /// How much of that goes in, g.
    pub takes_g: f64,
}

impl CalledFor {
    /// Whether it stands ready.
    pub fn is_ready(&self) -> bool {
        self.standing == Some(Standing::Ready)
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
        let supply = shelf.supply(&let_down, &base.name, mass, day);
        let draws = supply.iter().flat_map(|supply| &supply.draws);
        CalledFor {
            standing: supply.as_ref().map(|supply| supply.standing),
            from: draws
                .map(|(index, drawn)| Jar {
                    let_down: shelf.let_downs[*index].clone(),
                    takes_g: drawn.0,
                })
                .collect(),
            let_down,
            uses_g: mass.0,
        }
    };
    portions
        .filter(|(colorant, mass)| colorant.let_down > 1.0 && mass.0 > 0.0)
        .map(called_for)
        .collect()
}
