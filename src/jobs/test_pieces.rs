//! A test piece drawn from the tinted part B of a kept part's skin, before part A goes into the rest.
//!
//! One drop in 600 g is no count in 60 g: all of part B is tinted, and a share of it is drawn.

use jiff::civil::Date;

use super::batching::Size;
use super::matching::Matched;
use super::parts;
use crate::batch::{Dose, Parts};
use crate::book::Book;
use crate::error::{Error, Result};
use crate::materials::Grams;
use crate::recipe::Part;

/// A test piece, and what is left of the cup that it was drawn from.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct TestPiece {
    /// The part.
    pub part: Part,
    /// Its cups as they are measured out, one pot of each: the skin's is the one that is tinted.
    pub matched: Matched,
    /// Mass of mixed base (A + B) that the test piece takes.
    pub mass: Grams,
    /// What tints one pot, without the fibre.
    pub doses: Vec<Dose>,
    /// All of part B with these; the fibre is not in yet.
    pub tinted_part_b: Grams,
    /// What the test piece takes.
    pub drawn: Share,
    /// What remains for the part.
    pub rest: Share,
}

/// A share of a tinted cup whose part A is not in yet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Share {
    /// Tinted part B.
    pub part_b: Grams,
    /// Part A for it.
    pub part_a: PartA,
    /// Fibre for it.
    pub fibre: Grams,
}

/// Part A, as it is measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum PartA {
    /// Weighed.
    Weighed(Grams),
    /// By volume, ml.
    Millilitres(f64),
}

impl PartA {
    fn times(self, share: f64) -> Self {
        match self {
            Self::Weighed(mass) => Self::Weighed(mass * share),
            Self::Millilitres(volume) => Self::Millilitres(volume * share),
        }
    }
}

impl TestPiece {
    /// A test piece of `mass` of mixed base from a pot of the skin of the part called `name`, as `book` keeps it and as it is
    /// measured out on the day `day`.
    ///
    /// # Errors
    /// As [`parts::to_pour`]; a base that comes as one part; a mass that is none, or leaves nothing for the part.
    pub fn of(book: &Book, name: &str, mass: Grams, day: Date) -> Result<Self> {
        let (part, matched) =
            parts::to_pour(book, name, Size::Times(1.0), parts::Pots::default(), day)?;
        let pour = &matched.skin.pour;
        let whole = pour.base_g;
        if !(mass.0 > 0.0 && mass.0 < whole) {
            let finding = format!("a test piece of {mass} can't be drawn from a pot of {whole} g");
            return Err(Error::input(finding)
                .mend("write the mass of mixed base (A + B) that it takes, such as 60"));
        }
        let shelf = (matched.one_tint.as_ref()).map_or(book.shelf(), |tint| &tint.shelf);
        let (part_a, part_b) = match pour.parts {
            Parts::Weighed { part_a_g, part_b_g } => {
                (PartA::Weighed(Grams(part_a_g)), Grams(part_b_g))
            }
            Parts::ByVolume {
                part_a_ml,
                part_b_ml,
            } => {
                // As where the cup is measured out, both parts are taken to be as dense as the mixed base.
                let density = shelf.base(&pour.base)?.density_g_ml;
                (PartA::Millilitres(part_a_ml), Grams(part_b_ml * density))
            }
            Parts::Single {} => {
                let finding = format!(
                    "`{}` comes as one part, and has no part B to draw from",
                    pour.base
                );
                return Err(Error::input(finding).mend(
                    "tint all of it, and cast the test piece from that: it waits in a closed jar",
                ));
            }
        };
        let (mut tint, mut fibre) = (Grams(0.0), Grams(0.0));
        let mut doses = Vec::with_capacity(pour.doses.len());
        for dose in &pour.doses {
            let mass = Grams(dose.weighs_g);
            // What has no drop is the fibre, which is stirred in last.
            if shelf.pigment(&dose.colorant.pigment)?.drop_mass.is_some() {
                tint = tint + mass;
                doses.push(dose.clone());
            } else {
                fibre = fibre + mass;
            }
        }
        let tinted_part_b = part_b + tint;
        let share = |share: f64| Share {
            part_b: tinted_part_b * share,
            part_a: part_a.times(share),
            fibre: fibre * share,
        };
        let taken = mass.0 / whole;
        let (drawn, rest) = (share(taken), share(1.0 - taken));
        Ok(Self {
            part,
            mass,
            doses,
            tinted_part_b,
            drawn,
            rest,
            matched,
        })
    }
}
