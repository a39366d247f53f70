//! The curve that the reflectance of a skin colour departs from least.
//!
//! Skin's spectrum is not the smoothest of its colour: blood dips it at 540 and 580 nm, and how the dips lie
//! under light and observer moves a* by some 3. So for the colours of skin the curve is taken that departs
//! with the least slope from the mean of measured skins ([`super::smooth`]). Left out in turn and rebuilt
//! from Lab under D65/10°, the 60 skins of the set are right to 0.47 ΔE00 under A and 0.57 under FL11 (mean),
//! where the smoothest curve of the colour errs by several. Dark skin is hardly in the set, the darkest has
//! L* 42.7; there the shape is carried on, unproven.
//!
//! Pale, dead and aged skin lies at the edge of what can be skin, where no line can be drawn. So the mean
//! skin fades into a flat curve over a margin, and neighbouring colours keep neighbouring spectra.

use super::smooth::{reflectance, transformed};
use crate::colour::{Lab, Spectrum};

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

/// L* within which a colour can be skin in full, and how far outside it can't be at all. These bounds and
/// those below are wide ones about the published means; common practice, no source.
const LIGHTNESS: Bounds = Bounds {
    least: 10.0,
    most: 92.0,
    margin: [6.0, 6.0],
};
/// The same for chroma.
const CHROMA: Bounds = Bounds {
    least: 6.0,
    most: 45.0,
    margin: [4.0, 15.0],
};
/// The same for the hue angle, degrees, from −180 to 180.
const HUE: Bounds = Bounds {
    least: 15.0,
    most: 80.0,
    margin: [25.0, 25.0],
};

/// A range with soft ends.
struct Bounds {
    least: f64,
    most: f64,
    /// How far below `least` and above `most` nothing is left.
    margin: [f64; 2],
}

impl Bounds {
    /// 1 within the range, falling smoothly to 0 over the margin.
    fn weight(&self, value: f64) -> f64 {
        let below = (self.least - value) / self.margin[0];
        let above = (value - self.most) / self.margin[1];
        let outside = below.max(above).clamp(0.0, 1.0);
        1.0 - outside * outside * (3.0 - 2.0 * outside)
    }
}

/// How far `lab` can be skin, flushed, tanned or pale: 1 where it well can, 0 where it can't, smoothly
/// between.
pub(super) fn likeness(lab: Lab) -> f64 {
    let hue = lab.b.atan2(lab.a).to_degrees();
    LIGHTNESS.weight(lab.l) * CHROMA.weight(lab.a.hypot(lab.b)) * HUE.weight(hue)
}

/// The mean skin for a `likeness` of 1, a flat curve for 0, and between them a blend of the two
/// transformed curves.
pub(super) fn reference(likeness: f64) -> Spectrum {
    MEAN_SKIN.map(|value| reflectance(likeness * transformed(value)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn skin_is_skin_and_greys_and_cloth_are_not() {
        for lab in [
            Lab::new(65.0, 9.0, 16.0),
            Lab::new(42.7, 12.1, 17.2),
            Lab::new(55.0, 25.0, 18.0),
            Lab::new(25.0, 8.0, 8.0),
        ] {
            approx::assert_abs_diff_eq!(likeness(lab), 1.0, epsilon = 1e-12);
        }
        for lab in [
            Lab::new(50.0, 0.0, 0.0),
            Lab::new(60.0, 12.0, -20.0),
            Lab::new(60.0, -20.0, 20.0),
            Lab::new(50.0, 60.0, 40.0),
        ] {
            approx::assert_abs_diff_eq!(likeness(lab), 0.0, epsilon = 1e-12);
        }
        let pale = likeness(Lab::new(75.0, 2.0, 3.5));
        assert!((0.1..0.9).contains(&pale), "between: {pale}");
    }

    #[test]
    fn the_reference_runs_from_a_flat_curve_to_the_mean_skin() {
        assert_eq!(reference(0.0), Spectrum::constant(0.5), "flat");
        for (one, other) in reference(1.0).values().iter().zip(MEAN_SKIN.values()) {
            approx::assert_abs_diff_eq!(one, other, epsilon = 1e-12);
        }
    }
}
