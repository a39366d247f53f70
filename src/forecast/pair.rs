//! A tone and what is made of it, side by side under one light.

use crate::colour::{Lab, Light, Spectrum, TristimulusWeights, Xyz, delta_e_2000};

/// A colour aimed at, under the viewing of `weights`.
#[derive(Clone, Debug)]
pub(crate) struct Aim {
    /// The light and observer.
    pub(crate) weights: TristimulusWeights,
    /// The colour.
    pub(crate) lab: Lab,
}

/// The colour aimed at and the colour that comes out, under one light, for one observer.
#[derive(Clone, Debug, PartialEq)]
pub struct Pair {
    /// The light.
    pub light: Light,
    /// The colour aimed at.
    pub aim: Lab,
    /// The colour that comes out.
    pub made: Lab,
    /// ΔE00 between the two, as they are seen.
    pub delta_e: f64,
    /// The ΔE00 that would be left under this light if the two looked alike under the book's: what no small
    /// correction of the recipe mends, since the two reflect light differently. 0 under the book's own light.
    ///
    /// The special metamerism index for a change of illuminant, with XYZ corrected by the ratio of the two under the
    /// book's light, and ΔE00 as its difference.
    ///
    /// Source: CIE 015:2018, section 9.2.2 (section number from memory).
    pub metamerism: f64,
}

impl Pair {
    /// The pair of `aim` and a casting that reads `made`, under `light`; `at_home` is the aim under the book's light.
    pub(crate) fn new(light: &Light, aim: &Aim, at_home: &Aim, made: &Spectrum) -> Self {
        let made_lab = aim.weights.lab(made);
        let corrected = corrected(
            aim.weights.xyz(made),
            at_home.weights.xyz_of_lab(at_home.lab),
            at_home.weights.xyz(made),
        );
        Self {
            light: light.clone(),
            aim: aim.lab,
            made: made_lab,
            delta_e: delta_e_2000(aim.lab, made_lab),
            metamerism: delta_e_2000(aim.lab, aim.weights.lab_of_xyz(corrected)),
        }
    }

    /// The pair that looks worst; `None` of none.
    pub fn worst(pairs: &[Self]) -> Option<&Self> {
        pairs
            .iter()
            .max_by(|one, other| one.delta_e.total_cmp(&other.delta_e))
    }
}

/// `made` under another light, corrected by what `aim` is to `made_at_home` under the book's.
fn corrected(made: Xyz, aim: Xyz, made_at_home: Xyz) -> Xyz {
    let by = |made: f64, aim: f64, at_home: f64| {
        // What reflects nothing can't be corrected, and needs not be.
        if at_home > 0.0 {
            made * aim / at_home
        } else {
            made
        }
    };
    Xyz::new(
        by(made.x, aim.x, made_at_home.x),
        by(made.y, aim.y, made_at_home.y),
        by(made.z, aim.z, made_at_home.z),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::{Illuminant, Viewing};

    fn aim(reflectance: &Spectrum, illuminant: Illuminant) -> Aim {
        let weights = Viewing::D65_10.under(illuminant).weights();
        Aim {
            lab: weights.lab(reflectance),
            weights,
        }
    }

    fn pair(aimed: &Spectrum, made: &Spectrum, illuminant: Illuminant) -> Pair {
        let at_home = aim(aimed, Illuminant::D65);
        Pair::new(&illuminant.into(), &aim(aimed, illuminant), &at_home, made)
    }

    /// A skin-like rise, and the same with a wave that D65 hardly sees.
    fn skin(wave: f64) -> Spectrum {
        Spectrum::from_fn(|band| {
            let share = band as f64 / 35.0;
            0.2 + 0.4 * share + wave * (std::f64::consts::TAU * 2.5 * share).sin()
        })
    }

    #[test]
    fn a_surface_beside_itself_is_alike_under_every_light() {
        for illuminant in Illuminant::ALL {
            let pair = pair(&skin(0.05), &skin(0.05), *illuminant);
            approx::assert_abs_diff_eq!(pair.delta_e, 0.0, epsilon = 1e-9);
            approx::assert_abs_diff_eq!(pair.metamerism, 0.0, epsilon = 1e-6);
        }
    }

    #[test]
    fn under_the_books_light_no_difference_is_metamerism() {
        let pair = pair(&skin(0.0), &skin(0.08), Illuminant::D65);
        assert!(pair.delta_e > 1.0, "they differ: {}", pair.delta_e);
        approx::assert_abs_diff_eq!(pair.metamerism, 0.0, epsilon = 1e-6);
    }

    #[test]
    fn a_paler_copy_differs_without_metamerism_and_another_spectrum_does_not() {
        // Half of the same at every wavelength is half of X, Y, Z under every light.
        let copy = pair(&skin(0.0), &skin(0.0).map(|r| 0.5 * r), Illuminant::A);
        assert!(copy.delta_e > 10.0, "much darker: {}", copy.delta_e);
        approx::assert_abs_diff_eq!(copy.metamerism, 0.0, epsilon = 1e-6);
        let other = pair(&skin(0.0), &skin(0.08), Illuminant::A);
        assert!(other.metamerism > 0.5, "it changes: {}", other.metamerism);
    }

    #[test]
    fn the_worst_pair_is_found() {
        let pairs: Vec<Pair> = Illuminant::ALL
            .iter()
            .map(|illuminant| pair(&skin(0.0), &skin(0.08), *illuminant))
            .collect();
        let worst = Pair::worst(&pairs).expect("pairs");
        assert!(
            pairs.iter().all(|pair| pair.delta_e <= worst.delta_e),
            "none is worse"
        );
        assert!(Pair::worst(&[]).is_none(), "none of none");
    }
}
