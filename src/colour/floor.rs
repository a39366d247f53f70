//! A floor under ΔE00: what it can't be less than, for every colour of a box.

use super::Lab;
use super::difference::{blue_turn, by_hue, saturation, stretch, weight_of_lightness};
use super::tangent::{self, ROUNDING, Tangent, Turned, length};

/// ΔE00 from one colour to the colours of a box, bounded from below by a length.
///
/// For every colour of the box, a point that is no farther than [`slack`](Self::slack) from its [`position`](Self::position)
/// along each axis has a distance from the origin that is at most their ΔE00; and the two come together as the box
/// shrinks.
///
/// ΔE00 is the length of (ΔL′/S_L, ΔC′/S_C, ΔH′/S_H) in a slightly oblique frame: the rotation term R_T. There are
/// two ways to a floor, and of each pair the one that says more is taken, for lightness and for chroma and hue.
///
/// By weights: all of S_L, S_C, S_H, R_T, the factor of a* and the direction of chroma depend on the colour. They are
/// fixed, for a box, where they make the length least, or at their middle with a factor for what they vary by: if B
/// is the fixed map and the true one is B·(1 + E), then |B (1 + E) x| ≥ (1 − ‖E‖ √cond) |B x|. Where hues are spread
/// too widely, ΔC′² + ΔH′² = Δa′² + Δb² serves, with the larger of the two weights. What is lost is a share of the
/// difference, so it serves near the target.
///
/// By tangents (`tangent`): ΔL′/S_L, ΔC′/S_C and ΔH′/S_H are planes in L*, a*, b*, and a slack that is quadratic in
/// the size of the box, whatever the difference; so it serves far from the target.
///
/// Source: the formula is that of ISO/CIE 11664-6:2014; the bounds are this project's.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DifferenceFloor {
    /// Where the two maps begin, and the positions of that colour.
    from: Lab,
    lightness: Tangent<1, 1>,
    plane: Tangent<2, 2>,
}

/// Steepest slope of the hue term T, per radian: the sum of its amplitudes times their orders.
const STEEPEST_BY_HUE: f64 = 0.17 + 2.0 * 0.24 + 3.0 * 0.32 + 4.0 * 0.20;
/// The hue term is never above the sum of its amplitudes and one.
const MOST_BY_HUE: f64 = 1.0 + 0.17 + 0.24 + 0.32 + 0.20;
/// Boxes that lie nearer than this (ΔE00) to the target, in chroma and hue, lose little by weights.
const NEAR: f64 = 1.5;
impl DifferenceFloor {
    /// The floor from `target` to the colours between the corners `low` and `high`.
    pub fn new(target: Lab, low: Lab, high: Lab) -> Self {
        let from = Lab::new(
            (low.l + high.l) / 2.0,
            (low.a + high.a) / 2.0,
            (low.b + high.b) / 2.0,
        );
        let weight = [low.l, high.l]
            .map(|l| weight_of_lightness((target.l + l) / 2.0))
            .into_iter()
            .fold(1.0, f64::max);
        let lightness = Tangent::by_weights([[(1.0 - ROUNDING) / weight]], [from.l - target.l]);
        let (by_weights, turned) = plane(target, low, high);
        let plane = Tangent::by_weights(by_weights, [from.a - target.a, from.b - target.b]);
        Self {
            from,
            lightness: lightness.or(Some(tangent::lightness(target, low, high))),
            plane: if plane.says() > NEAR {
                plane.or(turned.and_then(|turned| turned.tangent(target, low, high)))
            } else {
                plane
            },
        }
    }

    /// The weighted position of a colour, seen from the target.
    pub fn position(&self, lab: Lab) -> [f64; 3] {
        let [l, a, b] = self.step([
            lab.l - self.from.l,
            lab.a - self.from.a,
            lab.b - self.from.b,
        ]);
        let ([at], [first, second]) = (self.lightness.at, self.plane.at);
        [at + l, first + a, second + b]
    }

    /// How far positions may be off along each axis.
    pub fn slack(&self) -> [f64; 3] {
        [
            self.lightness.slack[0],
            self.plane.slack[0],
            self.plane.slack[1],
        ]
    }

    /// The floor under the ΔE00 of one colour of the box.
    pub fn under(&self, lab: Lab) -> f64 {
        let positions = self.position(lab).into_iter().zip(self.slack());
        let squares = positions.map(|(at, slack)| (at.abs() - slack).max(0.0).powi(2));
        squares.sum::<f64>().sqrt()
    }

