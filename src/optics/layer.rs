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

/// One homogeneous layer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Layer {
    /// K and S of the layer's mix, mm⁻¹.
    pub coefficients: Coefficients,
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
    /// A bed of material with this K and S (mm⁻¹), so thick that nothing behind it shows.
    Bed(Coefficients),
}

/// How light passes through stacked layers: the one interface between recipes and optics.
pub trait LayerModel: fmt::Debug + Send + Sync {
    /// The reflectance (0–1) that an instrument reads of `layers`, the top one first, bonded to each other
    /// and to what lies `beneath`, below the air `surface`. With no layers it reads what lies beneath under
    /// that surface.
    fn reading(&self, layers: &[Layer], beneath: &Beneath, surface: &Surface) -> Spectrum;

    /// Standard deviation of L*, a* and b* that is the model's own: what it errs by on skin-like castings
    /// when every coefficient is right.
    fn own_spread(&self) -> [f64; 3];
}
