//! The forearm and hand, as a signed distance; lengths are in centimetres.
//!
//! The arm has its own axes: `x` from the wrist (0) toward the fingertips, `y` up from the bench, `z`
//! across, toward the thumb.

use std::sync::LazyLock;

use nalgebra::Vector3;

use crate::noise;

type Point = Vector3<f64>;

/// Farthest that any part of the arm stands above the bench.
pub(crate) const TOP_CM: f64 = 9.6;

/// Joints of one finger, knuckle to tip, with the radius at each.
type Finger = [(Point, f64); 4];

const fn joint(x: f64, y: f64, z: f64, radius: f64) -> (Point, f64) {
    (Point::new(x, y, z), radius)
}

/// Thumb first, little finger last.
const FINGERS: [Finger; 5] = [
    [
        joint(1.6, 2.1, 2.0, 1.35),
        joint(5.4, 2.0, 4.5, 1.12),
        joint(8.6, 1.6, 5.2, 0.92),
        joint(10.9, 1.05, 4.9, 0.72),
    ],
    [
        joint(8.5, 3.15, 2.65, 1.08),
        joint(12.5, 3.25, 3.0, 0.90),
        joint(14.5, 1.9, 2.85, 0.78),
        joint(15.6, 0.75, 2.65, 0.64),
    ],
    [
        joint(9.1, 3.35, 0.75, 1.10),
        joint(13.5, 3.5, 0.85, 0.92),
        joint(15.8, 2.0, 0.75, 0.79),
        joint(16.9, 0.75, 0.65, 0.65),
    ],
    [
        joint(8.6, 3.1, -1.10, 1.04),
        joint(12.7, 3.1, -1.35, 0.86),
        joint(14.9, 1.75, -1.4, 0.75),
        joint(15.9, 0.7, -1.4, 0.62),
    ],
    [
        joint(7.7, 2.65, -2.75, 0.95),
        joint(10.9, 2.55, -3.4, 0.76),
        joint(12.6, 1.45, -3.6, 0.66),
        joint(13.4, 0.62, -3.65, 0.55),
    ],
];

/// Half width, half height and sideways shift of the forearm, from behind the elbow to the wrist.
const SECTIONS: [(f64, [f64; 3]); 8] = [
    (-40.0, [4.6, 4.3, -0.2]),
    (-29.0, [4.5, 4.1, -0.1]),
    (-23.0, [4.75, 4.15, 0.35]),
    (-17.0, [4.45, 3.75, 0.35]),
    (-10.0, [3.55, 2.95, 0.15]),
    (-4.5, [2.85, 2.25, 0.0]),
    (-0.5, [2.75, 1.95, 0.0]),
    (4.0, [3.0, 1.9, 0.0]),
];

/// Where blood shows: centre, reach and strength (0–1).
static FLUSHED: LazyLock<Vec<(Point, f64, f64)>> = LazyLock::new(|| {
    let mut spots = vec![
        (Point::new(-1.6, 3.4, 0.9), 3.9, 1.0),
        (Point::new(-2.2, 2.2, -2.4), 2.2, 0.6),
        (Point::new(-28.0, 6.0, 1.5), 6.0, 0.9),
    ];
    for (number, finger) in FINGERS.iter().enumerate() {
        let first = usize::from(number == 0);
        for (place, (centre, radius)) in finger.iter().enumerate().skip(first) {
            let strength = [0.9, 0.8, 0.55, 0.9][place];
            let above = Point::new(0.0, 0.6 * radius, 0.0);
            spots.push((centre + above, 1.25 * radius + 0.2, strength));
        }
    }
    spots
});

/// Strength of the flush, 0–1, at a point of the surface.
pub(crate) fn flush(at: Point) -> f64 {
    let pale: f64 = FLUSHED
        .iter()
        .map(|(centre, reach, strength)| {
            1.0 - strength * (-(at - centre).norm_squared() / (reach * reach)).exp()
        })
        .product();
    1.0 - pale
}

