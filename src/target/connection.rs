//! The profile connection space of photographs, and the way from it to the viewing of a swatch book.
//!
//! A profile gives XYZ for the 2° observer relative to D50; a swatch book is mostly D65/10°. Another light
//! can be had by a chromatic adaptation, another observer can't: that takes a spectrum. So a colour is given
//! a reflectance that has it under D50/2°, skin's where the colour is skin's, the smoothest where it can't be
//! and a blend between, and that reflectance is seen under the other viewing.
//!
//! What that costs: over the 60 measured skins of C. C. Cooksey, D. W. Allen, B. K. Tsai (2017), Journal of
//! Research of NIST 122:26, each left out of the mean skin in turn, going from the true Lab under D50/2° to
//! D65/10° errs by 0.48 ΔE00 in the mean and 1.31 at most. The smoothest curve would err by 3.39 and 4.38, and
//! taking the D50/2° numbers over as they are by 3.80 and 4.78: the observers differ where blood absorbs.

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
        SMatrix::from_fn(|row, place| weights.factors()[row][place] / scale[row] * WHITE[row])
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
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::delta_e_2000;
    use crate::target::smooth_spectrum;

    /// The subjects that are kept out of the mean skin: reflectance of the forearm, mean of three readings,
    /// averaged over 10 nm.
    ///
    /// Source: C. C. Cooksey, D. W. Allen, B. K. Tsai (2017), Journal of Research of the National Institute of
    /// Standards and Technology 122:26; data doi 10.18434/M38597; in the public domain.
    const UNSEEN_SUBJECTS: [(u8, [f64; 36]); 5] = [
        (
            1,
            [
                0.19295, 0.20034, 0.20081, 0.19719, 0.19477, 0.19874, 0.22087, 0.26447, 0.30227,
                0.32250, 0.33215, 0.34092, 0.34836, 0.35082, 0.34688, 0.33561, 0.32302, 0.31693,
                0.32007, 0.32596, 0.34041, 0.38194, 0.43798, 0.48674, 0.51585, 0.53270, 0.54521,
                0.55476, 0.56267, 0.57205, 0.58274, 0.59402, 0.60169, 0.60595, 0.60887, 0.60830,
            ],
        ),
        (
            9,
            [
                0.12132, 0.13271, 0.14045, 0.14458, 0.14764, 0.15325, 0.16978, 0.20281, 0.23560,
                0.25597, 0.26639, 0.27494, 0.28332, 0.28822, 0.28689, 0.27751, 0.26655, 0.26150,
                0.26502, 0.27227, 0.28735, 0.32859, 0.38796, 0.44244, 0.47588, 0.49581, 0.51049,
                0.52204, 0.53254, 0.54461, 0.55847, 0.57268, 0.58334, 0.59110, 0.59681, 0.59882,
            ],
        ),
        (
            14,
            [
                0.29466, 0.30258, 0.29681, 0.28536, 0.27804, 0.28288, 0.31247, 0.35353, 0.38031,
                0.39231, 0.39612, 0.40479, 0.41600, 0.42167, 0.42136, 0.41492, 0.40784, 0.40922,
                0.41766, 0.41926, 0.42890, 0.48197, 0.54119, 0.58288, 0.60570, 0.61820, 0.62678,
                0.63304, 0.63910, 0.64519, 0.65101, 0.65810, 0.66200, 0.66404, 0.66372, 0.65981,
            ],
        ),
        (
            17,
            [
                0.07100, 0.07464, 0.07833, 0.08180, 0.08545, 0.08989, 0.09659, 0.10611, 0.11500,
                0.12204, 0.12767, 0.13450, 0.14159, 0.14803, 0.15424, 0.15949, 0.16395, 0.16993,
                0.17721, 0.18538, 0.19694, 0.21910, 0.24581, 0.26973, 0.28877, 0.30527, 0.32168,
                0.33790, 0.35382, 0.37087, 0.38762, 0.40423, 0.41988, 0.43501, 0.44841, 0.46104,
            ],
        ),
        (
            41,
            [
                0.06996, 0.07725, 0.08435, 0.09033, 0.09574, 0.10221, 0.11410, 0.13185, 0.14745,
                0.15858, 0.16636, 0.17481, 0.18401, 0.19177, 0.19690, 0.19812, 0.19837, 0.20188,
                0.20876, 0.21599, 0.22873, 0.25812, 0.29368, 0.32454, 0.34648, 0.36259, 0.37666,
                0.38944, 0.40166, 0.41444, 0.42764, 0.44134, 0.45298, 0.46245, 0.47124, 0.47776,
            ],
        ),
    ];

    /// Mean error that is claimed for unseen skin, ΔE00, with room for five subjects being few.
    const CLAIM: f64 = 0.75;

    #[test]
    fn unseen_skins_come_through_the_change_of_light_and_observer() {
        let space = ConnectionSpace::new(Viewing::D65_10);
        let truth = |r: [f64; 36]| Viewing::D65_10.weights().lab(&Spectrum::new(r));
        let mut errors = Vec::new();
        let mut smoothest = Vec::new();
        for (_, r) in UNSEEN_SUBJECTS {
            let lab = D50_2.weights().lab(&Spectrum::new(r));
            let seen = space.to_viewing(lab).expect("skin");
            errors.push(delta_e_2000(seen, truth(r)));
            let smooth = smooth_spectrum(lab, &D50_2.weights()).expect("skin");
            let smooth = Viewing::D65_10.weights().lab(&smooth);
            smoothest.push(delta_e_2000(smooth, truth(r)));
        }
        let mean = |errors: &[f64]| errors.iter().sum::<f64>() / errors.len() as f64;
        assert!(
            mean(&errors) < CLAIM,
            "mean {} of {errors:?}",
            mean(&errors)
        );
        assert!(
            mean(&smoothest) > 3.0 * mean(&errors),
            "the shape of skin is worth it: {smoothest:?}"
        );
    }

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
        for l in walk(3.0, 11.0).chain(walk(91.0, 97.5)) {
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
