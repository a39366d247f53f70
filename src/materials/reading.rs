//! What an instrument says of a surface.

use super::Geometry;
use crate::colour::{Lab, Spectrum, Viewing};

/// One reading; it has a reflectance, a CIELAB, or both.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// What its file calls it, or the line that it stands on.
    pub name: String,
    /// Reflectance, 0–1.
    pub reflectance: Option<Spectrum>,
    /// CIELAB as the instrument gave it, and what it is for.
    pub lab: Option<(Lab, Viewing)>,
    /// How it was taken.
    pub geometry: Geometry,
}
