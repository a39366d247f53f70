//! Numbers of slabs over their two optical depths, tabulated.

use super::Depths;
use super::directions::Directions;
use super::slab::Slab;
use super::spline::{self, Axis, KNOTS_A_DOUBLING};

const ABSORPTION: Axis = Axis::new(-16, 6);
const SCATTERING: Axis = Axis::new(-14, 11);

/// `V` numbers over the logarithms of µa·d and µs′·d: a bicubic spline.
#[derive(Debug)]
pub(super) struct Sheet<const V: usize> {
    controls: Vec<[[f64; V]; SCATTERING.knots() + 2]>,
}

impl<const V: usize> Sheet<V> {
    /// Tabulates the `numbers` of slabs.
    pub(super) fn new<const N: usize>(
        directions: &Directions<N>,
        numbers: impl Fn(&Slab<N>) -> [f64; V],
    ) -> Self {
        let (rows, columns) = (ABSORPTION.knots(), SCATTERING.knots());
        let mut values = vec![[[0.0; V]; SCATTERING.knots()]; rows];
        // Along a diagonal each slab is twice one before it: the next is had by one doubling.
        let mut slabs: Vec<Vec<Option<Slab<N>>>> = vec![vec![None; columns]; rows];
        for row in 0..rows {
            for column in 0..columns {
                let half = row
                    .checked_sub(KNOTS_A_DOUBLING)
                    .zip(column.checked_sub(KNOTS_A_DOUBLING))
                    .and_then(|(row, column)| slabs[row][column].take());
                let slab = half.map_or_else(
                    || {
                        directions.slab(Depths {
                            absorption: ABSORPTION.at(row),
                            scattering: SCATTERING.at(column),
                        })
                    },
                    |half| half.doubled(),
                );
                values[row][column] = numbers(&slab);
                slabs[row][column] = Some(slab);
            }
        }
        let along: Vec<_> = values.iter().map(|row| spline::controls(row)).collect();
        let mut controls = vec![[[0.0; V]; SCATTERING.knots() + 2]; rows + 2];
        for column in 0..columns + 2 {
            let across: Vec<_> = along.iter().map(|row| row[column]).collect();
            for (row, control) in spline::controls(&across).into_iter().enumerate() {
                controls[row][column] = control;
            }
        }
        Self { controls }
    }

    /// The numbers of the slab of these depths. Thinner than the thinnest, they are drawn out as straight lines in the
    /// depths; what less scattering moves them by passes through `moved`.
    #[inline]
    pub(super) fn at(&self, depths: Depths, moved: impl FnOnce([f64; V]) -> [f64; V]) -> [f64; V] {
        let Depths {
            mut absorption,
            mut scattering,
        } = depths;
        // Deeper than the table's slabs nothing passes, and the ratio alone counts.
        if absorption > ABSORPTION.most() || scattering > SCATTERING.most() {
            let shrink = (ABSORPTION.most() / absorption).min(SCATTERING.most() / scattering);
            absorption *= shrink;
            scattering *= shrink;
        }
        let (x, y) = (
            absorption.max(ABSORPTION.least()),
            scattering.max(SCATTERING.least()),
        );
        let (row, across) = ABSORPTION.split(x);
        let (column, along) = SCATTERING.split(y);
        let mut sum = [0.0; V];
        let mut add = |across: [f64; 4], along: [f64; 4]| {
            self.add(&mut sum, row, column, across, along);
        };
        add(spline::weights(across), spline::weights(along));
        if absorption < x {
            let line = line(absorption, x);
            add(
                spline::slopes(across).map(|slope| slope * line),
                spline::weights(along),
            );
        }
        if scattering < y {
            let line = line(scattering, y);
            let mut less = [0.0; V];
            let across = spline::weights(across).map(|weight| weight * line);
            self.add(&mut less, row, column, across, spline::slopes(along));
            for (sum, less) in sum.iter_mut().zip(moved(less)) {
                *sum += less;
            }
        }
        sum
    }

    /// Adds to `sum` the sixteen control points around a place by their weights.
    #[inline]
    fn add(
        &self,
        sum: &mut [f64; V],
        row: usize,
        column: usize,
        across: [f64; 4],
        along: [f64; 4],
    ) {
        for (controls, across) in self.controls[row..row + 4].iter().zip(across) {
            let around = controls[column..].first_chunk();
            let around = around.expect("a knot has four control points around it");
            spline::add_weighted(sum, around, along.map(|along| across * along));
        }
    }
}

/// How many knots away `depth` lies on the tangent at `least`, where a straight line in the depth is meant.
fn line(depth: f64, least: f64) -> f64 {
    (depth / least - 1.0) / std::f64::consts::LN_2 * KNOTS_A_DOUBLING as f64
}
