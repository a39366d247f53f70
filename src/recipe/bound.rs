//! What the recipes of a box can't be better than, and which of them can't be good enough.
//!
//! A box is a range of doses for each pigment. The kernel gives planes for X, Y, Z over it; the cube root bends them
//! a little more; so L*, a*, b* of all its recipes lie in a zonotope: a middle, a segment for each pigment, one for
//! what the planes may be off by at each wavelength, and three for the bend. Mapped by [`DifferenceFloor`], the distance of that zonotope from the origin
//! is below every recipe's ΔE00. Any direction bounds that distance, and any direction whose reach is bounded from
//! above by the best recipe known bounds each pigment's share in it: so boxes shrink without being split.

use super::doses::Doses;
use super::kernel::{Kernel, Open, Plane, Planes, Task, root};
use super::lanes::{Lanes, exchange, greater};
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
    /// From the target to where all parts are least, what else there is being at its middle.
    least: [f64; 3],
    /// From there, the segment of each part that is not one amount alone.
    parts: Vec<Segment>,
    /// Half of what the roots of X, Y and Z bend.
    bends: [[f64; 3]; 3],
    /// Half of what the weights of ΔE00 are off by.
    off: [[f64; 3]; 3],
    /// The steps for X, Y and Z at the middle: what the planes are off by at each wavelength goes through it.
    map: [[f64; 3]; 3],
    /// No recipe's ΔE00 is below.
    floor: f64,
    /// The direction that says so.
    direction: [f64; 3],
}

/// What a part adds from its least amount to its greatest.
#[derive(Clone, Copy, Debug)]
struct Segment {
    /// Which part it is.
    place: usize,
    /// Whether it is one of those of which only some may be in.
    open: bool,
    step: [f64; 3],
}

/// What the planes are off by at each wavelength, seen under one light.
#[derive(Clone, Copy)]
struct Spread<'a> {
    kernel: &'a Kernel,
    light: usize,
    lanes: &'a Lanes,
}

/// Memory that is used again and again.
#[derive(Clone, Debug, Default)]
pub(super) struct Scratch {
    low: Vec<f64>,
    high: Vec<f64>,
    pub(super) planes: Planes,
    zonotopes: Vec<Zonotope>,
    open: Open,
    /// Each part's range as shares of its segment.
    shares: Vec<(f64, f64)>,
    walk: Walk,
}

/// A walk through a zonotope: shares of its parts' segments, those that lead farthest, and one over
/// the squares of their lengths.
#[derive(Clone, Debug, Default)]
struct Walk {
    at: Vec<f64>,
    farthest: Vec<f64>,
    per_square: Vec<f64>,
}

