//! The weighted differences of ΔE00 over a box of colours, as planes with their curvature.
//!
//! Each step of the formula takes planes to planes: at the middle of the box it has a value and slopes, and what it
//! may differ from its tangent is bounded by its second derivatives over the box, as in a Taylor form of first order.
//!
//! Source: the formula is that of ISO/CIE 11664-6:2014; R. E. Moore, R. B. Kearfott, M. J. Cloud (2009),
//! Introduction to Interval Analysis, SIAM, on mean value and Taylor forms.

use super::Lab;
use super::difference::{by_hue, saturation, stretch, weight_of_lightness};

/// For the rounding of the floor itself and of the formula, relative.
pub(super) const ROUNDING: f64 = 1e-9;

/// A map of steps, where it begins, and what it is off by.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Tangent<const TO: usize, const FROM: usize> {
    pub(super) at: [f64; TO],
    pub(super) map: [[f64; FROM]; TO],
    pub(super) slack: [f64; TO],
}

impl<const TO: usize, const FROM: usize> Tangent<TO, FROM> {
    /// By a map of the step `from` the target.
    pub(super) fn by_weights(map: [[f64; FROM]; TO], from: [f64; FROM]) -> Self {
        let at = map.map(|row| row.iter().zip(&from).map(|(by, step)| by * step).sum());
        Self {
            at,
            map,
            slack: [0.0; TO],
        }
    }

    /// What the middle of the box is not nearer than.
    pub(super) fn says(&self) -> f64 {
        let length = |of: &[f64; TO]| of.iter().map(|axis| axis * axis).sum::<f64>().sqrt();
        length(&self.at) - length(&self.slack)
    }

    pub(super) fn or(self, other: Option<Self>) -> Self {
        match other {
            Some(other) if other.says() > self.says() => other,
            _ => self,
        }
    }
}

/// The length of a vector; the rounding of which is allowed for.
pub(super) fn length(x: f64, y: f64) -> f64 {
    (x * x + y * y).sqrt()
}

/// A number over a box: at its middle, its slopes, the bounds of what it differs from that plane by, and how far it
/// may lie from the middle's.
#[derive(Clone, Copy, Debug)]
struct TaylorForm {
    at: f64,
    slope: [f64; 2],
    off: (f64, f64),
    reach: f64,
}

impl TaylorForm {
    fn new(at: f64, slope: [f64; 2], off: (f64, f64), half: [f64; 2]) -> Self {
        let straight = slope[0].abs() * half[0] + slope[1].abs() * half[1];
        Self {
            at,
            slope,
            off,
            reach: straight + off.1.max(-off.0),
        }
    }

    /// What does not change.
    fn fixed(at: f64) -> Self {
        Self::new(at, [0.0; 2], (0.0, 0.0), [0.0; 2])
    }

    /// The least that it may be.
    fn least(&self) -> f64 {
        self.at - self.reach
    }
}

/// The box that numbers are taken over: half its sides.
#[derive(Clone, Copy, Debug)]
struct Over([f64; 2]);

impl Over {
    fn plane(self, at: f64, slope: [f64; 2]) -> TaylorForm {
        TaylorForm::new(at, slope, (0.0, 0.0), self.0)
    }

    /// `one` times `factor`, and `other`.
    fn sum(self, factor: f64, one: &TaylorForm, other: &TaylorForm) -> TaylorForm {
        let [low, high] = ordered(factor * one.off.0, factor * one.off.1);
        TaylorForm::new(
            factor * one.at + other.at,
            std::array::from_fn(|i| factor * one.slope[i] + other.slope[i]),
            (low + other.off.0, high + other.off.1),
            self.0,
        )
    }

    fn product(self, one: &TaylorForm, other: &TaylorForm) -> TaylorForm {
        let curvature = one.reach * other.reach;
        let [low, high] = ordered(one.at * other.off.0, one.at * other.off.1);
        let [low_too, high_too] = ordered(other.at * one.off.0, other.at * one.off.1);
        TaylorForm::new(
            one.at * other.at,
            std::array::from_fn(|i| one.at * other.slope[i] + other.at * one.slope[i]),
            (low + low_too - curvature, high + high_too + curvature),
            self.0,
        )
    }

    /// A function of `of`: its value and slope at the middle, and bounds of its second derivative.
    fn function(
        self,
        of: &TaylorForm,
        value: f64,
        slope: f64,
        curvature: (f64, f64),
    ) -> TaylorForm {
        let half_square = of.reach * of.reach / 2.0;
        let [low, high] = ordered(slope * of.off.0, slope * of.off.1);
        TaylorForm::new(
            value,
            of.slope.map(|by| by * slope),
            (
                low + curvature.0.min(0.0) * half_square,
                high + curvature.1.max(0.0) * half_square,
            ),
            self.0,
        )
    }

