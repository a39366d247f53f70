//! Colour of a surface from its reflectance, by the CIE's rules and tables.
//!
//! A [`Spectrum`] is 36 samples of reflectance. A [`Viewing`] is a light and an observer; its
//! [`TristimulusWeights`] turn a spectrum into XYZ and CIELAB. A [`Light`] of the venue may be a lamp's own. Colours
//! are compared by [`delta_e_2000`] and [`delta_e_ab`], skin is placed by its [`SkinAngle`], and [`to_srgb`] shows a
//! colour on a screen. This room knows nothing of pigments, photographs or files.
//!
//! # CIELAB
//!
//! Light and observer are settings of a swatch book, so no type parameter can hold them: [`Lab`] has palette's white
//! point `Any`, which refuses every conversion that would need to know them. A value that leaves the program carries
//! its [`Viewing`]; a saved target is refused under another.
//!
//! # XYZ
//!
//! Tables of weights exist for a few lights, and any may come. So they are computed, by ASTM E2022; they agree with the
//! tables of E308 to 0.0025 on Y = 100.
//!
//! # ΔE00
//!
//! It is the inner loop of the search, and the proof needs its terms, so it is written out here. Hues are kept as
//! directions: the mean hue halves the angle between two, the cosines in T are products, the hue chord is a cross
//! product. An angle is taken only of blues, for the rotation term, and of hues that lie opposite each other.
//! [`DifferenceFloor`] bounds it from below over a box of colours, `slack` from above over a step.
//!
//! # Lamps
//!
//! A stored colour names a light that every reader knows: a [`Viewing`] takes an [`Illuminant`] and stays `Copy`. A
//! [`Light`] is an illuminant or a [`Lamp`] by its own spectrum, and is only looked under; a gel gives another light,
//! so gels chain. A lamp is kept as means over each nanometre, so that no narrow line is lost between samples.
//!
//! # Metamerism
//!
//! Under another light a pair has two differences. One is ΔE00 as a visitor sees it. The other is what would be left
//! there if aim and casting matched under the book's light, the CIE's special index for a change of illuminant; that
//! one no small correction mends.

mod data;
mod difference;
mod floor;
mod illuminant;
mod light;
mod observer;
mod shifted;
mod show;
mod skin_angle;
mod slack;
mod spectrum;
mod tangent;
mod translucency;
mod tristimulus;

pub use difference::{DifferenceNear, delta_e_2000, delta_e_ab};
pub use floor::DifferenceFloor;
pub use illuminant::Illuminant;
pub use light::{Lamp, Light};
pub use observer::Observer;
pub use show::to_srgb;
pub use skin_angle::{SkinAngle, SkinClass};
pub(crate) use slack::delta_e_slack;
pub use spectrum::{SAMPLES, Spectrum};
pub use translucency::Translucency;
pub use tristimulus::{TristimulusWeights, Viewing};

/// CIELAB under the [`Viewing`] that the value travels with.
///
/// L* runs from 0 to 100; a* and b* have no fixed range. The light and the observer are settings of a
/// swatch book, so no type parameter can hold them; the white point is `Any`, with which `palette`
/// refuses every conversion that would need to know them. The way to XYZ and back is
/// [`TristimulusWeights`].
pub type Lab = palette::Lab<palette::white_point::Any, f64>;

/// CIE 1976 tristimulus values on the scale where a perfect white has Y = 100.
pub type Xyz = palette::Xyz<palette::white_point::Any, f64>;
