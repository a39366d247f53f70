//! A casting from front to back: paint, skin, and what lies beneath.

use super::{Amount, Colorant, Contact, Grams, Millimetres, Mix, Portion, Shelf, check_range};
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

impl Poured {
    /// What is left once so much mixed base is `drawn` from it, with the drops that are then added; drops of what was weighed
    /// into it go to that by their mass on `shelf`.
    ///
    /// # Errors
    /// More drawn than there is; names that are not on the shelf; drops of what has none.
    pub fn drawn_and_added(
        &self,
        drawn: Grams,
        add: &[(Colorant, u32)],
        shelf: &Shelf,
    ) -> Result<Self> {
        /// A thousandth of a drop or a gram is not measured by anyone.
        const STEPS: f64 = 1e3;
        let Grams(base_g) = self.base_mass;
        let left = 1.0 - drawn.0 / base_g;
        let some = (f64::MIN_POSITIVE, 1.0);
        check_range("what is left of the cup", left, some, "of it")?;
        let rest = |amount: f64| match drawn.0 {
            0.0 => amount,
            _ => (amount * left * STEPS).round() / STEPS,
        };
        let entries = self.mix.entries().iter().map(|(colorant, amount)| {
            let amount = match amount {
                Amount::Drops(drops) => Amount::Drops(rest(*drops)),
                Amount::Mass(mass) => Amount::Mass(Grams(rest(mass.0))),
            };
            (colorant.clone(), amount)
        });
        let mut entries: Vec<(Colorant, Amount)> = entries.collect();
        for (colorant, count) in add {
            let drops = Amount::Drops((*count).into());
            match entries.iter_mut().find(|(known, _)| known == colorant) {
                Some((_, Amount::Drops(there))) => *there += f64::from(*count),
                Some((_, Amount::Mass(there))) => {
                    *there = *there + Portion::new(shelf, colorant, drops)?.mass;
                }
                None => entries.push((colorant.clone(), drops)),
            }
        }
        Ok(Self {
            base: self.base.clone(),
            base_mass: Grams(base_g - drawn.0),
            mix: Mix::new(entries)?,
        })
    }
}

impl Build {
    /// Thinnest and thickest skin, mm.
    pub const THICKNESS_MM: (f64, f64) = (0.05, 50.0);

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

    /// Refuses a thickness that no skin and no paint has.
    pub(crate) fn check_thicknesses(&self) -> Result<()> {
        let Millimetres(thickness) = self.thickness;
        check_range("the skin's thickness", thickness, Self::THICKNESS_MM, "mm")?;
        self.paint.as_ref().map_or(Ok(()), Coat::check_thickness)
    }
}

impl Coat {
    /// Thinnest and thickest dry paint, mm.
    pub const DRY_THICKNESS_MM: (f64, f64) = (0.001, 5.0);

    pub(crate) fn check_thickness(&self) -> Result<()> {
        let Millimetres(thickness) = self.dry_thickness;
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
