//! Pigments that may be in the cup or not, of which it may hold only so many: how far recipes reach along directions.

use super::lanes::{exchange, greater};

/// Additions of which only some may be in: each pigment that a box has from no drop up, where the cup may hold fewer.
#[derive(Clone, Debug, Default)]
pub(crate) struct Open {
    /// Which additions they are.
    pub(crate) is_open: Vec<bool>,
    /// How many of them there are.
    pub(crate) count: usize,
    /// How many of them may be in.
    pub(crate) at_most: usize,
}

impl Open {
    /// Whether there are more than may be in.
    pub(crate) fn is_bound(&self) -> bool {
        self.count > self.at_most
    }
}

/// What an addition adds from its least amount to its greatest.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Segment {
    /// Which addition it is.
    pub(crate) index: usize,
    /// Whether it is one of those of which only some may be in.
    pub(crate) open: bool,
    /// What X, Y and Z relative to white change by from the least amount to the greatest; in a zonotope, the weighted
    /// step.
    pub(crate) step: [f64; 3],
}

/// The segments of the additions that have more than one amount.
pub(crate) fn segments<'a>(
    slopes: &'a [[f64; 3]],
    (low, high): (&'a [f64], &'a [f64]),
    open: &'a Open,
) -> impl Iterator<Item = Segment> + 'a {
    let amounts = low.iter().zip(high).zip(slopes).enumerate();
    amounts
        .filter(|(_, ((low, high), _))| high > low)
        .map(|(index, ((low, high), slopes))| Segment {
            index,
            open: open.is_open[index],
            step: slopes.map(|slope| slope * (high - low)),
        })
}

/// So many directions, side by side.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Directions<const MANY: usize>(pub(crate) [[f64; MANY]; 3]);

impl<const MANY: usize> Directions<MANY> {
    /// How far `step` leads along each direction: the scalar products.
    #[inline(always)]
    pub(crate) fn along(&self, step: &[f64; 3]) -> [f64; MANY] {
        let Self([x, y, z]) = self;
        let mut along = [0.0; MANY];
        for lane in 0..MANY {
            along[lane] = x[lane] * step[0] + y[lane] * step[1] + z[lane] * step[2];
        }
        along
    }
}

/// The three axes, and a fourth lane of nothing, so that they fill a register of 256 bits.
pub(crate) fn axes() -> Directions<4> {
    Directions([
        [1.0, 0.0, 0.0, 0.0],
        [0.0, 1.0, 0.0, 0.0],
        [0.0, 0.0, 1.0, 0.0],
    ])
}

/// The greatest sums of numbers from 0 up, one a addition, of which so many of the open ones count; many sums side by
/// side.
pub(crate) struct Greatest<const MANY: usize> {
    /// Of the additions that count whatever else is in.
    sums: [f64; MANY],
    /// Of the open ones the greatest in each lane, falling, one more than count; none where all count.
    open: [[f64; MANY]; MOST_COUNTED + 1],
    /// How many of the open ones count; `None` where all do.
    counted: Option<usize>,
}

/// Where more open additions than these may be in, all count: that is true, and loses little.
const MOST_COUNTED: usize = 6;

impl<const MANY: usize> Greatest<MANY> {
    /// The sums of no addition yet.
    #[inline(always)]
    pub(crate) fn new(open: &Open) -> Self {
        let bound = open.is_bound() && open.at_most <= MOST_COUNTED;
        Self {
            sums: [0.0; MANY],
            open: [[0.0; MANY]; MOST_COUNTED + 1],
            counted: bound.then_some(open.at_most),
        }
    }

    /// Takes the numbers of one addition. Those of an open one, which are from 0 up, are sorted in lane by lane.
    #[inline(always)]
    pub(crate) fn take(&mut self, numbers: &[f64; MANY], open: bool) {
        match self.counted {
            Some(counted) if open => {
                let mut next = *numbers;
                for known in &mut self.open[..=counted] {
                    exchange(known, &mut next);
                }
            }
            _ => {
                for (sum, number) in self.sums.iter_mut().zip(numbers) {
                    *sum += number;
                }
            }
        }
    }

