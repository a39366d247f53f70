//! The joint fit: the unknowns that all chips at once, and the first guesses, make most likely.

use std::ops::Range;

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

use super::change::{along_axis, at_wavelength, colour_change, indices};
use super::chip::{Chip, Measured};
use super::noise::{lab_sd, reflectance_scale, reflectance_sd};
use super::unknowns::Unknowns;
use crate::colour::{SAMPLES, Spectrum, TristimulusWeights};
use crate::materials::Settings;

/// Standard deviations of its noise by which a whole reading may be off before it counts for less.
///
/// Source: P. J. Huber (1964), Annals of Mathematical Statistics 35, 73–101.
const TRUSTED: f64 = 2.0;

/// Share of their median miss that readings are taken to be noisy by: curves should follow what most agree on a little
/// further than their disagreement. This project's choice, set on measured paints.
const WORTH_FOLLOWING: f64 = 0.6;

/// A calibration problem.
#[derive(Debug)]
pub(super) struct Fit<'a> {
    pub(super) settings: &'a Settings,
    pub(super) weights: &'a TristimulusWeights,
    pub(super) unknowns: &'a Unknowns,
    pub(super) chips: &'a [Chip],
    /// Where each material's unknowns stand, then each foam's, and the inverse of their covariance before any chip.
    pub(super) precisions: Vec<(Range<usize>, DMatrix<f64>)>,
    /// Readings are at least so many times as noisy as an instrument is.
    pub(super) least_noise: f64,
}

/// Where a fit stands.
#[derive(Clone, Debug)]
pub(super) struct State {
    /// How far all unknowns are from the first guesses.
    pub(super) offsets: DVector<f64>,
    /// What each chip's own nuisances are.
    nuisances: Vec<DVector<f64>>,
    /// What each reading of each chip counts for, 0–1.
    pub(super) trust: Vec<Vec<f64>>,
    /// By what factor readings are noisier than supposed, at least 1.
    pub(super) noise: f64,
    /// By what factor the variance of each material, then of each foam, has been widened.
    pub(super) widened: Vec<f64>,
    /// By what factor thicknesses and loads are off by more, or less, than supposed.
    pub(super) unsteady: f64,
}

/// What is a chip's own in the normal equations: kept to tell its nuisances once the rest is solved.
struct Own {
    factor: Cholesky<f64, Dyn>,
    coupling: DMatrix<f64>,
    slope: DVector<f64>,
}

/// The normal equations: curvature and slope of half the misfit.
struct Normal {
    curvature: DMatrix<f64>,
    slope: DVector<f64>,
    own: Vec<Own>,
}

impl<'a> Fit<'a> {
    pub(super) fn new(
        settings: &'a Settings,
        weights: &'a TristimulusWeights,
        unknowns: &'a Unknowns,
        chips: &'a [Chip],
    ) -> Self {
        let precision = |covariance: DMatrix<f64>| {
            let factor = covariance.cholesky().expect(
                "what each unknown has to itself, which is never nothing, keeps a prior covariance positive definite",
            );
            factor.inverse()
        };
        Self {
            settings,
            weights,
            unknowns,
            chips,
            precisions: unknowns
                .blocks()
                .map(|(at, covariance)| (at, precision(covariance)))
                .collect(),
            least_noise: 1.0,
        }
    }

    /// The first guesses.
    pub(super) fn start(&self) -> State {
        State {
            offsets: DVector::zeros(self.unknowns.count()),
            nuisances: self
                .chips
                .iter()
                .map(|chip| DVector::zeros(chip.nuisances.len()))
                .collect(),
            trust: self
                .chips
                .iter()
                .map(|chip| vec![1.0; chip.readings.len()])
                .collect(),
            noise: 1.0,
            widened: vec![1.0; self.precisions.len()],
            unsteady: 1.0,
        }
    }

    /// Fits from the first guesses; `progress` is told the share (0–1) that is done, roughly.
    ///
    /// Levenberg's damped Gauss–Newton, readings weighted anew by Huber's rule at each step. Far from the fit, readings are
    /// taken for as noisy as they are off, so that the first guesses lead; each round then takes the noise that the last one
    /// left.
    pub(super) fn solve(&mut self, progress: &mut dyn FnMut(f64)) -> State {
        const ROUNDS: u32 = 12;
        const SETTLED: f64 = 0.97;
        const SECOND_THOUGHTS: u32 = 4;
        let mut state = self.start();
        state.noise = self.noise(&state);
        for round in 0..ROUNDS {
            self.descend(&mut state);
            progress(f64::from(round + 1) / f64::from(ROUNDS));
            // In short steps, each from the last fit: a long one may lead into a false valley.
            let noise = self.noise(&state).clamp(state.noise / 3.0, state.noise);
            let settled = noise > SETTLED * state.noise;
            state.noise = noise;
            if settled {
                break;
            }
        }
        for _ in 0..SECOND_THOUGHTS {
            if !self.reconsider(&mut state) {
                break;
            }
            self.descend(&mut state);
        }
        progress(1.0);
        state
    }

