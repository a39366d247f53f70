//! Light in layers: what a stack of coloured films on a backing sends back.
//!
//! A [`Layer`] has [`Coefficients`] K and S per millimetre and a thickness. A [`LayerModel`] says how a
//! stack of layers, bonded to each other, on what lies [`Beneath`], is read by an instrument through the air
//! [`Surface`]. There are two models behind that question, with the same K and S: [`Transport`], which knows
//! directions, and [`KubelkaMunk`], which knows up and down. [`Foam`] turns the coefficients of a solid into
//! those of its foam.
//!
//! K and S here are those of Kubelka and Munk: of diffuse light, twice the absorption and three quarters
//! of the reduced scattering coefficient that radiative transfer speaks of (K = 2 µa, S = ¾ µs′).

pub(crate) mod b_spline;
mod foam;
mod kubelka_munk;
mod surface;
mod transport;

use std::fmt;

pub use foam::Foam;
pub use kubelka_munk::{Film, KubelkaMunk, thick_reflectance};
pub use surface::{
    Specular, Surface, diffuse_reflectance_from_outside, diffuse_reflectance_from_within,
};
pub use transport::{Behind, Depths, Directions, Slab, Transport};

use crate::colour::Spectrum;
use crate::error::{Error, Result};

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
    reason = "there is one in a stack, and it is not moved about"
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

/// A layer model, by its word in a swatch book.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Model {
    /// [`Transport`], `transport`.
    Transport,
    /// [`KubelkaMunk`], `kubelka-munk`.
    KubelkaMunk,
}

impl std::ops::Deref for Model {
    type Target = dyn LayerModel;

    fn deref(&self) -> &Self::Target {
        match self {
            Self::Transport => &Transport,
            Self::KubelkaMunk => &KubelkaMunk,
        }
    }
}

impl fmt::Display for Model {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Transport => "transport",
            Self::KubelkaMunk => "kubelka-munk",
        })
    }
}

impl std::str::FromStr for Model {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self> {
        match text {
            "transport" => Ok(Self::Transport),
            "kubelka-munk" => Ok(Self::KubelkaMunk),
            _ => {
                let models = ["transport", "kubelka-munk"];
                Err(Error::unknown_name("layer model", text, models))
            }
        }
    }
}
