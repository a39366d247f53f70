//! How a chart in the shot served, as it is reported and kept.

use serde::{Deserialize, Serialize};

/// How a chart served.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ChartReport {
    /// `spectral`, `skin matrix` or `matrix`: how the colours were corrected.
    pub method: String,
    /// Mean ΔE00 between patches and what the other patches tell of them, those near skin weighing most.
    pub leave_one_out_delta_e: f64,
    /// The same of all patches alike.
    pub leave_one_out_all: f64,
    /// Patches that were used.
    pub patches_used: usize,
    /// Patches that were not, with the reason.
    pub left_out: Vec<PatchLeftOut>,
    /// By how much the light rises over a chart's width to the right, and as far down, as a share of it.
    pub light_slope: [f64; 2],
    /// The power that undoes the camera's own tone curve; 1 where it has none worth undoing.
    pub tone_exponent: f64,
}

/// A patch of a chart that was left out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PatchLeftOut {
    /// Row, from 1 at the top.
    pub row: u32,
    /// Column, from 1 at the left.
    pub column: u32,
    /// `clipped`, `uneven` or `not opaque`.
    pub because: String,
}
