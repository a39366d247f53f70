//! The shading across a limb, parted from the tone.
//!
//! A limb turns away from the light, and every colour on it is multiplied by the same smooth factor. Left in, it
//! passes for tones: a light one, a dark one, and no true one. So a smooth surface, a polynomial of the fourth
//! degree along and across, is fitted to the logarithm of the light of the region's blocks. It is taken for
//! shading where it explains nearly all of what is not noise (an edge between two tones is no such surface) and
//! where the colour, apart from how light it is, does not go with it (a flush does). Then all blocks are brought
//! to the middle of the shading, its median: the tone at mid-light.
//!
//! Limits: a shadow with a soft edge wider than the region passes for shading; light that comes off skin beside
//! it does not scale all colours alike. The bounds are from trials of this project, no published source.

use nalgebra::{SMatrix, SVector};

/// Coefficients of the surface: 1, and u, v to the fourth degree, and uv.
const TERMS: usize = 10;
/// Fewest blocks for a surface.
const FEWEST_BLOCKS: usize = 64;
/// Least standard deviation of the surface, natural logarithm, that is worth parting: about 1 L*.
const LEAST_FALL: f64 = 0.035;
/// Least share of the variance, less noise, that shading explains. An edge across the middle comes to 0.86, two
/// edges to 0.91.
const EXPLAINED: f64 = 0.95;
/// Most that ln X/Y and ln Z/Y may go with the surface. A flush has about 0.3 in the first.
const MOST_COLOUR: [f64; 2] = [0.08, 0.25];

/// How the light falls across a region.
#[derive(Clone, Debug)]
pub(super) struct Shading {
    /// Of each block, what its light is to that at mid-light.
    pub(super) factors: Vec<f64>,
    /// The brightest and the darkest of these, less the outer twentieth.
    pub(super) brightest: f64,
    pub(super) darkest: f64,
    /// Standard deviation of their natural logarithms.
    pub(super) sd: f64,
}

impl Shading {
    /// The shading of a grid of blocks, `columns` in a row, by their X, Y, Z; `None` where there is none that
    /// can be told from tones. `noise` is the standard deviation of ln Y of one block.
    pub(super) fn find(grid: &[Option<[f64; 3]>], columns: usize, noise: f64) -> Option<Self> {
        let rows = grid.len() / columns.max(1);
        let terms = |index: usize| {
            let along =
                |index: usize, count: usize| 2.0 * (index as f64 + 0.5) / count.max(1) as f64 - 1.0;
            terms(
                along(index % columns, columns),
                along(index / columns, rows),
            )
        };
        let blocks: Vec<(usize, [f64; 3])> = (0..)
            .zip(grid)
            .filter_map(|(index, xyz)| Some((index, (*xyz)?)))
            .filter(|(_, xyz)| xyz.iter().all(|value| *value > 0.0))
            .collect();
        if blocks.len() < FEWEST_BLOCKS {
            return None;
        }
        let mut squares = SMatrix::<f64, TERMS, TERMS>::zeros();
        let mut products = SVector::<f64, TERMS>::zeros();
        for (index, [_, y, _]) in &blocks {
            let terms = terms(*index);
            squares += terms * terms.transpose();
            products += terms * y.ln();
        }
        // A region of one row or column has terms that are alike; a trifle on the diagonal shares between them.
        let trifle = SMatrix::<f64, TERMS, TERMS>::identity() * (1e-6 * blocks.len() as f64);
        let surface = (squares + trifle).cholesky()?.solve(&products);
        let at = |index: usize| surface.dot(&terms(index));

        let heights: Vec<f64> = blocks.iter().map(|(index, _)| at(*index)).collect();
        let lights: Vec<f64> = blocks.iter().map(|(_, xyz)| xyz[1].ln()).collect();
        let rest: Vec<f64> = lights.iter().zip(&heights).map(|(l, h)| l - h).collect();
        let fall = variance(&heights);
        let unexplained = (variance(&rest) - noise * noise).max(0.0);
        if fall.sqrt() < LEAST_FALL || fall < EXPLAINED * (fall + unexplained) {
            return None;
        }
        for (axis, most) in [0, 2].into_iter().zip(MOST_COLOUR) {
            let colours: Vec<f64> = blocks
                .iter()
                .map(|(_, xyz)| (xyz[axis] / xyz[1]).ln())
                .collect();
            if (covariance(&colours, &heights) / fall).abs() > most {
                return None;
            }
        }
        let mut sorted = heights;
        sorted.sort_by(f64::total_cmp);
        let quantile = |share: usize| sorted[(sorted.len() - 1) * share / 20];
        let middle = quantile(10);
        Some(Self {
            factors: (0..grid.len())
                .map(|index| (at(index) - middle).exp())
                .collect(),
            brightest: (quantile(19) - middle).exp(),
            darkest: (quantile(1) - middle).exp(),
            sd: fall.sqrt(),
        })
    }
}