    /// The weighted step for a step in L*, a*, b*: a linear map.
    pub fn step(&self, [l, a, b]: [f64; 3]) -> [f64; 3] {
        let [first, second] = self.plane.map;
        [
            self.lightness.map[0][0] * l,
            first[0] * a + first[1] * b,
            second[0] * a + second[1] * b,
        ]
    }
}

/// Colours of one lightness: a rectangle in a*, b*, seen from the origin.
struct Rectangle {
    /// Least and greatest distance from the origin.
    chroma: (f64, f64),
    /// Hue of the middle and how far hues lie from it, radians; π where the origin may be inside.
    hue: (f64, f64),
}

impl Rectangle {
    fn new(a: (f64, f64), b: (f64, f64)) -> Self {
        let nearest = |(low, high): (f64, f64)| low.max(-high).max(0.0);
        let farthest = |(low, high): (f64, f64)| high.max(-low);
        let middle = |(low, high): (f64, f64)| (low + high) / 2.0;
        let half = |(low, high): (f64, f64)| (high - low) / 2.0;
        let (reach, distance) = (length(half(a), half(b)), length(middle(a), middle(b)));
        let spread = if reach < distance {
            (reach / distance).asin()
        } else {
            std::f64::consts::PI
        };
        Self {
            chroma: (
                length(nearest(a), nearest(b)),
                length(farthest(a), farthest(b)),
            ),
            hue: (middle(b).atan2(middle(a)), spread),
        }
    }
}

/// The map of (Δa*, Δb*), and where hues don't lie too wide apart, what tangents need.
fn plane(target: Lab, low: Lab, high: Lab) -> ([[f64; 2]; 2], Option<Turned>) {
    let unstretched = Rectangle::new((low.a, high.a), (low.b, high.b));
    let target_chroma = length(target.a, target.b);
    // The factor of a* falls as the mean chroma rises.
    let [most, least] = [unstretched.chroma.0, unstretched.chroma.1]
        .map(|chroma| stretch((target_chroma + chroma) / 2.0));
    let times = |(low, high): (f64, f64)| {
        (
            (low * least).min(low * most),
            (high * least).max(high * most),
        )
    };
    let box_of_it = Rectangle::new(times((low.a, high.a)), (low.b, high.b));
    let target = Rectangle::new(times((target.a, target.a)), (target.b, target.b));

    let mean_chroma = (
        (target.chroma.0 + box_of_it.chroma.0) / 2.0,
        (target.chroma.1 + box_of_it.chroma.1) / 2.0,
    );
    // Hues of the pairs' middles, on the shorter way round.
    let turn = std::f64::consts::TAU;
    let step = box_of_it.hue.0 - target.hue.0;
    let step = step - turn * (step / turn).round();
    let step_spread = box_of_it.hue.1 + target.hue.1;
    let widest = step.abs() + step_spread;
    let wide = widest >= 0.95 * std::f64::consts::PI;
    let (hue, hue_spread) = if wide {
        (target.hue.0 + step / 2.0, std::f64::consts::PI)
    } else {
        (target.hue.0 + step / 2.0, step_spread / 2.0)
    };

    let (sin, cos) = hue.sin_cos();
    let hue_term = (
        (by_hue((cos, sin)).0 - STEEPEST_BY_HUE * hue_spread).max(0.0),
        (by_hue((cos, sin)).0 + STEEPEST_BY_HUE * hue_spread).min(MOST_BY_HUE),
    );
    let s_c = (1.0 + 0.045 * mean_chroma.0, 1.0 + 0.045 * mean_chroma.1);
    let s_h = (
        1.0 + 0.015 * mean_chroma.0 * hue_term.0,
        1.0 + 0.015 * mean_chroma.1 * hue_term.1,
    );
    let rotation = rotation(hue, hue_spread, mean_chroma);
    let most_rotation = rotation.0.abs().max(rotation.1.abs());

    let evenly = (1.0 - most_rotation / 2.0).max(0.0).sqrt() / s_c.1.max(s_h.1) * (1.0 - ROUNDING);
    let evenly = [[evenly * least, 0.0], [0.0, evenly]];
    if wide {
        return (evenly, None);
    }
    let turned = Turned {
        step,
        chroma_ab: unstretched.chroma,
        chroma: box_of_it.chroma,
        target_chroma: target.chroma,
        half_step: target.chroma.0 * box_of_it.chroma.0 * (widest / 2.0).cos().powi(2),
        rotation,
    };

    let map_of_hue = AlongHue {
        hue: (hue, hue_spread),
        widest,
        chroma: (target.chroma, box_of_it.chroma),
        s_c,
        s_h,
        rotation,
        factor: (least, most),
    }
    .map();
    let map = if determinant(&map_of_hue).abs() > determinant(&evenly).abs() {
        map_of_hue
    } else {
        evenly
    };
    (map, Some(turned))
}

