//! A layer, what lies beneath it, and the question that a layer model answers.

use std::fmt;

use super::Surface;
use crate::colour::Spectrum;

/// Absorption K and scattering S, mm⁻¹ for a mix; mm⁻¹ per unit mass fraction for a pigment dispersion.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Coefficients {
    /// Absorption K.
    pub k: Spectrum,
    /// Scattering S.
    pub s: Spectrum,
}

impl Coefficients {
    /// Neither absorption nor scattering.
    pub const CLEAR: Self = Self {
        k: Spectrum::constant(0.0),
        s: Spectrum::constant(0.0),
    };

    /// Adds `factor` times `other` to both.
    pub fn add_scaled(&mut self, factor: f64, other: &Self) {
        self.k.add_scaled(factor, &other.k);
        self.s.add_scaled(factor, &other.s);
    }

    /// Both times `factor`.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        Self {
            k: self.k.map(|k| k * factor),
            s: self.s.map(|s| s * factor),
        }
    }
}

/// What a layer or a bed is made of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Medium {
    /// K and S, mm⁻¹.
    pub coefficients: Coefficients,
    /// The share of its face that is solid, 0–1: 1 but for a foam. Over the rest gas lies behind what is on it, and, where it
    /// lies bare, is the air before it.
    pub wet_share: f64,
}

impl Medium {
    /// One without gas, of this K and S (mm⁻¹).
    pub const fn solid(coefficients: Coefficients) -> Self {
        Self {
            coefficients,
            wet_share: 1.0,
        }
    }

    /// Whether a part of its face is gas.
    pub fn is_open(&self) -> bool {
        self.wet_share < 1.0
    }
}

/// One homogeneous layer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Layer {
    /// What it is made of.
    pub medium: Medium,
    /// Thickness, mm, not negative.
    pub thickness_mm: f64,
}

/// What lies under the lowest layer.
#[expect(
    clippy::large_enum_variant,
    reason = "there is one in a stack, and it is not copied about"
)]
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Beneath {
    /// A diffuse backing of this reflectance (0–1), bonded: met from within.
    Backing(Spectrum),
    /// A diffuse backing of this reflectance (0–1, as seen in air), on which the lowest layer lies dry, with air
    /// between.
    Laid(Spectrum),
    /// A bed of this, so thick that nothing behind it shows.
    Bed(Medium),
}

/// How light passes through stacked layers: the one interface between recipes and optics.
pub trait LayerModel: fmt::Debug + Send + Sync {
    /// The reflectance (0–1) that an instrument reads of `layers`, the top one first, bonded to each other
    /// and to what lies `beneath`, below the air `surface`. With no layers it reads what lies beneath under
    /// that surface.
    fn reading(&self, layers: &[Layer], beneath: &Beneath, surface: &Surface) -> Spectrum;

    /// Standard deviation of L*, a* and b* that is the model's own: what it errs by on skin-like castings of these `layers` on
    /// what is `beneath` when every coefficient is right.
    fn own_spread(&self, layers: &[Layer], beneath: &Beneath) -> [f64; 3];
}

/// Whether any of it is foam.
pub(super) fn holds_foam(layers: &[Layer], beneath: &Beneath) -> bool {
    let bed = match beneath {
        Beneath::Bed(medium) => Some(medium),
        Beneath::Backing(_) | Beneath::Laid(_) => None,
    };
    let media = layers.iter().map(|layer| &layer.medium);
    media.chain(bed).any(Medium::is_open)
}
