//! What the recipes of a box can't be better than, and which of them can't be good enough.
//!
//! A box is a range of doses for each pigment. The kernel gives planes for X, Y, Z over it ([`Planes`]); the cube root
//! bends them a little more; so L*, a*, b* of all its recipes lie in a [`Zonotope`]. Mapped by
//! [`DifferenceFloor`](crate::colour::DifferenceFloor), the distance of that zonotope from the origin is below every
//! recipe's ΔE00. Any direction bounds that distance, and any direction whose reach is bounded from above by the best
//! recipe known bounds each pigment's share in it: so boxes shrink without being split. A cup holds only so many
//! pigments: of those that a box has from no drop up, only so many count in a direction, those that reach farthest
//! ([`Open`]).

use super::kernel::Kernel;
use super::open::{Open, Segment, axes, segments, sums};
use super::planes::Planes;
use super::zonotope::{Measure, Narrow, Spread, Walk, Zonotope};
use crate::forecast::Aim;
use crate::search::doses::Doses;
use crate::search::question::Contrast;

/// From one dose of a pigment to another, both included.
pub(crate) type Range = (usize, usize);

/// Bounds boxes of recipes.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Bounder<'a> {
    /// Of the casting under the lights of the aims.
    pub(crate) kernel: &'a Kernel,
    /// The kernels over the black card and over the white one, and what the ratio must be; `None` where nothing is
    /// asked of it.
    pub(crate) contrast: Option<(&'a [Kernel; 2], &'a Contrast)>,
    /// One for each of the kernel's lights, in their order.
    pub(crate) aims: &'a [Aim],
    /// Of each pigment, in the order in which a box has its ranges.
    pub(crate) doses: &'a [Doses],
    /// Most pigments of which there is more than none.
    pub(crate) max_pigments: usize,
    /// Most drops of all pigments together.
    pub(crate) max_total_drops: u32,
}

/// Memory that is used again and again.
#[derive(Clone, Debug, Default)]
pub(crate) struct Scratch {
    /// Least grams of each addition in the box, the clear base last.
    low: Vec<f64>,
    /// Greatest grams of each addition, likewise.
    high: Vec<f64>,
    /// Those of the casting.
    pub(crate) planes: Planes,
    /// Those over the black card and over the white one, where a contrast ratio is asked for.
    over_cards: [Planes; 2],
    /// One for each light.
    zonotopes: Vec<Zonotope>,
    /// Which additions may be out, of the box at hand.
    open: Open,
    /// Each addition's range as shares of its segment, 0 to 1.
    shares: Vec<(f64, f64)>,
    walk: Walk,
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
    pub(crate) fn assess(
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
    ///
    /// `None` where none is left: more pigments are in for sure than may be, or the fewest drops are too many.
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
    ///
    /// `cut` says from where on it need not be exact: the walk through a zonotope ends once its floor is above what the
    /// lights before it leave.
    pub(crate) fn floor(&self, ranges: &[Range], scratch: &mut Scratch, cut: f64) -> f64 {
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
        open.is_open.clear();
        let (mut clear, mut sure) = ((0.0, 0.0), 0);
        for (doses, range) in self.doses.iter().zip(ranges) {
            low.push(doses.list[range.0].dispersion_g);
            high.push(doses.list[range.1].dispersion_g);
            open.is_open.push(range.0 == 0 && range.1 > 0);
            sure += usize::from(range.0 > 0);
            let span = doses.span(range.0, range.1);
            clear = (clear.0 + span.clear_g.0, clear.1 + span.clear_g.1);
        }
        if self.kernel.additions.len() > self.doses.len() {
            low.push(clear.0);
            high.push(clear.1);
            open.is_open.push(false);
        }
        open.count = open.is_open.iter().filter(|open| **open).count();
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
    ///
    /// The least Y over one card and the greatest over the other may be of two recipes, so a box that may not is out
    /// for sure, and one that may is to be split. Where both change much, Y over black less an edge of the window times
    /// Y over white says more: that is of one recipe, and its sign tells on which side of the edge it lies.
    fn may_contrast(&self, scratch: &mut Scratch) -> bool {
        let Some((kernels, contrast)) = self.contrast else {
            return true;
        };
        let Scratch {
            low,
            high,
            over_cards,
            open,
            ..
        } = scratch;
        let amounts = (low.as_slice(), high.as_slice());
        let mut slack = [0.0; 2];
        for ((kernel, planes), slack) in kernels.iter().zip(&mut *over_cards).zip(&mut slack) {
            kernel.bound(amounts.0, amounts.1, open, planes);
            let mut spread = [0.0];
            kernel.reaches(0, &planes.spread, &[[0.0, 1.0, 0.0]], &mut spread);
            [*slack] = spread;
        }
        let along = |slopes: &[[f64; 3]]| {
            let all: Vec<Segment> = segments(slopes, amounts, open).collect();
            let (less, more) = sums(&all, open, &axes());
            (less[1], more[1])
        };
        let y = over_cards.each_ref().map(|planes| &planes.xyz[0][1]);
        let slopes = over_cards
            .each_ref()
            .map(|planes| planes.slopes[0].as_slice());
        let [black, white] = [0, 1].map(|card| {
            let (less, more) = along(slopes[card]);
            (
                (y[card].least - less - slack[card])
                    .max(y[card].range.0)
                    .max(0.0),
                (y[card].least + more + slack[card]).min(y[card].range.1),
            )
        });
        if !contrast.holds(black.0 / white.1, black.1 / white.0.max(f64::MIN_POSITIVE)) {
            return false;
        }
        let beyond = |edge: f64| {
            let both: Vec<[f64; 3]> = (slopes[0].iter().zip(slopes[1]))
                .map(|(black, white)| [0.0, black[1] - edge * white[1], 0.0])
                .collect();
            let (less, more) = along(&both);
            let (at, spread) = (y[0].least - edge * y[1].least, slack[0] + edge * slack[1]);
            (at - less - spread, at + more + spread)
        };
        let (least, most) = contrast.window;
        let reaches_the_least = beyond(least.max(0.0)).1 >= 0.0;
        reaches_the_least && beyond(most.max(0.0)).0 <= 0.0
    }

    /// Takes out doses with which no recipe is below `cut`.
    ///
    /// Under each light, a recipe may be as far off as the floors under the others leave of `cut` times their number.
    /// `None` where no dose of some pigment is left.
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
        for ((index, doses), range) in self.doses.iter().enumerate().zip(ranges) {
            let (from, to) = shares[index];
            let (least, all) = (low[index], high[index] - low[index]);
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

/// How many recipes there are in `ranges`, the limits aside.
pub(crate) fn size(ranges: &[Range]) -> f64 {
    ranges
        .iter()
        .map(|(low, high)| (high - low + 1) as f64)
        .product()
}
