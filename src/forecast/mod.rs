//! What comes out of the mould: the colour of a casting, its spread, and the chance that it passes.

mod budget;
mod chance;
mod coats;
mod doubt;
mod pair;
mod prediction;
mod thickness;
mod tolerance;

pub(crate) use budget::Bullseye;
pub use budget::{Act, Budget, BudgetLine, NextStep};
pub use chance::SEED;
pub use coats::{MoreCoats, Spraying, wet_g_per_100_cm2};
pub(crate) use doubt::Doubt;
pub use doubt::DoubtSource;
pub(crate) use pair::Aim;
pub use pair::Pair;
pub use prediction::{Contribution, Doubts, Prediction};
pub use thickness::{AtThickness, SHOWN_MM, Thinnest};
pub(crate) use tolerance::WORTH_IT;
pub use tolerance::{acceptable_ab, tolerance};
