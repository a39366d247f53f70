//! Light as a camera gave it, linear, before anything is made of it: what a photograph of a board is read from, and read from
//! again once more is known of its chips.

use crate::colour::Spectrum;

/// A chip or a patch in a photograph.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LinearField {
    /// X, Y, Z by the picture's own profile, under D50, white at Y = 1; strays left out.
    pub xyz: [f64; 3],
    /// Standard deviation of that mean by the pixels' noise, as a share of it.
    pub doubt: f64,
    /// Where its middle lies from that of the chart, right and down, in widths of the chart.
    pub offset: [f64; 2],
}

/// A patch of a chart in a photograph.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LinearPatch {
    /// What the camera gave of it.
    pub field: LinearField,
    /// What it is known by, 0–1.
    pub reflectance: Spectrum,
    /// Whether that was measured; else it was guessed from its colour.
    pub measured: bool,
}
