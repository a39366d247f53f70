//! What the recipes of a box can't be better than, and which of them can't be good enough.
//!
//! A box is a range of doses for each pigment. The kernel gives planes for X, Y, Z over it; the cube root bends them
//! a little more; so L*, a*, b* of all its recipes lie in a zonotope: a middle, a segment for each pigment and three
//! for what the planes may be off by. Mapped by [`DifferenceFloor`], the distance of that zonotope from the origin
//! is below every recipe's ΔE00. Any direction bounds that distance, and any direction whose reach is bounded from
//! above by the best recipe known bounds each pigment's share in it: so boxes shrink without being split.

use super::doses::Doses;
use super::kernel::{Kernel, Plane, Planes};
use super::question::{Aim, Contrast};
use crate::colour::{DifferenceFloor, Lab};

/// From one dose of a pigment to another, both included.
pub(super) type Range = (usize, usize);

/// Bounds boxes of recipes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bounder<'a> {
    pub(super) kernel: &'a Kernel,
    pub(super) contrast: Option<(&'a [Kernel; 2], &'a Contrast)>,
    pub(super) aims: &'a [Aim],
    pub(super) doses: &'a [Doses],
    pub(super) max_pigments: usize,
    pub(super) max_total_drops: u32,
}

/// What is found out of a box under one light, weighted so that the length of a step is at most its ΔE00.
#[derive(Clone, Debug, Default)]
struct Zonotope {
    /// From the target to the middle.
    middle: [f64; 3],
    /// Half of each part's segment.
    parts: Vec<[f64; 3]>,
    /// Half of what the planes are off by.
    slack: [[f64; 3]; 3],
    /// No recipe's ΔE00 is below.
    floor: f64,
    /// The direction that says so.
    direction: [f64; 3],
}

/// Memory that is used again and again.
#[derive(Clone, Debug, Default)]
pub(super) struct Scratch {
    low: Vec<f64>,
    high: Vec<f64>,
    pub(super) planes: Planes,
    zonotopes: Vec<Zonotope>,
    /// Each part's range as shares of its half segment.
    shares: Vec<(f64, f64)>,
}

/// Rounds of shrinking before a box is split.
const ROUNDS: usize = 4;
/// A range that shrinks to less than this share of itself is worth another round.
const WORTH_ANOTHER: f64 = 0.8;
/// For the rounding of sums: shares are widened by this, and doses are told apart by less.
const ROUNDING: f64 = 1e-9;