    /// The sums of all.
    #[inline(always)]
    pub(crate) fn all(&self) -> [f64; MANY] {
        let mut sums = self.sums;
        for known in &self.open[..self.counted.unwrap_or(0)] {
            for lane in 0..MANY {
                sums[lane] += known[lane];
            }
        }
        sums
    }

    /// What the others' sums are at most, of `all`, if one addition is in, and if it isn't.
    ///
    /// `all` are the sums of all, `numbers` those with which the one was taken. It needs no second pass over the
    /// others, because one more of the open ones is kept than counts.
    #[inline(always)]
    pub(crate) fn others(
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

/// What an addition takes away at most along each direction, and adds, where its share is `from` to `to` of its step; an
/// open one may be out as well.
#[inline(always)]
pub(crate) fn gains<const MANY: usize>(
    along: &[f64; MANY],
    (from, to): (f64, f64),
    open: bool,
) -> ([f64; MANY], [f64; MANY]) {
    let (mut less, mut more) = ([0.0; MANY], [0.0; MANY]);
    for lane in 0..MANY {
        let (one, other) = (along[lane] * from, along[lane] * to);
        let (low, high) = (-greater(-one, -other), greater(one, other));
        // Of an open addition at least nothing.
        less[lane] = if open { greater(-low, 0.0) } else { -low };
        more[lane] = if open { greater(high, 0.0) } else { high };
    }
    (less, more)
}

/// How far additions take back at most along each direction, and on.
#[inline(always)]
pub(crate) fn sums<const MANY: usize>(
    segments: &[Segment],
    open: &Open,
    directions: &Directions<MANY>,
) -> ([f64; MANY], [f64; MANY]) {
    let (mut less, mut more) = (Greatest::new(open), Greatest::new(open));
    for segment in segments {
        let (one_less, one_more) =
            gains(&directions.along(&segment.step), (0.0, 1.0), segment.open);
        less.take(&one_less, segment.open);
        more.take(&one_more, segment.open);
    }
    (less.all(), more.all())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The greatest sum of `numbers` of which at most so many of the open ones count, by trying all ways.
    fn by_trying(numbers: &[(f64, bool)], at_most: usize) -> f64 {
        let sum = |ways: u32| {
            let chosen = (0..numbers.len()).filter(|index| ways >> index & 1 == 1);
            let chosen: Vec<&(f64, bool)> = chosen.map(|index| &numbers[index]).collect();
            let open = chosen.iter().filter(|(_, open)| *open).count();
            let sum = chosen.iter().map(|(number, _)| number).sum::<f64>();
            if open > at_most { 0.0 } else { sum }
        };
        (0..1 << numbers.len()).map(sum).fold(0.0, f64::max)
    }

    #[test]
    fn sums_of_segments_and_of_all_but_one_are_the_greatest_of_all_ways() {
        let numbers = [
            (3.0, true),
            (1.0, false),
            (5.0, true),
            (2.0, true),
            (4.0, true),
            (0.0, true),
        ];
        for at_most in 0..=5 {
            let open = Open {
                is_open: numbers.iter().map(|(_, open)| *open).collect(),
                count: 5,
                at_most,
            };
            let mut greatest = Greatest::<1>::new(&open);
            for (number, open) in numbers {
                greatest.take(&[number], open);
            }
            let all = greatest.all();
            assert_eq!(all[0], by_trying(&numbers, at_most), "{at_most} at most");
            for (index, (number, is_open)) in numbers.into_iter().enumerate() {
                let mut others = numbers.to_vec();
                others.remove(index);
                let (with, without) = greatest.others(&all, &[number], is_open);
                assert_eq!(without[0], by_trying(&others, at_most), "without {index}");
                if at_most > 0 || !is_open {
                    let left = at_most - usize::from(is_open);
                    assert_eq!(with[0], by_trying(&others, left), "with {index}");
                }
            }
        }
    }
}
