//! What comes out of the mould, and what to put into the cup.
//!
//! [`Casting`] predicts a build: its colour, its spread, the chance that it passes. [`Order`] asks for a part from
//! one target: skin over a backing, or over foam that is tinted first, and paint over both.

mod candidate;
mod dose;
mod doubt;
mod order;
mod pair;
mod prediction;
mod question;
mod relaxed;
mod search;
mod tolerance;

pub use crate::materials::Casting;
pub use dose::{LET_DOWN_PARTS, dose, whole_number};
pub use order::{Choice, CupRecipe, Order, OrderedCup, OrderedUnderlay, PartRecipe};
pub use pair::Pair;
pub use prediction::{Doubts, Prediction};
pub use question::Limits;
pub use tolerance::tolerance;
