//! The smoothest reflectance spectrum that has a given colour.
//!
//! Of the many spectra that share one colour, the one is taken whose hyperbolic-tangent-transformed curve
//! has the least slope: with z the inverse hyperbolic tangent of 2r − 1, the sum of squared steps of z is
//! least while the three tristimulus values are met exactly. The transform keeps 0 < r < 1. The Lagrange
//! conditions, 36 samples and three multipliers, are solved by Newton's method with halved steps; where
//! the full way fails, the colour is approached from the grey of its lightness in steps. No randomness.
//!
//! The result is a guess: the real surface's spectrum is smooth too, but has features of its own. Where a
//! [`Family`] of curves of the same kind is known, the slope of the departure from the family is what is made
//! least.
//!
//! Source: S. A. Burns (2020), Color Research and Application 45(1), 8–21, "Numerical methods for smoothest
//! reflectance reconstruction" (least hyperbolic tangent slope squared; equation numbers not to hand).

use nalgebra::{DMatrix, DVector};

use crate::colour::{Lab, SAMPLES, Spectrum, TristimulusWeights};

/// How near to 0 or 1 the luminous reflectance may come: there the transform runs off to infinity.
const NEAREST_TO_LIMIT: f64 = 1e-9;
/// Samples and multipliers.
const UNKNOWNS: usize = SAMPLES + 3;
/// Largest residual of the conditions, on the scale where white has Y = 1.
const TOLERANCE: f64 = 1e-11;
/// Newton steps before an attempt is given up; from a near start six or so are enough.
const NEWTON_STEPS: usize = 40;
/// Shortest share of the way from grey to the colour that is tried before it counts as out of range.
const SHORTEST_STRIDE: f64 = 1.0 / 256.0;

/// The smoothest reflectance, each sample between 0 and 1, whose colour under `weights` is `lab`.
///
/// `None` where no such reflectance is found: the colour lies outside those of real surfaces, or within a
/// hair of their limit (perfect white and perfect black among them).
pub fn smooth_spectrum(lab: Lab, weights: &TristimulusWeights) -> Option<Spectrum> {
    least_departure(lab, weights, &Family::flat())
}

/// What is known of the curves of one kind of surface, all of them transformed.
#[derive(Clone, Debug)]
pub(super) struct Family {
    /// The middle of the family.
    pub(super) mean: [f64; SAMPLES],
    /// The ways in which its members differ, each by one standard deviation.
    pub(super) ways: Vec<[f64; SAMPLES]>,
}

impl Family {
    /// Nothing is known: a flat curve.
    pub(super) fn flat() -> Self {
        Self {
            mean: [0.0; SAMPLES],
            ways: Vec::new(),
        }
    }

    /// The family drawn in towards a flat curve: `share` of what is known, 0–1.
    pub(super) fn faded(&self, share: f64) -> Self {
        let fade = |curve: &[f64; SAMPLES]| curve.map(|z| share * z);
        Self {
            mean: fade(&self.mean),
            ways: self.ways.iter().map(fade).collect(),
        }
    }

    /// The form that weighs a departure d from the mean, as dᵀ form d / 2: twice the least sum, over amounts c of
    /// the ways, of the squared steps of d less the amounts' curve and of [`PRICE_OF_A_WAY`] times c squared.
    fn form(&self) -> DMatrix<f64> {
        let mut slope = DMatrix::zeros(SAMPLES, SAMPLES);
        for band in 0..SAMPLES - 1 {
            slope[(band, band)] += 2.0;
            slope[(band + 1, band + 1)] += 2.0;
            slope[(band, band + 1)] -= 2.0;
            slope[(band + 1, band)] -= 2.0;
        }
        let count = self.ways.len();
        let ways = DMatrix::from_fn(SAMPLES, count, |band, way| self.ways[way][band]);
        let steep = &slope * &ways;
        let cost =
            DMatrix::identity(count, count) * (2.0 * PRICE_OF_A_WAY) + ways.transpose() * &steep;
        match cost.cholesky() {
            Some(cost) => slope - &steep * cost.solve(&steep.transpose()),
            // The cost is the identity and more, so this is not met.
            None => slope,
        }
    }
}

/// What a standard deviation of a way costs, in squared steps of the transformed curve. By trials: over 60 measured
/// skins, each left out of its family, tenfold more errs by a third more.
const PRICE_OF_A_WAY: f64 = 1e-4;

