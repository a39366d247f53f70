//! The best recipes seen so far.

use super::candidate::Bench;
use super::proof::kernel::Kernel;
use super::question::Question;

/// The best distinct recipes seen so far.
///
/// Recipes that hold the same mass of every pigment are one recipe written in several ways, with drops from the
/// bottle or of a let-down: the best of them stands for all.
pub(crate) struct Pool<'a> {
    /// Has the limits, the aims, and the layer model that has the last word.
    pub(crate) question: &'a Question<'a>,
    pub(crate) bench: &'a Bench<'a>,
    /// What tells most recipes apart without the layer model.
    pub(crate) kernel: &'a Kernel,
    /// How many recipes `best` may hold: as many as are asked for.
    size: usize,
    /// The nearest to the aims first; of equal ones that of the lesser counts.
    best: Vec<Kept>,
}

/// A recipe that was kept.
#[derive(Clone, Debug)]
pub(crate) struct Kept {
    /// Mean ΔE00 from the aims.
    pub(crate) delta_e: f64,
    /// Drops of each kind on the bench.
    pub(crate) counts: Vec<u32>,
    /// Dispersion of each pigment, in grains of a nanogram.
    pub(crate) content: Vec<u64>,
}

impl<'a> Pool<'a> {
    /// An empty pool that is to hold the best `size` recipes, at least one.
    pub(crate) fn new(
        question: &'a Question<'a>,
        bench: &'a Bench<'a>,
        kernel: &'a Kernel,
        size: usize,
    ) -> Self {
        Self {
            question,
            bench,
            kernel,
            size,
            best: Vec::with_capacity(size + 1),
        }
    }

    /// The recipes, the best first.
    pub(crate) fn best(&self) -> &[Kept] {
        &self.best
    }

    /// The ΔE00 below which a recipe gets into the pool; infinite until it is full.
    pub(crate) fn worst(&self) -> f64 {
        match self.best.last() {
            Some(last) if self.best.len() == self.size => last.delta_e,
            _ => f64::INFINITY,
        }
    }

    /// Tries `counts`; returns about their colour difference, or none where they break a limit.
    ///
    /// The layer model is asked only where the floor under the kernel's difference would get the recipe in, so most
    /// offers cost one reading of the kernel.
    pub(crate) fn offer(&mut self, counts: &[u32]) -> Option<f64> {
        if !self.bench.allows(counts, self.question) {
            return None;
        }
        let amounts = counts.iter().map(|count| f64::from(*count));
        let mut grams = self.bench.grams(amounts);
        grams.truncate(self.kernel.additions.len());
        let (floor, about) = self.question.delta_e_by(self.kernel, &grams);
        let contrasts = || {
            let amounts = counts.iter().map(|count| f64::from(*count));
            self.question.contrasts(&self.bench.coefficients(amounts))
        };
        if floor < self.worst() && contrasts() {
            self.take(self.question.delta_e_of(self.bench, counts), counts);
        }
        Some(about)
    }

    /// Keeps `counts`, which are within limits, if they are among the best; `delta_e` is the layer model's.
    pub(crate) fn take(&mut self, delta_e: f64, counts: &[u32]) {
        let kept = Kept {
            delta_e,
            counts: counts.to_vec(),
            content: self.bench.content(counts),
        };
        keep(&mut self.best, kept, self.size);
    }
}

/// Puts `next` in its place among the best `size`; of two that hold the same of every pigment the better alone is kept.
/// Equal differences are ordered by the counts, so that the order of trying doesn't show.
fn keep(best: &mut Vec<Kept>, next: Kept, size: usize) {
    let is_the_same = |kept: &Kept| kept.content == next.content;
    let before = |kept: &Kept| (kept.delta_e, &kept.counts) < (next.delta_e, &next.counts);
    let rank = best.partition_point(before);
    if rank >= size || best[..rank].iter().any(is_the_same) {
        return;
    }
    let mut after = best.split_off(rank);
    after.retain(|kept| !is_the_same(kept));
    best.push(next);
    best.append(&mut after);
    best.truncate(size);
}
