//! How an instrument met what it read.

use std::fmt;

use crate::error::{Error, Result};
use crate::optics::Specular;

/// What is known of how a reading was taken; `None` where nobody said.
///
/// Readings taken in different ways can't be compared as they are: the mirrored light alone is worth some 4 ΔE00
/// on a smooth casting, and on a translucent one a small aperture loses the light that leaves beside it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Geometry {
    /// Whether the light mirrored at the surface was counted.
    pub specular: Option<Specular>,
    /// Diameter of the spot that was read, mm.
    pub aperture_mm: Option<f64>,
}

impl Geometry {
    /// Smallest and largest aperture that is taken, mm.
    pub const APERTURE_RANGE_MM: (f64, f64) = (0.5, 100.0);

    /// By a sphere without gloss trap, through an aperture that is not known.
    pub const BY_A_SPHERE: Self = Self {
        specular: Some(Specular::Included),
        aperture_mm: None,
    };

    /// Whether nobody said anything.
    pub fn is_unknown(&self) -> bool {
        *self == Self::default()
    }

    /// How all readings were taken that were taken in the ways of `all`; what they don't share is not known of their mean.
    ///
    /// # Errors
    /// Readings with the specular light included and excluded, which have no common mean.
    pub fn common(all: impl IntoIterator<Item = Self>) -> Result<Self> {
        let mut all = all.into_iter();
        let mut common = all.next().unwrap_or_default();
        for geometry in all {
            if let (Some(one), Some(other)) = (common.specular, geometry.specular)
                && one != other
            {
                let finding = format!(
                    "readings with the specular light {one} and {other} have no common mean"
                );
                return Err(Error::input(finding).mend("keep one kind in a file"));
            }
            common.specular = common.specular.filter(|_| geometry.specular.is_some());
            common.aperture_mm = common
                .aperture_mm
                .filter(|_| geometry.aperture_mm == common.aperture_mm);
        }
        Ok(common)
    }
}

/// `specular included, aperture 8 mm`; nothing of what is not known.
impl fmt::Display for Geometry {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(specular) = self.specular {
            write!(f, "specular {specular}")?;
        }
        if self.specular.is_some() && self.aperture_mm.is_some() {
            f.write_str(", ")?;
        }
        if let Some(aperture_mm) = self.aperture_mm {
            write!(f, "aperture {aperture_mm} mm")?;
        }
        Ok(())
    }
}