    /// Sets right what was supposed beforehand, by what has come out: says whether it changed much.
    ///
    /// A material that lies farther from its first guess than its spread allows gets a wider one, and the chips' nuisances get the
    /// scatter that they show, smaller or larger. A width is right when departures, measured in it, are as large as the
    /// number of things that the readings have told of them.
    ///
    /// Source: D. J. C. MacKay (1992), Neural Computation 4, 415–447, the equations for α (numbers from memory).
    fn reconsider(&mut self, state: &mut State) -> bool {
        const WORTH_IT: f64 = 1.1;
        const AT_ONCE: f64 = 4.0;
        const UNSTEADY: (f64, f64) = (0.5, 1.0);
        // Nothing is widened without end: the rest is a slip.
        const WIDEST: f64 = 9.0;
        let normal = self.normal(state);
        let covariance = inverse(normal.curvature.clone());
        let mut any = false;
        for (index, (at, precision)) in self.precisions.iter_mut().enumerate() {
            let departed = state.offsets.rows(at.start, at.len());
            let own = covariance.view((at.start, at.start), (at.len(), at.len()));
            // trace(P Σ) is the sum of products, index by index, of two symmetric matrices.
            let removed = at.len() as f64 - precision.dot(&own);
            let surprise = departed.dot(&(&*precision * departed)) / removed.max(1.0);
            let room = WIDEST / state.widened[index];
            let wider = surprise.min(AT_ONCE).min(room);
            if wider > WORTH_IT {
                *precision /= wider;
                state.widened[index] *= wider;
                any = true;
            }
        }
        let (scatter, removed) = self.nuisance_scatter(state, &normal, &covariance);
        if removed > 1.0 {
            let surprise = (scatter / removed).clamp(1.0 / AT_ONCE, AT_ONCE);
            let (least, most) = UNSTEADY;
            let unsteady = (state.unsteady * surprise.sqrt()).clamp(least, most);
            any |= (unsteady / state.unsteady).ln().abs() > WORTH_IT.ln();
            state.unsteady = unsteady;
        }
        any
    }

