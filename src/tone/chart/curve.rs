//! A camera's own tone curve, as far as one number tells it.
//!
//! Many cameras put a curve on the tones before they write the picture, so that its profile's linear light is not the
//! scene's. About the tones of skin such a curve is nearly a power of each channel; which power, the chart's
//! greys and colours tell. It is taken only where it brings patches left out clearly nearer.

use nalgebra::{Matrix3, Vector3};

/// Linear sRGB of X, Y, Z relative to D50. Source: IEC 61966-2-1:1999, adapted by Bradford's matrix (ICC.1:2022,
/// annex E); from memory, and checked by its inverse's white.
const TO_CHANNELS: Matrix3<f64> = Matrix3::new(
    3.133_856_1,
    -1.616_866_7,
    -0.490_614_6,
    -0.978_768_4,
    1.916_141_5,
    0.033_454,
    0.071_945_3,
    -0.228_991_4,
    1.405_242_7,
);

/// A power of each channel of linear light.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::tone) struct Curve {
    exponent: f64,
}

impl Curve {
    /// None.
    pub(super) const STRAIGHT: Self = Self { exponent: 1.0 };
    /// Those that are tried, the straight one first.
    pub(super) const TRIED: [Self; 7] = [
        Self::STRAIGHT,
        Self { exponent: 0.9 },
        Self { exponent: 1.1 },
        Self { exponent: 0.8 },
        Self { exponent: 1.2 },
        Self { exponent: 0.7 },
        Self { exponent: 1.35 },
    ];

    /// The exponent, from light as the picture has it to light as it was.
    pub(super) fn exponent(self) -> f64 {
        self.exponent
    }

    /// X, Y, Z without the curve. Below zero, where a channel lies beyond sRGB, the curve is carried on
    /// point-symmetrically.
    pub(in crate::tone) fn undone(self, xyz: [f64; 3]) -> [f64; 3] {
        if self == Self::STRAIGHT {
            return xyz;
        }
        let channels = TO_CHANNELS * Vector3::from(xyz);
        let curved = channels.map(|value| value.abs().powf(self.exponent).copysign(value));
        let back = TO_CHANNELS
            .try_inverse()
            .expect("the matrix is a constant, and regular");
        (back * curved).into()
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    #[test]
    fn white_is_white_and_no_curve_changes_nothing() {
        // The white of the profile connection space (ICC.1:2022).
        let white = [0.9642, 1.0, 0.8249];
        for curve in Curve::TRIED {
            for (one, other) in curve.undone(white).into_iter().zip(white) {
                assert_abs_diff_eq!(one, other, epsilon = 5e-4);
            }
        }
        assert_eq!(
            Curve::STRAIGHT.undone([0.3, 0.2, 0.1]),
            [0.3, 0.2, 0.1],
            "straight"
        );
    }
}
