//! Bounds of a spline and of its second derivatives over rectangles of grid cells.
//!
//! Within a cell a cubic spline lies between the least and the greatest of its four by four control points, and so do
//! its derivatives, whose control points are differences of those. A [`Hull`] holds these for a cell; [`Hulls`] for all
//! blocks of 2^a by 2^b cells, so that any rectangle is covered by four of them.
//!
//! Source: C. de Boor (1978), A Practical Guide to Splines, chapters IX–XI.

use super::response::Axis;
use crate::colour::SAMPLES;

/// Bounds over a cell, or over a block of them: the least reading, ∂²R/∂u², ∂²R/∂v² and ∂²R/∂u∂v; then the greatest of
/// each with its sign changed, so that the hull of two hulls is the lesser of each number.
#[derive(Clone, Copy, Debug)]
#[repr(C, align(32))]
pub(crate) struct Hull(pub(crate) [f32; 8]);

impl Hull {
    const NOTHING: Self = Self([f32::INFINITY; 8]);

    #[inline(always)]
    pub(crate) fn with(&self, other: &Self) -> Self {
        let mut both = self.0;
        for (one, other) in both.iter_mut().zip(&other.0) {
            *one = least(*one, *other);
        }
        Self(both)
    }
}

/// The lesser of two numbers, neither of which is undefined.
#[inline(always)]
fn least(one: f32, other: f32) -> f32 {
    if other < one { other } else { one }
}

/// Hulls of all blocks of 2^a by 2^b cells, at every wavelength.
#[derive(Clone, Debug)]
pub(crate) struct Hulls {
    /// Wavelength, then the blocks of (a, b), then u by v.
    all: Vec<Hull>,
    /// Where the blocks of (a, b) begin within a wavelength's, and how many there are along v.
    blocks: Vec<Vec<(usize, usize)>>,
    per_band: usize,
}

impl Hulls {
    /// The hulls of `controls`, which are wavelength by u by v, three more than cells each way.
    pub(crate) fn new(controls: &[f32], u: &Axis, v: &Axis) -> Self {
        let levels = |cells: usize| (usize::BITS - (cells - 1).leading_zeros()) as usize + 1;
        let mut per_band = 0;
        let blocks = (0..levels(u.cells))
            .map(|a| {
                let rows = u.cells.div_ceil(1 << a);
                (0..levels(v.cells))
                    .map(|b| {
                        let columns = v.cells.div_ceil(1 << b);
                        let first = per_band;
                        per_band += rows * columns;
                        (first, columns)
                    })
                    .collect()
            })
            .collect();
        let mut hulls = Self {
            all: vec![Hull::NOTHING; per_band * SAMPLES],
            blocks,
            per_band,
        };
        let (mut plane, mut across) = (Vec::new(), Vec::new());
        let of_band = controls.chunks_exact(u.controls() * v.controls());
        for (band, controls) in of_band.enumerate() {
            let per_step = (u.per_step[band], v.per_step[band]);
            let (first, cells) = (band * per_band, u.cells * v.cells);
            let to = &mut hulls.all[first..first + cells];
            cell_hulls(controls, v.cells, per_step, (&mut plane, &mut across), to);
            hulls.join(&mut Vec::new(), band, u.cells);
        }
        hulls
    }
}
