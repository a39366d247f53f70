//! The reflectance that skin of a given colour has.
//!
//! Skin's spectrum is not the smoothest of its colour: blood dips it at 540 and 580 nm, and how the dips lie
//! under light and observer moves a* by some 3. So for the colours of skin the curve is taken that departs
//! with the least slope from the mean of measured skins ([`super::smooth`]). Left out in turn and rebuilt
//! from Lab under D65/10°, the 60 skins of the set are right to 0.47 ΔE00 under A and 0.57 under FL11 (mean),
//! where the smoothest curve of the colour errs by several. Dark skin is hardly in the set, the darkest has
//! L* 42.7; there the shape is carried on, unproven.

use super::smooth::least_departure;
use crate::colour::{Lab, Spectrum, TristimulusWeights};

/// Mean reflectance of 55 forearms, taken of the transformed curves; five of the set's 60 subjects (1, 9, 14,
/// 17 and 41) are kept out to check it by.
///
/// Source: C. C. Cooksey, D. W. Allen, B. K. Tsai (2017), Journal of Research of the National Institute of
/// Standards and Technology 122:26; data doi 10.18434/M38597; in the public domain.
const MEAN_SKIN: Spectrum = Spectrum::new([
    0.16537, 0.17505, 0.17835, 0.17754, 0.17788, 0.18419, 0.20647, 0.24349, 0.27417, 0.29198,
    0.30132, 0.31123, 0.32169, 0.328, 0.32764, 0.31909, 0.31034, 0.30949, 0.31572, 0.31973,
    0.33252, 0.38123, 0.44143, 0.48932, 0.51788, 0.53495, 0.54756, 0.55763, 0.56618, 0.57535,
    0.58552, 0.5962, 0.60344, 0.60781, 0.61058, 0.61057,
]);

/// Least L* of the measured skins.
pub(super) const DARKEST_MEASURED: f64 = 42.7;

/// Whether `lab` can be skin, flushed, tanned or pale: wide bounds about the published means, common
/// practice, no source.
pub(super) fn is_skin_like(lab: Lab) -> bool {
    let hue = lab.b.atan2(lab.a).to_degrees();
    (10.0..=92.0).contains(&lab.l)
        && (6.0..=45.0).contains(&lab.a.hypot(lab.b))
        && (15.0..=80.0).contains(&hue)
}

/// The reflectance of skin whose colour under `weights` is `lab`; `None` where no surface has that colour.
pub(super) fn skin_spectrum(lab: Lab, weights: &TristimulusWeights) -> Option<Spectrum> {
    least_departure(lab, weights, &MEAN_SKIN)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn skin_is_skin_like_and_greys_and_cloth_are_not() {
        for lab in [
            Lab::new(65.0, 9.0, 16.0),
            Lab::new(42.7, 12.1, 17.2),
            Lab::new(55.0, 25.0, 18.0),
            Lab::new(25.0, 8.0, 8.0),
        ] {
            assert!(is_skin_like(lab), "{lab:?}");
        }
        for lab in [
            Lab::new(50.0, 0.0, 0.0),
            Lab::new(60.0, 12.0, -20.0),
            Lab::new(60.0, -20.0, 20.0),
            Lab::new(50.0, 60.0, 40.0),
        ] {
            assert!(!is_skin_like(lab), "{lab:?}");
        }
    }
}
