//! What a tone is on a body: base, flush or shadow.
//!
//! A shadow on skin is lit in part by light that comes off the skin beside it, and so is redder than skin
//! merely in less light. To tell a flush from it, the darkening that explains a tone best is sought: a share
//! of the base's own light, and a share of light that met the skin twice, each of X, Y, Z relative to white
//! squared. The two shares are those that meet the tone's Y and Z, in which blood shows less than in
//! the difference of X and Y; what a* the tone has beyond that mixture's is blood's. Squares of X, Y, Z stand
//! in for those of the spectrum, well enough for skin's smooth curve.

use super::ToneRole;
use super::connection::D50_2;
use crate::colour::{Lab, Xyz};

/// A flush is at least this much redder than the base, and than darkening makes of the base, a*. From trials
/// of this project, no published source.
const FLUSH_REDDER: f64 = 1.5;
/// A flush is at most this much darker than the base, L*; what is darker lies in a fold. From trials of this
/// project, no published source.
const FLUSH_DARKER: f64 = 25.0;
/// A shadow is at least this much darker than the base, L*. From trials of this project, no published source.
const SHADOW_DARKER: f64 = 3.0;

/// What each of `labs`, the largest tone first, is on a body.
pub(super) fn roles(labs: &[Lab]) -> Vec<ToneRole> {
    let mut roles = vec![ToneRole::Other; labs.len()];
    let Some(base) = labs.first().copied() else {
        return roles;
    };
    roles[0] = ToneRole::Base;
    let redness = |index: usize| {
        let lab = labs[index];
        (lab.a - base.a).min(lab.a - darkened(base, lab).a)
    };
    let flush = (1..labs.len())
        .filter(|index| labs[*index].l >= base.l - FLUSH_DARKER)
        .max_by(|one, other| redness(*one).total_cmp(&redness(*other)))
        .filter(|index| redness(*index) >= FLUSH_REDDER);
    if let Some(index) = flush {
        roles[index] = ToneRole::Flush;
    }
    let shadow = (1..labs.len())
        .filter(|index| Some(*index) != flush)
        .min_by(|one, other| labs[*one].l.total_cmp(&labs[*other].l))
        .filter(|index| labs[*index].l <= base.l - SHADOW_DARKER);
    if let Some(index) = shadow {
        roles[index] = ToneRole::Shadow;
    }
    roles
}

/// The base in the light that explains `tone` best: less of the same, and some that came off skin.
fn darkened(base: Lab, tone: Lab) -> Lab {
    // A Lab is relative to its white, so any white serves.
    let weights = D50_2.weights();
    let white = weights.white();
    let relative = |lab: Lab| {
        let xyz = weights.xyz_of_lab(lab);
        [xyz.x / white.x, xyz.y / white.y, xyz.z / white.z]
    };
    let (once, tone) = (relative(base), relative(tone));
    let twice = once.map(|value| value * value);
    // The shares that meet Y and Z, none below nothing.
    let both = once[1] * twice[2] - once[2] * twice[1];
    let twice_alone = tone[1] / twice[1];
    // A base that is neutral in Y and Z says nothing of how often the light met it.
    let share = if both.abs() > f64::EPSILON {
        ((once[1] * tone[2] - once[2] * tone[1]) / both).clamp(0.0, twice_alone)
    } else {
        0.0
    };
    let rest = (tone[1] - share * twice[1]) / once[1];
    let [x, y, z]: [f64; 3] = std::array::from_fn(|i| rest * once[i] + share * twice[i]);
    weights.lab_of_xyz(Xyz::new(x * white.x, y * white.y, z * white.z))
}

#[cfg(test)]
mod tests {
    use super::*;

    const BASE: Lab = Lab::new(65.0, 12.0, 17.0);

    #[test]
    fn the_redder_tone_is_the_flush_and_the_darker_the_shadow() {
        let labs = [BASE, Lab::new(58.0, 20.0, 17.0), Lab::new(45.0, 10.0, 14.0)];
        let expected = [ToneRole::Base, ToneRole::Flush, ToneRole::Shadow];
        assert_eq!(roles(&labs), expected, "roles");
    }

    #[test]
    fn a_tone_that_is_hardly_redder_or_darker_is_other() {
        let near = [BASE, Lab::new(63.0, 13.0, 17.0), Lab::new(66.0, 11.0, 17.0)];
        let expected = [ToneRole::Base, ToneRole::Other, ToneRole::Other];
        assert_eq!(roles(&near), expected, "nothing stands out");
        assert!(roles(&[]).is_empty(), "nothing at all");
    }

    #[test]
    fn a_deep_fold_lit_by_skin_is_a_shadow_though_it_is_redder() {
        // Half the light comes straight, half by way of the skin beside it, and all is dim.
        let fold = darkened(BASE, Lab::new(40.0, 0.0, 19.0));
        assert!(fold.a > BASE.a + 1.5, "redder than the base: {fold:?}");
        assert_eq!(roles(&[BASE, fold])[1], ToneRole::Shadow, "{fold:?}");
        let bruise = Lab::new(fold.l, fold.a + 4.0, fold.b);
        assert_eq!(roles(&[BASE, bruise])[1], ToneRole::Flush, "{bruise:?}");
    }

    #[test]
    fn less_of_the_same_light_explains_itself() {
        let dim = darkened(BASE, Lab::new(45.0, 0.0, 0.0));
        approx::assert_abs_diff_eq!(dim.l, 45.0, epsilon = 1e-9);
        approx::assert_abs_diff_eq!(dim.a, BASE.a * 61.0 / 81.0, epsilon = 1e-9);
    }
}