    /// Sum of squares of all nuisances, each over its standard deviation, and how many things the readings tell of them.
    fn nuisance_scatter(
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

    fn descend(&self, state: &mut State) {
        const STEPS: u32 = 30;
        const TRIES: u32 = 8;
        const SETTLED: f64 = 1e-4;
        // Logarithms move by at most this in a step: beyond it a straight line says nothing.
        const FARTHEST: f64 = 1.5;
        let mut damping = 1e-2;
        for _ in 0..STEPS {
            self.judge(state);
            let mut misfit = self.misfit(state);
            let normal = self.normal(state);
            let mut gained = 0.0;
            for _ in 0..TRIES {
                let mut damped = normal.curvature.clone();
                for index in 0..damped.nrows() {
                    damped[(index, index)] *= 1.0 + damping;
                }
                // Rounding may leave a step too weakly damped to be solved: it is damped more.
                let Some(factor) = damped.cholesky() else {
                    damping *= 10.0;
                    continue;
                };
                let change = -factor.solve(&normal.slope);
                let change = &change * (FARTHEST / change.amax()).min(1.0);
                let next = self.after(state, &normal, &change);
                let there = self.misfit(&next);
                if there < misfit {
                    gained = (misfit - there) / misfit.max(f64::MIN_POSITIVE);
                    *state = next;
                    misfit = there;
                    damping *= 0.2;
                    break;
                }
                damping *= 6.0;
            }
            if gained < SETTLED {
                break;
            }
        }
    }

    /// The state after `change` of the unknowns, each chip's nuisances following.
    fn after(&self, state: &State, normal: &Normal, change: &DVector<f64>) -> State {
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

    /// Residuals of a reading over its standard deviations.
    fn residuals(&self, reflectance: &Spectrum, measured: &Measured, noise: f64) -> Vec<f64> {
        match measured {
            Measured::Reflectance(measured) => (0..SAMPLES)
                .map(|band| {
                    reflectance_scale(reflectance[band], noise)
                        - reflectance_scale(measured[band], noise)
                })
                .collect(),
            Measured::Lab(measured) => {
                let lab = self.weights.lab(reflectance);
                [lab.l - measured.l, lab.a - measured.a, lab.b - measured.b]
                    .map(|residual| residual / lab_sd(noise))
                    .to_vec()
            }
        }
    }

    /// Root mean square of the whitened residuals of each reading of a chip.
    fn misses(&self, chip: &Chip, state: &State, nuisances: &DVector<f64>) -> Vec<f64> {
        let supposed = chip.supposed(self.unknowns, &state.offsets);
        let readings = chip.readings.iter().map(|reading| {
            let reflectance = chip.reading(
                &supposed,
                nuisances.as_slice(),
                &reading.setup,
                self.settings,
            );
            let residuals = self.residuals(&reflectance, &reading.measured, state.noise);
            (residuals
                .iter()
                .map(|residual| residual.powi(2))
                .sum::<f64>()
                / residuals.len() as f64)
                .sqrt()
        });
        readings.collect()
    }

    /// Weighs each reading by how far off it is.
    fn judge(&self, state: &mut State) {
        let trust = self
            .chips
            .iter()
            .zip(&state.nuisances)
            .map(|(chip, nuisances)| {
                let misses = self.misses(chip, state, nuisances).into_iter();
                let trusted = TRUSTED;
                misses
                    .map(|miss| if miss > trusted { trusted / miss } else { 1.0 })
                    .collect()
            });
        state.trust = trust.collect();
    }

    /// By what factor the readings scatter more than supposed, by the median of their misses.
    fn noise(&self, state: &State) -> f64 {
        let mut misses: Vec<f64> = self
            .chips
            .iter()
            .zip(&state.nuisances)
            .flat_map(|(chip, nuisances)| self.misses(chip, state, nuisances))
            .collect();
        misses.sort_by(f64::total_cmp);
        // Without any reading there is nothing that says otherwise than supposed.
        let median = misses.get(misses.len() / 2).copied().unwrap_or(1.0);
        (WORTH_FOLLOWING * state.noise * median).max(self.least_noise)
    }

    /// Half the weighted sum of squares of all that is off: readings, nuisances, departures from the first guesses.
    fn misfit(&self, state: &State) -> f64 {
        let of_readings = |(chip, (nuisances, trust)): (&Chip, (&DVector<f64>, &Vec<f64>))| -> f64 {
            let supposed = chip.supposed(self.unknowns, &state.offsets);
            let readings = chip.readings.iter().zip(trust);
            let read: f64 = readings
                .map(|(reading, trust)| {
                    let reflectance = chip.reading(
                        &supposed,
                        nuisances.as_slice(),
                        &reading.setup,
                        self.settings,
                    );
                    let residuals = self.residuals(&reflectance, &reading.measured, state.noise);
                    let sum: f64 = residuals.iter().map(|residual| residual.powi(2)).sum();
                    trust * sum
                })
                .sum();
            let off = nuisances.iter().zip(&chip.nuisances);
            read + off
                .map(|(by, nuisance)| (by / (nuisance.sd * state.unsteady)).powi(2))
                .sum::<f64>()
        };
        let chips = self
            .chips
            .iter()
            .zip(state.nuisances.iter().zip(&state.trust));
        let departed: f64 = self
            .precisions
            .iter()
            .map(|(at, precision)| {
                let own = state.offsets.rows(at.start, at.len());
                own.dot(&(precision * own))
            })
            .sum();
        (chips.map(of_readings).sum::<f64>() + departed) / 2.0
    }

    /// The inverse of what remains unknown: the curvature of the misfit, nuisances taken out.
    pub(super) fn precision(&self, state: &State) -> DMatrix<f64> {
        self.normal(state).curvature
    }

    fn normal(&self, state: &State) -> Normal {
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

    fn add_chip(
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
            let residuals = self.residuals(&change.reflectance, &reading.measured, state.noise);
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
                Measured::Lab(_) => {
                    let (_, by_reflectance) = colour_change(&change.reflectance, self.weights);
                    for (axis, residual) in by_reflectance.iter().zip(&residuals) {
                        let (entries, by_nuisance) = along_axis(&change, axis);
                        let scaled: Vec<(usize, f64)> = entries
                            .into_iter()
                            .map(|(index, by)| (index, by / lab_sd(state.noise)))
                            .collect();
                        let by_nuisance: Vec<f64> = by_nuisance
                            .into_iter()
                            .map(|by| by / lab_sd(state.noise))
                            .collect();
                        add_row(&scaled, &by_nuisance, *residual);
                    }
                }
            }
        }
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
}

/// The covariance that goes with `precision`, the curvature of a misfit.
pub(super) fn inverse(precision: DMatrix<f64>) -> DMatrix<f64> {
    let factor = precision.cholesky().expect(
        "the precision of the first guesses, which is positive definite, is in it, and readings only add to it",
    );
    factor.inverse()
}