fn terms(u: f64, v: f64) -> SVector<f64, TERMS> {
    let (u2, v2) = (u * u, v * v);
    SVector::from([1.0, u, v, u2, u * v, v2, u2 * u, v2 * v, u2 * u2, v2 * v2])
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

fn variance(values: &[f64]) -> f64 {
    covariance(values, values)
}

fn covariance(one: &[f64], other: &[f64]) -> f64 {
    let (a, b) = (mean(one), mean(other));
    let products = one.iter().zip(other).map(|(x, y)| (x - a) * (y - b));
    products.sum::<f64>() / one.len() as f64
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    const SIDE: usize = 30;
    const SKIN: [f64; 3] = [0.36, 0.34, 0.22];

    fn grid(paint: impl Fn(f64, f64) -> [f64; 3]) -> Vec<Option<[f64; 3]>> {
        let at = |index: usize| 2.0 * (index as f64 + 0.5) / SIDE as f64 - 1.0;
        (0..SIDE * SIDE)
            .map(|index| Some(paint(at(index % SIDE), at(index / SIDE))))
            .collect()
    }

    #[test]
    fn a_cylinder_lit_from_the_side_is_evened_out() {
        // Lambert's cosine over 120 degrees of a limb, the light 30 degrees off.
        let light = |u: f64| (0.8 * u).asin().mul_add(1.0, 0.5).cos();
        let lit = grid(|u, _| SKIN.map(|v| v * light(u)));
        let shading = Shading::find(&lit, SIDE, 0.0).expect("shading");
        let evened: Vec<f64> = lit
            .iter()
            .zip(&shading.factors)
            .map(|(xyz, factor)| xyz.expect("all are there")[1] / factor)
            .collect();
        let middle = mean(&evened);
        for light in &evened {
            assert_abs_diff_eq!(light / middle, 1.0, epsilon = 0.08);
        }
        assert!(
            shading.brightest > 1.1 && shading.darkest < 0.8,
            "{shading:?}"
        );
    }

    #[test]
    fn an_edge_between_tones_a_flush_and_an_even_region_are_no_shading() {
        let edge = grid(|u, _| SKIN.map(|v| if u < 0.1 { v } else { 0.6 * v }));
        assert!(Shading::find(&edge, SIDE, 0.0).is_none(), "an edge");
        let stripes = grid(|u, _| {
            SKIN.map(|v| {
                v * if u < -0.3 {
                    1.0
                } else if u < 0.3 {
                    0.75
                } else {
                    0.5
                }
            })
        });
        assert!(Shading::find(&stripes, SIDE, 0.0).is_none(), "two edges");
        let flush = grid(|u, _| {
            let redder = 0.12 * (u + 1.0);
            [
                SKIN[0] * (1.0 - redder),
                SKIN[1] * (1.0 - 1.5 * redder),
                SKIN[2] * (1.0 - 1.5 * redder),
            ]
        });
        assert!(
            Shading::find(&flush, SIDE, 0.0).is_none(),
            "a flush that fades in"
        );
        assert!(
            Shading::find(&grid(|_, _| SKIN), SIDE, 0.0).is_none(),
            "even"
        );
    }
}