    /// 1 over a positive number.
    fn inverse(self, of: &TaylorForm) -> Option<TaylorForm> {
        let least = of.least();
        (least > 0.0).then(|| {
            let value = 1.0 / of.at;
            self.function(
                of,
                value,
                -value * value,
                (0.0, 2.0 / (least * least * least)),
            )
        })
    }

    /// The length of a vector that is nowhere shorter than `least`, and its angle.
    fn polar(self, x: &TaylorForm, y: &TaylorForm, least: f64) -> (TaylorForm, TaylorForm) {
        let square = x.at * x.at + y.at * y.at;
        let length = square.sqrt();
        let (cos, sin) = (x.at / length, y.at / length);
        let square_reach = x.reach * x.reach + y.reach * y.reach;
        let both = |by_x: f64, by_y: f64, value: f64, curvature: (f64, f64)| {
            let [x_low, x_high] = ordered(by_x * x.off.0, by_x * x.off.1);
            let [y_low, y_high] = ordered(by_y * y.off.0, by_y * y.off.1);
            TaylorForm::new(
                value,
                std::array::from_fn(|i| by_x * x.slope[i] + by_y * y.slope[i]),
                (x_low + y_low + curvature.0, x_high + y_high + curvature.1),
                self.0,
            )
        };
        // The second derivatives of the length are 0 along it and 1/length across; those of the angle ±1/length².
        let turn = square_reach / (2.0 * least * least);
        (
            both(cos, sin, length, (0.0, square_reach / (2.0 * least))),
            both(-sin / length, cos / length, y.at.atan2(x.at), (-turn, turn)),
        )
    }
}

fn ordered(one: f64, other: f64) -> [f64; 2] {
    if one < other {
        [one, other]
    } else {
        [other, one]
    }
}

/// ΔL′/S_L.
pub(super) fn lightness(target: Lab, low: Lab, high: Lab) -> Tangent<1, 1> {
    // m²/√(20 + m²) has the curvature 20 (40 − m²) / (20 + m²)^2.5.
    const CURVATURE: (f64, f64) = (-0.0082, 0.4473);
    let (middle, half) = ((low.l + high.l) / 2.0, (high.l - low.l) / 2.0);
    let over = Over([half, 0.0]);
    let l = over.plane(middle - target.l, [1.0, 0.0]);
    let mean = (target.l + middle) / 2.0 - 50.0;
    let root = (20.0 + mean * mean).sqrt();
    let slope = 0.5 * 0.015 * mean * (mean * mean + 40.0) / (root * root * root);
    let rises = mean.abs() - half / 2.0 < 40.0_f64.sqrt();
    let curvature = (CURVATURE.0, if rises { CURVATURE.1 } else { 0.0 });
    let curvature = (0.25 * 0.015 * curvature.0, 0.25 * 0.015 * curvature.1);
    let weight = over.function(&l, weight_of_lightness(mean + 50.0), slope, curvature);
    // The weight is never below 1.
    let value = 1.0 / weight.at;
    let inverse = over.function(&weight, value, -value * value, (0.0, 2.0));
    let step = over.product(&l, &inverse);
    Tangent {
        at: [step.at + (step.off.0 + step.off.1) / 2.0],
        map: [[step.slope[0]]],
        slack: [(step.off.1 - step.off.0) / 2.0 + ROUNDING * (1.0 + step.at.abs())],
    }
}

/// What is known of chroma and hue over a box.
#[derive(Clone, Copy, Debug)]
pub(super) struct Turned {
    /// From the target's hue to that of the middle, radians.
    pub(super) step: f64,
    /// Least and greatest √(a*² + b*²).
    pub(super) chroma_ab: (f64, f64),
    /// Least and greatest C′, and that of the target, whose a* is stretched too.
    pub(super) chroma: (f64, f64),
    pub(super) target_chroma: (f64, f64),
    /// Least C₁′C₂′ cos² (Δh/2).
    pub(super) half_step: f64,
    /// Least and greatest R_T.
    pub(super) rotation: (f64, f64),
}

/// The curvature of the hue term T is at most the sum of its amplitudes times the squares of their orders.
const HUE_CURVATURE: f64 = 0.17 + 4.0 * 0.24 + 9.0 * 0.32 + 16.0 * 0.20;