/// How far into a nail the point lies: 0 outside, 1 within, with a narrow edge between.
pub(crate) fn nail(at: Point) -> f64 {
    FINGERS
        .iter()
        .enumerate()
        .map(|(number, finger)| {
            let [_, _, (from, _), (tip, radius)] = *finger;
            let along = (tip - from).normalize();
            let across = along.cross(&Point::y()).normalize();
            let across = if number == 0 {
                (across + 0.25 * along.cross(&across)).normalize()
            } else {
                across
            };
            let outward = across.cross(&along);
            let offset = at - (tip + 0.02 * along);
            let (u, v) = (
                offset.dot(&along) / (0.95 * radius),
                offset.dot(&across) / (0.74 * radius),
            );
            let inside = 1.0 - (u.abs().powf(3.0) + v.abs().powf(3.0)).cbrt();
            let above = offset.dot(&outward) / radius;
            smoothstep(0.0, 0.12, inside) * smoothstep(0.15, 0.35, above)
        })
        .fold(0.0, f64::max)
}

/// Distance to the skin, negative within.
pub(crate) fn distance(at: Point) -> f64 {
    let arm = forearm(at);
    let to_hand = (at - Point::new(8.0, 2.5, 0.5)).norm() - 10.5;
    if to_hand > arm + 3.0 {
        return arm.min(to_hand);
    }
    blend(arm, hand(at), 1.6)
}

fn forearm(at: Point) -> f64 {
    let x = at.x.clamp(SECTIONS[0].0, SECTIONS[SECTIONS.len() - 1].0);
    let after = SECTIONS
        .partition_point(|section| section.0 <= x)
        .clamp(1, SECTIONS.len() - 1);
    let [width, height, shift] = std::array::from_fn(|part| cubic(after - 1, part, x));
    let beyond = at.x - x;
    // Below the middle the section is squarer: flesh that rests on a bench spreads.
    let y = at.y - 0.93 * height;
    let y = if y < 0.0 { 0.9 * y } else { y };
    let scaled = Point::new(0.0, y / height, (at.z - shift) / width);
    let length = scaled.norm();
    // Distance to an ellipse to first order: value over slope.
    let slope = Point::new(0.0, scaled.y / height, scaled.z / width).norm();
    let from_section = if slope > 1e-9 {
        length * (length - 1.0) / slope
    } else {
        -height
    };
    let sideways = from_section.max(0.0);
    let trunk = if beyond == 0.0 {
        from_section
    } else {
        beyond.hypot(sideways)
    };
    let wrist_bone = (at - Point::new(-2.0, 2.95, -1.75)).norm() - 0.75;
    blend(trunk, wrist_bone, 1.3)
}

fn hand(at: Point) -> f64 {
    let mut palm = f64::INFINITY;
    let mut fingers = f64::INFINITY;
    for (number, finger) in FINGERS.iter().enumerate() {
        let [knuckle, middle, far, tip] = *finger;
        if number > 0 {
            let root = Point::new(0.0, 2.3, 0.36 * knuckle.0.z);
            let bone = cone(at, (root, 1.75), (knuckle.0, knuckle.1 * 1.10));
            palm = blend(palm, bone, 0.9);
            // The flesh of the palm below the bones.
            let heel = Point::new(1.0, 1.5, 0.55 * knuckle.0.z);
            let ball = knuckle.0 - Point::new(0.6, 1.15, 0.0);
            palm = blend(palm, cone(at, (heel, 1.3), (ball, 0.95)), 0.9);
        }
        let chain = blend(
            blend(cone(at, knuckle, middle), cone(at, middle, far), 0.22),
            cone(at, far, tip),
            0.18,
        );
        // Joints are thicker than the bones between them.
        let chain = blend(chain, (at - middle.0).norm() - 1.03 * middle.1, 0.25);
        if number == 0 {
            palm = blend(palm, cone(at, knuckle, middle), 1.5);
        }
        fingers = blend(fingers, chain, 0.1);
    }
    blend(palm, fingers, 0.55)
}

/// Catmull–Rom value of one part of [`SECTIONS`] between sections `from` and `from + 1`.
fn cubic(from: usize, part: usize, x: f64) -> f64 {
    let last = SECTIONS.len() - 1;
    let knot = |place: usize| (SECTIONS[place].0, SECTIONS[place].1[part]);
    let slope = |place: usize| {
        let (before, after) = (knot(place.saturating_sub(1)), knot((place + 1).min(last)));
        (after.1 - before.1) / (after.0 - before.0)
    };
    let ((x0, y0), (x1, y1)) = (knot(from), knot(from + 1));
    let (span, t) = (x1 - x0, (x - x0) / (x1 - x0));
    let (t2, t3) = (t * t, t * t * t);
    (2.0 * t3 - 3.0 * t2 + 1.0) * y0
        + (t3 - 2.0 * t2 + t) * span * slope(from)
        + (3.0 * t2 - 2.0 * t3) * y1
        + (t3 - t2) * span * slope(from + 1)
}

