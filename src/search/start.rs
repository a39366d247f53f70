//! Where a search begins: good whole-drop recipes, from the best real-valued ones.

use super::candidate::Bench;
use super::neighbours::{improve, roundings};
use super::pool::Pool;
use super::proof::kernel::Kernel;
use super::question::Question;
use super::real_valued::Relaxed;

/// How many rounded starts of each number of pigments are improved drop by drop before the proof begins.
const DESCENTS: usize = 3;

/// What good recipes are made from.
#[derive(Clone, Copy)]
pub(super) struct Start<'a> {
    pub(super) question: &'a Question<'a>,
    pub(super) bench: &'a Bench<'a>,
    pub(super) kernel: &'a Kernel,
    /// The film over the black card and the white one, where its contrast ratio matters.
    pub(super) over_cards: Option<&'a [Kernel; 2]>,
    /// The best real-valued recipes, the nearest first.
    pub(super) relaxed: &'a [Relaxed],
}

impl<'a> Start<'a> {
    /// The best `size` recipes that are found without a proof.
    pub(super) fn warm_pool(&self, size: usize) -> Pool<'a> {
        let mut pool = Pool::new(
            self.question,
            self.bench,
            self.kernel,
            self.over_cards,
            size,
        );
        pool.offer(&vec![0; self.bench.drops.len()]);
        self.warm_up(&mut pool);
        pool
    }

    /// Fills the pool with good recipes: the best real-valued ones of each number of pigments, rounded, and improved
    /// drop by drop.
    ///
    /// Of each number of pigments, up to twelve real-valued recipes are rounded, and the nearest [`DESCENTS`] of all
    /// their roundings are improved. The nearest are offered first, so that most need no layer model.
    fn warm_up(&self, pool: &mut Pool<'_>) {
        let mut all: Vec<(f64, Vec<u32>)> = Vec::new();
        let nearest_first = |one: &(f64, Vec<u32>), other: &(f64, Vec<u32>)| {
            one.0.total_cmp(&other.0).then_with(|| one.1.cmp(&other.1))
        };
        for pigments in 1..=self.question.limits.max_pigments {
            let of_so_many = |relaxed: &&Relaxed| relaxed.amounts.len() == pigments;
            let mut starts: Vec<(f64, Vec<u32>)> = (self.relaxed.iter())
                .filter(of_so_many)
                .take(4 * DESCENTS)
                .flat_map(|start| roundings(self.bench, start))
                .map(|counts| self.bench.with_musts(counts, self.question))
                .filter_map(|counts| Some((pool.about(&counts)?, counts)))
                .collect();
            starts.sort_by(nearest_first);
            starts.dedup();
            let ends = starts.iter().take(DESCENTS);
            all.extend(ends.map(|start| improve(pool, start.clone())));
            all.append(&mut starts);
        }
        all.sort_by(nearest_first);
        for (_, counts) in all {
            pool.offer(&counts);
        }
    }
}
