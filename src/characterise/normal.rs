//! The normal equations of a fit, each chip's nuisances taken out.

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

use super::change::{along_axis, at_wavelength, colour_change, indices, photo_index};
use super::chip::{Chip, Measured};
use super::noise::{lab_sd, photographed_sd, reflectance_sd};
use super::photographs::OFFSETS;
use super::problem::{Fit, State};
use crate::materials::{factored, inverted};

/// The normal equations: curvature and slope of half the misfit.
pub(super) struct Normal {
    pub(super) curvature: DMatrix<f64>,
    pub(super) slope: DVector<f64>,
    pub(super) own: Vec<Own>,
}

/// What is a chip's own in the normal equations: kept to tell its nuisances once the rest is solved.
pub(super) struct Own {
    pub(super) factor: Cholesky<f64, Dyn>,
    pub(super) coupling: DMatrix<f64>,
    pub(super) slope: DVector<f64>,
}

impl Fit<'_> {
    /// Sum of squares of all nuisances, each over its standard deviation, and how many things the readings tell of them.
    pub(super) fn nuisance_scatter(
        &self,
        state: &State,
        normal: &Normal,
        covariance: &DMatrix<f64>,
    ) -> (f64, f64) {
        let (mut scatter, mut removed) = (0.0, 0.0);
        for ((chip, own), nuisances) in self.chips.iter().zip(&normal.own).zip(&state.nuisances) {
            let indices: Vec<usize> = indices(chip).collect();
            let shared = DMatrix::from_fn(indices.len(), indices.len(), |row, column| {
                covariance[(indices[row], indices[column])]
            });
            let inverse = own.factor.inverse();
            let through = &own.coupling * &inverse;
            let unknown = &inverse + through.tr_mul(&(shared * &through));
            for (index, nuisance) in chip.nuisances.iter().enumerate() {
                let precision = (nuisance.sd * state.unsteady).powi(-2);
                scatter += nuisances[index].powi(2) * precision;
                removed += 1.0 - precision * unknown[(index, index)];
            }
        }
        (scatter, removed)
    }

    /// The state after `change` of the unknowns, each chip's nuisances following.
    pub(super) fn after(&self, state: &State, normal: &Normal, change: &DVector<f64>) -> State {
        let mut next = state.clone();
        next.offsets += change;
        for ((chip, own), nuisances) in self.chips.iter().zip(&normal.own).zip(&mut next.nuisances)
        {
            let local = DVector::from_iterator(
                own.coupling.nrows(),
                indices(chip).map(|index| change[index]),
            );
            *nuisances -= own
                .factor
                .solve(&(&own.slope + own.coupling.tr_mul(&local)));
        }
        next
    }

    /// The inverse of what remains unknown: the curvature of the misfit, nuisances taken out.
    pub(super) fn precision(&self, state: &State) -> DMatrix<f64> {
        self.normal(state).curvature
    }

    pub(super) fn normal(&self, state: &State) -> Normal {
        let count = self.unknowns.count();
        let mut normal = Normal {
            curvature: DMatrix::zeros(count, count),
            slope: DVector::zeros(count),
            own: Vec::with_capacity(self.chips.len()),
        };
        for (at, precision) in &self.precisions {
            let departed = state.offsets.rows(at.start, at.len()).into_owned();
            normal
                .slope
                .rows_mut(at.start, at.len())
                .copy_from(&(precision * departed));
            let mut block = normal
                .curvature
                .view_mut((at.start, at.start), (at.len(), at.len()));
            block.copy_from(precision);
        }
        for (chip, (nuisances, trust)) in self
            .chips
            .iter()
            .zip(state.nuisances.iter().zip(&state.trust))
        {
            let own = self.add_chip(&mut normal, state, chip, nuisances, trust);
            normal.own.push(own);
        }
        // The factorisation reads the lower triangle alone, which is what was summed.
        normal.curvature.fill_upper_triangle_with_lower_triangle();
        normal
    }

    // Longer than eighty lines: all of it fills one pair of sums, by spectrum or by colour.
    pub(super) fn add_chip(
        &self,
        normal: &mut Normal,
        state: &State,
        chip: &Chip,
        nuisances: &DVector<f64>,
        trust: &[f64],
    ) -> Own {
        let indices: Vec<usize> = indices(chip).collect();
        let nuisance_precisions: Vec<f64> = chip
            .nuisances
            .iter()
            .map(|nuisance| (nuisance.sd * state.unsteady).powi(-2))
            .collect();
        let mut own = DMatrix::from_diagonal(&DVector::from_vec(nuisance_precisions.clone()));
        let mut slope = nuisances.component_mul(&DVector::from_vec(nuisance_precisions));
        let mut coupling = DMatrix::zeros(indices.len(), chip.nuisances.len());
        let supposed = chip.supposed(self.unknowns, &state.offsets);
        for (reading, trust) in chip.readings.iter().zip(trust) {
            let change = chip.change(
                &supposed,
                nuisances.as_slice(),
                &reading.setup,
                self.settings,
            );
            let residuals = self.residuals(&change.reflectance, reading, state);
            let mut add_row = |entries: &[(usize, f64)], by_nuisance: &[f64], residual: f64| {
                for (nth, (row, value)) in entries.iter().enumerate() {
                    let weighted = trust * value;
                    normal.slope[indices[*row]] += weighted * residual;
                    for (column, other) in &entries[..=nth] {
                        normal.curvature[(indices[*row], indices[*column])] += weighted * other;
                    }
                    for (nuisance, by) in by_nuisance.iter().enumerate() {
                        coupling[(*row, nuisance)] += weighted * by;
                    }
                }
                for (nuisance, by) in by_nuisance.iter().enumerate() {
                    slope[nuisance] += trust * by * residual;
                    for (other, also) in by_nuisance.iter().enumerate() {
                        own[(nuisance, other)] += trust * by * also;
                    }
                }
            };
            match &reading.measured {
                Measured::Reflectance(_) => {
                    for (band, residual) in residuals.iter().enumerate() {
                        let sd = reflectance_sd(change.reflectance[band], state.noise);
                        let (entries, by_nuisance) = at_wavelength(&change, band, sd);
                        add_row(&entries, &by_nuisance, *residual);
                    }
                }
                Measured::Lab(_) | Measured::Photographed(_) => {
                    let sd = match reading.measured {
                        Measured::Photographed(_) => photographed_sd(state.noise),
                        _ => lab_sd(state.noise),
                    };
                    let (_, by_reflectance) = colour_change(&change.reflectance, self.weights);
                    for (nth, (axis, residual)) in by_reflectance.iter().zip(&residuals).enumerate()
                    {
                        let (mut entries, by_nuisance) = along_axis(&change, axis);
                        if let Some((at, common_errors)) = &reading.photo {
                            // The photograph's offset is L*, a* or b* itself; what is common otherwise stands behind it.
                            let first = photo_index(chip, at.start);
                            entries.push((first + nth, 1.0));
                            let common = common_errors.iter().zip(first + OFFSETS..);
                            entries.extend(common.map(|(error, index)| (index, error[nth])));
                        }
                        let scaled: Vec<(usize, f64)> = entries
                            .into_iter()
                            .map(|(index, by)| (index, by / sd))
                            .collect();
                        let by_nuisance: Vec<f64> =
                            by_nuisance.into_iter().map(|by| by / sd).collect();
                        add_row(&scaled, &by_nuisance, *residual);
                    }
                }
            }
        }
        eliminated(normal, &indices, own, coupling, slope)
    }
}

