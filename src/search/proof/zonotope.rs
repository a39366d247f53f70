//! Where the colours of a box of recipes lie, as a zonotope seen from the target, and how near it comes.
//!
//! The zonotope has a segment for each addition, one for what its plane may be off by at each wavelength, three for the
//! curvature of the cube root, and three for what the weights of ΔE00 are off by. What the planes are off by is kept by
//! wavelength until a direction is given: most of it moves X, Y and Z alike, and so hardly moves a* and b*.

use super::instructions::Task;
use super::kernel::{Kernel, root};
use super::lanes::{Lanes, greater};
use super::open::{Directions, Greatest, Open, Segment, axes, gains, segments, sums};
use super::planes::Plane;
use crate::colour::{DifferenceFloor, Lab};

/// What is found out of a box under one light, weighted so that the length of a step is at most its ΔE00.
#[derive(Clone, Debug, Default)]
pub(crate) struct Zonotope {
    /// From the target to where all additions are least, what else there is being at its middle.
    least: [f64; 3],
    /// From there, the segment of each addition that is not of one amount alone.
    segments: Vec<Segment>,
    /// Half of what the roots of X, Y and Z lie below their tangents.
    curvatures: [[f64; 3]; 3],
    /// Half of what the weights of ΔE00 are off by.
    off: [[f64; 3]; 3],
    /// The steps for X, Y and Z at the middle: what the planes are off by at each wavelength goes through it.
    map: [[f64; 3]; 3],
    /// No recipe's ΔE00 is below.
    pub(crate) floor: f64,
    /// The direction that says so.
    direction: [f64; 3],
}

/// What the planes are off by at each wavelength, seen under one light.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Spread<'a> {
    /// Has the weights by which reflectances become X, Y and Z.
    pub(crate) kernel: &'a Kernel,
    /// Index of the light among the kernel's.
    pub(crate) light: usize,
    /// By how much reflectance (0–1) may lie above its plane or below.
    pub(crate) lanes: &'a Lanes,
}

/// Memory for a walk through a zonotope, a number for each of its segments.
#[derive(Clone, Debug, Default)]
pub(crate) struct Walk {
    /// The share of each at the point reached, 0 to 1.
    at: Vec<f64>,
    /// The share of each at the point that lies least far along the direction at hand: 0 or 1.
    farthest: Vec<f64>,
    /// One over the square of its length; 0 for one of no length.
    per_square: Vec<f64>,
}

/// The axes of X, Y and Z, of their roots, or of weighted steps.
const AXES: [[f64; 3]; 3] = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
/// A floor that may gain less than this share is near enough.
const CLOSE_ENOUGH: f64 = 1e-3;
/// For the rounding of sums.
const ROUNDING: f64 = 1e-9;

/// Lays a zonotope and bounds its distance.
pub(crate) struct Measure<'a> {
    /// The one to be laid; what it held before is gone.
    pub(crate) zonotope: &'a mut Zonotope,
    pub(crate) target: Lab,
    /// Planes of X, Y and Z relative to white.
    pub(crate) xyz: &'a [Plane; 3],
    /// Of the planes by each addition, per gram.
    pub(crate) slopes: &'a [[f64; 3]],
    /// Least and greatest grams of each addition.
    pub(crate) amounts: (&'a [f64], &'a [f64]),
    /// Which additions may be out, and how many of them in.
    pub(crate) open: &'a Open,
    pub(crate) spread: Spread<'a>,
    /// ΔE00 above which a floor need not be exact.
    pub(crate) enough: f64,
    pub(crate) walk: &'a mut Walk,
}

impl Task for Measure<'_> {
    type Output = ();

    #[inline(always)]
    fn run(self) {
        let (open, spread) = (self.open, self.spread);
        (self.zonotope).lay(
            self.target,
            self.xyz,
            self.slopes,
            self.amounts,
            open,
            spread,
        );
        (self.zonotope).approach(self.enough, open, spread, self.walk);
    }
}

/// Narrows the shares of a zonotope's segments.
pub(crate) struct Narrow<'a> {
    pub(crate) zonotope: &'a Zonotope,
    /// ΔE00 that a recipe must be below under this light.
    pub(crate) reach: f64,
    /// Of each addition's segment, from 0 to 1 or what another light has left of it, by the index of the addition.
    pub(crate) shares: &'a mut [(f64, f64)],
    pub(crate) open: &'a Open,
    pub(crate) spread: Spread<'a>,
}