/// What the map of chroma and hue follows from, over a box; each pair is the least and the greatest.
struct AlongHue {
    /// Mean hue and how far mean hues lie from it, radians.
    hue: (f64, f64),
    /// Widest step of hue, radians, less than π.
    widest: f64,
    /// C′ of the target and of the box.
    chroma: ((f64, f64), (f64, f64)),
    s_c: (f64, f64),
    s_h: (f64, f64),
    /// R_T.
    rotation: (f64, f64),
    /// Factor of a*.
    factor: (f64, f64),
}

/// Weights fixed for a box: what steps along and across the hue are divided by, how oblique their axes are (R_T), and
/// the share of the length that is left when the colours of the box differ from them.
struct FixedWeights {
    along: f64,
    across: f64,
    oblique: f64,
    share: f64,
}

impl AlongHue {
    /// The map of (Δa*, Δb*): the frame of the fixed weights, less what hue and factor of a* vary by.
    fn map(&self) -> [[f64; 2]; 2] {
        let FixedWeights {
            along,
            across,
            oblique,
            mut share,
        } = self.fixed_weights();
        let (sin, cos) = self.hue.0.sin_cos();
        let (radial, tangential) = ([cos / along, sin / along], [-sin / across, cos / across]);
        let upright = (1.0 - oblique * oblique / 4.0).sqrt();
        let frame = [
            std::array::from_fn(|i| radial[i] + oblique / 2.0 * tangential[i]),
            tangential.map(|tangential| upright * tangential),
        ];
        share *= (1.0 - 2.0 * (self.hue.1 / 2.0).sin() * condition(&frame)).max(0.0);
        let (least, most) = self.factor;
        let factor = (least + most) / 2.0;
        let frame = frame.map(|[a, b]| [a * factor, b]);
        share *= (1.0 - (most - least) / 2.0 / factor * condition(&frame)).max(0.0);
        frame.map(|row| row.map(|entry| entry * share * (1.0 - ROUNDING)))
    }

    /// The weights where they make the length least, or where R_T counts, at their middle.
    ///
    /// ΔC′ = along / cos(Δh/2) and ΔH′ = across · 2√(C₁C₂)/(C₁ + C₂), with the step taken along and across the middle hue.
    fn fixed_weights(&self) -> FixedWeights {
        let cosine = (self.widest / 2.0).cos();
        let (target_chroma, box_chroma) = self.chroma;
        let [one, other] = [
            target_chroma.0 / box_chroma.1,
            target_chroma.1 / box_chroma.0,
        ];
        let evenness = |ratio: f64| 2.0 * ratio.sqrt() / (1.0 + ratio);
        let uneven = evenness(one).min(evenness(other));
        // What the weights are divided by, least and greatest.
        let along = (self.s_c.0 * cosine, self.s_c.1);
        let across = (self.s_h.0, self.s_h.1 / uneven.max(f64::MIN_POSITIVE));
        let rotation = self.rotation;
        let most_rotation = rotation.0.abs().max(rotation.1.abs());
        if most_rotation < 1e-6 {
            return FixedWeights {
                along: along.1,
                across: across.1,
                oblique: 0.0,
                share: 1.0 - most_rotation,
            };
        }
        let middle = |(low, high): (f64, f64)| (low + high) / 2.0;
        let (s_along, s_across, oblique) = (middle(along), middle(across), middle(rotation));
        let off = |(low, high): (f64, f64), at: f64| (at / low - 1.0).max(1.0 - at / high);
        let off = off(along, s_along).max(off(across, s_across));
        let weakest = 1.0 - oblique.abs() / 2.0;
        let condition = ((1.0 + oblique.abs() / 2.0) / weakest).sqrt();
        let by_rotation = (rotation.1 - rotation.0) / 2.0 / 2.0 / weakest;
        FixedWeights {
            along: s_along,
            across: s_across,
            oblique,
            share: (1.0 - by_rotation).max(0.0).sqrt() * (1.0 - off * condition).max(0.0),
        }
    }
}