impl Turned {
    /// ΔC′/S_C and ΔH′/S_H in the frame of R_T.
    pub(super) fn tangent(&self, target: Lab, low: Lab, high: Lab) -> Option<Tangent<2, 2>> {
        /// √(C⁷ / (C⁷ + 25⁷)) has less curvature than this.
        const SATURATION_CURVATURE: f64 = 3.7 / 625.0;
        let least = [
            self.chroma_ab.0,
            self.chroma.0,
            self.target_chroma.0,
            self.half_step,
        ];
        if least.iter().any(|least| *least < 1e-3) {
            return None;
        }
        let over = Over([(high.a - low.a) / 2.0, (high.b - low.b) / 2.0]);
        let a = over.plane((low.a + high.a) / 2.0, [1.0, 0.0]);
        let b = over.plane((low.b + high.b) / 2.0, [0.0, 1.0]);
        let b_target = TaylorForm::fixed(target.b);

        // The factor of a*, and with it C′ and the hue of both.
        let (chroma_ab, _) = over.polar(&a, &b, self.chroma_ab.0);
        let mean = (chroma_ab.at + length(target.a, target.b)) / 2.0;
        let share = mean / 25.0;
        let seventh = share * share * share * share * share * share * share;
        let steep = -0.25 * saturation(mean) * 3.5 / (mean * (1.0 + seventh));
        let curvature = 0.5 * 0.25 * SATURATION_CURVATURE;
        let factor = over.function(&chroma_ab, stretch(mean), steep, (-curvature, curvature));
        let a_stretched = over.product(&factor, &a);
        let a_target = over.sum(target.a, &factor, &TaylorForm::fixed(0.0));
        let (chroma, hue) = over.polar(&a_stretched, &b, self.chroma.0);
        let (chroma_target, hue_target) = over.polar(&a_target, &b_target, self.target_chroma.0);
        let sum = over.sum(1.0, &chroma, &chroma_target);
        let difference = over.sum(-1.0, &chroma_target, &chroma);

        let one = TaylorForm::fixed(1.0);
        let by_chroma = over.inverse(&over.sum(0.0225, &sum, &one))?;
        let chroma_step = over.product(&difference, &by_chroma);

        // ΔH′ = (a₁′b₂ − b₁a₂′) / √((C₁′C₂′ + a₁′a₂′ + b₁b₂) / 2).
        let across = over.plane(target.a * b.at - target.b * a.at, [-target.b, target.a]);
        let across = over.product(&factor, &across);
        let along = over.product(&a_target, &a_stretched);
        let along = over.sum(target.b, &b, &along);
        let both = over.sum(1.0, &over.product(&chroma_target, &chroma), &along);
        let half_step = over.sum(0.5, &both, &TaylorForm::fixed(0.0));
        let least = half_step.least().max(self.half_step);
        let root = 1.0 / half_step.at.sqrt();
        let root = over.function(
            &half_step,
            root,
            -0.5 * root / half_step.at,
            (0.0, 0.75 / (least * least * least.sqrt())),
        );
        let chord = over.product(&across, &root);

        // Their mean hue, on the shorter way round.
        let turned = self.step - (hue.at - hue_target.at);
        let way_round = std::f64::consts::TAU * (turned / std::f64::consts::TAU).round();
        let mean_hue = over.sum(1.0, &hue, &hue_target);
        let mean_hue = over.sum(0.5, &mean_hue, &TaylorForm::fixed(way_round / 2.0));
        let (sin, cos) = mean_hue.at.sin_cos();
        let (value, slope) = by_hue((cos, sin));
        let by_hue = over.function(&mean_hue, value, slope, (-HUE_CURVATURE, HUE_CURVATURE));
        let weight = over.sum(0.0075, &over.product(&sum, &by_hue), &one);
        let hue_step = over.product(&chord, &over.inverse(&weight)?);

        Some(self.in_frame(over, &chroma_step, &hue_step))
    }

    /// ΔC′/S_C and ΔH′/S_H in the oblique frame of R_T, less the share that R_T varies by.
    fn in_frame(
        &self,
        over: Over,
        chroma_step: &TaylorForm,
        hue_step: &TaylorForm,
    ) -> Tangent<2, 2> {
        let (least, most) = self.rotation;
        let oblique = (least + most) / 2.0;
        let upright = (1.0 - oblique * oblique / 4.0).sqrt();
        let varies = (most - least) / 4.0 / (1.0 - oblique.abs() / 2.0);
        let share = (1.0 - varies).max(0.0).sqrt() * (1.0 - ROUNDING);
        let first = over.sum(oblique / 2.0, hue_step, chroma_step);
        let rows = [(first, share), (*hue_step, share * upright)];
        Tangent {
            at: rows.map(|(row, by)| by * (row.at + (row.off.0 + row.off.1) / 2.0)),
            map: rows.map(|(row, by)| row.slope.map(|slope| by * slope)),
            slack: rows.map(|(row, by)| {
                by * (row.off.1 - row.off.0) / 2.0 + ROUNDING * (1.0 + row.at.abs())
            }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_hue_terms_slope_changes_no_faster_than_its_curvature_allows() {
        let slope = |degrees: f64| {
            let (sin, cos) = degrees.to_radians().sin_cos();
            by_hue((cos, sin)).1
        };
        let step = 0.5_f64;
        let steepest = (0..720)
            .map(|half| step * f64::from(half))
            .map(|hue| (slope(hue + step) - slope(hue)).abs() / step.to_radians())
            .fold(0.0, f64::max);
        assert!(
            steepest < HUE_CURVATURE,
            "{steepest} at most {HUE_CURVATURE}"
        );
        assert!(
            steepest > 0.8 * HUE_CURVATURE,
            "{steepest}: no bound of it is loose"
        );
    }
}
