//! How far light passes through a film: what it hides of black and white beneath it.

use super::{Lab, TristimulusWeights, delta_e_2000, delta_e_ab};

/// What a film shows of what lies under it, from its colours over a black and a white card.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Translucency {
    /// Y over black by Y over white, 0–1; 1 hides all.
    ///
    /// Source: the definition of the contrast ratio in ISO 6504-3.
    pub contrast_ratio: f64,
    /// The translucency parameter: ΔE*ab between the colours over black and over white; 0 hides all.
    ///
    /// Source: W. M. Johnston, T. Ma, B. H. Kienle (1995), Translucency parameter of colorants for maxillofacial
    /// prostheses, Int. J. Prosthodont. 8, 79–86 (from memory).
    pub tp_ab: f64,
    /// The same as ΔE00, as later papers give it. The two differ by far: say which.
    pub tp_00: f64,
}

impl Translucency {
    /// Of what hides all.
    pub const OPAQUE: Self = Self {
        contrast_ratio: 1.0,
        tp_ab: 0.0,
        tp_00: 0.0,
    };

    /// Of a film that has these colours over a black and a white card, under the viewing of `weights`; one that is lighter
    /// over black than over white has a contrast ratio above 1.
    pub fn of(over_black: Lab, over_white: Lab, weights: &TristimulusWeights) -> Self {
        let [black, white] = [over_black, over_white].map(|lab| weights.xyz_of_lab(lab).y);
        Self {
            contrast_ratio: black / white,
            tp_ab: delta_e_ab(over_black, over_white),
            tp_00: delta_e_2000(over_black, over_white),
        }
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;
    use crate::colour::Viewing;

    #[test]
    fn a_film_worked_by_hand_has_its_ratio_and_its_parameter() {
        // L* 50 is Y 18.42, L* 80 is Y 56.68 (L* = 116 ∛(Y/100) − 16): Y = 100 (66/116)³ and 100 (96/116)³, so that the
        // ratio is (66/96)³ = 0.324951. ΔE*ab of (50, 2, 4) and (80, 6, 16) is √(30² + 4² + 12²) = √1060.
        let weights = Viewing::D65_10.weights();
        let film = Translucency::of(
            Lab::new(50.0, 2.0, 4.0),
            Lab::new(80.0, 6.0, 16.0),
            &weights,
        );
        assert_abs_diff_eq!(film.contrast_ratio, 0.324_951, epsilon = 1e-6);
        assert_abs_diff_eq!(film.tp_ab, 1060.0_f64.sqrt(), epsilon = 1e-12);
        assert!(film.tp_00 < film.tp_ab, "ΔE00 counts lightness for less");
    }

    #[test]
    fn what_hides_all_has_one_colour() {
        let weights = Viewing::D65_10.weights();
        let lab = Lab::new(65.0, 11.0, 14.0);
        let film = Translucency::of(lab, lab, &weights);
        assert_abs_diff_eq!(film.contrast_ratio, 1.0, epsilon = 1e-12);
        assert_abs_diff_eq!(film.tp_ab, 0.0, epsilon = 1e-12);
        assert_abs_diff_eq!(film.tp_00, 0.0, epsilon = 1e-12);
    }
}
