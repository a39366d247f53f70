//! The clear materials that pigments go into: skin, foam and paint.

use std::fmt;
use std::str::FromStr;

use serde::Serialize;

use super::{CoefficientSpread, Pigment};
use crate::error::{Error, Result};
use crate::optics::{Coefficients, Foam, Medium};

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

impl Base {
    /// Whether a search may drop `pigment` into it: into foam no white, since its cells are the white.
    pub fn wants(&self, pigment: &Pigment) -> bool {
        self.kind.kind() != Kind::Foam || !pigment.is_white()
    }
}

impl BaseKind {
    /// What kind it is, without what only that kind has.
    pub fn kind(&self) -> Kind {
        match self {
            Self::Skin => Kind::Skin,
            Self::Foam(_) => Kind::Foam,
            Self::Paint { .. } => Kind::Paint,
        }
    }
}

/// The kinds of base.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// A cast or brushed skin.
    Skin,
    /// A foam backing.
    Foam,
    /// A sprayed coat.
    Paint,
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Skin => "skin",
            Self::Foam => "foam",
            Self::Paint => "paint",
        })
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
    /// Part A's share of the whole, 0–1, by what the ratio is measured in.
    pub fn share_a(&self) -> f64 {
        self.part_a / (self.part_a + self.part_b)
    }

    /// Whether the base comes as one part.
    pub fn is_single(&self) -> bool {
        self.part_b == 0.0
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

    /// What has `set` to these K and S (mm⁻¹): a foam has gas at its face.
    pub fn medium(&self, set: Coefficients) -> Medium {
        match self.kind {
            BaseKind::Foam(foam) => foam.medium(set),
            BaseKind::Skin | BaseKind::Paint { .. } => Medium::solid(set),
        }
    }

    /// The error that this base is of the wrong kind: not `wanted`.
    pub(crate) fn not_a(&self, wanted: Kind) -> Error {
        Error::input(format!(
            "`{}` is a {}; expected a {wanted}",
            self.name,
            self.kind.kind()
        ))
    }
}