impl Task for Narrow<'_> {
    type Output = Option<()>;

    #[inline(always)]
    fn run(self) -> Option<()> {
        (self.zonotope).narrow(self.reach, self.shares, self.open, self.spread)
    }
}

/// L*, a*, b* of the roots, but for L*'s −16: a linear map.
///
/// Source: ISO/CIE 11664-4:2019.
fn lab_step([x, y, z]: [f64; 3]) -> [f64; 3] {
    [116.0 * y, 500.0 * (x - y), 200.0 * (y - z)]
}

fn dot(one: &[f64; 3], other: &[f64; 3]) -> f64 {
    one[0] * other[0] + one[1] * other[1] + one[2] * other[2]
}

fn add(sum: &mut [f64; 3], factor: f64, step: &[f64; 3]) {
    for (sum, step) in sum.iter_mut().zip(step) {
        *sum += factor * step;
    }
}

/// The vector product: square to both, and of no length where they are parallel.
fn cross(one: &[f64; 3], other: &[f64; 3]) -> [f64; 3] {
    [
        one[1] * other[2] - one[2] * other[1],
        one[2] * other[0] - one[0] * other[2],
        one[0] * other[1] - one[1] * other[0],
    ]
}

/// Rows for columns.
fn transposed(map: &[[f64; 3]; 3]) -> [[f64; 3]; 3] {
    std::array::from_fn(|row| std::array::from_fn(|column| map[column][row]))
}

impl Zonotope {
    /// Lays the zonotope of the planes `xyz` with their `slopes`, over additions from `low` to `high`, from `target`.
    // Over eighty lines: three maps one after the other, each of the range that the one before leaves.
    #[inline(always)]
    fn lay(
        &mut self,
        target: Lab,
        xyz: &[Plane; 3],
        slopes: &[[f64; 3]],
        amounts: (&[f64], &[f64]),
        open: &Open,
        spread: Spread<'_>,
    ) {
        self.segments.clear();
        self.segments.extend(segments(slopes, amounts, open));
        let mut off = [0.0; 3];
        (spread.kernel).reaches(spread.light, spread.lanes, &AXES, &mut off);
        let mut least = [0.0; 3];
        let mut curvatures = [0.0; 3];
        let mut steepness = [0.0; 3];
        let mut ends = [(0.0, 0.0); 3];
        let (less, more) = sums(&self.segments, open, &axes());
        for row in 0..3 {
            let Plane { least: at, range } = xyz[row];
            let from = (at - less[row] - off[row]).max(range.0);
            let to = (at + more[row] + off[row]).min(range.1).max(from);
            let middle = (from + to) / 2.0;
            let (value, slope) = root(middle);
            let (root_from, root_to) = (root(from).0, root(to).0);
            let curvature = |end: f64, there: f64| value + slope * (end - middle) - there;
            let curvature = curvature(from, root_from)
                .max(curvature(to, root_to))
                .max(0.0)
                / 2.0
                + ROUNDING;
            least[row] = value + slope * (at - middle) - curvature;
            curvatures[row] = curvature;
            steepness[row] = slope;
            ends[row] = (root_from - ROUNDING, root_to + ROUNDING);
        }
        for segment in &mut self.segments {
            segment.step = lab_step(std::array::from_fn(|row| {
                segment.step[row] * steepness[row]
            }));
        }
        self.curvatures =
            std::array::from_fn(|row| lab_step(AXES[row].map(|at| at * curvatures[row])));
        self.map = std::array::from_fn(|row| lab_step(AXES[row].map(|at| at * steepness[row])));
        let [l, a, b] = lab_step(least);
        let least = [l - 16.0, a, b];

        let [x, y, z] = ends;
        let by_ends = [
            (116.0 * y.0 - 16.0, 116.0 * y.1 - 16.0),
            (500.0 * (x.0 - y.1), 500.0 * (x.1 - y.0)),
            (200.0 * (y.0 - z.1), 200.0 * (y.1 - z.0)),
        ];
        let mut off = [0.0; 3];
        let rows = transposed(&self.map);
        (spread.kernel).reaches(spread.light, spread.lanes, &rows, &mut off);
        let (less, more) = sums(&self.segments, open, &axes());
        let within: [(f64, f64); 3] = std::array::from_fn(|axis| {
            let curvatures: f64 = self
                .curvatures
                .iter()
                .map(|curvature| curvature[axis].abs())
                .sum();
            let off = off[axis] + curvatures;
            let from = (least[axis] - less[axis] - off).max(by_ends[axis].0);
            let to = (least[axis] + more[axis] + off).min(by_ends[axis].1);
            (from, to.max(from))
        });
        let corner = |end: fn(&(f64, f64)) -> f64| {
            let [l, a, b] = within.each_ref().map(end);
            Lab::new(l, a, b)
        };
        let floor = DifferenceFloor::new(target, corner(|end| end.0), corner(|end| end.1));
        let [l, a, b] = least;
        self.least = floor.position(Lab::new(l, a, b));
        let slack = floor.slack();
        self.off = std::array::from_fn(|row| AXES[row].map(|at| at * slack[row]));
        for segment in &mut self.segments {
            segment.step = floor.step(segment.step);
        }
        self.curvatures = self.curvatures.map(|curvature| floor.step(curvature));
        self.map = self.map.map(|step| floor.step(step));
    }

