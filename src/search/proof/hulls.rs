//! Bounds of a spline and of its second derivatives over rectangles of grid cells.
//!
//! Within a cell a cubic spline lies between the least and the greatest of its four by four control points, and so do
//! its derivatives, whose control points are differences of those. A [`Hull`] holds these for a cell; [`Hulls`] for all
//! blocks of 2^a by 2^b cells, so that any rectangle is covered by four of them.
//!
//! Source: C. de Boor (1978), A Practical Guide to Splines, chapters IX–XI.

use super::axis::Axis;
use crate::colour::SAMPLES;

/// Bounds over a cell, or over a block of them: the least reading, ∂²R/∂u², ∂²R/∂v² and ∂²R/∂u∂v; then the greatest of
/// each with its sign changed, so that the hull of two hulls is the lesser of each number.
#[derive(Clone, Copy, Debug)]
#[repr(C, align(32))]
pub(crate) struct Hull(pub(crate) [f32; 8]);

impl Hull {
    /// The hull of no cell, which leaves any other as it is.
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
    /// Number of blocks of all sizes at one wavelength: about four times the cells.
    per_band: usize,
}

impl Hulls {
    /// The hulls of `controls`, which are wavelength by u by v, three more than cells each way.
    ///
    /// Made cell by cell, then each size of block from one below. A block takes 32 bytes; 32 by 32 cells with
    /// their blocks, 4.6 MB.
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
            hulls.join(band, u.cells);
        }
        hulls
    }

    /// Joins the cells of a wavelength to blocks, each of two of the level below, along v if it can be.
    fn join(&mut self, band: usize, cells_of_u: usize) {
        let hulls = &mut self.all[band * self.per_band..(band + 1) * self.per_band];
        for a in 0..self.blocks.len() {
            let rows = cells_of_u.div_ceil(1 << a);
            for b in 0..self.blocks[a].len() {
                let (to, columns) = self.blocks[a][b];
                let ((from, from_columns), along_v) = match (a, b) {
                    (0, 0) => continue,
                    (a, 0) => (self.blocks[a - 1][0], false),
                    (a, b) => (self.blocks[a][b - 1], true),
                };
                let from_rows = if along_v {
                    rows
                } else {
                    cells_of_u.div_ceil(1 << (a - 1))
                };
                for row in 0..rows {
                    for column in 0..columns {
                        let (r, c) = if along_v {
                            (row, 2 * column)
                        } else {
                            (2 * row, column)
                        };
                        let one = hulls[from + r * from_columns + c];
                        let (r, c) = if along_v { (r, c + 1) } else { (r + 1, c) };
                        hulls[to + row * columns + column] = if r < from_rows && c < from_columns {
                            one.with(&hulls[from + r * from_columns + c])
                        } else {
                            one
                        };
                    }
                }
            }
        }
    }

    /// The hull over cells from one row to another and from one column to another, both included.
    ///
    /// Four aligned blocks, at least as long each way as the first cell and the last lie apart, hold them all. They may
    /// hold cells beside them, too, which makes the bounds wider, not wrong.
    #[inline(always)]
    pub(crate) fn over(&self, band: usize, rows: (usize, usize), columns: (usize, usize)) -> Hull {
        let level = |(low, high): (usize, usize)| match high - low {
            0 | 1 => 0,
            more => (usize::BITS - (more - 1).leading_zeros()) as usize,
        };
        let (a, b) = (level(rows), level(columns));
        let (first, width) = self.blocks[a][b];
        let first = first + band * self.per_band;
        let at = |row: usize, column: usize| &self.all[first + (row >> a) * width + (column >> b)];
        let one = at(rows.0, columns.0).with(at(rows.1, columns.0));
        let other = at(rows.0, columns.1).with(at(rows.1, columns.1));
        one.with(&other)
    }
}

/// The hulls of a wavelength's cells, `columns` of them along v: of its control points, and of those of its second
/// derivatives.
///
/// A difference of control points counts in up to sixteen cells, so each is taken once, and the least over a cell's
/// window is found along v and then along u. Rounding outwards keeps order, so it may come first.
fn cell_hulls(
    controls: &[f32],
    columns: usize,
    (per_u, per_v): (f64, f64),
    (rounded, along): (&mut Vec<f32>, &mut Vec<f32>),
    to: &mut [Hull],
) {
    /// How many of the reading's control points, of ∂²R/∂u²'s, ∂²R/∂v²'s and ∂²R/∂u∂v's count in a cell, along u and v.
    const WINDOWS: [(usize, usize); 4] = [(4, 4), (2, 4), (4, 2), (3, 3)];
    let width = columns + 3;
    let at = |r: usize, c: usize| f64::from(controls[r * width + c]);
    let scales = [1.0, per_u * per_u, per_v * per_v, per_u * per_v];
    for (which, ((tall, wide), scale)) in WINDOWS.into_iter().zip(scales).enumerate() {
        let rows = to.len() / columns + tall - 1;
        let value = |r: usize, c: usize| match which {
            0 => at(r, c),
            1 => at(r, c) - 2.0 * at(r + 1, c) + at(r + 2, c),
            2 => at(r, c) - 2.0 * at(r, c + 1) + at(r, c + 2),
            _ => at(r + 1, c + 1) - at(r + 1, c) - at(r, c + 1) + at(r, c),
        };
        for (slot, sign) in [(which, 1.0), (which + 4, -1.0)] {
            along.clear();
            for r in 0..rows {
                #[expect(
                    clippy::cast_possible_truncation,
                    reason = "rounded outwards to single precision"
                )]
                let outwards = |c: usize| ((sign * value(r, c) * scale) as f32).next_down();
                rounded.clear();
                rounded.extend((0..columns + wide - 1).map(outwards));
                let first = along.len();
                along.extend_from_slice(&rounded[..columns]);
                for shift in 1..wide {
                    for (one, other) in along[first..].iter_mut().zip(&rounded[shift..]) {
                        *one = least(*one, *other);
                    }
                }
            }
            for (r, row) in to.chunks_exact_mut(columns).enumerate() {
                for (c, hull) in row.iter_mut().enumerate() {
                    let window = (1..tall).map(|down| along[(r + down) * columns + c]);
                    hull.0[slot] = window.fold(along[r * columns + c], least);
                }
            }
        }
    }
}
