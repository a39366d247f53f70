//! The clear materials that pigments go into: skin, foam and paint.

use std::fmt;
use std::str::FromStr;

use super::{CoefficientSpread, Grams};
use crate::error::{Error, Result};
use crate::optics::{Coefficients, Foam};

/// A clear base, mixed from part A and part B (or poured as one part).
#[derive(Clone, Debug, PartialEq)]
pub struct Base {
    /// Its name on the shelf.
    pub name: String,
    /// What it is for.
    pub kind: BaseKind,
    /// Density of the mixed liquid, g/ml.
    pub density_g_ml: f64,
    /// How parts A and B go together.
    pub ratio: MixRatio,
    /// Minutes from mixing until it no longer flows well; `None` where unknown or without end.
    pub pot_life_min: Option<f64>,
    /// Minutes from mixing until it gels.
    pub gel_min: Option<f64>,
    /// Minutes from mixing until it may leave the mould.
    pub demold_min: Option<f64>,
    /// K and S of the unpigmented base (of its solids, for a paint; unfoamed, for a foam), mm⁻¹.
    pub coefficients: Coefficients,
    /// How sure those are.
    pub spread: CoefficientSpread,
}

/// What a base is for, with what only that kind has.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum BaseKind {
    /// A cast or brushed skin.
    Skin,
    /// A foam backing, and how it rises.
    Foam(Foam),
    /// A sprayed coat.
    Paint {
        /// The share of its mass that stays when it has dried, above 0, up to 1.
        solids: f64,
    },
}

impl BaseKind {
    /// The kind's word in `bases.csv`.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Skin => "skin",
            Self::Foam(_) => "foam",
            Self::Paint { .. } => "paint",
        }
    }
}

/// Parts of A and of B.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MixRatio {
    /// Parts of A, not negative.
    pub part_a: f64,
    /// Parts of B, not negative; 0 for a base that comes as one part.
    pub part_b: f64,
    /// What the parts are parts of.
    pub by: RatioBy,
}

/// What mixing parts are measured in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RatioBy {
    /// Weighed.
    Mass,
    /// Measured by volume.
    Volume,
}

impl fmt::Display for RatioBy {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Mass => "mass",
            Self::Volume => "volume",
        })
    }
}

impl FromStr for RatioBy {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self> {
        match text {
            "mass" => Ok(Self::Mass),
            "volume" => Ok(Self::Volume),
            _ => Err(Error::unknown_name(
                "way to measure parts",
                text,
                ["mass", "volume"],
            )),
        }
    }
}

impl MixRatio {
    /// The masses of A and of B in `total` of the mixed base.
    ///
    /// Parts by volume are taken as parts by mass, that is, A and B as equally dense; where the makers of a
    /// base give both ratios, the one by mass is to be preferred.
    pub fn split(&self, total: Grams) -> (Grams, Grams) {
        let share_a = self.part_a / (self.part_a + self.part_b);
        (total * share_a, total * (1.0 - share_a))
    }
}

impl Base {
    /// The share of the base's mass that stays in the finished part.
    pub fn solids(&self) -> f64 {
        match self.kind {
            BaseKind::Paint { solids } => solids,
            BaseKind::Skin | BaseKind::Foam(_) => 1.0,
        }
    }

    /// K and S of the finished part, of what the cup holds: those of its foam, if the base rises.
    pub fn risen(&self, liquid: &Coefficients) -> Coefficients {
        match self.kind {
            BaseKind::Foam(foam) => foam.of(liquid),
            BaseKind::Skin | BaseKind::Paint { .. } => *liquid,
        }
    }

    /// The error that this base is of the wrong kind: not `wanted` (`foam`, say).
    pub(crate) fn not_a(&self, wanted: &str) -> Error {
        Error::input(format!(
            "`{}` is a {}, not a {wanted}",
            self.name,
            self.kind.word()
        ))
    }
}