/// The reflectance, each sample between 0 and 1, that departs from `family` with the least slope and whose
/// colour under `weights` is `lab`; the family of nothing known gives the smoothest reflectance. `None` as for
/// [`smooth_spectrum`].
pub(super) fn least_departure(
    lab: Lab,
    weights: &TristimulusWeights,
    family: &Family,
) -> Option<Spectrum> {
    let xyz = weights.xyz_of_lab(lab);
    let factors = weights
        .factors()
        .map(|row| row.map(|factor| factor / 100.0));
    let goal = [xyz.x, xyz.y, xyz.z].map(|value| value / 100.0);
    Some(meeting(goal, factors, family)?.reflectance())
}

/// A reflectance that meets three weighted sums.
pub(super) struct Met {
    #[cfg(any(feature = "photo", test))]
    conditions: Conditions,
    state: DVector<f64>,
}

impl Met {
    /// Each sample between 0 and 1.
    pub(super) fn reflectance(&self) -> Spectrum {
        Spectrum::from_fn(|band| reflectance(self.state[band]))
    }

    /// What the reflectance is off by, to first order, where the true curve lies each of the `ways` of its family away from the
    /// mean: the part of a way that the sums do not tell.
    #[cfg(any(feature = "photo", test))]
    pub(super) fn misses(&self, ways: &[[f64; SAMPLES]]) -> Vec<Spectrum> {
        let factors = &self.conditions.factors;
        let slopes: [f64; SAMPLES] = std::array::from_fn(|band| slope(self.state[band]));
        let tells = DMatrix::from_fn(
            UNKNOWNS,
            3,
            |row, sum| {
                if row == SAMPLES + sum { 1.0 } else { 0.0 }
            },
        );
        let jacobian = self.conditions.jacobian(&self.state);
        let Some(gain) = jacobian.lu().solve(&tells) else {
            return vec![Spectrum::constant(0.0); ways.len()];
        };
        let miss = |way: &[f64; SAMPLES]| {
            let sums = factors.map(|row| -> f64 {
                (0..SAMPLES)
                    .map(|band| row[band] * slopes[band] * way[band])
                    .sum()
            });
            Spectrum::from_fn(|band| {
                let told: f64 = (0..3).map(|sum| gain[(band, sum)] * sums[sum]).sum();
                slopes[band] * (told - way[band])
            })
        };
        ways.iter().map(miss).collect()
    }
}

/// The same for any three weighted sums `goal` in place of a colour: `factors` are their weights, of which the
/// second sum to about 1, as those of Y do where white is 1. A camera's under a lamp will do.
pub(super) fn meeting(
    goal: [f64; 3],
    factors: [[f64; SAMPLES]; 3],
    family: &Family,
) -> Option<Met> {
    let apart_from_limits = NEAREST_TO_LIMIT..=1.0 - NEAREST_TO_LIMIT;
    if !(goal.iter().all(|value| value.is_finite()) && apart_from_limits.contains(&goal[1])) {
        return None;
    }
    let conditions = Conditions {
        factors,
        mean: DVector::from_column_slice(&family.mean),
        form: family.form(),
    };
    // The mean, shifted to about the lightness, solves the conditions of its own colour: the same departure
    // everywhere, multipliers nought.
    let light: f64 = (0..SAMPLES)
        .map(|band| factors[1][band] * reflectance(family.mean[band]))
        .sum();
    let shift = transformed(goal[1]) - transformed(light);
    let mut state = DVector::zeros(UNKNOWNS);
    for band in 0..SAMPLES {
        state[band] = family.mean[band] + shift;
    }
    let start = conditions.xyz(&state);

    let (mut reached, mut stride) = (0.0, 1.0_f64);
    while reached < 1.0 {
        // The colours of real surfaces are a convex body in XYZ, so the straight way stays inside it.
        let share = (reached + stride).min(1.0);
        let aim: [f64; 3] = std::array::from_fn(|i| start[i] + share * (goal[i] - start[i]));
        match conditions.solve(&state, aim) {
            Some(solved) => {
                state = solved;
                reached = share;
            }
            None if stride > SHORTEST_STRIDE => stride /= 2.0,
            None => return None,
        }
    }
    Some(Met {
        #[cfg(any(feature = "photo", test))]
        conditions,
        state,
    })
}

/// The transformed curve z of a reflectance between 0 and 1.
pub(super) fn transformed(reflectance: f64) -> f64 {
    (2.0 * reflectance - 1.0).atanh()
}

