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
    let chroma_ab = |lab: Lab| (lab.a * lab.a + lab.b * lab.b).sqrt();
    let stretch = stretch((chroma_ab(one) + chroma_ab(other)) / 2.0);
    let (a_one, a_other) = (one.a * stretch, other.a * stretch);
    let chroma_one = (a_one * a_one + one.b * one.b).sqrt();
    let chroma_other = (a_other * a_other + other.b * other.b).sqrt();
    let product = chroma_one * chroma_other;

    // With Δh the hue step: C₁C₂ cos² (Δh/2), and the hue chord by way of sin Δh = 2 sin (Δh/2) cos (Δh/2).
    let half_step = (product + a_one * a_other + one.b * other.b) / 2.0;
    let (hue_chord, mean_hue) = if half_step > OPPOSITE * product {
        let across = a_one * other.b - one.b * a_other;
        // The mean hue halves the angle: towards the sum of the two unit vectors.
        let sum = (
            a_one * chroma_other + a_other * chroma_one,
            one.b * chroma_other + other.b * chroma_one,
        );
        let length = (sum.0 * sum.0 + sum.1 * sum.1).sqrt();
        (across / half_step.sqrt(), (sum.0 / length, sum.1 / length))
    } else {
        by_angles((a_one, one.b), (a_other, other.b), product)
    };

    let mean_chroma = (chroma_one + chroma_other) / 2.0;
    let lightness = (other.l - one.l) / weight_of_lightness((one.l + other.l) / 2.0);
    let chroma = (chroma_other - chroma_one) / (1.0 + 0.045 * mean_chroma);
    let hue = hue_chord / (1.0 + 0.015 * mean_chroma * by_hue(mean_hue).0);
    let rotation = if turns_blue(mean_hue) {
        let degrees = mean_hue.1.atan2(mean_hue.0).to_degrees().rem_euclid(360.0);
        -2.0 * saturation(mean_chroma) * blue_turn(degrees - 275.0).to_radians().sin()
    } else {
        0.0
    };

    // The form is positive, but may round to just below zero.
    (lightness * lightness + chroma * chroma + hue * hue + rotation * chroma * hue)
        .max(0.0)
        .sqrt()
}

/// Hues whose cos² (Δh/2) is below this lie so nearly opposite each other that their mean is taken by angles.
const OPPOSITE: f64 = 1e-6;

/// The hue chord, and the cosine and the sine of the mean hue, of two colours given by a* (stretched) and b* whose
/// hues lie opposite each other, or of which one has no hue.
#[cold]
fn by_angles(one: (f64, f64), other: (f64, f64), product: f64) -> (f64, (f64, f64)) {
    let hue = |(a, b): (f64, f64)| b.atan2(a).to_degrees().rem_euclid(360.0);
    let (hue_one, hue_other) = (hue(one), hue(other));
    if product == 0.0 {
        // The hue of grey is 0, so the sum is the hue of the one that has one.
        let (sin, cos) = (hue_one + hue_other).to_radians().sin_cos();
        return (0.0, (cos, sin));
    }
    let step = match hue_other - hue_one {
        step if step > 180.0 => step - 360.0,
        step if step < -180.0 => step + 360.0,
        step => step,
    };
    let mean_hue = match hue_one + hue_other {
        sum if (hue_one - hue_other).abs() <= 180.0 => sum / 2.0,
        sum if sum < 360.0 => sum / 2.0 + 180.0,
        sum => sum / 2.0 - 180.0,
    };
    let (sin, cos) = mean_hue.to_radians().sin_cos();
    let chord = 2.0 * product.sqrt() * (step / 2.0).to_radians().sin();
    (chord, (cos, sin))
}

/// Whether the rotation term is more than nothing. At mean hues from 0° to 120° it is below 1e-15.
fn turns_blue((cos, sin): (f64, f64)) -> bool {
    sin < 0.0 || cos < -0.5
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
        let turn = hue.to_radians().sin_cos();
        let weights = [
            weight_of_lightness(centre.l),
            1.0 + 0.045 * chroma,
            1.0 + 0.015 * chroma * by_hue((turn.1, turn.0)).0,
        ];
        Self {
            centre,
            stretch,
            turn,
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
    const SEVENTH_OF_25: f64 = 6_103_515_625.0;
    let square = chroma * chroma;
    let seventh = square * square * square * chroma;
    (seventh / (seventh + SEVENTH_OF_25)).sqrt()
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

/// S_L.
pub(super) fn weight_of_lightness(mean_lightness: f64) -> f64 {
    let from_middle = (mean_lightness - 50.0) * (mean_lightness - 50.0);
    1.0 + 0.015 * from_middle / (20.0 + from_middle).sqrt()
}

/// T and its slope per radian, at a mean hue given by its cosine and sine.
#[inline(always)]
pub(super) fn by_hue((cos, sin): (f64, f64)) -> (f64, f64) {
    // Of twice, three and four times the angle.
    let (cos_2, sin_2) = (cos * cos - sin * sin, 2.0 * sin * cos);
    let (cos_3, sin_3) = (cos_2 * cos - sin_2 * sin, sin_2 * cos + cos_2 * sin);
    let (cos_4, sin_4) = (cos_2 * cos_2 - sin_2 * sin_2, 2.0 * sin_2 * cos_2);
    let [of_30, of_6, of_63] = TURNS;
    let value = 1.0 - 0.17 * (cos * of_30.0 + sin * of_30.1)
        + 0.24 * cos_2
        + 0.32 * (cos_3 * of_6.0 - sin_3 * of_6.1)
        - 0.20 * (cos_4 * of_63.0 + sin_4 * of_63.1);
    let slope = 0.17 * (sin * of_30.0 - cos * of_30.1)
        - 2.0 * 0.24 * sin_2
        - 3.0 * 0.32 * (sin_3 * of_6.0 + cos_3 * of_6.1)
        + 4.0 * 0.20 * (sin_4 * of_63.0 - cos_4 * of_63.1);
    (value, slope)
}

/// Cosines and sines of 30°, 6° and 63°.
const TURNS: [(f64, f64); 3] = [
    (0.866_025_403_784_438_6, 0.5),
    (0.994_521_895_368_273_3, 0.104_528_463_267_653_47),
    (0.453_990_499_739_546_8, 0.891_006_524_188_367_9),
];

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

    /// How far the form may be from the difference at a step of 0.001, as a share of it.
    const OF_FIRST_ORDER: f64 = 1e-3;

    #[test]
    fn at_a_tiny_step_each_weight_of_the_form_is_that_of_the_difference() {
        for centre in [
            Lab::new(35.0, 14.0, 18.0),
            Lab::new(65.0, 12.0, 17.0),
            Lab::new(80.0, 4.0, 12.0),
            Lab::new(50.0, 45.0, 30.0),
        ] {
            let near = DifferenceNear::new(centre);
            let chroma = centre.a.hypot(centre.b);
            let (along_a, along_b) = (centre.a / chroma, centre.b / chroma);
            let steps = [
                [1.0, 0.0, 0.0],
                [0.0, along_a, along_b],
                [0.0, -along_b, along_a],
            ];
            for step in steps {
                let [l, a, b] = step.map(|axis| 1e-3 * axis);
                let other = Lab::new(centre.l + l, centre.a + a, centre.b + b);
                let squares = near.steps(other).map(|step| step * step);
                approx::assert_relative_eq!(
                    squares.iter().sum::<f64>().sqrt(),
                    delta_e_2000(centre, other),
                    max_relative = OF_FIRST_ORDER
                );
            }
        }
    }
}
