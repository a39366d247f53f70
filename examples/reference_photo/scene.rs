//! The bench with arm and card: rays from the camera, and what each brings back.

use nalgebra::Vector3;

use crate::camera::{Paints, Rgb};
use crate::noise;
use crate::shape::{self, smoothstep};
use crate::skin::Skin;

type Point = Vector3<f64>;

/// What a ray meets.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Thing {
    Arm,
    Card,
    Bench,
}

/// Half length, thickness and half depth of the card, cm.
const CARD_CM: [f64; 3] = [6.3, 0.12, 4.4];
/// What arrives from all around, of all that arrives at the card.
const FILL: f64 = 0.44;
/// Half width of the lamp over its distance.
const LAMP_SPREAD: f64 = 0.16;

/// The scene, in centimetres: `x` to the right of the picture, `y` up, `z` toward the photographer.
#[derive(Debug)]
pub(crate) struct Scene {
    paints: Paints,
    eye: Point,
    /// To the right and up in the picture, and into it; a step of 1 in the first two spans the width.
    right: Point,
    up: Point,
    ahead: Point,
    lamp: Point,
    /// Toward the fingertips and toward the thumb.
    along: Point,
    across: Point,
    wrist: Point,
    card: Point,
    card_right: Point,
}

impl Scene {
    pub(crate) fn new(paints: Paints) -> Self {
        let centre = Point::new(0.6, 1.0, -1.8);
        let eye = centre + 88.0 * turn(64.0_f64.to_radians());
        let ahead = (centre - eye).normalize();
        let right = Point::x() * (47.5 / 88.0);
        let up = Point::x().cross(&ahead) * (47.5 / 88.0);
        let (sin, cos) = 7.0_f64.to_radians().sin_cos();
        let (card_sin, card_cos) = 5.0_f64.to_radians().sin_cos();
        Self {
            paints,
            eye,
            right,
            up,
            ahead,
            lamp: 320.0 * Point::new(-0.47, 0.88, 0.02),
            along: Point::new(-cos, 0.0, sin),
            across: Point::new(sin, 0.0, cos),
            wrist: Point::new(-3.4, 0.0, 3.2),
            card: Point::new(-9.5, CARD_CM[1] / 2.0, -12.3),
            card_right: Point::new(card_cos, 0.0, -card_sin),
        }
    }

    /// What lies at `(x, y)` of the picture, and the light from there; `x` goes from −0.5 to 0.5 to the
    /// right, `y` upward in the same unit.
    pub(crate) fn look(&self, x: f64, y: f64) -> (Thing, Rgb) {
        let ray = (self.ahead + x * self.right + y * self.up).normalize();
        // Nothing stands higher than the arm.
        let mut far = (shape::TOP_CM - self.eye.y) / ray.y;
        let bench = -self.eye.y / ray.y;
        for _ in 0..160 {
            let at = self.eye + far * ray;
            let gap = shape::distance(self.in_arm(at));
            if gap < 0.002 {
                return (Thing::Arm, self.arm(at, ray));
            }
            far += 0.85 * gap;
            if far > bench {
                break;
            }
        }
        let on_card = self.eye + (CARD_CM[1] - self.eye.y) / ray.y * ray;
        let (u, v) = self.in_card(on_card);
        if u.abs() < CARD_CM[0] && v.abs() < CARD_CM[2] {
            return (Thing::Card, self.matt(on_card, self.paints.card));
        }
        let at = self.eye + bench * ray;
        (Thing::Bench, self.bench(at, ray))
    }

    fn in_arm(&self, at: Point) -> Point {
        let from = at - self.wrist;
        Point::new(from.dot(&self.along), at.y, from.dot(&self.across))
    }

    fn in_card(&self, at: Point) -> (f64, f64) {
        let from = at - self.card;
        let down = self.card_right.cross(&Point::y());
        (from.dot(&self.card_right), from.dot(&down))
    }

    /// Light on a level matt surface.
    fn matt(&self, at: Point, colour: Rgb) -> Rgb {
        colour * self.irradiance(at, Point::y(), 0.0).0
    }

    fn bench(&self, at: Point, ray: Point) -> Rgb {
        // The planks run a little askew to the picture.
        let grain = Point::new(at.x + 0.045 * at.z, 0.0, at.z - 0.045 * at.x);
        let plank = ((grain.z + 31.0) / 11.5).floor();
        let within = grain.z + 31.0 - 11.5 * plank;
        let seam = 1.0 - 0.75 * (1.0 - smoothstep(0.03, 0.13, within.min(11.5 - within)));
        let own = Point::new(17.0 * plank, 5.0 * plank, 0.0);
        let waves = noise::cloudy(Point::new(grain.x * 0.035, 0.0, grain.z * 0.22) + own, 21);
        let rings = (grain.z * 1.5 + 9.0 * waves + 4.0 * plank).sin();
        let pores = noise::smooth(Point::new(grain.x * 0.9, 0.0, grain.z * 11.0) + own, 22);
        let vessels = noise::smooth(Point::new(grain.x * 1.5, 0.0, grain.z * 19.0) + own, 24);
        let light = 0.42 + 0.20 * rings * (0.6 + 0.4 * waves) + 0.09 * pores
            - 0.16 * smoothstep(0.55, 0.85, vessels)
            + 0.25 * waves
            + 0.10 * noise::smooth(own, 23);
        let colour = self
            .paints
            .wood_dark
            .lerp(&self.paints.wood_pale, light.clamp(0.0, 1.0))
            * seam;
        let (u, v) = self.in_card(at);
        let beside = Point::new(
            (u.abs() - CARD_CM[0]).max(0.0),
            0.0,
            (v.abs() - CARD_CM[2]).max(0.0),
        );
        let under_card = 1.0 - 0.45 * (-beside.norm() / 0.16).exp();
        let (light, lamp) = self.irradiance(at, Point::y(), 0.0);
        let half = ((self.lamp - at).normalize() - ray).normalize();
        let sheen = 0.012 * half.y.powf(14.0) * lamp;
        (colour * light + self.paints.white * sheen) * under_card
    }