/// Takes a chip's nuisances, of curvature `own` and slope `slope`, which hang on the unknowns at `indices` by `coupling`,
/// out of `normal`.
fn eliminated(
    normal: &mut Normal,
    indices: &[usize],
    own: DMatrix<f64>,
    coupling: DMatrix<f64>,
    slope: DVector<f64>,
) -> Own {
    let factor = Cholesky::new(own)
        .expect("each nuisance has a precision of its own: the sum is positive definite");
    // The nuisances are eliminated: what they could explain no longer tells of the materials.
    let explained = factor
        .l()
        .solve_lower_triangular(&coupling.transpose())
        .expect("the diagonal of a Cholesky factor is positive");
    let shifted = coupling.clone() * factor.solve(&slope);
    for (row, index) in indices.iter().enumerate() {
        normal.slope[*index] -= shifted[row];
        for (column, other) in indices[..=row].iter().enumerate() {
            let both = explained.column(row).dot(&explained.column(column));
            normal.curvature[(*index, *other)] -= both;
        }
    }
    Own {
        factor,
        coupling,
        slope,
    }
}

/// The covariance that goes with `precision`, the curvature of a misfit.
pub(super) fn inverse(precision: DMatrix<f64>) -> DMatrix<f64> {
    let factor = factored(precision).expect(
        "the precision of the first guesses, which is positive definite, is in it, and readings only add to it",
    );
    inverted(&factor)
}
