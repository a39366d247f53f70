//! How an instrument met what it read.

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