/// The reflectance of a transformed curve z.
pub(super) fn reflectance(z: f64) -> f64 {
    f64::midpoint(z.tanh(), 1.0)
}

/// The Lagrange conditions of least slope, for one set of weights.
struct Conditions {
    /// Weighting factors on the scale where white has Y = 1.
    factors: [[f64; SAMPLES]; 3],
    /// The transformed curve from which the departure is measured, and the form that weighs it.
    mean: DVector<f64>,
    form: DMatrix<f64>,
}

impl Conditions {
    /// Newton's method from `start` toward the tristimulus values `aim`.
    fn solve(&self, start: &DVector<f64>, aim: [f64; 3]) -> Option<DVector<f64>> {
        let mut state = start.clone();
        let mut residual = self.residual(&state, aim);
        for _ in 0..NEWTON_STEPS {
            if residual.amax() < TOLERANCE {
                return Some(state);
            }
            let step = self.jacobian(&state).lu().solve(&residual)?;
            let (next, next_residual) = (0..12)
                .map(|halvings| &state - &step * 0.5_f64.powi(halvings))
                .map(|next| {
                    let next_residual = self.residual(&next, aim);
                    (next, next_residual)
                })
                .find(|(_, next_residual)| next_residual.norm() < residual.norm())?;
            state = next;
            residual = next_residual;
        }
        None
    }

    fn residual(&self, state: &DVector<f64>, aim: [f64; 3]) -> DVector<f64> {
        let mut residual = DVector::zeros(UNKNOWNS);
        let weighed = &self.form * (state.rows(0, SAMPLES) - &self.mean);
        for band in 0..SAMPLES {
            residual[band] = weighed[band] + slope(state[band]) * self.pull(state, band);
        }
        for (row, met) in self.xyz(state).into_iter().enumerate() {
            residual[SAMPLES + row] = met - aim[row];
        }
        residual
    }

    fn xyz(&self, state: &DVector<f64>) -> [f64; 3] {
        self.factors.map(|row| {
            (0..SAMPLES)
                .map(|band| row[band] * reflectance(state[band]))
                .sum()
        })
    }

    fn jacobian(&self, state: &DVector<f64>) -> DMatrix<f64> {
        let mut jacobian = DMatrix::zeros(UNKNOWNS, UNKNOWNS);
        let mut own = jacobian.view_mut((0, 0), (SAMPLES, SAMPLES));
        own.copy_from(&self.form);
        for band in 0..SAMPLES {
            let z = state[band];
            // The derivative of the slope is −2 tanh z times the slope.
            jacobian[(band, band)] -= 2.0 * z.tanh() * slope(z) * self.pull(state, band);
            for (row, factors) in self.factors.iter().enumerate() {
                jacobian[(band, SAMPLES + row)] = slope(z) * factors[band];
                jacobian[(SAMPLES + row, band)] = slope(z) * factors[band];
            }
        }
        jacobian
    }

    /// What the multipliers pull at one sample.
    fn pull(&self, state: &DVector<f64>, band: usize) -> f64 {
        (0..3)
            .map(|row| self.factors[row][band] * state[SAMPLES + row])
            .sum()
    }
}

