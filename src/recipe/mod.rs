//! What comes out of the mould, and what to put into the cup.
//!
//! [`Casting`] predicts a build: its colour, its spread, the chance that it passes. [`Order`] asks for a part from
//! one target: skin over a backing, or over foam that is tinted first, and paint over both.

mod bound;
mod budget;
mod candidate;
mod chance;
#[cfg(test)]
mod checks;
mod coats;
mod correction;
mod dose;
mod doses;
mod doubt;
mod evaluator;
mod filling;
mod instructions;
mod kernel;
mod lanes;
mod neighbours;
mod one_tint;
mod open;
mod order;
mod pair;
mod part;
mod planes;
mod pool;
mod prediction;
mod proof;
mod prospects;
mod question;
mod reach;
mod relaxed;
mod response;
mod search;
mod thickness;
mod tolerance;
mod zonotope;

pub use crate::materials::Casting;
pub use budget::{Act, Budget, BudgetLine, Lever, Part};
pub use chance::SEED;
pub use coats::{MoreCoats, Spraying, wet_g_per_100_cm2};
pub use correction::{Correction, Remedy};
pub use dose::{LET_DOWN_PARTS, dose, whole_number};
pub use evaluator::Evaluator;
pub use one_tint::{Cost, OneTint, Stock};
pub use order::{Order, OrderedCup, OrderedUnderlay};
pub use pair::Pair;
pub use part::{Choice, CupRecipe, PartRecipe};
pub use prediction::{Doubts, Moved, Prediction};
pub use prospects::{Foaming, PAINTED_TONES, Prospects};
pub use question::{Limits, Stop};
pub use reach::{Helper, MoreDrops, Reach};
pub use thickness::{AtThickness, SHOWN_MM, Thinnest};
pub use tolerance::{acceptable_ab, tolerance};