/// Rounds of shrinking before a box is split.
const ROUNDS: usize = 4;
/// A range that shrinks to less than this share of itself is worth another round.
const WORTH_ANOTHER: f64 = 0.8;
/// A floor that may gain less than this share is near enough.
const CLOSE_ENOUGH: f64 = 1e-3;
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
            open,
            walk,
            ..
        } = scratch;
        low.clear();
        high.clear();
        open.parts.clear();
        let (mut clear, mut sure) = ((0.0, 0.0), 0);
        for (doses, range) in self.doses.iter().zip(ranges) {
            low.push(doses.list[range.0].dispersion_g);
            high.push(doses.list[range.1].dispersion_g);
            open.parts.push(range.0 == 0 && range.1 > 0);
            sure += usize::from(range.0 > 0);
            let span = doses.span(range.0, range.1);
            clear = (clear.0 + span.clear_g.0, clear.1 + span.clear_g.1);
        }
        if self.kernel.parts() > self.doses.len() {
            low.push(clear.0);
            high.push(clear.1);
            open.parts.push(false);
        }
        open.count = open.parts.iter().filter(|open| **open).count();
        open.at_most = self.max_pigments.saturating_sub(sure);
        self.kernel.bound(low, high, open, planes);
        zonotopes.resize(self.aims.len(), Zonotope::default());
        let count = self.aims.len() as f64;
        let mut sum = 0.0;
        for (light, (aim, zonotope)) in self.aims.iter().zip(zonotopes).enumerate() {
            let spread = Spread {
                kernel: self.kernel,
                light,
                lanes: &planes.spread,
            };
            self.kernel.instructions.run(Measure {
                zonotope,
                target: aim.lab,
                xyz: &planes.xyz[light],
                slopes: &planes.slopes[light],
                amounts: (low, high),
                open,
                spread,
                enough: cut * count - sum,
                walk,
            });
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
            low,
            high,
            planes,
            open,
            ..
        } = scratch;
        let [black, white] = kernels.each_ref().map(|kernel| {
            kernel.bound(low, high, open, planes);
            let y = planes.xyz[0][1];
            let mut spread = [0.0];
            kernel.reaches(0, &planes.spread, &[[0.0, 1.0, 0.0]], &mut spread);
            let parts: Vec<Segment> = segments(&planes.slopes[0], (low, high), open).collect();
            let (less, more) = sums(&parts, open, &axes());
            (
                (y.least - less[1] - spread[0]).max(y.range.0).max(0.0),
                (y.least + more[1] + spread[0]).min(y.range.1),
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
            planes,
            open,
            ..
        } = scratch;
        shares.clear();
        shares.resize(low.len(), (0.0, 1.0));
        let sum: f64 = zonotopes.iter().map(|zonotope| zonotope.floor).sum();
        for (light, zonotope) in zonotopes.iter().enumerate() {
            let reach = cut * zonotopes.len() as f64 - (sum - zonotope.floor);
            let spread = Spread {
                kernel: self.kernel,
                light,
                lanes: &planes.spread,
            };
            let narrow = Narrow {
                zonotope,
                reach,
                shares,
                open,
                spread,
            };
            self.kernel.instructions.run(narrow)?;
        }
        for ((place, doses), range) in self.doses.iter().enumerate().zip(ranges) {
            let (from, to) = shares[place];
            let (least, all) = (low[place], high[place] - low[place]);
            if all == 0.0 {
                continue;
            }
            if from > 0.0 {
                range.0 = range.0.max(doses.from(least + all * (from - ROUNDING)));
            }
            if to < 1.0 {
                let end = doses.up_to(least + all * (to + ROUNDING));
                range.1 = range.1.min(end.checked_sub(1)?);
            }
            if range.0 > range.1 {
                return None;
            }
        }
        Some(())
    }
}

/// Lays a zonotope and bounds its distance.
struct Measure<'a> {
    zonotope: &'a mut Zonotope,
    target: Lab,
    xyz: &'a [Plane; 3],
    slopes: &'a [[f64; 3]],
    amounts: (&'a [f64], &'a [f64]),
    open: &'a Open,
    spread: Spread<'a>,
    enough: f64,
    walk: &'a mut Walk,
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

struct Narrow<'a> {
    zonotope: &'a Zonotope,
    reach: f64,
    shares: &'a mut [(f64, f64)],
    open: &'a Open,
    spread: Spread<'a>,
}

impl Task for Narrow<'_> {
    type Output = Option<()>;

    #[inline(always)]
    fn run(self) -> Option<()> {
        (self.zonotope).narrow(self.reach, self.shares, self.open, self.spread)
    }
}

/// How many recipes there are in `ranges`, the limits aside.
pub(super) fn size(ranges: &[Range]) -> f64 {
    ranges
        .iter()
        .map(|(low, high)| (high - low + 1) as f64)
        .product()
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

/// Rows for columns.
fn transposed(map: &[[f64; 3]; 3]) -> [[f64; 3]; 3] {
    std::array::from_fn(|row| std::array::from_fn(|column| map[column][row]))
}

/// The segments of the parts that have more than one amount.
fn segments<'a>(
    slopes: &'a [[f64; 3]],
    (low, high): (&'a [f64], &'a [f64]),
    open: &'a Open,
) -> impl Iterator<Item = Segment> + 'a {
    let amounts = low.iter().zip(high).zip(slopes).enumerate();
    amounts
        .filter(|(_, ((low, high), _))| high > low)
        .map(|(place, ((low, high), slopes))| Segment {
            place,
            open: open.parts[place],
            step: slopes.map(|slope| slope * (high - low)),
        })
}

/// So many directions, side by side.
#[derive(Clone, Copy, Debug)]
struct Directions<const MANY: usize>([[f64; MANY]; 3]);

impl<const MANY: usize> Directions<MANY> {
    #[inline(always)]
    fn along(&self, step: &[f64; 3]) -> [f64; MANY] {
        let Self([x, y, z]) = self;
        let mut along = [0.0; MANY];
        for lane in 0..MANY {
            along[lane] = x[lane] * step[0] + y[lane] * step[1] + z[lane] * step[2];
        }
        along
    }
}

