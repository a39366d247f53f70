//! What chips have told of materials: their fitted curves, and what is left unknown of all of them together.

use nalgebra::{DMatrix, DVector, SymmetricEigen};

use super::calibration::{Curves, FoamFound};
use super::chip::{self, Chip};
use super::fit::Progress;
use super::normal::inverse;
use super::photographs;
use super::problem::{Fit, State};
use super::relevance;
use super::unknowns::{GAIN_LN_SD, OF_A_MATERIAL, Unknown, Unknowns};
use crate::colour::{SAMPLES, Spectrum, TristimulusWeights};
use crate::error::Result;
use crate::materials::{Casting, CoefficientSpread, JointDirection, Shelf, Swatch};
use crate::optics::Foam;

/// What chips have told so far.
#[derive(Debug)]
pub(super) struct Knowledge {
    pub(super) weights: TristimulusWeights,
    pub(super) unknowns: Unknowns,
    pub(super) chips: Vec<Chip>,
    pub(super) state: State,
    pub(super) precision: DMatrix<f64>,
}

impl Knowledge {
    /// What `swatches` tell of the materials that they hold.
    pub(super) fn of(
        shelf: &Shelf,
        swatches: &[Swatch],
        progress: &mut Progress<'_>,
    ) -> Result<Self> {
        let mut materials = Vec::new();
        for swatch in swatches {
            let casting = Casting::of_swatch(shelf, swatch)?;
            materials.extend(casting.cups().flat_map(chip::materials_of));
        }
        Self::of_materials(shelf, swatches, Unknowns::new(shelf, materials), progress)
    }

    pub(super) fn of_materials(
        shelf: &Shelf,
        swatches: &[Swatch],
        unknowns: Unknowns,
        progress: &mut Progress<'_>,
    ) -> Result<Self> {
        Self::fitted(shelf, swatches, unknowns, |fit| fit.solve(progress))
    }

