//! Smooth curves through evenly spaced values, several numbers at each knot.

use crate::optics::b_spline;

/// An axis of a table: from 2^`first` to 2^`last`, knots evenly spaced in the logarithm.
#[derive(Debug)]
pub(super) struct Axis {
    first: i32,
    last: i32,
}

/// Knots a doubling.
pub(super) const KNOTS_A_DOUBLING: usize = 2;

impl Axis {
    pub(super) const fn new(first: i32, last: i32) -> Self {
        Self { first, last }
    }

    pub(super) const fn knots(&self) -> usize {
        (self.last - self.first).unsigned_abs() as usize * KNOTS_A_DOUBLING + 1
    }

    /// The least that is looked up: a spline is poor in its first doubling.
    pub(super) const fn least(&self) -> f64 {
        power_of_two(self.first + 1)
    }

    /// The greatest that is looked up: a spline is poor in its last doubling.
    pub(super) const fn most(&self) -> f64 {
        power_of_two(self.last - 1)
    }

    /// What stands at a knot.
    pub(super) fn at(&self, knot: usize) -> f64 {
        (f64::from(self.first) + knot as f64 / KNOTS_A_DOUBLING as f64).exp2()
    }

    /// The knot before `value`, which lies within the axis, and the share (0–1) of the way to the next.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a position is held within the knots, of which there are some dozens"
    )]
    #[inline]
    pub(super) fn split(&self, value: f64) -> (usize, f64) {
        let position = (value.log2() - f64::from(self.first)) * KNOTS_A_DOUBLING as f64;
        let knot = (position as usize).min(self.knots() - 2);
        (knot, position - knot as f64)
    }
}

/// 2^`exponent`, of at most some dozens.
const fn power_of_two(exponent: i32) -> f64 {
    let size = (1_u64 << exponent.unsigned_abs()) as f64;
    if exponent < 0 { 1.0 / size } else { size }
}

/// Weights of the four control points around `share` (0–1) of the way between two knots.
#[inline]
pub(super) fn weights(share: f64) -> [f64; 4] {
    b_spline::weights(share, 1.0 / 6.0)
}

/// Slopes of those weights, per step between knots.
#[inline]
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
pub(super) fn controls<const V: usize>(values: &[[f64; V]]) -> Vec<[f64; V]> {
    let inner = values.len() - 1;
    // At the ends the control point is the value; between, one below, four times itself and one above make six times it.
    let mut right = values.to_vec();
    let mut factor = vec![0.0; values.len()];
    for index in 1..inner {
        let pivot = 4.0 - factor[index - 1];
        factor[index] = 1.0 / pivot;
        right[index] = zip(values[index], right[index - 1], |value, before| {
            (6.0 * value - before) / pivot
        });
    }
    for index in (1..inner).rev() {
        right[index] = zip(right[index], right[index + 1], |own, after| {
            own - factor[index] * after
        });
    }
    let beyond = |end, next| zip(end, next, |end, next| 2.0 * end - next);
    let first = beyond(right[0], right[1]);
    let last = beyond(right[inner], right[inner - 1]);
    std::iter::once(first).chain(right).chain([last]).collect()
}

fn zip<const V: usize>(one: [f64; V], other: [f64; V], with: impl Fn(f64, f64) -> f64) -> [f64; V] {
    std::array::from_fn(|index| with(one[index], other[index]))
}

/// Adds to `sum` four control points by their weights.
#[inline]
pub(super) fn add_weighted<const V: usize>(
    sum: &mut [f64; V],
    controls: &[[f64; V]; 4],
    weights: [f64; 4],
) {
    let [a, b, c, d] = controls;
    let [wa, wb, wc, wd] = weights;
    for index in 0..V {
        sum[index] += wa * a[index] + wb * b[index] + wc * c[index] + wd * d[index];
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    #[test]
    fn a_curve_passes_through_its_values_and_follows_a_sine_between() {
        let values: Vec<[f64; 2]> = (0..20)
            .map(|knot| [(0.3 * f64::from(knot)).sin(), 1.0])
            .collect();
        let controls = controls(&values);
        let at = |step: u32| {
            let knot = (step / 10) as usize;
            let share = f64::from(step % 10) / 10.0;
            let around = controls[knot..].first_chunk().expect("four control points");
            let [sum, slope] = [weights(share), slopes(share)].map(|of| {
                let mut sum = [0.0; 2];
                add_weighted(&mut sum, around, of);
                sum
            });
            (sum[0], slope[0], sum[1])
        };
        for step in 0..190_u32 {
            let position = f64::from(step) / 10.0;
            let (value, slope, constant) = at(step);
            let inside = (3.0..=16.0).contains(&position);
            let tolerance = if step % 10 == 0 {
                1e-12
            } else if inside {
                5e-5
            } else {
                3e-3
            };
            assert_abs_diff_eq!(value, (0.3 * position).sin(), epsilon = tolerance);
            assert_abs_diff_eq!(constant, 1.0, epsilon = 1e-12);
            if inside {
                assert_abs_diff_eq!(slope, 0.3 * (0.3 * position).cos(), epsilon = 1e-3);
            }
        }
    }

    #[test]
    fn a_value_lies_between_two_knots_of_its_axis_at_its_very_ends_too() {
        let axis = Axis::new(-3, 4);
        for step in 0..=700_u32 {
            // From 2⁻³ to 2⁴, both included.
            let value = (f64::from(step) / 100.0 - 3.0).exp2();
            let (knot, share) = axis.split(value);
            assert!(knot + 1 < axis.knots(), "{value}: {knot}");
            assert!((0.0..=1.0).contains(&share), "{value}: {share}");
            let (below, above) = (axis.at(knot), axis.at(knot + 1));
            assert_abs_diff_eq!(below * (above / below).powf(share), value, epsilon = 1e-9);
        }
    }
}