/// The three axes.
fn axes() -> Directions<4> {
    Directions([
        [1.0, 0.0, 0.0, 0.0],
        [0.0, 1.0, 0.0, 0.0],
        [0.0, 0.0, 1.0, 0.0],
    ])
}

/// The greatest sums of numbers from 0 up, one a part, of which so many of the open ones count; many sums side by
/// side.
struct Greatest<const MANY: usize> {
    sums: [f64; MANY],
    /// Of the open ones the greatest, one more than count; none where all count.
    open: [[f64; MANY]; MOST_COUNTED + 1],
    counted: Option<usize>,
}

/// Where more open parts than these may be in, all count: that is true, and loses little.
const MOST_COUNTED: usize = 6;

impl<const MANY: usize> Greatest<MANY> {
    #[inline(always)]
    fn new(open: &Open) -> Self {
        let bound = open.is_bound() && open.at_most <= MOST_COUNTED;
        Self {
            sums: [0.0; MANY],
            open: [[0.0; MANY]; MOST_COUNTED + 1],
            counted: bound.then_some(open.at_most),
        }
    }

    #[inline(always)]
    fn take(&mut self, numbers: &[f64; MANY], open: bool) {
        match self.counted {
            Some(counted) if open => {
                let mut next = *numbers;
                for known in &mut self.open[..=counted] {
                    exchange(known, &mut next);
                }
            }
            _ => {
                for lane in 0..MANY {
                    self.sums[lane] += numbers[lane];
                }
            }
        }
    }

    /// The sums of all.
    #[inline(always)]
    fn all(&self) -> [f64; MANY] {
        let mut sums = self.sums;
        for known in &self.open[..self.counted.unwrap_or(0)] {
            for lane in 0..MANY {
                sums[lane] += known[lane];
            }
        }
        sums
    }

    /// What the others' sums are at most, of `all`, if one part is in, and if it isn't.
    #[inline(always)]
    fn others(
        &self,
        all: &[f64; MANY],
        numbers: &[f64; MANY],
        open: bool,
    ) -> ([f64; MANY], [f64; MANY]) {
        let (mut with, mut without) = (*all, *all);
        match self.counted {
            Some(0) if open => {}
            Some(counted) if open => {
                let (last, next) = (&self.open[counted - 1], &self.open[counted]);
                for lane in 0..MANY {
                    // It counts, or the last that does would have to go for it.
                    let counts = numbers[lane] >= last[lane];
                    with[lane] -= if counts { numbers[lane] } else { last[lane] };
                    without[lane] -= if counts {
                        numbers[lane] - next[lane]
                    } else {
                        0.0
                    };
                }
            }
            _ => {
                for lane in 0..MANY {
                    with[lane] -= numbers[lane];
                }
                without = with;
            }
        }
        (with, without)
    }
}

/// What a part takes away at most, and adds, of the `share` that is left of it.
#[inline(always)]
fn gains<const MANY: usize>(
    along: &[f64; MANY],
    (from, to): (f64, f64),
    open: bool,
) -> ([f64; MANY], [f64; MANY]) {
    let (mut less, mut more) = ([0.0; MANY], [0.0; MANY]);
    for lane in 0..MANY {
        let (one, other) = (along[lane] * from, along[lane] * to);
        let (low, high) = (-greater(-one, -other), greater(one, other));
        // Of an open part at least nothing.
        less[lane] = if open { greater(-low, 0.0) } else { -low };
        more[lane] = if open { greater(high, 0.0) } else { high };
    }
    (less, more)
}

/// How far parts take back at most along each direction, and on.
#[inline(always)]
fn sums<const MANY: usize>(
    parts: &[Segment],
    open: &Open,
    directions: &Directions<MANY>,
) -> ([f64; MANY], [f64; MANY]) {
    let (mut less, mut more) = (Greatest::new(open), Greatest::new(open));
    for part in parts {
        let (one_less, one_more) = gains(&directions.along(&part.step), (0.0, 1.0), part.open);
        less.take(&one_less, part.open);
        more.take(&one_more, part.open);
    }
    (less.all(), more.all())
}

