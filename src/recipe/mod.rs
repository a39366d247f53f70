//! What to put into the cups of a part.
//!
//! [`Order`] asks for a part from one target: skin over a backing, or over foam that is tinted first, and paint over both.

mod checks;
mod correction;
mod evaluator;
mod filling;
mod one_tint;
mod order;
mod part;
mod prospects;
mod reach;

pub use correction::{Correction, Remedy};
pub use evaluator::Evaluator;
pub use one_tint::{Cost, OneTint, Stock};
pub use order::{Order, OrderedCup, OrderedUnderlay, PAINTED_TONES};
pub use part::{Choice, CupRecipe, PartRecipe};
pub use prospects::{Foaming, Prospects};
pub use reach::{Helper, MoreDrops, Reach};
