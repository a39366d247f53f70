//! A pigment in white at a standard depth, at which two lots of it are compared.

use crate::colour::{Lab, Spectrum, TristimulusWeights};
use crate::materials::Settings;
use crate::optics::{Beneath, Coefficients, Medium};

/// Lightness of the standard tint. Our own choice: about that of skin.
const DEPTH_L: f64 = 65.0;

/// One lot against another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Compared {
    /// How much of the old lot one gram of the new lot is worth.
    pub(super) strength: f64,
    /// Δa* and Δb* of the new lot from the old one where both are tinted to the same lightness.
    pub(super) shift: [f64; 2],
    /// The two tints themselves, of the old lot and of the new.
    pub(super) tints: [Lab; 2],
}

/// Compares `new` with `old`, each stirred into so much ideal white, too thick to see through, that the tint has the same
/// L*: 65, or for a pigment that is pale in full strength half way from white to that. A white is compared in ideal grey
/// instead.
///
/// Source of the idea: ISO 787-24, relative tinting strength by white reduction (from memory; there at one depth too).
pub(super) fn compare(
    old: &Coefficients,
    new: &Coefficients,
    is_white: bool,
    settings: &Settings,
    weights: &TristimulusWeights,
) -> Compared {
    let tint = |curves: &Coefficients, share: f64| -> Lab {
        let mut mixed = Coefficients {
            k: Spectrum::constant(if is_white { 1.0 } else { 0.0 }),
            s: Spectrum::constant(if is_white { 0.0 } else { 1.0 }),
        };
        mixed.add_scaled(share, curves);
        weights.lab(&settings.model.reading(
            &[],
            &Beneath::Bed(Medium::solid(mixed)),
            &settings.surface,
        ))
    };
    let full = tint(old, FULL_STRENGTH).l;
    let none = tint(old, 0.0).l;
    let half_way = (none + full) / 2.0;
    let depth = if is_white {
        half_way.min(DEPTH_L)
    } else {
        half_way.max(DEPTH_L)
    };
    let [old_share, new_share] =
        [old, new].map(|curves| share_at(depth, |share| tint(curves, share).l, is_white));
    let (old, new) = (tint(old, old_share), tint(new, new_share));
    Compared {
        strength: old_share / new_share,
        shift: [new.a - old.a, new.b - old.b],
        tints: [old, new],
    }
}

/// So much of the pigment that nothing else shows.
const FULL_STRENGTH: f64 = 1e6;

/// The share at which `lightness`, which rises or falls with it, is `depth`.
fn share_at(depth: f64, lightness: impl Fn(f64) -> f64, rises: bool) -> f64 {
    const HALVINGS: u32 = 45;
    let (mut low, mut high) = (-20.0, FULL_STRENGTH.ln());
    for _ in 0..HALVINGS {
        let middle: f64 = (low + high) / 2.0;
        if (lightness(middle.exp()) < depth) == rises {
            low = middle;
        } else {
            high = middle;
        }
    }
    ((low + high) / 2.0_f64).exp()
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;
    use crate::materials::fixtures;

    #[test]
    fn a_lot_of_the_same_pigment_thinned_is_weaker_and_no_other_hue() {
        let shelf = fixtures::shelf();
        let weights = shelf.settings.viewing.weights();
        for name in ["red", "white"] {
            let pigment = shelf.pigment(name).expect("on the shelf");
            let thinned = pigment.coefficients.scaled(0.8);
            let compared = compare(
                &pigment.coefficients,
                &thinned,
                name == "white",
                &shelf.settings,
                &weights,
            );
            assert_abs_diff_eq!(compared.strength, 0.8, epsilon = 1e-6);
            assert_abs_diff_eq!(compared.shift[0], 0.0, epsilon = 1e-6);
            assert_abs_diff_eq!(compared.shift[1], 0.0, epsilon = 1e-6);
        }
    }

    #[test]
    fn a_lot_that_takes_more_of_the_green_is_redder() {
        let shelf = fixtures::shelf();
        let weights = shelf.settings.viewing.weights();
        let old = shelf.pigment("red").expect("on the shelf").coefficients;
        let mut new = old;
        // 500 to 560 nm.
        new.k = Spectrum::from_fn(|index| {
            old.k[index] * if (12..=18).contains(&index) { 1.2 } else { 1.0 }
        });
        let compared = compare(&old, &new, false, &shelf.settings, &weights);
        assert!(compared.shift[0] > 0.5, "{compared:?}");
        assert!(compared.strength > 1.0, "it takes more light: {compared:?}");
    }
}
