//! What stands on a maker's shelf, and what is made of it.
//!
//! A [`Shelf`] holds [`Base`]s, [`Pigment`]s (the fibre among them) and backings, with the [`Settings`] that
//! say how colours are read. A [`Mix`] is what a notebook says (`iron oxide red 3; fibre 12.5 g`); poured
//! into a base it is a [`Cup`], which has masses and K and S. A [`Build`] is a casting: skin over foam or a
//! card, perhaps under paint. A [`Swatch`] is one reading of one casting; a [`Reading`] is what an
//! instrument's file says, and its [`Geometry`] how it was taken; a [`Weighing`] is a run of drops on a scale; a [`LetDown`]
//! stands ready in its jar.

mod base;
mod build;
mod casting;
mod contact;
mod cup;
mod dose;
#[cfg(test)]
pub(crate) mod fixtures;
mod geometry;
mod knowledge;
mod let_down;
mod mix;
mod pigment;
mod reading;
mod shelf;
mod supply;
mod swatch;
mod units;
mod weighing;

pub use base::{Base, BaseKind, Kind, MixRatio, RatioBy};
pub use build::{Build, Coat, Poured, Underlay};
pub use casting::Casting;
pub use contact::Contact;
pub use cup::{Cup, Portion};
pub use dose::{LET_DOWN_PARTS, dose, whole_number};
pub use geometry::Geometry;
pub use knowledge::{FoamStep, JointDirection, Material, Step};
pub use let_down::LetDown;
pub use mix::{Amount, Colorant, Mix};
pub use pigment::{CoefficientSpread, Pigment};
pub use reading::Reading;
pub use shelf::{Backing, Settings, Shelf};
pub use supply::{Standing, Supply};
pub use swatch::Swatch;
pub use units::{Grams, Millimetres};
pub(crate) use units::{check_range, parse_number, with_point};
pub use weighing::{DropMass, Weighed, Weighing};