    /// Bounds the distance of the zonotope from the origin, until it is above `enough`.
    ///
    /// Each sweep moves towards what lies farthest that way, and then along one segment after the other to the point
    /// nearest to the origin; the direction from there bounds the distance.
    #[inline(always)]
    fn approach(&mut self, enough: f64, open: &Open, spread: Spread<'_>, walk: &mut Walk) {
        const SWEEPS: usize = 10;
        /// From this sweep on, counted from 0, a box that is known to come nearer than `enough` is left at the floor it
        /// has.
        const IN_VAIN: usize = 2;
        self.floor = 0.0;
        self.direction = [0.0; 3];
        let Walk {
            at,
            farthest,
            per_square,
        } = walk;
        // Half of each, of the open ones as much as may be.
        let share = (open.at_most as f64 / open.count.max(1) as f64).min(1.0) / 2.0;
        let share = |segment: &Segment| if segment.open { share } else { 0.5 };
        at.clear();
        at.extend(self.segments.iter().map(share));
        per_square.clear();
        per_square.extend(self.segments.iter().map(|segment| {
            let square = dot(&segment.step, &segment.step);
            if square > 0.0 { 1.0 / square } else { 0.0 }
        }));
        let mut nearest = self.least;
        for (segment, at) in self.segments.iter().zip(at.iter()) {
            add(&mut nearest, *at, &segment.step);
        }
        for sweep in 0..SWEEPS {
            let length = dot(&nearest, &nearest).sqrt();
            if length < 1e-6 {
                return;
            }
            let direction = nearest.map(|component| component / length);
            let end = self.farthest(&direction, open, spread, farthest);
            let floor = dot(&direction, &end) - ROUNDING;
            if floor > self.floor || sweep == 0 {
                self.floor = floor.max(0.0);
                self.direction = direction;
            }
            // What is nearer than it may be is not to be ruled out.
            let in_vain = length < enough && sweep >= IN_VAIN;
            if self.floor > enough || in_vain || length - floor < CLOSE_ENOUGH * length {
                return;
            }
            let step: [f64; 3] = std::array::from_fn(|axis| end[axis] - nearest[axis]);
            let share = (-dot(&nearest, &step) / dot(&step, &step)).clamp(0.0, 1.0);
            add(&mut nearest, share, &step);
            let mut left = open.at_most as f64;
            for ((at, to), segment) in at.iter_mut().zip(farthest.iter()).zip(&self.segments) {
                *at += share * (to - *at);
                left -= if segment.open { *at } else { 0.0 };
            }
            for ((here, segment), per_square) in at.iter_mut().zip(&self.segments).zip(&*per_square)
            {
                let most = if segment.open {
                    *here + left.max(0.0)
                } else {
                    1.0
                };
                let to = *here - dot(&nearest, &segment.step) * per_square;
                let to = to.max(0.0).min(most.min(1.0));
                add(&mut nearest, to - *here, &segment.step);
                left -= if segment.open { to - *here } else { 0.0 };
                *here = to;
            }
        }
    }

