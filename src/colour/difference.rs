//! How far apart two colours look: ΔE00 and ΔE*ab.

use super::Lab;

/// The 1976 colour difference: the distance in CIELAB.
///
/// Source: ISO/CIE 11664-4:2019.
pub fn delta_e_ab(one: Lab, other: Lab) -> f64 {
    ((one.l - other.l).powi(2) + (one.a - other.a).powi(2) + (one.b - other.b).powi(2)).sqrt()
}

/// The CIEDE2000 colour difference, with all parametric factors 1.
///
/// Both colours must be under the same viewing. The formula jumps where the two hues lie opposite each
/// other, exactly 180° apart; there, rounding decides, as the authors of the test pairs say.
///
/// Source: ISO/CIE 11664-6:2014; G. Sharma, W. Wu, E. N. Dalal (2005), Color Research and Application
/// 30(1), 21–30, equations 2–22.
///
/// ```
/// use dropwise::colour::{Lab, delta_e_2000};
///
/// // Pair 1 of the test data by Sharma and co-workers.
/// let difference = delta_e_2000(Lab::new(50.0, 2.6772, -79.7751), Lab::new(50.0, 0.0, -82.7485));
/// assert!((difference - 2.0425).abs() < 1e-4);
/// ```
pub fn delta_e_2000(one: Lab, other: Lab) -> f64 {
    let stretch = stretch((one.a.hypot(one.b) + other.a.hypot(other.b)) / 2.0);
    let ((chroma_one, hue_one), (chroma_other, hue_other)) =
        (polar(one, stretch), polar(other, stretch));
    let achromatic = chroma_one * chroma_other == 0.0;

    let hue_step = match hue_other - hue_one {
        _ if achromatic => 0.0,
        step if step > 180.0 => step - 360.0,
        step if step < -180.0 => step + 360.0,
        step => step,
    };
    let mean_hue = match hue_one + hue_other {
        sum if achromatic => sum,
        sum if (hue_one - hue_other).abs() <= 180.0 => sum / 2.0,
        sum if sum < 360.0 => sum / 2.0 + 180.0,
        sum => sum / 2.0 - 180.0,
    };
    let mean_chroma = (chroma_one + chroma_other) / 2.0;
    let weights = weights((one.l + other.l) / 2.0, mean_chroma, mean_hue);

    let hue_chord = 2.0 * (chroma_one * chroma_other).sqrt() * (hue_step / 2.0).to_radians().sin();
    let lightness = (other.l - one.l) / weights[0];
    let chroma = (chroma_other - chroma_one) / weights[1];
    let hue = hue_chord / weights[2];
    let turned = blue_turn(mean_hue - 275.0).to_radians().sin();
    let rotation = -2.0 * saturation(mean_chroma) * turned;

    // The form is positive, but may round to just below zero.
    (lightness.powi(2) + chroma.powi(2) + hue.powi(2) + rotation * chroma * hue)
        .max(0.0)
        .sqrt()
}

/// CIEDE2000 near one colour, without its rotation term, which acts on blues: a sum of three squares, for fits that
/// want one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DifferenceNear {
    centre: Lab,
    stretch: f64,
    /// Sine and cosine of the hue.
    turn: (f64, f64),
    weights: [f64; 3],
}

impl DifferenceNear {
    /// The form near `centre`.
    pub fn new(centre: Lab) -> Self {
        let stretch = stretch(centre.a.hypot(centre.b));
        let (chroma, hue) = polar(centre, stretch);
        let weights = weights(centre.l, chroma, hue);
        Self {
            centre,
            stretch,
            turn: hue.to_radians().sin_cos(),
            weights,
        }
    }

    /// The weighted steps from the centre to `lab` in lightness, chroma and hue; the root of the sum of their
    /// squares is about ΔE00.
    pub fn steps(&self, lab: Lab) -> [f64; 3] {
        let (sin, cos) = self.turn;
        let (a, b) = (
            (lab.a - self.centre.a) * self.stretch,
            lab.b - self.centre.b,
        );
        let [lightness, chroma, hue] = self.weights;
        [
            (lab.l - self.centre.l) / lightness,
            (a * cos + b * sin) / chroma,
            (b * cos - a * sin) / hue,
        ]
    }
}

/// Twice Δθ, degrees, at a mean hue this far from 275°: it turns blues.
pub(super) fn blue_turn(from_blue: f64) -> f64 {
    60.0 * (-(from_blue / 25.0).powi(2)).exp()
}

/// √(C⁷ / (C⁷ + 25⁷)).
pub(super) fn saturation(chroma: f64) -> f64 {
    let seventh = chroma.powi(7);
    (seventh / (seventh + 25.0_f64.powi(7))).sqrt()
}

/// 1 + G: the factor of a*.
pub(super) fn stretch(mean_chroma_ab: f64) -> f64 {
    1.5 - 0.5 * saturation(mean_chroma_ab)
}

/// Chroma, and hue in degrees from 0 to 360, with a* stretched.
fn polar(lab: Lab, stretch: f64) -> (f64, f64) {
    let a = lab.a * stretch;
    let hue = if a == 0.0 && lab.b == 0.0 {
        0.0
    } else {
        lab.b.atan2(a).to_degrees().rem_euclid(360.0)
    };
    (a.hypot(lab.b), hue)
}

/// S_L, S_C and S_H.
fn weights(mean_lightness: f64, mean_chroma: f64, mean_hue: f64) -> [f64; 3] {
    [
        weight_of_lightness(mean_lightness),
        1.0 + 0.045 * mean_chroma,
        1.0 + 0.015 * mean_chroma * by_hue(mean_hue),
    ]
}

/// S_L.
pub(super) fn weight_of_lightness(mean_lightness: f64) -> f64 {
    let from_middle = (mean_lightness - 50.0).powi(2);
    1.0 + 0.015 * from_middle / (20.0 + from_middle).sqrt()
}

/// T, at a mean hue in degrees.
pub(super) fn by_hue(mean_hue: f64) -> f64 {
    let cosine = |degrees: f64| degrees.to_radians().cos();
    1.0 - 0.17 * cosine(mean_hue - 30.0)
        + 0.24 * cosine(2.0 * mean_hue)
        + 0.32 * cosine(3.0 * mean_hue + 6.0)
        - 0.20 * cosine(4.0 * mean_hue - 63.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_differences_vanish_on_the_diagonal_and_do_not_care_for_order() {
        let skin = Lab::new(65.0, 12.0, 17.0);
        let redder = Lab::new(62.0, 15.0, 16.0);
        assert_eq!(delta_e_2000(skin, skin), 0.0, "the same colour");
        approx::assert_abs_diff_eq!(
            delta_e_2000(skin, redder),
            delta_e_2000(redder, skin),
            epsilon = 1e-12
        );
        approx::assert_abs_diff_eq!(delta_e_ab(skin, redder), 19.0_f64.sqrt(), epsilon = 1e-12);
    }

    #[test]
    fn near_a_skin_the_sum_of_squares_is_the_difference() {
        let skin = Lab::new(65.0, 12.0, 17.0);
        let near = DifferenceNear::new(skin);
        for (l, a, b) in [
            (0.3, 0.0, 0.0),
            (0.0, 0.3, 0.0),
            (0.0, 0.0, -0.3),
            (0.2, -0.2, 0.1),
        ] {
            let other = Lab::new(skin.l + l, skin.a + a, skin.b + b);
            let form = near
                .steps(other)
                .iter()
                .map(|step| step * step)
                .sum::<f64>()
                .sqrt();
            approx::assert_abs_diff_eq!(form, delta_e_2000(skin, other), epsilon = 0.01);
        }
    }
}
