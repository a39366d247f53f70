//! How far off still looks right.

use crate::colour::Lab;

/// The ΔE00 up to which a casting passes for `target`: light skin shows a smaller difference than dark skin.
///
/// The just perceptible difference on silicone skin, 0.59 on light and 1.75 on dark, on a straight line in L*
/// between 70 and 35 and held beyond.
///
/// Source: the two differences, Vision Research (2024) 223, 108474, of which the abstract alone was seen. The two
/// lightnesses are this project's choice: the abstract states none.
pub fn tolerance(target: Lab) -> f64 {
    let darkness = ((70.0 - target.l) / 35.0).clamp(0.0, 1.0);
    0.59 + (1.75 - 0.59) * darkness
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
}
