//! A camera's own tone curve, as far as two numbers tell it.
//!
//! Many cameras put a curve on the tones before they write the picture, so that its profile's linear light is not the
//! scene's: a power of each channel, and a bend of the written tones, light ones lighter and dark ones darker. Which, the
//! chart's greys and colours tell: the best of some is taken, only where it brings patches left out clearly nearer, and
//! then moved to where all patches agree best, with what they leave in doubt.

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

/// How written tones go with linear light, about: a power of it. Source: IEC 61966-2-1:1999, whose curve is nearly this one.
const WRITTEN: f64 = 2.2;

/// A bend of the written tones of each channel, and a power of its linear light.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::tone) struct Curve {
    exponent: f64,
    bend: f64,
}

/// Powers and bends that are tried, each with each. Trials of this project, no published source.
const EXPONENTS: [f64; 7] = [1.0, 0.9, 1.1, 0.8, 1.2, 0.7, 1.35];
const BENDS: [f64; 4] = [0.0, 0.15, 0.3, 0.45];
/// How far the true power and bend may lie from those tried, standard deviations; and the most they are moved to.
const SD: [f64; 2] = [0.06, 0.1];
const LEAST: [f64; 2] = [0.5, -0.2];
const MOST: [f64; 2] = [2.0, 1.0];

/// What a colour moves by, X, Y, Z, with each of the curve's two numbers, at one standard deviation each.
pub(super) type Bent = [[f64; 3]; 2];

impl Curve {
    /// None.
    pub(super) const STRAIGHT: Self = Self {
        exponent: 1.0,
        bend: 0.0,
    };

    /// Those that are tried, the straight one first.
    pub(super) fn tried() -> impl Iterator<Item = Self> {
        let bent = |bend| EXPONENTS.map(|exponent| Self { exponent, bend });
        BENDS.into_iter().flat_map(bent)
    }

    /// The exponent, from light as the picture has it, unbent, to light as it was.
    pub(super) fn exponent(self) -> f64 {
        self.exponent
    }

    /// By how much the tones were bent: at 1 a written tone `t` went to t² (3 − 2 t).
    pub(super) fn bend(self) -> f64 {
        self.bend
    }

    /// X, Y, Z without the curve. Below zero, where a channel lies beyond sRGB, the curve is carried on
    /// point-symmetrically.
    pub(in crate::tone) fn undone(self, xyz: [f64; 3]) -> [f64; 3] {
        if self == Self::STRAIGHT {
            return xyz;
        }
        let channels = TO_CHANNELS * Vector3::from(xyz);
        let straightened = channels.map(|value| self.straightened(value.abs()).copysign(value));
        let back = TO_CHANNELS
            .try_inverse()
            .expect("the matrix is a constant, and regular");
        (back * straightened).into()
    }

    /// What [`undone`](Self::undone) moves by with each of the curve's numbers, at one standard deviation each; by differences.
    /// A camera without a curve is taken to have none.
    pub(super) fn in_doubt(self, xyz: [f64; 3]) -> Bent {
        if self == Self::STRAIGHT {
            return [[0.0; 3]; 2];
        }
        /// A step of the differences, as a share of the standard deviation.
        const STEP: f64 = 0.1;
        [[STEP, 0.0], [0.0, STEP]].map(|step| {
            let (on, back) = (self.moved(step), self.moved(step.map(|by: f64| -by)));
            let (on, back) = (on.undone(xyz), back.undone(xyz));
            std::array::from_fn(|axis| (on[axis] - back[axis]) / (2.0 * STEP))
        })
    }

    /// The curve with each number moved by so many standard deviations.
    pub(super) fn moved(self, by: [f64; 2]) -> Self {
        let stood = [self.exponent, self.bend];
        let [exponent, bend] = std::array::from_fn(|number| {
            let moved = stood[number] + by[number] * SD[number];
            moved.clamp(LEAST[number], MOST[number])
        });
        Self { exponent, bend }
    }

    /// A channel's linear light without the curve, of that with it.
    fn straightened(self, light: f64) -> f64 {
        let tone = light.powf(1.0 / WRITTEN);
        // Turned round to first order, which is as near as one bend is to a maker's curve. It rises all along below a bend of 2.
        let unbent = tone - self.bend * (tone * tone * (3.0 - 2.0 * tone) - tone);
        unbent.powf(WRITTEN * self.exponent)
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
        for curve in Curve::tried() {
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

    /// The bend is turned round to first order alone; what is left is far below what the patches of a chart scatter by.
    #[test]
    fn what_was_bent_comes_back() {
        let back = TO_CHANNELS.try_inverse().expect("regular");
        let curve = Curve {
            exponent: 1.0,
            bend: 0.3,
        };
        for tone in [0.1, 0.25, 0.4, 0.55, 0.7, 0.85, 0.95_f64] {
            let bent = tone + curve.bend * (tone * tone * (3.0 - 2.0 * tone) - tone);
            let [was, is]: [[f64; 3]; 2] =
                [tone, bent].map(|tone| (back * Vector3::repeat(tone.powf(WRITTEN))).into());
            for (one, other) in curve.undone(is).into_iter().zip(was) {
                assert_abs_diff_eq!(one, other, epsilon = 0.006);
            }
            let [_, moved] = curve.in_doubt(is);
            let on = curve.moved([0.0, 0.5]).undone(is);
            for axis in 0..3 {
                let step = on[axis] - curve.undone(is)[axis];
                assert_abs_diff_eq!(step, 0.5 * moved[axis], epsilon = 2e-3);
            }
        }
        assert_eq!(Curve::STRAIGHT.in_doubt([0.3, 0.2, 0.1]), [[0.0; 3]; 2]);
    }
}