    /// The point that lies least far along a direction; `shares` become those of the segments there.
    #[inline(always)]
    fn farthest(
        &self,
        direction: &[f64; 3],
        open: &Open,
        spread: Spread<'_>,
        shares: &mut Vec<f64>,
    ) -> [f64; 3] {
        let seen = self.map.each_ref().map(|step| -dot(direction, step));
        let [x, y, z] = spread.kernel.farthest(spread.light, spread.lanes, seen);
        let mut end: [f64; 3] = std::array::from_fn(|axis| {
            let spread = self.map[0][axis] * x + self.map[1][axis] * y + self.map[2][axis] * z;
            self.least[axis] + spread
        });
        for curvature in self.curvatures.iter().chain(&self.off) {
            let back = -1.0_f64.copysign(dot(direction, curvature));
            add(&mut end, back, curvature);
        }
        shares.clear();
        let mut many = 0;
        for segment in &self.segments {
            let back = dot(direction, &segment.step) < 0.0;
            many += usize::from(segment.open && back);
            shares.push(if back { 1.0 } else { 0.0 });
        }
        while many > open.at_most {
            let mut weakest = (f64::NEG_INFINITY, 0);
            for (index, segment) in self.segments.iter().enumerate() {
                let along = dot(direction, &segment.step);
                if segment.open && shares[index] > 0.0 && along > weakest.0 {
                    weakest = (along, index);
                }
            }
            shares[weakest.1] = 0.0;
            many -= 1;
        }
        for (segment, share) in self.segments.iter().zip(shares.iter()) {
            add(&mut end, *share, &segment.step);
        }
        end
    }

    /// Narrows the shares of the segments to what may lie within `reach` of the origin; `None` where nothing may.
    // Over eighty lines: all of it works on the same arrays of sixteen directions, side by side in registers.
    #[inline(always)]
    fn narrow(
        &self,
        reach: f64,
        shares: &mut [(f64, f64)],
        open: &Open,
        spread: Spread<'_>,
    ) -> Option<()> {
        /// How many of the longest segments are paired: ten pairs, each with a direction square to both.
        const PAIRED: usize = 5;
        /// Three axes, the direction of the floor, ten of pairs, and two lanes of nothing to fill registers.
        const MANY: usize = 16;
        let mut all = [[0.0; 3]; MANY];
        all[..3].copy_from_slice(&AXES);
        all[3] = self.direction;
        let mut count = 4;
        // Directions that don't see two of the longest segments say most about the others.
        let mut longest: [(f64, usize); PAIRED] = [(0.0, usize::MAX); PAIRED];
        for (index, segment) in self.segments.iter().enumerate() {
            let mut next = (dot(&segment.step, &segment.step), index);
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
                let direction = cross(&self.segments[*one].step, &self.segments[*other].step);
                let length = dot(&direction, &direction).sqrt();
                if length > 0.0 {
                    all[count] = direction.map(|component| component / length);
                    count += 1;
                }
            }
        }
        let seen = all.map(|direction| self.map.each_ref().map(|step| dot(&direction, step)));
        let mut off = [0.0; MANY];
        (spread.kernel).reaches(spread.light, spread.lanes, &seen[..count], &mut off);
        let directions = Directions(std::array::from_fn(|axis| all.map(|one| one[axis])));