/// Distance to the hull of two balls.
fn cone(at: Point, (a, radius_a): (Point, f64), (b, radius_b): (Point, f64)) -> f64 {
    let axis = b - a;
    let length = axis.norm();
    let along = (at - a).dot(&axis) / length;
    let across = ((at - a).norm_squared() - along * along).max(0.0).sqrt();
    let sine = (radius_a - radius_b) / length;
    let cosine = (1.0 - sine * sine).sqrt();
    let foot = along - across * sine / cosine;
    if foot <= 0.0 {
        along.hypot(across) - radius_a
    } else if foot >= length {
        (along - length).hypot(across) - radius_b
    } else {
        across * cosine + along * sine - radius_a
    }
}

/// The lesser of two distances, with a fillet of about `reach` where they meet.
fn blend(one: f64, other: f64, reach: f64) -> f64 {
    let near = (reach - (one - other).abs()).max(0.0) / reach;
    one.min(other) - near * near * reach / 4.0
}

/// 0 below `from`, 1 above `to`, smooth between.
pub(crate) fn smoothstep(from: f64, to: f64, value: f64) -> f64 {
    let t = ((value - from) / (to - from)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// Height of the fine relief above the smooth shape, cm: pores, creases over the joints, veins.
pub(crate) fn relief(at: Point) -> f64 {
    let pores = 0.0016 * noise::smooth(at * 8.0, 11) + 0.0010 * noise::smooth(at * 15.0, 12);
    let muscle = 0.035 * noise::smooth(Point::new(at.x * 0.22, at.y * 0.5, at.z * 0.6), 13);
    let creases: f64 = FINGERS
        .iter()
        .map(|finger| {
            let (from, (joint, radius)) = (finger[0].0, finger[1]);
            let offset = at - joint;
            let near = (-offset.norm_squared() / (1.5 * radius * radius)).exp();
            let along = offset.dot(&(joint - from).normalize());
            let wobble = 0.12 * noise::smooth(at * 2.0, 14);
            0.016 * near * ((along + wobble) * 15.0).sin()
        })
        .sum();
    pores + muscle + creases + 0.016 * vein(at)
}

/// How near a vein lies to the surface, 0–1: on the back of the hand and the forearm only.
pub(crate) fn vein(at: Point) -> f64 {
    // From (x, z) to (x, z), half width, strength.
    const VEINS: [([f64; 4], f64, f64); 7] = [
        ([7.2, 1.5, 2.0, 0.9], 0.16, 0.8),
        ([7.4, -0.9, 2.0, 0.9], 0.15, 0.7),
        ([6.4, -2.2, 1.2, -1.0], 0.15, 0.7),
        ([2.0, 0.9, -9.0, 1.9], 0.20, 0.9),
        ([1.2, -1.0, -7.0, -1.4], 0.17, 0.6),
        ([-9.0, 1.9, -24.0, 0.4], 0.24, 0.8),
        ([-9.0, 1.9, -20.0, 3.2], 0.20, 0.6),
    ];
    let wander = 0.5 * noise::smooth(Point::new(at.x * 0.3, 0.0, 3.0), 15);
    VEINS
        .iter()
        .map(|&([from_x, from_z, to_x, to_z], half_width, strength)| {
            let (dx, dz) = (to_x - from_x, to_z - from_z);
            let length = dx.hypot(dz);
            let (x, z) = (at.x - from_x, at.z - wander - from_z);
            let along = (x * dx + z * dz) / length;
            let across = (x * dz - z * dx) / length;
            let beyond = (-along).max(along - length).max(0.0);
            let away = across.hypot(beyond) / half_width;
            strength * (-away * away).exp()
        })
        .fold(0.0, f64::max)
        * smoothstep(1.4, 2.2, at.y)
}
