//! A question's layer model, seen as a smooth function of two numbers a wavelength.
//!
//! For one cup in one placement, what an instrument reads at a wavelength depends on nothing but the K and the S that
//! the cup's content has there. [`Response`] samples the layer model on a grid, once for a question, and lays a
//! bicubic B-spline through the samples. That makes any layer model cheap, however dear a reading is. It also gives
//! what a proof needs and no layer model offers: bounds of the reading and of its curvature over any rectangle, since a
//! spline lies within the hull of its control points, and so do its derivatives.
//!
//! The grid is even in u = ln(K + K₀) and v = ln(S + S₀), between the least and the greatest K and S of the
//! question. The spline's error is measured between the grid's points, at each wavelength; [`SAFETY`] times the
//! greatest found is [`Response::error`], on which the proof relies. That is a measured bound and not a theorem.
//!
//! Source of the hull and derivative rules: C. de Boor (1978), A Practical Guide to Splines, chapters IX–XI.

use std::sync::OnceLock;

use nalgebra::DMatrix;

use super::super::in_parallel::in_parallel;
use super::axis::Axis;
use super::hulls::Hulls;
use super::lanes::{LANES, Lanes};
use crate::colour::{SAMPLES, Spectrum};
use crate::optics::{Coefficients, b_spline};

/// What the measured error is multiplied by.
pub(crate) const SAFETY: f64 = 2.0;

/// How many e-folds of K and of S, below the greatest, the grid spans; what is less is nearly nothing in a film, and
/// the offsets keep the logarithm from telling it apart. In a bed it isn't, since reflectance goes with √K there; so
/// the wider span is tried where the narrower fits poorly.
const FOLDS: [f64; 2] = [6.5, 14.0];

/// How fine a grid is to be.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Grid {
    /// Width of a cell in u or v, in e-folds.
    cell: f64,
    /// Error of a reflectance (0–1) from which on a wider span is tried.
    poor_fit: f64,
}

impl Grid {
    /// Where one layer is read.
    pub(crate) const FINE: Self = Self {
        cell: 0.25,
        poor_fit: 1e-4,
    };
    /// Where several are, which costs far more.
    pub(crate) const OF_A_STACK: Self = Self {
        cell: 0.32,
        ..Self::FINE
    };
    /// Where nothing is to be proven. By L* = 116 ∛Y − 16 a thousandth is 0.06 of L* at half the light, 0.2 at a tenth.
    pub(crate) const OF_A_LOOK: Self = Self {
        cell: 0.4,
        poor_fit: 1e-3,
    };
}

/// Least and greatest K and S, each at every wavelength.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Span {
    /// The least, mm⁻¹, of the liquid before a foam rises.
    pub(crate) low: Coefficients,
    /// The greatest, likewise; no single recipe need have both.
    pub(crate) high: Coefficients,
}

/// The response of a question's layer model.
#[derive(Clone, Debug)]
pub(crate) struct Response {
    /// Along ln(K + K₀).
    pub(crate) u: Axis,
    /// Along ln(S + S₀).
    pub(crate) v: Axis,
    /// Control points: wavelength by u by v.
    pub(crate) controls: Vec<f32>,
    /// Made when the first box is bounded: what only reads recipes needs none.
    hulls: OnceLock<Hulls>,
    /// What the spline may be off by in a reflectance (0–1), at each wavelength.
    pub(crate) error: Lanes,
}

impl Response {
    /// The response of `reading` to K and S within `span`, sampled on `threads` threads.
    pub(crate) fn new(
        reading: &(dyn Fn(&Coefficients) -> Spectrum + Sync),
        span: &Span,
        grid: Grid,
        threads: usize,
    ) -> Self {
        let [near, far] = FOLDS;
        let response = Self::on_a_grid(reading, span, near, grid.cell, threads);
        if response.worst() > grid.poor_fit {
            let wider = Self::on_a_grid(reading, span, far, grid.cell, threads);
            if wider.worst() < response.worst() {
                wider
            } else {
                response
            }
        } else {
            response
        }
    }

    /// Bounds of the spline over rectangles of cells.
    pub(crate) fn hulls(&self) -> &Hulls {
        (self.hulls).get_or_init(|| Hulls::new(&self.controls, &self.u, &self.v))
    }

    /// The largest error of a reflectance at any wavelength.
    pub(crate) fn worst(&self) -> f64 {
        self.error.iter().copied().fold(0.0, f64::max)
    }

