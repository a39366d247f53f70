//! Smooth curves and surfaces through evenly spaced values.

/// Several numbers at one place, interpolated together.
pub(super) type Values = [f64; 4];

/// Weights of the four control points around `share` (0–1) of the way between two knots.
///
/// Source: C. de Boor (1978), A Practical Guide to Splines, chapter 9: the uniform cubic B-spline.
pub(super) fn weights(share: f64) -> [f64; 4] {
    let (t, u) = (share, 1.0 - share);
    [
        u * u * u / 6.0,
        (4.0 - 6.0 * t * t + 3.0 * t * t * t) / 6.0,
        (4.0 - 6.0 * u * u + 3.0 * u * u * u) / 6.0,
        t * t * t / 6.0,
    ]
}

/// Slopes of those weights, per step between knots.
pub(super) fn slopes(share: f64) -> [f64; 4] {
    let (t, u) = (share, 1.0 - share);
    [
        -u * u / 2.0,
        (3.0 * t * t - 4.0 * t) / 2.0,
        (4.0 * u - 3.0 * u * u) / 2.0,
        t * t / 2.0,
    ]
}

/// The control points, one more at each end than there are `values`, of the curve that passes through them without
/// bending at its ends.
pub(super) fn controls(values: &[Values]) -> Vec<Values> {
    let inner = values.len() - 1;
    // At the ends the control point is the value; between, one below, four times itself and one above make six times it.
    let mut right: Vec<Values> = values.to_vec();
    let mut factor = vec![0.0; values.len()];
    for place in 1..inner {
        let pivot = 4.0 - factor[place - 1];
        factor[place] = 1.0 / pivot;
        right[place] = zip(values[place], right[place - 1], |value, before| {
            (6.0 * value - before) / pivot
        });
    }
    for place in (1..inner).rev() {
        right[place] = zip(right[place], right[place + 1], |own, after| {
            own - factor[place] * after
        });
    }
    let beyond = |end: Values, next: Values| zip(end, next, |end, next| 2.0 * end - next);
    let first = beyond(right[0], right[1]);
    let last = beyond(right[inner], right[inner - 1]);
    std::iter::once(first).chain(right).chain([last]).collect()
}

fn zip(one: Values, other: Values, with: impl Fn(f64, f64) -> f64) -> Values {
    std::array::from_fn(|place| with(one[place], other[place]))
}

/// Splits a place along `knots` knots into the knot before it and the share of the way to the next.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a place is held within the knots, of which there are a few dozen"
)]
pub(super) fn split(place: f64, knots: usize) -> (usize, f64) {
    let last = (knots - 2) as f64;
    let knot = place.floor().clamp(0.0, last);
    (knot as usize, place - knot)
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    #[test]
    fn a_curve_passes_through_its_values_and_follows_a_sine_between() {
        let values: Vec<Values> = (0..20)
            .map(|place| [(0.3 * f64::from(place)).sin(), 1.0, 0.0, 0.0])
            .collect();
        let controls = controls(&values);
        let at = |place: f64| {
            let (knot, share) = split(place, values.len());
            let sum = |of: [f64; 4], value: usize| -> f64 {
                (0..4).map(|i| of[i] * controls[knot + i][value]).sum()
            };
            (
                sum(weights(share), 0),
                sum(slopes(share), 0),
                sum(weights(share), 1),
            )
        };
        for step in 0..190_u32 {
            let place = f64::from(step) / 10.0;
            let (value, slope, constant) = at(place);
            let inside = (3.0..=16.0).contains(&place);
            let tolerance = if step % 10 == 0 {
                1e-12
            } else if inside {
                5e-5
            } else {
                3e-3
            };
            assert_abs_diff_eq!(value, (0.3 * place).sin(), epsilon = tolerance);
            assert_abs_diff_eq!(constant, 1.0, epsilon = 1e-12);
            if inside {
                assert_abs_diff_eq!(slope, 0.3 * (0.3 * place).cos(), epsilon = 1e-3);
            }
        }
    }
}
