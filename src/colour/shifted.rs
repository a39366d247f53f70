//! A spectrum whose colour is another by a little.

use nalgebra::{Matrix3, Vector3};

use super::tristimulus::TristimulusWeights;
use super::{Lab, SAMPLES, Spectrum};

impl TristimulusWeights {
    /// `reflectance` (0–1), changed smoothly so that its colour under this viewing is another by so much in L*, a* and b*.
    ///
    /// Its logarithm is changed by a sum of the three weighting functions, found by Newton's method: what neither eye nor light
    /// sees is left as it is. Colours that no surface has end at the nearest reflectance of at most 1.
    #[must_use]
    pub fn shifted(&self, reflectance: &Spectrum, by: [f64; 3]) -> Spectrum {
        const ROUNDS: usize = 12;
        /// On the scale where white has Y = 100.
        const GOOD_ENOUGH: f64 = 1e-9;
        if by == [0.0; 3] {
            return *reflectance;
        }
        let Lab { l, a, b, .. } = self.lab(reflectance);
        let l = (l + by[0]).clamp(0.0, 100.0);
        let aim = self.xyz_of_lab(Lab::new(l, a + by[1], b + by[2]));
        let aim = Vector3::new(aim.x, aim.y, aim.z).map(|value| value.max(0.0));
        let factors = self.factors();
        let shapes = factors.map(|row| {
            let most = row.iter().copied().fold(0.0, f64::max);
            row.map(|factor| factor / most)
        });
        let mut shares = Vector3::zeros();
        let mut found = *reflectance;
        for _ in 0..ROUNDS {
            let mut seen = Vector3::zeros();
            let mut slopes = Matrix3::zeros();
            for band in 0..SAMPLES {
                let weights = Vector3::from(factors.map(|row| row[band])) * found[band];
                seen += weights;
                slopes += weights * Vector3::from(shapes.map(|row| row[band])).transpose();
            }
            let off = aim - seen;
            if off.amax() <= GOOD_ENOUGH {
                break;
            }
            let Some(step) = slopes.lu().solve(&off) else {
                break;
            };
            // A step of more than a factor e overshoots.
            shares += step / step.amax().max(1.0);
            found = Spectrum::from_fn(|band| {
                let sum: f64 = (0..3).map(|axis| shares[axis] * shapes[axis][band]).sum();
                reflectance[band] * sum.exp()
            });
        }
        found.map(|value| value.min(1.0))
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;
    use crate::colour::{Illuminant, Viewing};

    #[test]
    fn the_colour_is_shifted_by_what_was_asked_and_the_spectrum_stays_near() {
        let skin = Spectrum::from_fn(|band| 0.15 + 0.4 * (band as f64 / 35.0).powi(2));
        for illuminant in [Illuminant::D65, Illuminant::A] {
            let weights = Viewing::D65_10.under(illuminant).weights();
            let here = weights.lab(&skin);
            for by in [[0.0, 0.0, 0.0], [2.0, -1.0, 3.0], [-6.0, 4.0, -5.0]] {
                let shifted = weights.shifted(&skin, by);
                let there = weights.lab(&shifted);
                assert_abs_diff_eq!(there.l, here.l + by[0], epsilon = 1e-6);
                assert_abs_diff_eq!(there.a, here.a + by[1], epsilon = 1e-6);
                assert_abs_diff_eq!(there.b, here.b + by[2], epsilon = 1e-6);
                let most = 0.12 * by.iter().map(|axis| axis.abs()).sum::<f64>();
                for band in 0..SAMPLES {
                    let factor = (shifted[band] / skin[band]).ln().abs();
                    assert!(factor <= most, "{by:?} at {band}: {factor}");
                }
            }
        }
    }

    #[test]
    fn what_no_surface_shows_ends_at_a_white() {
        let weights = Viewing::D65_10.weights();
        let white = weights.shifted(&Spectrum::constant(0.98), [9.0, 0.0, 0.0]);
        assert!(white.max() <= 1.0, "no more light than there is");
        assert!(weights.lab(&white).l > 99.9, "and as white as can be");
    }
}