    /// A response on a grid of about `folds` e-folds of K and of S at most.
    ///
    /// The model is read at each of the nodes, and at the middles of over a quarter of the cells: at 26 cells a side,
    /// which 6.5 e-folds take where one layer is read, some 1,000 times.
    fn on_a_grid(
        reading: &(dyn Fn(&Coefficients) -> Spectrum + Sync),
        span: &Span,
        folds: f64,
        cell: f64,
        threads: usize,
    ) -> Self {
        let u = Axis::new(&span.low.k, &span.high.k, folds, cell);
        let v = Axis::new(&span.low.s, &span.high.s, folds, cell);
        let mut response = Self {
            controls: Vec::new(),
            hulls: OnceLock::new(),
            error: [0.0; LANES],
            u,
            v,
        };
        let nodes: Vec<(f64, f64)> = (0..=response.u.cells)
            .flat_map(|i| (0..=response.v.cells).map(move |j| (i as f64, j as f64)))
            .collect();
        let samples = response.sample(reading, &nodes, threads);
        response.fit(&samples);
        response.measure(reading, threads);
        response
    }

    /// Readings at positions on the grid, all at the same share of their cells.
    fn sample(
        &self,
        reading: &(dyn Fn(&Coefficients) -> Spectrum + Sync),
        positions: &[(f64, f64)],
        threads: usize,
    ) -> Vec<Spectrum> {
        // Every row and every column is met many times over, at the same share of its cells.
        let share = positions.first().map_or(0.0, |(i, _)| i.fract());
        let along = |axis: &Axis| {
            let all = (0..=axis.cells)
                .map(|cell| Spectrum::from_fn(|band| axis.value(band, cell as f64 + share)));
            all.collect::<Vec<_>>()
        };
        let (k, s) = (along(&self.u), along(&self.v));
        let whole = |at: f64| crate::materials::whole_number(at.floor()) as usize;
        let at = |(i, j): &(f64, f64)| {
            reading(&Coefficients {
                k: k[whole(*i)],
                s: s[whole(*j)],
            })
        };
        in_parallel((threads, 64), positions, at)
    }

    /// Lays the spline through samples at the grid's nodes.
    fn fit(&mut self, samples: &[Spectrum]) {
        let (across, along) = (interpolation(self.u.cells), interpolation(self.v.cells));
        let along = along.transpose();
        self.controls
            .reserve(SAMPLES * self.u.controls() * self.v.controls());
        for lane in 0..SAMPLES {
            let nodes = DMatrix::from_row_iterator(
                self.u.cells + 1,
                self.v.cells + 1,
                samples.iter().map(|spectrum| spectrum[lane]),
            );
            let controls = &across * nodes * &along;
            #[expect(
                clippy::cast_possible_truncation,
                reason = "rounded to single precision, which the measured error includes"
            )]
            self.controls
                .extend(controls.transpose().iter().map(|control| *control as f32));
        }
    }

    /// Measures the error in the middle of cells.
    fn measure(&mut self, reading: &(dyn Fn(&Coefficients) -> Spectrum + Sync), threads: usize) {
        let mut probes = Vec::new();
        for i in 0..self.u.cells {
            for j in 0..self.v.cells {
                let (i, j) = (i as f64, j as f64);
                // All cells at the rim, and a quarter of the others.
                let rim = i < 1.0
                    || j < 1.0
                    || i + 2.0 > self.u.cells as f64
                    || j + 2.0 > self.v.cells as f64;
                if rim || (i + 2.0 * j) % 4.0 < 0.5 {
                    probes.push((i + 0.5, j + 0.5));
                }
            }
        }
        let read = self.sample(reading, &probes, threads);
        for (probe, spectrum) in probes.iter().zip(&read) {
            for lane in 0..SAMPLES {
                let off = (self.at(lane, *probe) - spectrum[lane]).abs();
                self.error[lane] = self.error[lane].max(off);
            }
        }
        for error in &mut self.error[..SAMPLES] {
            *error = *error * SAFETY + 1e-7;
        }
    }

    /// The spline at a fractional grid position.
    fn at(&self, lane: usize, (i, j): (f64, f64)) -> f64 {
        let (row, by_u) = cell_and_weights(i, self.u.cells);
        let (column, by_v) = cell_and_weights(j, self.v.cells);
        let mut sum = 0.0;
        for (r, weight) in by_u.iter().enumerate() {
            let first = self.control(lane, row + r, column);
            for (control, other) in self.controls[first..first + 4].iter().zip(&by_v) {
                sum += weight * other * f64::from(*control);
            }
        }
        sum / (SIXTHS * SIXTHS)
    }

    /// Index of a control point.
    pub(crate) fn control(&self, lane: usize, row: usize, column: usize) -> usize {
        (lane * self.u.controls() + row) * self.v.controls() + column
    }

    /// The four by four control points that count in a cell.
    #[inline(always)]
    pub(crate) fn patch(&self, lane: usize, row: u32, column: u32) -> [&[f32; 4]; 4] {
        let first = self.control(lane, row as usize, column as usize);
        let width = self.v.controls();
        let row = |row: usize| {
            let rest = &self.controls[first + row * width..];
            rest.first_chunk()
                .unwrap_or_else(|| unreachable!("control points reach beyond every cell"))
        };
        [row(0), row(1), row(2), row(3)]
    }
}

