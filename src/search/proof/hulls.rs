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
    /// Made cell by cell, then each size of block from one below. A block takes 32 bytes; 26 by 26 cells with
    /// their blocks, 3.0 MB.
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
        let mut memory = Default::default();
        let of_band = controls.chunks_exact(u.controls() * v.controls());
        for (band, controls) in of_band.enumerate() {
            let per_step = (u.per_step[band], v.per_step[band]);
            let (first, cells) = (band * per_band, u.cells * v.cells);
            let to = &mut hulls.all[first..first + cells];
            cell_hulls(controls, v.cells, per_step, &mut memory, to);
            hulls.join(band, u.cells);
        }
        hulls
    }

    /// Joins the cells of a wavelength to blocks, each of two of the level below, along v if it can be.
    fn join(&mut self, band: usize, cells_of_u: usize) {
        let hulls = &mut self.all[band * self.per_band..(band + 1) * self.per_band];
        let joined = |one: &Hull, other: Option<&Hull>| other.map_or(*one, |other| one.with(other));
        for a in 0..self.blocks.len() {
            for b in 0..self.blocks[a].len() {
                let (to, columns) = self.blocks[a][b];
                let (from, from_columns) = match (a, b) {
                    (0, 0) => continue,
                    (a, 0) => self.blocks[a - 1][0],
                    (a, b) => self.blocks[a][b - 1],
                };
                let (below, at) = hulls.split_at_mut(to);
                // As many rows as the level below has, or half of them.
                let from_rows = cells_of_u.div_ceil(1 << if b > 0 { a } else { a - 1 });
                let below = below[from..].chunks_exact(from_columns).take(from_rows);
                let mut below = below.collect::<Vec<_>>().into_iter();
                for row in at[..cells_of_u.div_ceil(1 << a) * columns].chunks_exact_mut(columns) {
                    let Some(one) = below.next() else { break };
                    if b > 0 {
                        for (hull, pair) in row.iter_mut().zip(one.chunks(2)) {
                            *hull = joined(&pair[0], pair.get(1));
                        }
                    } else {
                        let other = below.next();
                        for (column, (hull, one)) in row.iter_mut().zip(one).enumerate() {
                            *hull = joined(one, other.map(|other| &other[column]));
                        }
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
/// window is found along v and then along u. Rounding outwards keeps order, so it may come last. `memory` is for one of
/// eight numbers at every cell, and for one row.
fn cell_hulls(
    controls: &[f32],
    columns: usize,
    (per_u, per_v): (f64, f64),
    memory: &mut ([Vec<f32>; 8], Vec<f32>),
    to: &mut [Hull],
) {
    /// How many of the reading's control points, of ∂²R/∂u²'s, ∂²R/∂v²'s and ∂²R/∂u∂v's count in a cell, along u and v.
    const WINDOWS: [(usize, usize); 4] = [(4, 4), (2, 4), (4, 2), (3, 3)];
    let width = columns + 3;
    let at = |r: usize| &controls[r * width..(r + 1) * width];
    let scales = [1.0, per_u * per_u, per_v * per_v, per_u * per_v];
    let (leasts, values) = memory;
    for (which, ((tall, wide), scale)) in WINDOWS.into_iter().zip(scales).enumerate() {
        let rows = to.len() / columns + tall - 1;
        let (own, negated) = leasts.split_at_mut(4);
        let (own, negated) = (&mut own[which], &mut negated[which]);
        own.clear();
        negated.clear();
        for r in 0..rows {
            values.clear();
            differences(which, at, r, scale, values);
            least_along(&values[..columns + wide - 1], columns, own);
            values.iter_mut().for_each(|value| *value = -*value);
            least_along(&values[..columns + wide - 1], columns, negated);
        }
        for leasts in [own, negated] {
            // Each row is done with before it is met as a later one.
            for row in 0..to.len() / columns {
                let (row, later) = leasts[row * columns..].split_at_mut(columns);
                for other in later.chunks_exact(columns).take(tall - 1) {
                    for (one, other) in row.iter_mut().zip(other) {
                        *one = least(*one, *other);
                    }
                }
            }
        }
    }
    let leasts = leasts.each_ref().map(|leasts| &leasts[..to.len()]);
    for (cell, hull) in to.iter_mut().enumerate() {
        *hull = Hull(leasts.map(|leasts| leasts[cell].next_down()));
    }
}

/// The control points of the reading, of ∂²R/∂u², ∂²R/∂v² or ∂²R/∂u∂v, by `which`, in row `r`; in single precision.
fn differences<'c>(
    which: usize,
    at: impl Fn(usize) -> &'c [f32],
    r: usize,
    scale: f64,
    to: &mut Vec<f32>,
) {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "the hull is rounded outwards in single precision"
    )]
    let single = |value: f64| (value * scale) as f32;
    let one = at(r).iter().map(|control| f64::from(*control));
    match which {
        0 => to.extend(one.map(single)),
        1 => {
            let (next, last) = (at(r + 1), at(r + 2));
            let more = next.iter().zip(last);
            to.extend(one.zip(more).map(|(one, (next, last))| {
                single(one - 2.0 * f64::from(*next) + f64::from(*last))
            }));
        }
        2 => {
            let more = at(r)[1..].iter().zip(&at(r)[2..]);
            to.extend(one.zip(more).map(|(one, (next, last))| {
                single(one - 2.0 * f64::from(*next) + f64::from(*last))
            }));
        }
        _ => {
            let after = &at(r)[1..];
            let below = at(r + 1).iter().zip(&at(r + 1)[1..]);
            to.extend(
                one.zip(after)
                    .zip(below)
                    .map(|((one, after), (below, both))| {
                        single(f64::from(*both) - f64::from(*below) - f64::from(*after) + one)
                    }),
            );
        }
    }
}

/// Adds to `to` the least of `values` over each of `columns` windows, which begin one after the other.
fn least_along(values: &[f32], columns: usize, to: &mut Vec<f32>) {
    let first = to.len();
    to.extend_from_slice(&values[..columns]);
    for shift in 1..=values.len() - columns {
        for (one, other) in to[first..].iter_mut().zip(&values[shift..]) {
            *one = least(*one, *other);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::Spectrum;

    #[test]
    fn a_hull_holds_its_cells_and_few_beside_them() {
        let [low, high] = [0.1, 2.5].map(Spectrum::constant);
        let axis = Axis::new(&low, &high, 6.5, 0.2);
        let (cells, across) = (axis.cells, axis.controls());
        for along_u in [true, false] {
            // Control points that rise evenly one way tell how far a hull reaches that way.
            let controls: Vec<f32> = (0..SAMPLES * across * across)
                .map(|index| if along_u { index / across % across } else { index % across } as f32)
                .collect();
            let hulls = Hulls::new(&controls, &axis, &axis);
            for first in 0..cells {
                for last in first..cells {
                    let hull = if along_u {
                        hulls.over(0, (first, last), (2, 2))
                    } else {
                        hulls.over(0, (2, 2), (first, last))
                    };
                    let (least, greatest) = (hull.0[0].round(), -hull.0[4].round());
                    // Four control points count in a cell.
                    let (from, to) = (first as f32, (last + 3) as f32);
                    assert!(
                        least <= from && greatest >= to,
                        "{first} to {last}: {least} to {greatest}"
                    );
                    // Blocks as long as a power of two that is no less than the way from the first cell to the last.
                    let block = (last - first).next_power_of_two() as f32;
                    assert!(
                        least > from - block && greatest < to + block,
                        "{first} to {last} take no more: {least} to {greatest}"
                    );
                }
            }
        }
    }
}
