//! How far off still looks right.

use crate::colour::Lab;

/// Pigments, drops and coats that gain less than this (ΔE00) don't help.
pub(crate) const WORTH_IT: f64 = 0.2;

/// The ΔE00 up to which a casting passes for `target`: light skin shows a smaller difference than dark skin.
///
/// The just perceptible difference on silicone skin, 0.59 on light and 1.75 on dark, on a straight line in L*
/// between 70 and 35 and held beyond.
///
/// Source: the two differences, Vision Research (2024) 223, 108474, of which the abstract alone was seen. The two
/// lightnesses are this project's choice: the abstract states none.
pub fn tolerance(target: Lab) -> f64 {
    0.59 + (1.75 - 0.59) * darkness(target)
}

/// The ΔE*ab up to which observers accept a casting of `target`'s colour: a second scale, wider than what is just
/// perceptible and in another unit, to be shown beside it and not mixed with it.
///
/// Acceptable on facial prostheses, 1.8 on fair skin and 2.6 on dark, on the same line in L* as [`tolerance`].
///
/// Source: M. E. Leow and co-workers (2006) (the two differences from memory). The line in L* is this project's choice.
pub fn acceptable_ab(target: Lab) -> f64 {
    1.8 + (2.6 - 1.8) * darkness(target)
}

/// 0 for light skin, 1 for dark.
fn darkness(target: Lab) -> f64 {
    ((70.0 - target.l) / 35.0).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    #[test]
    fn light_skin_is_less_forgiving_than_dark() {
        let at = |l| tolerance(Lab::new(l, 10.0, 15.0));
        assert_abs_diff_eq!(at(75.0), 0.59, epsilon = 1e-12);
        assert_abs_diff_eq!(at(30.0), 1.75, epsilon = 1e-12);
        assert_abs_diff_eq!(at(52.5), 1.17, epsilon = 1e-12);
    }

    #[test]
    fn what_is_accepted_runs_from_fair_to_dark() {
        let at = |l| acceptable_ab(Lab::new(l, 10.0, 15.0));
        assert_abs_diff_eq!(at(80.0), 1.8, epsilon = 1e-12);
        assert_abs_diff_eq!(at(52.5), 2.2, epsilon = 1e-12);
        assert_abs_diff_eq!(at(20.0), 2.6, epsilon = 1e-12);
    }
}
