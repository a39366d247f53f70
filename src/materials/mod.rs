//! What stands on a maker's shelf, and what is made of it.
//!
//! A [`Shelf`] holds [`Base`]s, [`Pigment`]s (the fibre among them) and backings, with the [`Settings`] that say how
//! colours are read. A [`Mix`] is what a notebook says (`iron oxide red 3; fibre 12.5 g`); poured into a base it is a
//! [`Cup`], which has masses and K and S. A [`Build`] is a casting: skin over foam or a card, perhaps under paint. A
//! [`Swatch`] is one reading of one casting. A [`Reading`] is what an instrument's file says, and its [`Geometry`] how it
//! was taken. A [`Weighing`] is a run of drops on a scale, and a [`LetDown`] stands ready in its jar.
//!
//! # What is a cup?
//!
//! A base, its mass, and portions. K and S add by mass; what a paint loses in drying is taken from its base; a foam rises in
//! its cup, so that whoever asks a cup for its K and S gets those of the foam.
//!
//! # Why does a log take what a recipe may not?
//!
//! [`Cup::check_loads`] refuses a cup that would not cure, for whoever is about to mix it. A swatch was cast: what came of it
//! can be told, and is worth most where it was extreme.
//!
//! # Whose surface does a reading have?
//!
//! A [`Casting`] carries one, the book's unless it is read by a [`Geometry`] that says otherwise; [`Casting::of_swatch`]
//! sees to it for everyone who compares readings with predictions. The guess that a whole book is read with specular light
//! excluded counts only readings that do not say. An aperture is kept and warned of, not modelled: edge loss needs the
//! instrument's own lamp and optics.
//!
//! # Why does a weighing not scale old chips?
//!
//! It does: a mix in drops is read with the present `drop_g`. A drop mass that was only supposed was wrong for the old chips
//! too; a new bottle is a new lot, with a row and a drop mass of its own. Where readings count drops and the mass changes by
//! more than a tenth, the output says so. The spread between runs replaces the general 5 % from three runs on, and is never
//! less than what the scale's step hides.

mod base;
mod blending;
mod build;
mod casting;
mod cholesky;
mod contact;
mod cup;
mod dose;
#[cfg(test)]
pub(crate) mod fixtures;
mod gaussian_process;
mod geometry;
mod knowledge;
mod largest_pots;
mod left_over;
mod left_over_castings;
mod left_part_b;
mod let_down;
mod makeup;
mod mix;
mod mould;
mod name;
mod pigment;
mod reading;
mod shelf;
mod stock;
mod supply;
mod swatch;
mod topping_up;
mod units;
mod weighing;

pub use base::{Base, BaseKind, Kind, MixRatio, RatioBy};
pub use build::{Build, Coat, Poured, Underlay};
pub use casting::Casting;
pub(crate) use cholesky::{factored, inverted};
pub use contact::Contact;
pub use cup::{Cup, Portion};
pub(crate) use dose::{LET_DOWN_PARTS, dose, whole_number};
pub(crate) use gaussian_process::GaussianProcess;
pub use geometry::Geometry;
pub use knowledge::{FoamStep, JointDirection, Material, Step};
pub use largest_pots::LargestPots;
pub use left_over::{Carried, LeftOver, LeftOverLaw, Scales};
pub use left_over_castings::LeftOverCasting;
pub use left_part_b::LeftPartB;
pub use let_down::LetDown;
pub(crate) use makeup::{Apart, Makeup, Strengths};
pub use mix::{Amount, Colorant, Mix};
pub use mould::Mould;
pub(crate) use name::{MOST_CHARACTERS, check_name, check_seen, is_unseen};
pub use pigment::{CoefficientSpread, CurveSource, Ingredient, Pigment};
pub use reading::Reading;
pub use shelf::{Backing, Settings, Shelf};
pub use stock::{Rounded, Stock, StockBottle};
pub use supply::{Standing, Supply};
pub use swatch::Swatch;
pub use units::{Grams, Millimetres};
pub(crate) use units::{check_range, parse_number, with_point};
pub use weighing::{DropMass, Weighed, Weighing};