    fn arm(&self, at: Point, ray: Point) -> Rgb {
        let place = self.in_arm(at);
        let normal = self.normal(place, 0.004, |p| shape::distance(p) - shape::relief(p));
        let smooth = self.normal(place, 0.05, shape::distance);
        let nail = shape::nail(place);
        let normal = normal.lerp(&smooth, 0.8 * nail).normalize();

        let clouds = noise::cloudy(place * 0.35, 1);
        let mottling = noise::cloudy(place * 2.2, 2);
        let grain = noise::smooth(place * 11.0, 3);
        let freckles = smoothstep(0.68, 0.86, noise::smooth(place * 2.9, 4))
            * smoothstep(0.0, 0.5, noise::smooth(place * 0.5, 5) + 0.2);
        let flush = shape::flush(place) * (1.0 + 0.25 * mottling);
        let between = |base: f64, flushed: f64| base + (flushed - base) * flush;
        let spot = Skin {
            melanin: between(Skin::BASE.melanin, Skin::FLUSH.melanin)
                * (1.0 + 0.10 * clouds + 0.05 * grain + 0.45 * freckles),
            blood: between(Skin::BASE.blood, Skin::FLUSH.blood)
                * (1.0 + 0.22 * clouds + 0.24 * mottling + 0.06 * grain),
        };
        let over_vein = Rgb::repeat(1.0).lerp(&self.paints.vein, shape::vein(place));
        let colour = self
            .paints
            .skin(spot)
            .component_mul(&over_vein)
            .lerp(&self.paints.nail, nail);

        let (light, lamp) = self.irradiance(at, normal, 0.25);
        let half = ((self.lamp - at).normalize() - ray).normalize();
        let toward = normal.dot(&half).max(0.0);
        let gloss =
            0.022 * toward.powf(14.0) + 0.20 * toward.powf(100.0) + 0.5 * nail * toward.powf(300.0);
        colour * light + self.paints.white * (gloss * lamp)
    }

    /// Slope of `field` (in the arm's own axes) as a direction in the scene, over a distance of `step`.
    fn normal(&self, place: Point, step: f64, field: impl Fn(Point) -> f64) -> Point {
        let slope = [Point::x(), Point::y(), Point::z()]
            .map(|axis| field(place + step * axis) - field(place - step * axis));
        (slope[0] * self.along + slope[1] * Point::y() + slope[2] * self.across).normalize()
    }

    /// All light on a surface, and the lamp's share as gloss sees it; both are 1 on the open card.
    ///
    /// `soft` lets light creep round into the shade, as it does inside skin.
    fn irradiance(&self, at: Point, normal: Point, soft: f64) -> (f64, f64) {
        let to_lamp = self.lamp - at;
        let direction = to_lamp.normalize();
        let from_card = self.lamp - self.card;
        let falloff = from_card.norm_squared() / to_lamp.norm_squared();
        let level = from_card.normalize().y;
        let slant = |cosine: f64| ((cosine + soft) / (1.0 + soft)).max(0.0);
        let open = self.open_to_lamp(at + 0.03 * normal, direction) * falloff;
        let lamp = open * slant(normal.dot(&direction)) / slant(level);
        let around = (0.70 + 0.30 * normal.y) * self.open_around(at, normal);
        ((1.0 - FILL) * lamp + FILL * around, open)
    }

    /// The share of the broad lamp that is seen from a point, 0–1.
    fn open_to_lamp(&self, at: Point, direction: Point) -> f64 {
        let mut seen = 1.0_f64;
        let mut far = 0.06;
        while seen > -1.0 && at.y + far * direction.y < shape::TOP_CM {
            let gap = shape::distance(self.in_arm(at + far * direction));
            seen = seen.min(gap / (LAMP_SPREAD * far));
            far += (0.8 * gap).clamp(0.08, 1.2);
        }
        let seen = seen.max(-1.0);
        0.25 * (1.0 + seen).powi(2) * (2.0 - seen)
    }

    /// The share of the surroundings that is seen from a point, 0–1, felt for along the normal.
    fn open_around(&self, at: Point, normal: Point) -> f64 {
        let mut hidden = 0.0;
        let mut weight = 0.55;
        for step in [0.25, 0.7, 1.5, 2.8] {
            let there = at + step * normal;
            let gap = shape::distance(self.in_arm(there)).min(there.y);
            hidden += weight * (1.0 - gap / step).clamp(0.0, 1.0);
            weight *= 0.62;
        }
        (1.0 - 0.72 * hidden).clamp(0.05, 1.0)
    }
}

/// The direction that stands `elevation` (radians) above the bench, on the photographer's side.
fn turn(elevation: f64) -> Point {
    Point::new(0.0, elevation.sin(), elevation.cos())
}