impl Zonotope {
    /// Lays the zonotope of the planes `xyz` with their `slopes`, over parts from `low` to `high`, from `target`.
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
        const AXES: [[f64; 3]; 3] = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
        self.parts.clear();
        self.parts.extend(segments(slopes, amounts, open));
        let mut off = [0.0; 3];
        (spread.kernel).reaches(spread.light, spread.lanes, &AXES, &mut off);
        let mut least = [0.0; 3];
        let mut bends = [0.0; 3];
        let mut steepness = [0.0; 3];
        let mut ends = [(0.0, 0.0); 3];
        let (less, more) = sums(&self.parts, open, &axes());
        for row in 0..3 {
            let Plane { least: at, range } = xyz[row];
            let from = (at - less[row] - off[row]).max(range.0);
            let to = (at + more[row] + off[row]).min(range.1).max(from);
            let middle = (from + to) / 2.0;
            let (value, slope) = root(middle);
            let (root_from, root_to) = (root(from).0, root(to).0);
            let bend = |end: f64, there: f64| value + slope * (end - middle) - there;
            let bend = bend(from, root_from).max(bend(to, root_to)).max(0.0) / 2.0 + ROUNDING;
            least[row] = value + slope * (at - middle) - bend;
            bends[row] = bend;
            steepness[row] = slope;
            ends[row] = (root_from - ROUNDING, root_to + ROUNDING);
        }
        for part in &mut self.parts {
            part.step = lab_step(std::array::from_fn(|row| part.step[row] * steepness[row]));
        }
        self.bends = std::array::from_fn(|row| lab_step(AXES[row].map(|at| at * bends[row])));
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
        let (less, more) = sums(&self.parts, open, &axes());
        let within: [(f64, f64); 3] = std::array::from_fn(|axis| {
            let bends: f64 = self.bends.iter().map(|bend| bend[axis].abs()).sum();
            let off = off[axis] + bends;
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
        self.least = floor.place(Lab::new(l, a, b));
        let slack = floor.slack();
        self.off = std::array::from_fn(|row| AXES[row].map(|at| at * slack[row]));
        for part in &mut self.parts {
            part.step = floor.step(part.step);
        }
        self.bends = self.bends.map(|part| floor.step(part));
        self.map = self.map.map(|part| floor.step(part));
    }

    /// Bounds the distance of the zonotope from the origin, until it is above `enough`.
    ///
    /// Each sweep moves towards what lies farthest that way, and then along one segment after the other to the point
    /// nearest to the origin; the direction from there bounds the distance.
    #[inline(always)]
    fn approach(&mut self, enough: f64, open: &Open, spread: Spread<'_>, walk: &mut Walk) {
        const SWEEPS: usize = 10;
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
        let share = |part: &Segment| if part.open { share } else { 0.5 };
        at.clear();
        at.extend(self.parts.iter().map(share));
        per_square.clear();
        per_square.extend(self.parts.iter().map(|part| {
            let square = dot(&part.step, &part.step);
            if square > 0.0 { 1.0 / square } else { 0.0 }
        }));
        let mut nearest = self.least;
        for (part, at) in self.parts.iter().zip(at.iter()) {
            for axis in 0..3 {
                nearest[axis] += at * part.step[axis];
            }
        }
        for sweep in 0..SWEEPS {
            let length = dot(&nearest, &nearest).sqrt();
            if length < 1e-6 {
                return;
            }
            let direction = nearest.map(|part| part / length);
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
            for axis in 0..3 {
                nearest[axis] += share * step[axis];
            }
            let mut left = open.at_most as f64;
            for ((at, to), part) in at.iter_mut().zip(farthest.iter()).zip(&self.parts) {
                *at += share * (to - *at);
                left -= if part.open { *at } else { 0.0 };
            }
            for ((here, part), per_square) in at.iter_mut().zip(&self.parts).zip(&*per_square) {
                let most = if part.open {
                    *here + left.max(0.0)
                } else {
                    1.0
                };
                let to = *here - dot(&nearest, &part.step) * per_square;
                let to = to.max(0.0).min(most.min(1.0));
                for axis in 0..3 {
                    nearest[axis] += (to - *here) * part.step[axis];
                }
                left -= if part.open { to - *here } else { 0.0 };
                *here = to;
            }
        }
    }

    /// The point that lies least far along a direction; `shares` become those of the parts there.
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
        for bend in self.bends.iter().chain(&self.off) {
            let back = -1.0_f64.copysign(dot(direction, bend));
            for axis in 0..3 {
                end[axis] += back * bend[axis];
            }
        }
        shares.clear();
        let mut many = 0;
        for part in &self.parts {
            let back = dot(direction, &part.step) < 0.0;
            many += usize::from(part.open && back);
            shares.push(if back { 1.0 } else { 0.0 });
        }
        while many > open.at_most {
            let mut weakest = (f64::NEG_INFINITY, 0);
            for (place, part) in self.parts.iter().enumerate() {
                let along = dot(direction, &part.step);
                if part.open && shares[place] > 0.0 && along > weakest.0 {
                    weakest = (along, place);
                }
            }
            shares[weakest.1] = 0.0;
            many -= 1;
        }
        for (part, share) in self.parts.iter().zip(shares.iter()) {
            for axis in 0..3 {
                end[axis] += share * part.step[axis];
            }
        }
        end
    }

