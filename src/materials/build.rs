//! A casting from front to back: paint, skin, and what lies beneath.

use super::{Contact, Grams, Kind, Millimetres, Mix, check_range};
use crate::error::Result;

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

impl Build {
    /// Thinnest and thickest skin, mm.
    pub const THICKNESS_MM: (f64, f64) = (0.05, 50.0);
    /// Thinnest and thickest layer of any kind in the skin's place, mm: a paint may be drawn down there.
    pub const LAYER_MM: (f64, f64) = (Coat::DRY_THICKNESS_MM.0, Self::THICKNESS_MM.1);

    /// All that was poured for it: the skin, the foam behind it and the paint over it, where it has them.
    pub fn poured(&self) -> impl Iterator<Item = &Poured> {
        let foam = match &self.beneath {
            Underlay::Foam(foam) => Some(foam),
            Underlay::Backing { .. } => None,
        };
        let paint = self.paint.as_ref().map(|coat| &coat.paint);
        std::iter::once(&self.skin).chain(foam).chain(paint)
    }

    /// The same with `paint` over all, coats of `dry_thickness` together.
    #[must_use]
    pub fn painted(&self, paint: Poured, dry_thickness: Millimetres) -> Self {
        Self {
            paint: Some(Coat {
                paint,
                dry_thickness,
            }),
            ..self.clone()
        }
    }

    /// Refuses a thickness that no layer of `kind`, which stands in the skin's place, and no paint over it has.
    pub(crate) fn check_thicknesses(&self, kind: Kind) -> Result<()> {
        let Millimetres(thickness) = self.thickness;
        match kind {
            Kind::Paint => Coat::check_dry(self.thickness)?,
            Kind::Skin | Kind::Foam => {
                check_range("the skin's thickness", thickness, Self::THICKNESS_MM, "mm")?;
            }
        }
        self.paint.as_ref().map_or(Ok(()), Coat::check_thickness)
    }
}

impl Coat {
    /// Thinnest and thickest dry paint, mm.
    pub const DRY_THICKNESS_MM: (f64, f64) = (0.001, 5.0);

    pub(crate) fn check_thickness(&self) -> Result<()> {
        Self::check_dry(self.dry_thickness)
    }

    fn check_dry(Millimetres(thickness): Millimetres) -> Result<()> {
        check_range(
            "the paint's dry thickness",
            thickness,
            Self::DRY_THICKNESS_MM,
            "mm",
        )
    }
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

impl Underlay {
    /// What the shelf calls it.
    pub fn name(&self) -> &str {
        match self {
            Self::Backing { name, .. } => name,
            Self::Foam(foam) => &foam.base,
        }
    }
}

/// Paint, dried.
#[derive(Clone, Debug, PartialEq)]
pub struct Coat {
    /// The paint.
    pub paint: Poured,
    /// Thickness of all its coats when dry.
    pub dry_thickness: Millimetres,
}