impl Bounder<'_> {
    /// Shrinks `ranges` to recipes that may have a mean ΔE00 below `cut`; `None` where there are none, else what no
    /// recipe in them is below.
    pub(super) fn assess(
        &self,
        ranges: &mut [Range],
        cut: f64,
        scratch: &mut Scratch,
    ) -> Option<f64> {
        for round in 1.. {
            self.keep_to_limits(ranges)?;
            let floor = self.floor(ranges, scratch, cut);
            if floor >= cut || !self.may_contrast(scratch) {
                return None;
            }
            let before = size(ranges);
            self.shrink(ranges, cut, scratch)?;
            if round == ROUNDS || size(ranges) > WORTH_ANOTHER * before {
                self.keep_to_limits(ranges)?;
                return Some(floor);
            }
        }
        None
    }

    /// Takes out doses that no recipe within limits has.
    fn keep_to_limits(&self, ranges: &mut [Range]) -> Option<()> {
        let sure = ranges.iter().filter(|(low, _)| *low > 0).count();
        if sure > self.max_pigments {
            return None;
        }
        if sure == self.max_pigments {
            for range in ranges.iter_mut().filter(|(low, _)| *low == 0) {
                range.1 = 0;
            }
        }
        let fewest = |doses: &Doses, range: &Range| doses.span(range.0, range.1).drops;
        let all: u32 = (self.doses.iter().zip(ranges.iter()))
            .map(|(doses, range)| fewest(doses, range))
            .sum();
        if all > self.max_total_drops {
            return None;
        }
        for (doses, range) in self.doses.iter().zip(ranges) {
            let room = self.max_total_drops - (all - fewest(doses, range));
            while range.1 > range.0 && doses.list[range.1].drops > room {
                range.1 -= 1;
            }
            while range.1 > range.0 && doses.list[range.0].drops > room {
                range.0 += 1;
            }
        }
        Some(())
    }

    /// What no recipe in `ranges` is below; the planes and zonotopes stay in `scratch`.
    pub(super) fn floor(&self, ranges: &[Range], scratch: &mut Scratch, cut: f64) -> f64 {
        let Scratch {
            low,
            high,
            planes,
            zonotopes,
            ..
        } = scratch;
        low.clear();
        high.clear();
        let mut clear = (0.0, 0.0);
        for (doses, range) in self.doses.iter().zip(ranges) {
            low.push(doses.list[range.0].dispersion_g);
            high.push(doses.list[range.1].dispersion_g);
            let span = doses.span(range.0, range.1);
            clear = (clear.0 + span.clear_g.0, clear.1 + span.clear_g.1);
        }
        if self.kernel.parts() > self.doses.len() {
            low.push(clear.0);
            high.push(clear.1);
        }
        self.kernel.bound(low, high, planes);
        zonotopes.resize(self.aims.len(), Zonotope::default());
        let count = self.aims.len() as f64;
        let mut sum = 0.0;
        for (light, (aim, zonotope)) in self.aims.iter().zip(zonotopes).enumerate() {
            let (xyz, slopes) = (&planes.xyz[light], &planes.slopes[light]);
            zonotope.lay(aim.lab, xyz, slopes, low, high);
            zonotope.approach(cut * count - sum);
            sum += zonotope.floor;
        }
        sum / count
    }

    /// Whether any recipe of the box that `scratch` holds may have the contrast ratio that is asked for.
    fn may_contrast(&self, scratch: &mut Scratch) -> bool {
        let Some((kernels, contrast)) = self.contrast else {
            return true;
        };
        let Scratch {
            low, high, planes, ..
        } = scratch;
        let [black, white] = kernels.each_ref().map(|kernel| {
            kernel.bound(low, high, planes);
            let y = planes.xyz[0][1];
            let steps = planes.slopes[0].iter().zip(low.iter().zip(high.iter()));
            let reach: f64 = steps
                .map(|(slopes, (low, high))| slopes[1].abs() * (high - low) / 2.0)
                .sum();
            (
                (y.middle - reach + y.slack.0).max(y.range.0).max(0.0),
                (y.middle + reach + y.slack.1).min(y.range.1),
            )
        });
        contrast.holds(black.0 / white.1, black.1 / white.0.max(f64::MIN_POSITIVE))
    }

    /// Takes out doses with which no recipe is below `cut`.
    fn shrink(&self, ranges: &mut [Range], cut: f64, scratch: &mut Scratch) -> Option<()> {
        let Scratch {
            low,
            high,
            zonotopes,
            shares,
            ..
        } = scratch;
        shares.clear();
        shares.resize(self.doses.len(), (-1.0, 1.0));
        let sum: f64 = zonotopes.iter().map(|zonotope| zonotope.floor).sum();
        for zonotope in zonotopes.iter() {
            let reach = cut * zonotopes.len() as f64 - (sum - zonotope.floor);
            zonotope.narrow(reach, shares)?;
        }
        for ((place, doses), range) in self.doses.iter().enumerate().zip(ranges) {
            let (from, to) = shares[place];
            let (middle, half) = (
                (low[place] + high[place]) / 2.0,
                (high[place] - low[place]) / 2.0,
            );
            if half == 0.0 {
                continue;
            }
            if from > -1.0 {
                range.0 = range.0.max(doses.from(middle + half * (from - ROUNDING)));
            }
            if to < 1.0 {
                let end = doses.up_to(middle + half * (to + ROUNDING));
                range.1 = range.1.min(end.checked_sub(1)?);
            }
            if range.0 > range.1 {
                return None;
            }
        }
        Some(())
    }
}

/// How many recipes there are in `ranges`, the limits aside.
pub(super) fn size(ranges: &[Range]) -> f64 {
    ranges
        .iter()
        .map(|(low, high)| (high - low + 1) as f64)
        .product()
}

/// The cube root of CIELAB and its slope.
///
/// Source: ISO/CIE 11664-4:2019.
fn root(ratio: f64) -> (f64, f64) {
    if ratio > (6.0_f64 / 29.0).powi(3) {
        let root = ratio.cbrt();
        (root, 1.0 / (3.0 * root * root))
    } else {
        (ratio * 841.0 / 108.0 + 4.0 / 29.0, 841.0 / 108.0)
    }
}

