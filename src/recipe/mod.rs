//! What comes out of the mould, and what to put into the cup.
//!
//! [`Casting`] predicts a build. [`search`](Question::search) finds whole-drop recipes for one cup; [`Order`]
//! asks for a whole part from one target: foam, then skin over that foam, then paint over that skin.

mod candidate;
mod casting;
mod question;
mod relaxed;
mod search;
mod tolerance;
mod whole;

pub use candidate::{dose, whole_number};
pub use casting::{Casting, Doubts, Prediction};
pub use question::{Aim, Limits, Place, Question};
pub use search::{Answer, Recipe};
pub use tolerance::tolerance;
pub use whole::{Choice, CupRecipe, Order, OrderedCup, OrderedUnderlay, WholeRecipe};