/// Least and greatest R_T.
fn rotation(hue: f64, hue_spread: f64, mean_chroma: (f64, f64)) -> (f64, f64) {
    let from_blue = (hue.to_degrees() - 275.0).rem_euclid(360.0);
    let from_blue = from_blue.min(360.0 - from_blue);
    let spread = hue_spread.to_degrees();
    // Four widths of the bell away there is next to nothing.
    if from_blue - spread > 100.0 {
        return (-3e-7, 0.0);
    }
    // The formula counts degrees from 0 to 360 and so jumps there, by less than this.
    const JUMP: f64 = 1e-4;
    let (nearest, farthest) = ((from_blue - spread).max(0.0), from_blue + spread);
    let turned = |from_blue: f64| blue_turn(from_blue).to_radians().sin();
    let most = 2.0 * saturation(mean_chroma.1) * turned(nearest);
    let least = 2.0 * saturation(mean_chroma.0) * turned(farthest) - JUMP;
    (-most, -least.max(0.0))
}

fn determinant([[a, b], [c, d]]: &[[f64; 2]; 2]) -> f64 {
    a * d - b * c
}

/// How many times longer a map makes some step than another of the same length.
fn condition(map: &[[f64; 2]; 2]) -> f64 {
    let [[a, b], [c, d]] = map;
    let sum = a * a + b * b + c * c + d * d;
    let product = determinant(map).abs();
    let root = (sum * sum - 4.0 * product * product).max(0.0).sqrt();
    // The larger over the smaller singular value.
    (sum + root) / (2.0 * product).max(f64::MIN_POSITIVE)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::delta_e_2000;

    /// Evenly spread numbers from 0 to 1.
    fn even(seed: u64) -> impl FnMut() -> f64 {
        let mut random = fastrand::Rng::with_seed(seed);
        move || random.f64()
    }

    #[test]
    fn no_colour_of_a_box_lies_nearer_than_its_floor() {
        let mut next = even(7);
        for _ in 0..6000 {
            let target = Lab::new(100.0 * next(), 120.0 * next() - 60.0, 120.0 * next() - 60.0);
            let size = 40.0 * next().powi(3);
            let middle: [f64; 3] =
                [target.l, target.a, target.b].map(|at| at + 30.0 * (next() - 0.5));
            let half: [f64; 3] = std::array::from_fn(|_| size * next());
            let corner = |sign: f64| {
                let [l, a, b] = std::array::from_fn(|i| middle[i] + sign * half[i]);
                Lab::new(l, a, b)
            };
            let (low, high) = (corner(-1.0), corner(1.0));
            let floor = DifferenceFloor::new(target, low, high);
            for _ in 0..20 {
                let at = |low: f64, high: f64, share: f64| low + (high - low) * share;
                let colour = Lab::new(
                    at(low.l, high.l, next()),
                    at(low.a, high.a, next()),
                    at(low.b, high.b, next()),
                );
                let length = floor.under(colour);
                let difference = delta_e_2000(target, colour);
                assert!(
                    length <= difference + 1e-9,
                    "{target:?} to {colour:?} in {low:?}..{high:?}: {length} above {difference}"
                );
            }
        }
    }

    #[test]
    fn the_floor_of_a_small_box_is_the_difference() {
        let mut next = even(11);
        for _ in 0..2000 {
            let target = Lab::new(20.0 + 70.0 * next(), 5.0 + 25.0 * next(), 25.0 * next());
            let [l, a, b] = [target.l, target.a, target.b].map(|at| at + 2.0 * (next() - 0.5));
            let colour = Lab::new(l, a, b);
            let floor = DifferenceFloor::new(
                target,
                Lab::new(l - 1e-4, a - 1e-4, b - 1e-4),
                Lab::new(l + 1e-4, a + 1e-4, b + 1e-4),
            );
            let length = floor.under(colour);
            // What is lost is what the hue and the chroma of the pair differ by.
            approx::assert_relative_eq!(
                length,
                delta_e_2000(target, colour),
                max_relative = 0.05,
                epsilon = 1e-6
            );
        }
    }

    /// Whether the floor under some colours of the box `half` around `centre` lies above the difference.
    fn is_above(target: Lab, centre: Lab, half: [f64; 2]) -> bool {
        let at = |x: f64, y: f64| Lab::new(50.0, centre.a + x * half[0], centre.b + y * half[1]);
        let floor = DifferenceFloor::new(target, at(-1.0, -1.0), at(1.0, 1.0));
        [-1.0, 0.0, 1.0].into_iter().any(|x| {
            [-1.0, 0.0, 1.0].into_iter().any(|y| {
                let colour = at(x, y);
                floor.under(colour) > delta_e_2000(target, colour) + 1e-9
            })
        })
    }

    fn of_hue(chroma: f64, degrees: f64) -> Lab {
        let (sin, cos) = degrees.to_radians().sin_cos();
        Lab::new(50.0, chroma * cos, chroma * sin)
    }

    #[test]
    fn no_colour_lies_below_its_floor_where_hues_jump_from_180_to_minus_180_degrees() {
        let mut next = even(13);
        for _ in 0..60_000 {
            let from = 180.0 + 240.0 * (next() - 0.5);
            let target = of_hue(5.0 + 90.0 * next(), from);
            let centre = of_hue(5.0 + 90.0 * next(), from + 240.0 * (next() - 0.5));
            let half = [5.0 * next(), 5.0 * next()];
            assert!(
                !is_above(target, centre, half),
                "{target:?} to {centre:?} by {half:?}"
            );
        }
    }

    #[test]
    fn no_blue_lies_below_its_floor() {
        // Where R_T turns fastest with hue (ISO/CIE 11664-6:2014: a bell around 275°), and boxes so small that little else
        // is given away.
        let mut next = even(17);
        for _ in 0..20_000 {
            let (chroma, hue) = (5.0 + 60.0 * next(), 260.0 + 20.0 * next());
            let target = of_hue(chroma, hue);
            let centre = of_hue(chroma + 3.0 * next(), hue + 3.0 * (next() - 0.5));
            let half = [1e-4 * next(), 1e-4 * next()];
            assert!(
                !is_above(target, centre, half),
                "{target:?} to {centre:?} by {half:?}"
            );
        }
    }

    #[test]
    fn far_from_the_target_what_is_lost_falls_with_the_square_of_the_box() {
        // A plane that meets a smooth surface at a point with its slopes is off by the square of the way from there.
        for half in [0.1, 0.3] {
            let mut next = even(23);
            let (mut lost, mut corners) = (0.0, 0.0);
            for _ in 0..4000 {
                let target = Lab::new(
                    20.0 + 70.0 * next(),
                    8.0 + 20.0 * next(),
                    5.0 + 25.0 * next(),
                );
                let [l, a, b] = [target.l, target.a, target.b].map(|at| at + 16.0 * (next() - 0.5));
                if a.hypot(b) < 5.0 || delta_e_2000(target, Lab::new(l, a, b)) < 3.0 {
                    continue;
                }
                let at = |[x, y, z]: [f64; 3]| Lab::new(l + x * half, a + y * half, b + z * half);
                let floor = DifferenceFloor::new(target, at([-1.0; 3]), at([1.0; 3]));
                for corner in 0..8 {
                    let colour =
                        at([1, 2, 4].map(|bit| if corner & bit == 0 { -1.0 } else { 1.0 }));
                    lost += delta_e_2000(target, colour) - floor.under(colour);
                    corners += 1.0;
                }
            }
            let squares = lost / corners / (half * half);
            assert!(squares < 0.068, "{squares} of the square of {half}");
        }
    }

    #[test]
    fn away_from_blue_a_step_of_chroma_counts_by_the_greatest_weight_of_chroma_and_no_less() {
        // ISO/CIE 11664-6:2014: R_T is next to nothing away from 275°; what is divided by S_C is then least at its greatest.
        let s_c = (1.2, 2.4);
        let along_hue = AlongHue {
            hue: (1.2, 0.0),
            widest: 0.0,
            chroma: ((5.0, 5.0), (5.0, 60.0)),
            s_c,
            s_h: (1.1, 1.9),
            rotation: rotation(1.2, 0.0, (5.0, 32.0)),
            factor: (1.0, 1.0),
        };
        let FixedWeights { along, share, .. } = along_hue.fixed_weights();
        assert!(
            (share / along * s_c.1 - 1.0).abs() < 1e-5,
            "{share} of a step by {along}"
        );
    }
}