    /// What `swatches` tell of `unknowns` where a fit to them comes to rest, which is where `rest` brings it.
    fn fitted(
        shelf: &Shelf,
        swatches: &[Swatch],
        unknowns: Unknowns,
        rest: impl FnOnce(&mut Fit<'_>) -> Result<State>,
    ) -> Result<Self> {
        let unknowns = unknowns.with_photos(photographs::of(swatches));
        let chips = Chip::all(shelf, swatches, &unknowns)?;
        let weights = shelf.settings.viewing.weights();
        let mut fit = Fit::new(&shelf.settings, &weights, &unknowns, &chips);
        let state = rest(&mut fit)?;
        let precision = fit.precision(&state);
        Ok(Self {
            state,
            precision,
            unknowns,
            chips,
            weights,
        })
    }

    /// The same from `swatches` that read a little otherwise than those that told it; what was supposed beforehand is set right
    /// once more where it is `settled`, and stays as it was otherwise.
    ///
    /// # Errors
    /// As [`of`](Self::of).
    pub(super) fn followed(
        self,
        shelf: &Shelf,
        swatches: &[Swatch],
        settled: bool,
        progress: &mut Progress<'_>,
    ) -> Result<Self> {
        let known = self.state;
        Self::fitted(shelf, swatches, self.unknowns, |fit| {
            if !known.is_of(fit) {
                // A chip that can be read no more, or can again, asks other things of its photograph.
                return fit.solve(progress);
            }
            fit.suppose_as(&known);
            if settled {
                fit.settle(known, progress)
            } else {
                fit.follow(known, progress)
            }
        })
    }

    /// The fitted curves, with what `covariance` leaves unknown of them.
    pub(super) fn curves(&self, covariance: &DMatrix<f64>) -> Vec<Curves> {
        let sd = |at: usize| covariance[(at, at)].max(0.0).sqrt();
        (0..self.unknowns.materials.len())
            .map(|index| self.curves_of(index, covariance, sd))
            .collect()
    }

    /// The fitted curves of the material at `index`, and its foam; `sd` is what is left unknown of each unknown.
    pub(super) fn curves_of(
        &self,
        index: usize,
        covariance: &DMatrix<f64>,
        sd: impl Fn(usize) -> f64,
    ) -> Curves {
        let offsets = self.state.offsets.as_slice();
        let unknown = &self.unknowns.materials[index];
        let Strength {
            variance_removed,
            factor,
        } = strength(
            unknown,
            index,
            offsets,
            covariance,
            self.state.widened[index],
        );
        let at = OF_A_MATERIAL * index;
        let foam = self.unknowns.foam_of(index).map(|(at, first)| {
            let [gain, walls, wet] = [at.start, at.start + 1, at.start + 2];
            let removed =
                |at: usize, before: f64| (1.0 - (sd(at) / before).powi(2)).clamp(0.0, 1.0);
            FoamFound {
                first,
                foam: Foam {
                    cell_ln_sd: sd(walls),
                    wet_ln_sd: sd(wet),
                    ..first.shifted(offsets[gain], offsets[walls], offsets[wet])
                },
                gain_ln_sd: sd(gain),
                cell_variance_removed: removed(walls, first.cell_ln_sd),
                gain_variance_removed: removed(gain, GAIN_LN_SD),
                wet_variance_removed: removed(wet, first.wet_ln_sd),
            }
        });
        Curves {
            material: unknown.material.clone(),
            coefficients: self.unknowns.curves(index, offsets),
            spread: CoefficientSpread {
                k_sd: Spectrum::from_fn(|band| sd(at + band)),
                s_sd: Spectrum::from_fn(|band| sd(at + SAMPLES + band)),
            },
            variance_removed,
            strength: factor,
            foam,
        }
    }

    pub(super) fn covariance(&self) -> DMatrix<f64> {
        inverse(self.precision.clone())
    }

    /// What remains unknown, as few independent joint directions as make the spread of colours right.
    ///
    /// Of all directions in which the unknowns may be off, those count that change the colour of castings. With J the
    /// change of many castings' colours and Σ the covariance, J Σ Jᵀ = U Λ Uᵀ, and the joint directions are the columns of
    /// Σ Jᵀ U Λ^(−½): they give those castings their exact spread, and others like them nearly.
    pub(super) fn joint_directions(
        &self,
        fitted: &Shelf,
        covariance: &DMatrix<f64>,
    ) -> Vec<JointDirection> {
        const CASTINGS: u32 = 120;
        const MOST: usize = 48;
        const LEFT_OUT: f64 = 1e-3;
        // What is known to this (in L*, a*, b*) need not be known better.
        const GOOD_ENOUGH: f64 = 0.05;
        let count = self.unknowns.count();
        let mut rows: Vec<DMatrix<f64>> = Vec::new();
        for point in 0..CASTINGS {
            let build = relevance::casting(fitted, &self.unknowns, point);
            let unread = build.and_then(|build| relevance::unread(fitted, &self.unknowns, &build));
            let Some((chip, setup)) = unread else {
                continue;
            };
            let supposed = chip.supposed(&self.unknowns, &self.state.offsets);
            let sight = relevance::sight(&chip, &supposed, &setup, fitted, &self.weights, count);
            let spread = (&sight.rows * covariance * sight.rows.transpose()).trace() / 3.0;
            rows.push(sight.rows / (spread.sqrt() + GOOD_ENOUGH));
        }
        let Some(columns) = rows.first().map(DMatrix::ncols) else {
            return Vec::new();
        };
        let all = DMatrix::from_fn(3 * rows.len(), columns, |row, column| {
            rows[row / 3][(row % 3, column)]
        });
        let by_castings = covariance * all.transpose();
        let SymmetricEigen {
            eigenvectors,
            eigenvalues,
        } = (&all * &by_castings).symmetric_eigen();
        let mut order: Vec<usize> = (0..eigenvalues.len()).collect();
        order.sort_by(|one, other| eigenvalues[*other].total_cmp(&eigenvalues[*one]));
        let whole: f64 = eigenvalues.iter().map(|value| value.max(0.0)).sum();
        let mut left = whole;
        let mut joint_directions = Vec::new();
        for index in order.into_iter().take(MOST) {
            let variance = eigenvalues[index];
            if variance <= 0.0 || left <= LEFT_OUT * whole {
                break;
            }
            left -= variance;
            let column: DVector<f64> = &by_castings * eigenvectors.column(index) / variance.sqrt();
            let steps = 0..self.unknowns.materials.len();
            joint_directions.push(JointDirection {
                steps: steps
                    .map(|index| self.unknowns.step(index, &column))
                    .collect(),
            });
        }
        joint_directions
    }
}

/// How well the strength of a material is known.
struct Strength {
    variance_removed: f64,
    factor: f64,
}

/// Strength is the mean logarithm over the spectrum, of K or of S, whichever the chips have told more of.
fn strength(
    unknown: &Unknown,
    index: usize,
    offsets: &[f64],
    covariance: &DMatrix<f64>,
    widened: f64,
) -> Strength {
    let before = unknown.covariance() * widened;
    let at = OF_A_MATERIAL * index;
    let of = |first: usize| {
        let mean_variance = |matrix: &DMatrix<f64>, first: usize| {
            matrix.view((first, first), (SAMPLES, SAMPLES)).sum() / (SAMPLES * SAMPLES) as f64
        };
        let left = mean_variance(covariance, at + first) / mean_variance(&before, first);
        let own = &offsets[at + first..at + first + SAMPLES];
        Strength {
            variance_removed: (1.0 - left).clamp(0.0, 1.0),
            factor: (own.iter().sum::<f64>() / SAMPLES as f64).exp(),
        }
    };
    let (k, s) = (of(0), of(SAMPLES));
    if k.variance_removed >= s.variance_removed {
        k
    } else {
        s
    }
}
