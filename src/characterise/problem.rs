//! A calibration as a problem of least squares: its unknowns, where it stands, and by how much that misses.

use std::ops::Range;

use nalgebra::{DMatrix, DVector};

use super::chip::{Chip, Measured, Reading};
use super::noise::{lab_sd, photographed_sd, reflectance_scale};
use super::photographs;
use super::unknowns::Unknowns;
use crate::colour::{SAMPLES, Spectrum, TristimulusWeights};
use crate::materials::Settings;

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
    pub(super) nuisances: Vec<DVector<f64>>,
    /// What each reading of each chip counts for, 0–1.
    pub(super) trust: Vec<Vec<f64>>,
    /// By what factor readings are noisier than supposed, at least 1.
    pub(super) noise: f64,
    /// By what factor the variance of each material, then of each foam, has been widened.
    pub(super) widened: Vec<f64>,
    /// By what factor thicknesses and loads are off by more, or less, than supposed.
    pub(super) unsteady: f64,
}

impl State {
    /// Whether it says where `fit` may stand: it has as many unknowns, and each chip as many nuisances.
    pub(super) fn is_of(&self, fit: &Fit<'_>) -> bool {
        let asked = fit.chips.iter().map(|chip| chip.nuisances.len());
        self.offsets.len() == fit.unknowns.count()
            && self.nuisances.iter().map(DVector::len).eq(asked)
    }
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

    /// Supposes beforehand what the fit did that came to rest at `state`, another of the same unknowns.
    pub(super) fn suppose_as(&mut self, state: &State) {
        for ((_, precision), widened) in self.precisions.iter_mut().zip(&state.widened) {
            *precision /= *widened;
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

    /// Residuals of a reading over its standard deviations, where the fit stands at `state`.
    pub(super) fn residuals(
        &self,
        reflectance: &Spectrum,
        reading: &Reading,
        state: &State,
    ) -> Vec<f64> {
        let noise = state.noise;
        match &reading.measured {
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
            Measured::Photographed(measured) => {
                let lab = self.weights.lab(reflectance);
                let off = reading
                    .photo
                    .as_ref()
                    .map_or([0.0; 3], |(at, common_errors)| {
                        photographs::off_by(&state.offsets.as_slice()[at.clone()], common_errors)
                    });
                let residuals = [lab.l - measured.l, lab.a - measured.a, lab.b - measured.b];
                (residuals.into_iter().zip(off))
                    .map(|(residual, off)| (residual + off) / photographed_sd(noise))
                    .collect()
            }
        }
    }

    /// Root mean square of the whitened residuals of each reading of a chip.
    pub(super) fn misses(&self, chip: &Chip, state: &State, nuisances: &DVector<f64>) -> Vec<f64> {
        let supposed = chip.supposed(self.unknowns, &state.offsets);
        let readings = chip.readings.iter().map(|reading| {
            let reflectance = chip.reading(
                &supposed,
                nuisances.as_slice(),
                &reading.setup,
                self.settings,
            );
            let residuals = self.residuals(&reflectance, reading, state);
            (residuals
                .iter()
                .map(|residual| residual.powi(2))
                .sum::<f64>()
                / residuals.len() as f64)
                .sqrt()
        });
        readings.collect()
    }

    /// Half the weighted sum of squares of all that is off: readings, nuisances, departures from the first guesses.
    pub(super) fn misfit(&self, state: &State) -> f64 {
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
                    let residuals = self.residuals(&reflectance, reading, state);
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
}
