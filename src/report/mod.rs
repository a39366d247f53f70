//! What people and programs read: terminal, JSON, and the mix sheet.
//!
//! Every function returns text; printing and writing are the caller's.

mod beside;
mod budget;
pub mod calibration;
mod cautions;
mod expectations;
pub mod json;
mod part;
mod prospects;
#[cfg(feature = "page")]
pub mod sheet;
pub mod terminal;

pub use cautions::{Caution, cautions};
pub use part::{Logged, PartReport, PouredRecipe};
