//! One axis of the grid on which a question's layer model is sampled: even in ln(K + K₀) or ln(S + S₀).

use super::lanes::{LANES, Lanes};
use crate::colour::{SAMPLES, Spectrum};
use crate::materials::whole_number;

/// Fewest and most cells a side.
///
/// Control points of the finest grid are 75 × 75 a wavelength, 810 kB in all.
const CELLS: (usize, usize) = (6, 72);

/// One axis of the grid: where it begins and how wide a cell is, at each wavelength.
#[derive(Clone, Debug)]
pub(crate) struct Axis {
    /// K₀ or S₀.
    pub(crate) offset: Lanes,
    /// ln(K + K₀) or ln(S + S₀) at the first node.
    pub(crate) start: Lanes,
    /// Width of a cell on that scale, in e-folds; 1 in lanes of no wavelength.
    pub(crate) step: Lanes,
    /// One over that width.
    pub(crate) per_step: Lanes,
    /// Number of cells, the same at every wavelength: one fewer than nodes.
    pub(crate) cells: usize,
}

impl Axis {
    /// The axis of a K or an S from `low` to `high` (mm⁻¹, at each wavelength), with cells of about `cell` e-folds
    /// where it is widest. Its offset is such that it spans about `folds` e-folds at most, however small `low` is.
    pub(crate) fn new(low: &Spectrum, high: &Spectrum, folds: f64, cell: f64) -> Self {
        let cells = whole_number((Self::widest(low, high, folds) / cell).ceil()) as usize;
        let cells = cells.clamp(CELLS.0, CELLS.1);
        let mut axis = Self {
            offset: [1.0; LANES],
            start: [0.0; LANES],
            step: [1.0; LANES],
            per_step: [1.0; LANES],
            cells,
        };
        for band in 0..SAMPLES {
            let (low, high) = (low[band], high[band]);
            let offset = (high * (-folds).exp() - low).max(1e-9);
            let start = (low + offset).ln();
            // A little wider than the span, for rounding.
            let width = ((high + offset).ln() - start).max(1e-3) + 2e-9;
            axis.offset[band] = offset;
            axis.start[band] = start - 1e-9;
            axis.step[band] = width / cells as f64;
            axis.per_step[band] = cells as f64 / width;
        }
        axis
    }

    /// The widest that ln(K + K₀) or ln(S + S₀) ranges at any wavelength, in e-folds.
    pub(crate) fn widest(low: &Spectrum, high: &Spectrum, folds: f64) -> f64 {
        let fold = |band: usize| {
            let offset = (high[band] * (-folds).exp() - low[band]).max(1e-9);
            ((high[band] + offset) / (low[band] + offset)).ln()
        };
        (0..SAMPLES).map(fold).fold(0.0, f64::max)
    }

    /// K or S (mm⁻¹) at a position on the grid, counted in cells from the first node; never below 0.
    pub(crate) fn value(&self, lane: usize, position: f64) -> f64 {
        ((self.start[lane] + self.step[lane] * position).exp() - self.offset[lane]).max(0.0)
    }

    /// Number of control points: a cubic spline has three more than cells.
    pub(crate) fn controls(&self) -> usize {
        self.cells + 3
    }
}
