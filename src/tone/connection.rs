//! The profile connection space of photographs, and the way from it to the viewing of a swatch book.
//!
//! A profile gives XYZ for the 2° observer relative to D50; a swatch book is mostly D65/10°. Another light
//! can be had by a chromatic adaptation, another observer can't: that takes a spectrum. So a colour is given
//! a reflectance that has it under D50/2°, skin's where the colour is skin's, the smoothest where it can't be
//! and a blend between, and that reflectance is seen under the other viewing.
//!
//! What that costs: over the 60 measured skins of C. C. Cooksey, D. W. Allen, B. K. Tsai (2017), Journal of
//! Research of NIST 122:26, each left out in turn of the family of skins, going from the true Lab under D50/2° to
//! D65/10° errs by 0.27 ΔE00 in the mean (the test of [`super::skin`] holds it). The smoothest curve would err by
//! 3.39, and taking the D50/2° numbers over as they are by 3.80: the observers differ where blood absorbs.

use nalgebra::SMatrix;

use super::reflectance_of;
use crate::colour::{
    Illuminant, Lab, Observer, SAMPLES, Spectrum, TristimulusWeights, Viewing, Xyz,
};

/// The white of the profile connection space, Y = 1.
///
/// Source: ICC.1:2022, the illuminant of the profile connection space.
const WHITE: [f64; 3] = [0.9642, 1.0, 0.8249];

/// The viewing of the profile connection space, and of printed cards' values.
pub(super) const D50_2: Viewing = Viewing {
    illuminant: Illuminant::D50,
    observer: Observer::Cie1931,
};

/// The way from the profile connection space to CIELAB and on.
#[derive(Debug)]
pub(super) struct ConnectionSpace {
    weights: TristimulusWeights,
    viewing: TristimulusWeights,
}

impl ConnectionSpace {
    /// The way that ends in `viewing`.
    pub(super) fn new(viewing: Viewing) -> Self {
        Self {
            weights: D50_2.weights(),
            viewing: viewing.weights(),
        }
    }

    /// What turns the samples of a reflectance into X, Y, Z of the space.
    pub(super) fn observer() -> SMatrix<f64, 3, SAMPLES> {
        let weights = D50_2.weights();
        let white = weights.white();
        let scale = [white.x, white.y, white.z];
        SMatrix::from_fn(|row, band| weights.factors()[row][band] / scale[row] * WHITE[row])
    }

    /// A reflectance of the colour `lab` under D50/2°; `None` where no surface has that colour.
    pub(super) fn reflectance(&self, lab: Lab) -> Option<Spectrum> {
        reflectance_of(lab, &self.weights).map(|(reflectance, _)| reflectance)
    }

    /// Lab under D50/2° of X, Y, Z with white at Y = 1.
    pub(super) fn lab(&self, xyz: [f64; 3]) -> Lab {
        // Relative to the white that the space defines, which is D50's to four digits.
        let own = self.weights.white();
        let [x, y, z]: [f64; 3] = std::array::from_fn(|i| xyz[i] / WHITE[i]);
        self.weights
            .lab_of_xyz(Xyz::new(x * own.x, y * own.y, z * own.z))
    }

    /// X, Y, Z with white at Y = 1 of a Lab under D50/2°.
    pub(super) fn xyz(&self, lab: Lab) -> [f64; 3] {
        let own = self.weights.white();
        let xyz = self.weights.xyz_of_lab(lab);
        [
            xyz.x / own.x * WHITE[0],
            xyz.y / own.y * WHITE[1],
            xyz.z / own.z * WHITE[2],
        ]
    }

    /// The colour that a surface of Lab `lab` under D50/2° has under the viewing; `None` where no surface
    /// has that Lab.
    pub(super) fn to_viewing(&self, lab: Lab) -> Option<Lab> {
        self.reflectance(lab)
            .map(|reflectance| self.viewing.lab(&reflectance))
    }

    /// The way back: the colour under D50/2° of a surface of Lab `lab` under the viewing; `None` where no surface has that Lab.
    pub(super) fn as_photographed(&self, lab: Lab) -> Option<Lab> {
        reflectance_of(lab, &self.viewing).map(|(reflectance, _)| self.weights.lab(&reflectance))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::delta_e_2000;

    /// Most that the conversions of two colours 0.02 apart may lie apart, ΔE00.
    const SMOOTH: f64 = 0.1;

    #[test]
    fn neighbours_stay_neighbours_across_every_bound_of_what_can_be_skin() {
        let space = ConnectionSpace::new(Viewing::D65_10);
        let polar = |l: f64, chroma: f64, hue: f64| {
            let (sin, cos) = hue.to_radians().sin_cos();
            Lab::new(l, chroma * cos, chroma * sin)
        };
        let mut pairs = Vec::new();
        let walk =
            |from: f64, to: f64| (0..=12).map(move |i| from + (to - from) * f64::from(i) / 12.0);
        for (l, hue) in [
            (30.0, 50.0),
            (60.0, 20.0),
            (60.0, 50.0),
            (60.0, 85.0),
            (85.0, 70.0),
        ] {
            for chroma in walk(0.5, 7.0).chain(walk(44.0, 46.0)) {
                pairs.push((polar(l, chroma - 0.01, hue), polar(l, chroma + 0.01, hue)));
            }
        }
        for (l, chroma) in [
            (30.0, 8.0),
            (60.0, 4.0),
            (60.0, 6.0),
            (60.0, 20.0),
            (85.0, 10.0),
        ] {
            let step = f64::to_degrees(0.01 / chroma);
            for hue in walk(-15.0, 20.0).chain(walk(75.0, 110.0)) {
                pairs.push((polar(l, chroma, hue - step), polar(l, chroma, hue + step)));
            }
        }
        for l in walk(27.0, 44.0).chain(walk(91.0, 97.5)) {
            pairs.push((polar(l - 0.01, 7.0, 55.0), polar(l + 0.01, 7.0, 55.0)));
        }
        let mut seen = 0;
        for (one, other) in pairs {
            // Some of the darkest and lightest are no colours of surfaces.
            if let (Some(a), Some(b)) = (space.to_viewing(one), space.to_viewing(other)) {
                let apart = delta_e_2000(a, b);
                assert!(apart < SMOOTH, "{one:?} and {other:?}: {apart} ΔE00 apart");
                seen += 1;
            }
        }
        assert!(seen > 250, "only {seen} pairs are colours of surfaces");
    }

    #[test]
    fn grey_stays_grey() {
        let space = ConnectionSpace::new(Viewing::D65_10);
        for l in [8.0, 30.0, 60.0, 95.0] {
            let seen = space.to_viewing(Lab::new(l, 0.0, 0.0)).expect("a grey");
            approx::assert_abs_diff_eq!(seen.l, l, epsilon = 1e-6);
            approx::assert_abs_diff_eq!(seen.a, 0.0, epsilon = 1e-6);
            approx::assert_abs_diff_eq!(seen.b, 0.0, epsilon = 1e-6);
        }
    }

    #[test]
    fn the_white_of_the_space_is_lab_100_0_0_and_back() {
        let space = ConnectionSpace::new(Viewing::D65_10);
        let lab = space.lab(WHITE);
        approx::assert_abs_diff_eq!(lab.l, 100.0, epsilon = 1e-9);
        approx::assert_abs_diff_eq!(lab.a, 0.0, epsilon = 1e-9);
        let xyz = space.xyz(Lab::new(100.0, 0.0, 0.0));
        approx::assert_abs_diff_eq!(xyz[2], WHITE[2], epsilon = 1e-9);
    }
}
