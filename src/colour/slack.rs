//! How much ΔE00 may change when one of its two colours changes a little.

use super::Lab;

/// What ΔE00 between `target` and any colour within `off` (a distance in L*, a*, b*) of `lab` may differ by from `delta_e`, that
/// between `target` and `lab` itself. Infinite where no such bound is at hand: near grey and where hues lie opposite each
/// other, hue and ΔE00 jump.
///
/// ΔE00 is the length of ΔL′/S_L, ΔC′/S_C, ΔH′/S_H by a form whose eigenvalues are 1 ± R_T/2; each term of it is bounded by its
/// own greatest derivative, as if all were greatest at once.
///
/// Source: the formula is that of ISO/CIE 11664-6:2014; the bound is this project's.
pub(crate) fn delta_e_slack(target: Lab, lab: Lab, delta_e: f64, off: f64) -> f64 {
    /// a* is stretched by at most so much.
    const STRETCH: f64 = 1.5;
    /// The stretch changes by at most so much with the chroma of one colour: half of 0.0308.
    const STRETCHES: f64 = 0.0154;
    /// S_L changes by at most so much with the L* of one colour: half of 0.015 · 1.09.
    const BY_LIGHTNESS: f64 = 0.0082;
    /// Half of the greatest T, and the greatest slope of T per radian of the mean hue.
    const T: (f64, f64) = (0.79, 1.98);
    /// The greatest slope of R_T per radian of the mean hue, and per unit of the mean chroma.
    const ROTATION: (f64, f64) = (3.47, 0.107);
    /// The root of the greatest eigenvalue of the form, 1 + √3/2; one over that of the least; and half of one over the least.
    const FORM: (f64, f64, f64) = (1.3661, 2.733, 3.733);
    /// Nearer to grey a hue says nothing; of a farther step nothing is asked.
    const GREYEST: f64 = 1.0;
    const FARTHEST: f64 = 0.1;
    /// cos Δh from which on hues don't come to lie opposite each other by a step.
    const OPPOSITE: f64 = -0.9;

    let chroma = |lab: Lab| (lab.a * lab.a + lab.b * lab.b).sqrt();
    let (one, other) = (chroma(target), chroma(lab));
    let (least, most) = (other - off, other + off);
    // However far both a* are stretched.
    let along_a = target.a * lab.a;
    let along = along_a.min(STRETCH * STRETCH * along_a) + target.b * lab.b;
    if !(least >= GREYEST && off <= FARTHEST && along >= OPPOSITE * one * other) {
        return f64::INFINITY;
    }

    // Per unit of the step: what both colours shift by in the stretched plane, and what their mean hue turns by.
    let (moves_one, moves_other) = (STRETCHES * one, STRETCH + STRETCHES * most);
    let both = moves_one + moves_other;
    let turn = moves_other / least + STRETCHES;
    // The hue chord is twice the imaginary part of the root of one colour times the other's conjugate.
    let chord =
        (STRETCH * one / least).sqrt() * moves_other + STRETCHES * (STRETCH * one * most).sqrt();
    let mean_chroma = STRETCH * (one + most) / 2.0;
    // Along a way that changes it by at most 1.
    let delta_e = delta_e + 1.0;
    let weighted = FORM.1 * delta_e;
    let by_lightness = 1.0 + BY_LIGHTNESS * delta_e;
    let by_chroma = both * (1.0 + 0.045 / 2.0 * weighted);
    let by_hue = chord + weighted * 0.015 * (T.0 * both + mean_chroma * T.1 * turn);
    let length = (by_lightness * by_lightness + by_chroma * by_chroma + by_hue * by_hue).sqrt();
    let rotation = ROTATION.0 * turn + ROTATION.1 * both / 2.0;
    let slack = off * (FORM.0 * length + rotation / 2.0 * FORM.2 * delta_e);
    if slack <= 1.0 { slack } else { f64::INFINITY }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::delta_e_2000;

    #[test]
    fn no_step_changes_a_difference_by_more_than_its_slack() {
        const PAIRS: u32 = 200_000;
        let mut random = fastrand::Rng::with_seed(5);
        let (mut bounded, mut closest) = (0, 0.0_f64);
        for pair in 0..PAIRS {
            let mut colour = |grey: bool| {
                let chroma = if grey { 4.0 } else { 90.0 } * random.f64();
                let (sin, cos) = (std::f64::consts::TAU * random.f64()).sin_cos();
                Lab::new(100.0 * random.f64(), chroma * cos, chroma * sin)
            };
            let target = colour(pair % 3 == 0);
            let apart = colour(pair % 5 == 0);
            // Some near the target, some anywhere.
            let share = if pair % 2 == 0 {
                1.0
            } else {
                random.f64().powi(3)
            };
            let between = |one: f64, other: f64| one + share * (other - one);
            let lab = Lab::new(
                between(target.l, apart.l),
                between(target.a, apart.a),
                between(target.b, apart.b),
            );
            let off = 0.1 * random.f64().powi(2);
            let step: [f64; 3] = std::array::from_fn(|_| random.f64() - 0.5);
            let length = step.iter().map(|axis| axis * axis).sum::<f64>().sqrt();
            let [l, a, b] = step.map(|axis| off * axis / length);
            let delta_e = delta_e_2000(target, lab);
            let slack = delta_e_slack(target, lab, delta_e, off);
            let changed = Lab::new(lab.l + l, lab.a + a, lab.b + b);
            let change = (delta_e_2000(target, changed) - delta_e).abs();
            assert!(
                change <= slack + 1e-9,
                "{target:?}, {lab:?} by {off}: {change} above {slack}"
            );
            if slack.is_finite() {
                bounded += 1;
                closest = closest.max(change / slack.max(1e-12));
            }
        }
        assert!(bounded > PAIRS / 3, "{bounded} bounds");
        // A bound, and no vague one.
        assert!(closest > 0.15, "at most {closest} of it was needed");
    }
}
