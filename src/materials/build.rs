//! A casting from front to back: paint, skin, and what lies beneath.

use super::{Contact, Grams, Millimetres, Mix};

/// A base with its mix, by the names of the shelf.
#[derive(Clone, Debug, PartialEq)]
pub struct Poured {
    /// Name of the base.
    pub base: String,
    /// Mass of the mixed base before pigment.
    pub base_mass: Grams,
    /// What goes in.
    pub mix: Mix,
}

/// A casting.
#[derive(Clone, Debug, PartialEq)]
pub struct Build {
    /// The skin, or the one layer of a chip.
    pub skin: Poured,
    /// Its thickness.
    pub thickness: Millimetres,
    /// What lies beneath it.
    pub beneath: Underlay,
    /// What was sprayed over all.
    pub paint: Option<Coat>,
}

/// What lies beneath the skin.
#[derive(Clone, Debug, PartialEq)]
pub enum Underlay {
    /// A card or another backing of known reflectance, and how the skin lies on it.
    Backing {
        /// Its name on the shelf.
        name: String,
        /// Whether air lies between.
        contact: Contact,
    },
    /// Foam, taken as too thick to see through.
    Foam(Poured),
}

/// Paint, dried.
#[derive(Clone, Debug, PartialEq)]
pub struct Coat {
    /// The paint.
    pub paint: Poured,
    /// Thickness of all its coats when dry.
    pub dry_thickness: Millimetres,
}
