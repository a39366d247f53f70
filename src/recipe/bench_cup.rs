//! The skin's cup of a part as it was really poured: the recipe with what a correction added, or what the hand put in instead.

use jiff::civil::Date;

use crate::materials::Poured;

/// The skin's cup that was last corrected: one pot of it.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct BenchCup {
    /// The day of the correction.
    pub date: Date,
    /// What told of the cup, in words; the same again on the same day is the same correction, and adds nothing twice.
    pub by: String,
    /// What it held when that was told.
    pub before: Poured,
    /// What it holds with what the correction added.
    pub poured: Poured,
    /// What became of it.
    pub fate: BenchFate,
}

/// What became of a cup that was corrected.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum BenchFate {
    /// It is cast, or will be, and its casting is not logged yet.
    ToBeLogged,
    /// Its casting is logged under this name.
    Logged(String),
    /// It was to be poured away.
    PouredAway,
}

impl BenchCup {
    /// Whether it was this that told of it, on the day `date`.
    pub fn is_by(&self, by: &str, date: Date) -> bool {
        self.by == by && self.date == date
    }
}