/// L*, a*, b* of the roots, but for L*'s −16.
fn lab_step([x, y, z]: [f64; 3]) -> [f64; 3] {
    [116.0 * y, 500.0 * (x - y), 200.0 * (y - z)]
}

fn dot(one: &[f64; 3], other: &[f64; 3]) -> f64 {
    one[0] * other[0] + one[1] * other[1] + one[2] * other[2]
}

fn cross(one: &[f64; 3], other: &[f64; 3]) -> [f64; 3] {
    [
        one[1] * other[2] - one[2] * other[1],
        one[2] * other[0] - one[0] * other[2],
        one[0] * other[1] - one[1] * other[0],
    ]
}

impl Zonotope {
    /// Lays the zonotope of the planes `xyz` with their `slopes`, over parts from `low` to `high`, from `target`.
    fn lay(
        &mut self,
        target: Lab,
        xyz: &[Plane; 3],
        slopes: &[[f64; 3]],
        low: &[f64],
        high: &[f64],
    ) {
        self.parts.clear();
        self.parts.extend(
            (low.iter().zip(high))
                .zip(slopes)
                .map(|((low, high), slopes)| {
                    let half = (high - low) / 2.0;
                    slopes.map(|slope| slope * half)
                }),
        );
        let mut middle = [0.0; 3];
        let mut slack = [0.0; 3];
        let mut ends = [(0.0, 0.0); 3];
        for row in 0..3 {
            let Plane {
                middle: mut at,
                slack: mut off,
                range,
            } = xyz[row];
            if off.1 - off.0 >= range.1 - range.0 {
                let half = (range.1 - range.0) / 2.0;
                (at, off) = (range.0 + half, (-half, half));
                self.parts.iter_mut().for_each(|part| part[row] = 0.0);
            }
            let reach: f64 = self.parts.iter().map(|part| part[row].abs()).sum();
            let from = (at - reach + off.0).max(range.0);
            let to = (at + reach + off.1).min(range.1).max(from);
            let (value, slope) = root(at);
            let bend = |end: f64| value + slope * (end - at) - root(end).0;
            let bend = bend(from).max(bend(to)).max(0.0) + ROUNDING;
            let (below, above) = (slope * off.0 - bend, slope * off.1 + ROUNDING);
            middle[row] = value + (below + above) / 2.0;
            slack[row] = (above - below) / 2.0;
            ends[row] = (root(from).0 - ROUNDING, root(to).0 + ROUNDING);
            self.parts.iter_mut().for_each(|part| part[row] *= slope);
        }
        self.slack = std::array::from_fn(|row| {
            lab_step(std::array::from_fn(|other| {
                if other == row { slack[row] } else { 0.0 }
            }))
        });
        self.parts
            .iter_mut()
            .for_each(|part| *part = lab_step(*part));
        let [l, a, b] = lab_step(middle);
        let middle = [l - 16.0, a, b];

        let [x, y, z] = ends;
        let by_ends = [
            (116.0 * y.0 - 16.0, 116.0 * y.1 - 16.0),
            (500.0 * (x.0 - y.1), 500.0 * (x.1 - y.0)),
            (200.0 * (y.0 - z.1), 200.0 * (y.1 - z.0)),
        ];
        let within: [(f64, f64); 3] = std::array::from_fn(|axis| {
            let reach: f64 = (self.parts.iter().chain(&self.slack))
                .map(|part| part[axis].abs())
                .sum();
            let from = (middle[axis] - reach).max(by_ends[axis].0);
            (from, (middle[axis] + reach).min(by_ends[axis].1).max(from))
        });
        let corner = |end: fn(&(f64, f64)) -> f64| {
            let [l, a, b] = within.each_ref().map(end);
            Lab::new(l, a, b)
        };
        let floor = DifferenceFloor::new(target, corner(|end| end.0), corner(|end| end.1));
        self.middle = floor.step([
            middle[0] - target.l,
            middle[1] - target.a,
            middle[2] - target.b,
        ]);
        self.parts
            .iter_mut()
            .for_each(|part| *part = floor.step(*part));
        self.slack = self.slack.map(|part| floor.step(part));
    }

