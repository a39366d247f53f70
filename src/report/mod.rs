//! What people and programs read: terminal, JSON, and the mix sheet.
//!
//! Every function returns text; printing and writing are the caller's.

pub mod advice;
mod beside;
mod bottles;
mod budget;
pub mod calibration;
mod cautions;
mod expectations;
pub mod json;
pub mod let_downs;
mod one_tint;
pub mod part;
mod prospects;
pub mod remedy;
#[cfg(feature = "page")]
pub mod sheet;
pub mod terminal;

pub use cautions::{Caution, cautions};