/// Derivative of [`reflectance`].
fn slope(z: f64) -> f64 {
    0.5 / z.cosh().powi(2)
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;
    use crate::colour::{Illuminant, Observer, Viewing};

    /// How near the colour of the spectrum must come to the colour asked for.
    const LAB_TOLERANCE: f64 = 1e-6;

    fn viewings() -> [Viewing; 3] {
        let d50_2 = Viewing {
            illuminant: Illuminant::D50,
            observer: Observer::Cie1931,
        };
        [Viewing::D65_10, d50_2, Viewing::D65_10.under(Illuminant::A)]
    }

    #[test]
    fn the_spectrum_has_the_colour_and_stays_between_0_and_1() {
        let colours = [
            Lab::new(65.0, 12.0, 17.0),
            Lab::new(30.0, 14.0, 18.0),
            Lab::new(90.0, -3.0, 8.0),
            Lab::new(50.0, 65.0, 40.0),
            Lab::new(35.0, 15.0, -50.0),
            Lab::new(60.0, -50.0, 30.0),
            Lab::new(85.0, 5.0, 90.0),
            Lab::new(2.0, 0.5, 0.5),
            Lab::new(99.0, 0.0, 0.0),
        ];
        for weights in viewings().map(Viewing::weights) {
            for lab in colours {
                let spectrum = smooth_spectrum(lab, &weights).expect("a colour of real surfaces");
                let back = weights.lab(&spectrum);
                assert_abs_diff_eq!(back.l, lab.l, epsilon = LAB_TOLERANCE);
                assert_abs_diff_eq!(back.a, lab.a, epsilon = LAB_TOLERANCE);
                assert_abs_diff_eq!(back.b, lab.b, epsilon = LAB_TOLERANCE);
                assert!(
                    spectrum.min() > 0.0 && spectrum.max() < 1.0,
                    "{lab:?} has a reflectance outside 0-1"
                );
            }
        }
    }

    #[test]
    fn a_grey_has_a_flat_spectrum() {
        let weights = Viewing::D65_10.weights();
        let grey = Spectrum::constant(0.18);
        let spectrum = smooth_spectrum(weights.lab(&grey), &weights).expect("a grey");
        for value in spectrum.values() {
            assert_abs_diff_eq!(*value, 0.18, epsilon = 1e-9);
        }
    }

    #[test]
    fn no_curve_of_the_same_colour_is_smoother() {
        // Steps of z along any direction that leaves XYZ as it is can't lower the sum of squared steps:
        // compared with a bumped spectrum, brought back to the same colour by the solver's own conditions.
        let weights = Viewing::D65_10.weights();
        let lab = Lab::new(60.0, 15.0, 20.0);
        let spectrum = smooth_spectrum(lab, &weights).expect("a skin colour");
        let roughness = |spectrum: &Spectrum| -> f64 {
            let z = spectrum.map(|r| (2.0 * r - 1.0).atanh());
            z.values()
                .windows(2)
                .map(|two| (two[1] - two[0]).powi(2))
                .sum()
        };
        let factors = DMatrix::from_fn(3, SAMPLES, |row, band| weights.factors()[row][band]);
        let inverse = (&factors * factors.transpose())
            .try_inverse()
            .expect("three independent weights");
        for bumped in 0..SAMPLES {
            let bump = DVector::from_fn(SAMPLES, |band, _| f64::from(band == bumped));
            // The component of the bump that no observer sees.
            let unseen = &bump - factors.transpose() * (&inverse * (&factors * &bump));
            for size in [1e-3, -1e-3] {
                let other = Spectrum::from_fn(|band| spectrum[band] + size * unseen[band]);
                assert!(
                    roughness(&other) > roughness(&spectrum),
                    "sample {bumped} moved by {size} gives a smoother curve"
                );
            }
        }
    }

    #[test]
    fn colours_beyond_real_surfaces_have_no_spectrum() {
        let weights = Viewing::D65_10.weights();
        for lab in [
            Lab::new(95.0, 60.0, 60.0),
            Lab::new(20.0, 0.0, 100.0),
            Lab::new(100.0, 0.0, 0.0),
            Lab::new(0.0, 0.0, 0.0),
            Lab::new(50.0, f64::NAN, 0.0),
        ] {
            assert!(smooth_spectrum(lab, &weights).is_none(), "{lab:?}");
        }
    }

    #[test]
    fn what_the_sums_do_not_tell_of_a_way_is_missed() {
        // Sums under one light, of a curve that lies a little of one way from the middle of its family.
        let weights = Viewing::D65_10.weights();
        let factors = weights
            .factors()
            .map(|row| row.map(|factor| factor / 100.0));
        let along = |band: usize| (band as f64 - 17.5) / 17.5;
        let mean: [f64; SAMPLES] = std::array::from_fn(|band| 0.4 * along(band) - 0.3);
        let ways: Vec<[f64; SAMPLES]> = vec![
            std::array::from_fn(|band| 0.05 * along(band).powi(2)),
            std::array::from_fn(|band| 0.05 * (4.0 * along(band)).sin()),
        ];
        let family = Family {
            mean,
            ways: ways.clone(),
        };
        for (index, way) in ways.iter().enumerate() {
            let truth = Spectrum::from_fn(|band| reflectance(mean[band] + way[band]));
            let sums = factors
                .map(|row| -> f64 { (0..SAMPLES).map(|band| row[band] * truth[band]).sum() });
            let met = meeting(sums, factors, &family).expect("a surface");
            let found = met.reflectance();
            let told = &met.misses(&ways)[index];
            let largest = way.iter().fold(0.0, |most: f64, z| most.max(z.abs()));
            for band in 0..SAMPLES {
                let miss = found[band] - truth[band];
                assert_abs_diff_eq!(miss, told[band], epsilon = 0.05 * largest);
            }
        }
    }
}
