//! The uniform cubic B-spline, on which every table of this crate that is looked up between its knots stands.
//!
//! Source: C. de Boor (1978), A Practical Guide to Splines, chapter IX.

/// Weights of the four control points around `share` (0–1) of the way between two knots, times 6 `scale`: with a
/// `scale` of 1/6 they sum to one, and with 1 the division can wait for the end of a sum.
#[inline(always)]
pub(crate) fn weights(share: f64, scale: f64) -> [f64; 4] {
    let (t, u) = (share, 1.0 - share);
    let (t2, u2) = (t * t, u * u);
    [
        scale * u2 * u,
        scale * (4.0 + (3.0 * t - 6.0) * t2),
        scale * (4.0 + (3.0 * u - 6.0) * u2),
        scale * t2 * t,
    ]
}
