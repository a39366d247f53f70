//! Branch and bound: the best whole-drop recipes, and a proof that there are no better ones.
//!
//! Boxes of recipes wait by what no recipe in them is below ([`Bounder`]); the least is split first. A box of few
//! recipes is gone through one by one, by the kernel, and by the layer model itself where the kernel's answer is near
//! enough to the best known; so what is reported is the model's own ΔE00. Boxes are taken in batches of fixed size
//! that threads share, and what a batch finds counts from the next batch on: the answer and its proof don't depend on
//! the number of threads.

use std::cmp::Ordering;
use std::collections::BinaryHeap;
use std::time::Instant;

use super::bound::{Bounder, Range, Scratch, size};
use super::kernel::Kernel;
use crate::colour::{delta_e_2000, delta_e_slack};
use crate::search::candidate::Bench;
use crate::search::doses::Doses;
use crate::search::effort::Effort;
use crate::search::question::Question;
use crate::search::sought::{Cut, Sought};

/// Boxes of at most so many recipes are gone through.
const FEW: f64 = 24.0;
/// Boxes that are taken at once, whatever the number of threads.
const BATCH: usize = 192;
/// Boxes from which on a second thread is worth starting.
const WORTH_A_THREAD: usize = 48;
/// Bytes that the ranges of waiting boxes may take; with more of them a proof ends as if its time were over.
const MOST_BYTES: usize = 128 << 20;
/// Floors (ΔE00) that differ by less are as good as equal.
const HARDLY: f64 = 0.05;

/// A box of recipes.
#[derive(Clone, Debug, PartialEq)]
struct Waiting {
    /// What no recipe in it asks less of the hands than; nothing where that is not what is sought.
    effort: Effort,
    /// Mean ΔE00 that no recipe in it is below.
    floor: f64,
    /// How many recipes it holds, the limits aside.
    size: f64,
    /// A range of doses for each pigment, in the order of the bench.
    ranges: Box<[Range]>,
    /// The pigment to split by.
    widest: usize,
}

impl Eq for Waiting {}

impl Ord for Waiting {
    /// The least effort, then the least floor is the greatest, for a heap that gives the greatest first. Among floors that
    /// hardly differ the smaller box comes first, as it leads to recipes soonest; and equal ones come in a fixed order.
    fn cmp(&self, other: &Self) -> Ordering {
        let step = |waiting: &Self| (waiting.floor / HARDLY).floor();
        (other.effort.cmp(&self.effort))
            .then_with(|| step(other).total_cmp(&step(self)))
            .then_with(|| other.size.total_cmp(&self.size))
            .then_with(|| other.ranges.cmp(&self.ranges))
    }
}

impl PartialOrd for Waiting {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

/// What is known for a proof.
pub(crate) struct Prover<'a> {
    /// Has the limits, the time, and the layer model by which recipes are read in the end.
    pub(crate) question: &'a Question<'a>,
    pub(crate) bench: &'a Bench<'a>,
    /// Of the casting under the lights of the aims.
    pub(crate) kernel: &'a Kernel,
    /// The film over the black card and over the white one, where its contrast ratio matters.
    pub(crate) over_cards: Option<&'a [Kernel; 2]>,
    /// Of each pigment on the bench, in its order.
    pub(crate) doses: &'a [Doses],
    /// Most pigments that are dropped into a recipe that is sought.
    pub(crate) max_pigments: usize,
    /// When to end unproven.
    pub(crate) deadline: Option<Instant>,
}

/// What is left to look at when the time is over: no recipe that was not looked at is below either.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Left {
    /// Mean ΔE00.
    pub(crate) floor: f64,
    /// What is asked of the hands; nothing where that is not what is sought.
    pub(crate) effort: Effort,
}

/// What came of the boxes of a batch.
#[derive(Default)]
struct Found {
    /// Boxes that are left, each with a floor below the cut of its time.
    waiting: Vec<Waiting>,
    /// Recipes within limits, each with its ΔE00 by the layer model, and the count of each kind of drop.
    recipes: Vec<(f64, Vec<u32>)>,
}