/// The cell of a fractional grid position, and the weights of its four control points.
fn cell_and_weights(at: f64, cells: usize) -> (usize, [f64; 4]) {
    let cell = (crate::materials::whole_number(at.floor().max(0.0)) as usize).min(cells - 1);
    (cell, weights(at - cell as f64))
}

/// The four cubic B-splines that are not zero, at a share of a cell, times [`SIXTHS`].
#[inline(always)]
pub(crate) fn weights(t: f64) -> [f64; 4] {
    b_spline::weights(t, 1.0)
}

/// Their derivatives, times [`SIXTHS`].
#[inline(always)]
pub(crate) fn slopes(t: f64) -> [f64; 4] {
    let s = 1.0 - t;
    [
        -3.0 * s * s,
        t * (9.0 * t - 12.0),
        s * (12.0 - 9.0 * s),
        3.0 * t * t,
    ]
}

/// What splines are multiplied by, so that there is one division for all of them.
pub(crate) const SIXTHS: f64 = 6.0;

/// The map from samples at the nodes of `cells` cells to the control points of the cubic spline through them, whose
/// third derivative does not jump at the second node and the last but one ("not a knot").
fn interpolation(cells: usize) -> DMatrix<f64> {
    let controls = cells + 3;
    let mut equations = DMatrix::zeros(controls, controls);
    for node in 0..=cells {
        for (i, weight) in [1.0, 4.0, 1.0].into_iter().enumerate() {
            equations[(node, node + i)] = weight / 6.0;
        }
    }
    for (row, first) in [(cells + 1, 0), (cells + 2, controls - 5)] {
        for (i, weight) in [1.0, -4.0, 6.0, -4.0, 1.0].into_iter().enumerate() {
            equations[(row, first + i)] = weight;
        }
    }
    let inverse = equations
        .try_inverse()
        .unwrap_or_else(|| unreachable!("cubic splines on an even grid interpolate"));
    inverse.columns(0, cells + 1).into_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_amiss_in_the_middle_of_any_cell_at_the_rim_is_measured_and_of_a_quarter_of_the_others()
     {
        let curves = |value: f64| Coefficients {
            k: Spectrum::constant(value),
            s: Spectrum::constant(value),
        };
        let span = Span {
            low: curves(0.1),
            high: curves(0.5),
        };
        let on_a_grid = |reading: &(dyn Fn(&Coefficients) -> Spectrum + Sync)| {
            Response::on_a_grid(reading, &span, FOLDS[0], Grid::FINE.cell, 1)
        };
        let Response { u, v, .. } = on_a_grid(&|_| Spectrum::constant(0.0));
        let (mut others, mut found) = (0, 0);
        for i in 0..u.cells {
            for j in 0..v.cells {
                // A spike in the middle of one cell is 0 at every node, so the spline through them is off by all of it.
                let [k, s] = [(&u, i), (&v, j)].map(|(axis, at)| axis.value(0, at as f64 + 0.5));
                let is_there = |c: &Coefficients| (c.k[0] / k - 1.0).hypot(c.s[0] / s - 1.0) < 1e-6;
                let spiked =
                    on_a_grid(&|c| Spectrum::constant(if is_there(c) { 1.0 } else { 0.0 }));
                let is_measured = spiked.error[0] > 0.99;
                let is_at_the_rim = [(i, u.cells), (j, v.cells)]
                    .iter()
                    .any(|(at, cells)| *at == 0 || at + 1 == *cells);
                if is_at_the_rim {
                    assert!(is_measured, "the spike in cell {i}, {j} is missed");
                } else {
                    others += 1;
                    found += usize::from(is_measured);
                }
            }
        }
        // The pattern of a quarter is cut off at the rim.
        assert!(5 * found >= others, "{found} of {others} others");
    }
}