    /// Narrows the shares of the parts to what may lie within `reach` of the origin; `None` where nothing may.
    #[inline(always)]
    fn narrow(
        &self,
        reach: f64,
        shares: &mut [(f64, f64)],
        open: &Open,
        spread: Spread<'_>,
    ) -> Option<()> {
        const PAIRED: usize = 5;
        const MANY: usize = 16;
        let mut all = [[0.0; 3]; MANY];
        for axis in 0..3 {
            all[axis][axis] = 1.0;
        }
        all[3] = self.direction;
        let mut count = 4;
        // Directions that don't see two of the longest segments say most about the others.
        let mut longest: [(f64, usize); PAIRED] = [(0.0, usize::MAX); PAIRED];
        for (place, part) in self.parts.iter().enumerate() {
            let mut next = (dot(&part.step, &part.step), place);
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
                let direction = cross(&self.parts[*one].step, &self.parts[*other].step);
                let length = dot(&direction, &direction).sqrt();
                if length > 0.0 {
                    all[count] = direction.map(|part| part / length);
                    count += 1;
                }
            }
        }
        let seen = all.map(|direction| self.map.each_ref().map(|step| dot(&direction, step)));
        let mut off = [0.0; MANY];
        (spread.kernel).reaches(spread.light, spread.lanes, &seen[..count], &mut off);
        let directions = Directions(std::array::from_fn(|axis| all.map(|one| one[axis])));

        let share = |part: &Segment, shares: &[(f64, f64)]| shares[part.place];
        let (mut less, mut more) = (Greatest::new(open), Greatest::new(open));
        for part in &self.parts {
            let along = directions.along(&part.step);
            let (one_less, one_more) = gains(&along, share(part, shares), part.open);
            less.take(&one_less, part.open);
            more.take(&one_more, part.open);
        }
        let (all_less, all_more) = (less.all(), more.all());
        // What all parts together may give.
        let start = directions.along(&self.least);
        let (mut above, mut below) = ([0.0; MANY], [0.0; MANY]);
        for bend in self.bends.iter().chain(&self.off) {
            let along = directions.along(bend);
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
        for part in &self.parts {
            let along = directions.along(&part.step);
            let (one_less, one_more) = gains(&along, share(part, shares), part.open);
            let (less_with, less_without) = less.others(&all_less, &one_less, part.open);
            let (more_with, more_without) = more.others(&all_more, &one_more, part.open);
            let (mut from, mut to) = ([0.0; MANY], [0.0; MANY]);
            for lane in 0..MANY {
                // What this part may give, if it is in.
                let per = 1.0 / along[lane];
                let low = (below[lane] - more_with[lane]) * per;
                let high = (above[lane] + less_with[lane]) * per;
                let (low, high) = (-greater(-low, -high), greater(low, high));
                // Without it, the others may do.
                let needed = !part.open
                    | (below[lane] > more_without[lane])
                    | (above[lane] < -less_without[lane]);
                let seen = along[lane].abs() > 1e-12;
                from[lane] = if seen & needed { low } else { 0.0 };
                let high = if needed { high } else { greater(high, 0.0) };
                to[lane] = if seen { high } else { 1.0 };
            }
            let from = from.into_iter().fold(0.0, greater);
            let to = -to.map(|to| -to).into_iter().fold(-1.0, greater);
            let share = &mut shares[part.place];
            *share = (share.0.max(from), share.1.min(to));
            if share.0 > share.1 {
                return None;
            }
        }
        Some(())
    }
}