impl Prover<'_> {
    /// Searches until nothing is left that is sought, or the time is over. Returns what is left then, if anything is.
    pub(crate) fn prove(&self, sought: &mut impl Sought) -> Option<Left> {
        self.prove_within(MOST_BYTES, sought)
    }

    /// The same; it ends unproven, too, where the ranges of boxes that wait take more than `most_bytes`.
    pub(super) fn prove_within(&self, most_bytes: usize, sought: &mut impl Sought) -> Option<Left> {
        let bounder = self.bounder();
        let mut scratch = Scratch::default();
        let mut waiting = BinaryHeap::new();
        let mut found = Found::default();
        let whole: Vec<Range> = (self.doses.iter())
            .zip(&self.bench.pigments)
            .map(|(doses, pigment)| {
                let must = self.question.must.contains(&pigment.name);
                let last = doses.list.len() - 1;
                (usize::from(must).min(last), last)
            })
            .collect();
        self.enter(&bounder, whole, sought.cut(), &mut scratch, &mut found);
        loop {
            for (delta_e, counts) in found.recipes.drain(..) {
                sought.take(delta_e, &counts);
            }
            let cut = sought.cut();
            let is_worth = |waiting: &Waiting| waiting.floor < cut.delta_e(waiting.effort);
            waiting.extend(found.waiting.drain(..).filter(is_worth));
            let mut batch = Vec::with_capacity(BATCH);
            while batch.len() < BATCH
                && let Some(next) = waiting.pop()
            {
                if is_worth(&next) {
                    batch.push(next);
                }
            }
            if batch.is_empty() {
                return None;
            }
            let bytes = (batch.len() + waiting.len()) * self.doses.len() * size_of::<Range>();
            if bytes > most_bytes || self.question.is_over(self.deadline) {
                let left = || batch.iter().chain(&waiting);
                return Some(Left {
                    floor: left().map(|each| each.floor).fold(f64::INFINITY, f64::min),
                    effort: left().map(|each| each.effort).fold(Effort::MOST, Ord::min),
                });
            }
            self.split_all(&bounder, &batch, cut, &mut scratch, &mut found);
        }
    }

    /// Splits the boxes of a batch, on several threads where they are many; what is found is in the batch's order.
    ///
    /// `cut` is the same for all of them, whatever the first ones turn up, so it does not matter who comes first.
    fn split_all(
        &self,
        bounder: &Bounder<'_>,
        batch: &[Waiting],
        cut: Cut,
        scratch: &mut Scratch,
        found: &mut Found,
    ) {
        let share = if batch.len() < WORTH_A_THREAD {
            batch.len()
        } else {
            batch.len().div_ceil(self.question.limits.threads.max(1))
        };
        let shares: Vec<Vec<Waiting>> = batch.chunks(share).map(<[Waiting]>::to_vec).collect();
        let split = |boxes: Vec<Waiting>, scratch: &mut Scratch, found: &mut Found| {
            for one in boxes {
                self.split(bounder, one, cut, scratch, found);
            }
        };
        std::thread::scope(|scope| {
            let mut shares = shares.into_iter();
            let mine = shares.next().unwrap_or_default();
            let others: Vec<_> = shares
                .map(|boxes| {
                    scope.spawn(move || {
                        let (mut scratch, mut found) = (Scratch::default(), Found::default());
                        split(boxes, &mut scratch, &mut found);
                        found
                    })
                })
                .collect();
            split(mine, scratch, found);
            for other in others {
                match other.join() {
                    Ok(theirs) => {
                        found.waiting.extend(theirs.waiting);
                        found.recipes.extend(theirs.recipes);
                    }
                    Err(panic) => std::panic::resume_unwind(panic),
                }
            }
        });
    }

    /// What bounds boxes within the limits of the question; it only borrows, and threads share it.
    pub(crate) fn bounder(&self) -> Bounder<'_> {
        Bounder {
            kernel: self.kernel,
            contrast: self.over_cards.zip(self.question.contrast.as_ref()),
            aims: &self.question.aims,
            doses: self.doses,
            max_pigments: self.max_pigments,
            max_total_drops: self.question.limits.max_total_drops,
        }
    }

    /// Splits a box in two by its widest pigment, at about the geometric mean.
    ///
    /// The least dose that is more than none is added before the mean is taken, and taken off after it, since a range
    /// may begin at none. Each half has at least one dose.
    fn split(
        &self,
        bounder: &Bounder<'_>,
        parent: Waiting,
        cut: Cut,
        scratch: &mut Scratch,
        found: &mut Found,
    ) {
        let Waiting { ranges, widest, .. } = parent;
        let (low, high) = ranges[widest];
        let doses = &self.doses[widest];
        let [from, to] = [low, high].map(|dose| doses.list[dose].dispersion_g);
        let least = doses.least_g();
        let middle = ((from + least) * (to + least)).sqrt() - least;
        let last = doses.up_to(middle).clamp(low + 1, high) - 1;
        let mut lower = ranges.to_vec();
        lower[widest] = (low, last);
        let mut upper = ranges.into_vec();
        upper[widest] = (last + 1, high);
        for half in [lower, upper] {
            self.enter(bounder, half, cut, scratch, found);
        }
    }

    /// Bounds a box, and lets it wait or goes through it.
    ///
    /// One or two recipes are not worth bounds; up to [`FEW`] that are left of a box are gone through at once. Nothing
    /// is kept of a box whose floor is not below `cut`.
    fn enter(
        &self,
        bounder: &Bounder<'_>,
        mut ranges: Vec<Range>,
        cut: Cut,
        scratch: &mut Scratch,
        found: &mut Found,
    ) {
        let Some(effort) = self.keep_to_effort(&mut ranges, cut) else {
            return;
        };
        if size(&ranges) <= 2.0 {
            self.go_through(&ranges, cut, found);
            return;
        }
        let Some(floor) = bounder.assess(&mut ranges, cut.delta_e(effort), scratch) else {
            return;
        };
        if size(&ranges) <= FEW {
            self.go_through(&ranges, cut, found);
            return;
        }
        let widest = self.widest(&ranges, scratch);
        found.waiting.push(Waiting {
            effort,
            floor,
            size: size(&ranges),
            ranges: ranges.into_boxed_slice(),
            widest,
        });
    }

    /// Takes doses off the ends of `ranges` that ask too much of the hands whatever the others do; returns what no recipe that
    /// is left asks less than, and `None` where none is left.
    fn keep_to_effort(&self, ranges: &mut [Range], cut: Cut) -> Option<Effort> {
        let Some(most) = cut.effort() else {
            return Some(Effort::NONE);
        };
        let least = |doses: &Doses, range: &Range| doses.span(range.0, range.1).effort;
        let all: Effort = (self.doses.iter().zip(ranges.iter()))
            .map(|(doses, range)| least(doses, range))
            .sum();
        if all > most {
            return None;
        }
        for (doses, range) in self.doses.iter().zip(ranges) {
            let room = most - (all - least(doses, range));
            while range.1 > range.0 && doses.list[range.1].effort > room {
                range.1 -= 1;
            }
            while range.1 > range.0 && doses.list[range.0].effort > room {
                range.0 += 1;
            }
        }
        Some(all)
    }

    /// The pigment that bends the planes most over its range: what is straight needs no splitting.
    fn widest(&self, ranges: &[Range], scratch: &Scratch) -> usize {
        let mut widest = (f64::NEG_INFINITY, 0);
        for (index, ((low, high), curvature)) in
            ranges.iter().zip(&scratch.planes.curvatures).enumerate()
        {
            if low < high && *curvature > widest.0 {
                widest = (*curvature, index);
            }
        }
        widest.1
    }

    /// Tries every recipe of a box.
    fn go_through(&self, ranges: &[Range], cut: Cut, found: &mut Found) {
        let mut chosen: Vec<usize> = ranges.iter().map(|(low, _)| *low).collect();
        let mut grams = vec![0.0; self.kernel.additions.len()];
        loop {
            self.try_doses(&chosen, cut, &mut grams, found);
            // The next combination, the first pigment fastest.
            let mut index = 0;
            loop {
                let Some(at) = chosen.get_mut(index) else {
                    return;
                };
                if *at < ranges[index].1 {
                    *at += 1;
                    break;
                }
                *at = ranges[index].0;
                index += 1;
            }
        }
    }

    /// Tries the recipe of the `chosen` dose of each pigment: by its drops and pigments first, then by the kernel, and
    /// by the layer model where the kernel leaves room for less than `cut`. `grams` is memory.
    fn try_doses(&self, chosen: &[usize], cut: Cut, grams: &mut [f64], found: &mut Found) {
        let (mut drops, mut pigments, mut clear_g) = (0, 0, 0.0);
        let mut effort = Effort::NONE;
        for (at, (doses, dose)) in self.doses.iter().zip(chosen).enumerate() {
            let dose = &doses.list[*dose];
            drops += dose.drops;
            pigments += usize::from(dose.drops > 0);
            clear_g += dose.clear_g;
            effort = effort + dose.effort;
            grams[at] = dose.dispersion_g;
        }
        let cut = cut.delta_e(effort);
        if drops > self.question.limits.max_total_drops
            || pigments > self.max_pigments
            || cut == f64::NEG_INFINITY
        {
            return;
        }
        if let Some(last) = grams.get_mut(self.doses.len()) {
            *last = clear_g;
        }
        if self.question.delta_e_by(self.kernel, grams).0 >= cut {
            return;
        }
        let mut counts = vec![0; self.bench.drops.len()];
        for (doses, dose) in self.doses.iter().zip(chosen) {
            for (kind, count) in doses.kinds.iter().zip(&doses.list[*dose].counts) {
                counts[*kind] = *count;
            }
        }
        if self.bench.allows(&counts, self.question)
            && (self.question).contrasts(
                &self
                    .bench
                    .coefficients(counts.iter().map(|count| f64::from(*count))),
            )
        {
            found
                .recipes
                .push((self.question.delta_e_of(self.bench, &counts), counts));
        }
    }
}

impl Question<'_> {
    /// Mean ΔE00 of `grams` of each addition by the kernel: what the model's is not below, and the kernel's own.
    pub(crate) fn delta_e_by(&self, kernel: &Kernel, grams: &[f64]) -> (f64, f64) {
        let read = kernel.read(grams);
        let (mut sum, mut error) = (0.0, 0.0);
        for (light, aim) in self.aims.iter().enumerate() {
            let (lab, off) = kernel.lab_and_error(light, &read);
            let delta_e = delta_e_2000(aim.lab, lab);
            sum += delta_e;
            error += delta_e_slack(aim.lab, lab, delta_e, off);
        }
        let count = self.aims.len() as f64;
        ((sum - error) / count, sum / count)
    }

    /// Mean ΔE00 of `counts` of the drops, by the layer model.
    pub(crate) fn delta_e_of(&self, bench: &Bench<'_>, counts: &[u32]) -> f64 {
        let amounts = counts.iter().map(|count| f64::from(*count));
        self.delta_e(&self.reading(&bench.coefficients(amounts)))
    }
}