        let share = |segment: &Segment, shares: &[(f64, f64)]| shares[segment.index];
        let (mut less, mut more) = (Greatest::new(open), Greatest::new(open));
        for segment in &self.segments {
            let along = directions.along(&segment.step);
            let (one_less, one_more) = gains(&along, share(segment, shares), segment.open);
            less.take(&one_less, segment.open);
            more.take(&one_more, segment.open);
        }
        let (all_less, all_more) = (less.all(), more.all());
        // What all segments together may give.
        let start = directions.along(&self.least);
        let (mut above, mut below) = ([0.0; MANY], [0.0; MANY]);
        for curvature in self.curvatures.iter().chain(&self.off) {
            let along = directions.along(curvature);
            for lane in 0..MANY {
                off[lane] += along[lane].abs();
            }
        }
        let mut within = true;
        for lane in 0..MANY {
            let reach = reach + off[lane] + ROUNDING;
            above[lane] = reach - start[lane];
            below[lane] = -reach - start[lane];
            within &= (-all_less[lane] <= above[lane]) & (all_more[lane] >= below[lane]);
        }
        if !within {
            return None;
        }
        for segment in &self.segments {
            let along = directions.along(&segment.step);
            let (one_less, one_more) = gains(&along, share(segment, shares), segment.open);
            let (less_with, less_without) = less.others(&all_less, &one_less, segment.open);
            let (more_with, more_without) = more.others(&all_more, &one_more, segment.open);
            let (mut from, mut to) = ([0.0; MANY], [0.0; MANY]);
            for lane in 0..MANY {
                // What this addition may give, if it is in.
                let per = 1.0 / along[lane];
                let low = (below[lane] - more_with[lane]) * per;
                let high = (above[lane] + less_with[lane]) * per;
                let (low, high) = (-greater(-low, -high), greater(low, high));
                // Without it, the others may do.
                let needed = !segment.open
                    | (below[lane] > more_without[lane])
                    | (above[lane] < -less_without[lane]);
                let seen = along[lane].abs() > 1e-12;
                from[lane] = if seen & needed { low } else { 0.0 };
                let high = if needed { high } else { greater(high, 0.0) };
                to[lane] = if seen { high } else { 1.0 };
            }
            let from = from.into_iter().fold(0.0, greater);
            let to = -to.map(|to| -to).into_iter().fold(-1.0, greater);
            let share = &mut shares[segment.index];
            *share = (share.0.max(from), share.1.min(to));
            if share.0 > share.1 {
                return None;
            }
        }
        Some(())
    }
}

#[cfg(test)]
mod tests {
    use super::super::lanes::LANES;
    use super::super::response::{Grid, Response, Span};
    use super::*;
    use crate::colour::{Spectrum, Viewing};
    use crate::optics::Coefficients;

    #[test]
    fn a_walk_through_a_turned_cuboid_ends_at_its_distance_from_the_origin() {
        // What the planes are off by is none here, so what the kernel reads doesn't count.
        let [low, high] = [0.1, 0.2].map(|value| Coefficients {
            k: Spectrum::constant(value),
            s: Spectrum::constant(value),
        });
        let reading = |_: &Coefficients| Spectrum::constant(0.5);
        let response = Response::new(&reading, &Span { low, high }, Grid::OF_A_LOOK, 1);
        let light = Viewing::D65_10.weights();
        let kernel = Kernel::new(
            response,
            (&low, 1.0),
            [&high].into_iter(),
            [&light].into_iter(),
        );
        let spread = Spread {
            kernel: &kernel,
            light: 0,
            lanes: &[0.0; LANES],
        };
        let open = Open {
            is_open: vec![false; 3],
            count: 0,
            at_most: 3,
        };
        let mut random = fastrand::Rng::with_seed(41);
        let mut checked = 0;
        for _ in 0..2000 {
            let mut even = || 2.0 * random.f64() - 1.0;
            let axis = [even(), even(), even()];
            let first = axis.map(|at| at / dot(&axis, &axis).sqrt());
            let other = cross(&first, &[even(), even(), even()]);
            let second = other.map(|at| at / dot(&other, &other).sqrt());
            let frame = [first, second, cross(&first, &second)];
            let from = [10.0 * even(), 10.0 * even(), 10.0 * even()];
            let lengths = [8.0 * even(), 8.0 * even(), 8.0 * even()];
            let mut zonotope = Zonotope::default();
            for index in 0..3 {
                add(&mut zonotope.least, from[index], &frame[index]);
                zonotope.segments.push(Segment {
                    index,
                    open: false,
                    step: frame[index].map(|at| at * lengths[index]),
                });
            }
            // In the cuboid's own frame its distance is that of the nearest of each of its three ranges.
            let nearest = [0, 1, 2].map(|index| {
                let ends = [from[index], from[index] + lengths[index]];
                ends[0].min(ends[1]).max(-ends[0].max(ends[1])).max(0.0)
            });
            let distance = dot(&nearest, &nearest).sqrt();
            if distance < 0.1 {
                continue;
            }
            zonotope.approach(0.999 * distance, &open, spread, &mut Walk::default());
            let floor = zonotope.floor;
            assert!(
                floor <= distance && floor > 0.998 * distance,
                "{floor} under {distance}: {zonotope:?}"
            );
            checked += 1;
        }
        assert!(checked > 1000, "{checked} lie off the origin");
    }
}