    /// Bounds the distance of the zonotope from the origin, until it is above `enough`.
    ///
    /// Each sweep moves along one segment after the other to the point nearest to the origin; the direction from
    /// there bounds the distance.
    fn approach(&mut self, enough: f64) {
        const SWEEPS: usize = 10;
        self.floor = 0.0;
        self.direction = [0.0; 3];
        let mut nearest = self.middle;
        let mut at = [0.0_f64; 64];
        for sweep in 0..SWEEPS {
            let length = dot(&nearest, &nearest).sqrt();
            if length < 1e-6 {
                return;
            }
            let direction = nearest.map(|part| part / length);
            let floor = dot(&direction, &self.middle) - self.reach(&direction) - ROUNDING;
            if floor > self.floor || sweep == 0 {
                self.floor = floor.max(0.0);
                self.direction = direction;
            }
            if self.floor > enough || length - floor < 1e-3 * length {
                return;
            }
            for (segment, at) in self.parts.iter().chain(&self.slack).zip(&mut at) {
                let square = dot(segment, segment);
                if square > 0.0 {
                    let to = (*at - dot(&nearest, segment) / square).clamp(-1.0, 1.0);
                    for axis in 0..3 {
                        nearest[axis] += (to - *at) * segment[axis];
                    }
                    *at = to;
                }
            }
        }
    }

    /// How far the zonotope reaches from its middle along a direction.
    fn reach(&self, direction: &[f64; 3]) -> f64 {
        (self.parts.iter().chain(&self.slack))
            .map(|segment| dot(direction, segment).abs())
            .sum()
    }

    /// Narrows the shares of the parts to what may lie within `reach` of the origin; `None` where nothing may.
    fn narrow(&self, reach: f64, shares: &mut [(f64, f64)]) -> Option<()> {
        const PAIRED: usize = 5;
        for axis in 0..3 {
            let mut direction = [0.0; 3];
            direction[axis] = 1.0;
            self.narrow_along(&direction, reach, shares)?;
        }
        self.narrow_along(&self.direction, reach, shares)?;
        // Directions that don't see two of the longest segments say most about the others.
        let mut longest: [(f64, usize); PAIRED] = [(0.0, usize::MAX); PAIRED];
        for place in 0..shares.len() {
            let mut next = (dot(&self.parts[place], &self.parts[place]), place);
            for known in &mut longest {
                if next.0 > known.0 {
                    std::mem::swap(known, &mut next);
                }
            }
        }
        for (rank, (_, one)) in longest.iter().enumerate() {
            for (_, other) in &longest[..rank] {
                if *one == usize::MAX || *other == usize::MAX {
                    continue;
                }
                let direction = cross(&self.parts[*one], &self.parts[*other]);
                let length = dot(&direction, &direction).sqrt();
                if length > 0.0 {
                    let direction = direction.map(|part| part / length);
                    self.narrow_along(&direction, reach, shares)?;
                }
            }
        }
        Some(())
    }

    fn narrow_along(
        &self,
        direction: &[f64; 3],
        reach: f64,
        shares: &mut [(f64, f64)],
    ) -> Option<()> {
        let middle = dot(direction, &self.middle);
        // Least and greatest of all segments together, of what is left of them.
        let mut least = 0.0;
        let mut most = 0.0;
        for (place, segment) in self.parts.iter().chain(&self.slack).enumerate() {
            let along = dot(direction, segment);
            let (from, to) = shares.get(place).copied().unwrap_or((-1.0, 1.0));
            least += (along * from).min(along * to);
            most += (along * from).max(along * to);
        }
        let (above, below) = (reach - middle - least, -reach - middle - most);
        if above < -ROUNDING || below > ROUNDING {
            return None;
        }
        for (share, segment) in shares.iter_mut().zip(&self.parts) {
            let along = dot(direction, segment);
            if along.abs() < 1e-12 {
                continue;
            }
            let (from, to) = (along * share.0, along * share.1);
            let (low, high) = (from.min(to), from.max(to));
            // Without this part the others give at least `least - low` and at most `most - high`.
            let (end, begin) = (
                (above + low + ROUNDING) / along,
                (below + high - ROUNDING) / along,
            );
            let (begin, end) = (begin.min(end), begin.max(end));
            *share = (share.0.max(begin), share.1.min(end));
            if share.0 > share.1 {
                return None;
            }
        }
        Some(())
    }
}
