//! Numbers of slabs over their two optical depths, tabulated.

use super::directions::Directions;
use super::slab::{Depths, Slab};
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
        // Along a diagonal each slab is twice the one before it: all but the thinnest are had by doubling.
        let thinnest = (0..rows)
            .flat_map(|row| (0..columns).map(move |column| (row, column)))
            .filter(|(row, column)| *row.min(column) < KNOTS_A_DOUBLING);
        for (mut row, mut column) in thinnest {
            let mut slab = directions.slab(Depths {
                absorption: ABSORPTION.at(row),
                scattering: SCATTERING.at(column),
            });
            loop {
                values[row][column] = numbers(&slab);
                (row, column) = (row + KNOTS_A_DOUBLING, column + KNOTS_A_DOUBLING);
                if row >= rows || column >= columns {
                    break;
                }
                slab = slab.doubled();
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
    /// depths; what less scattering changes them by passes through `changed`.
    #[inline]
    pub(super) fn at(
        &self,
        depths: Depths,
        changed: impl FnOnce([f64; V]) -> [f64; V],
    ) -> [f64; V] {
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
        let position = Position {
            across: ABSORPTION.split(x),
            along: SCATTERING.split(y),
        };
        let mut sum = self.sum(&position, spline::weights, spline::weights);
        if absorption < x {
            let slope = self.sum(&position, spline::slopes, spline::weights);
            add(&mut sum, slope.map(|slope| line(absorption, x) * slope));
        }
        if scattering < y {
            let slope = self.sum(&position, spline::weights, spline::slopes);
            add(
                &mut sum,
                changed(slope.map(|slope| line(scattering, y) * slope)),
            );
        }
        sum
    }

    /// The sum of the sixteen control points around a position.
    #[inline]
    fn sum(
        &self,
        position: &Position,
        across: impl Fn(f64) -> [f64; 4],
        along: impl Fn(f64) -> [f64; 4],
    ) -> [f64; V] {
        let (row, share) = position.across;
        let across = across(share);
        let (column, share) = position.along;
        let along = along(share);
        let mut sum = [0.0; V];
        for (controls, across) in self.controls[row..row + 4].iter().zip(across) {
            let around = controls[column..].first_chunk();
            let around = around.expect("a knot has four control points around it");
            spline::add_weighted(&mut sum, around, along.map(|along| across * along));
        }
        sum
    }
}

/// A position between knots: the knot before it on each axis, and the share of the way to the next.
struct Position {
    across: (usize, f64),
    along: (usize, f64),
}

fn add<const V: usize>(sum: &mut [f64; V], other: [f64; V]) {
    for (sum, other) in sum.iter_mut().zip(other) {
        *sum += other;
    }
}

/// How many knots away `depth` lies on the tangent at `least`, where a straight line in the depth is meant.
fn line(depth: f64, least: f64) -> f64 {
    (depth / least - 1.0) / std::f64::consts::LN_2 * KNOTS_A_DOUBLING as f64
}
