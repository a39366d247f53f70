//! The best recipes seen so far.

use super::candidate::Bench;
use super::proof::kernel::Kernel;
use super::question::Question;

/// The best distinct recipes seen so far, and the best of each number of pigments.
///
/// Recipes that hold the same mass of every pigment are one recipe written in several ways, with drops from the
/// bottle or of a let-down: the best of them stands for all, but where a simple one is sought, for those of no fewer
/// drops.
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
    /// By number of pigments, from none up: up to [`SIMPLE`] of each, in the same order.
    simple: Vec<Vec<Kept>>,
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

impl Kept {
    /// Drops of all kinds together, each as one, whatever its strength.
    fn drops(&self) -> u32 {
        self.counts.iter().sum()
    }
}

/// How many recipes of each number of pigments are kept to choose a simple one from.
const SIMPLE: usize = 16;

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
            simple: vec![Vec::new(); question.limits.max_pigments.min(bench.pigments.len()) + 1],
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
        let content = self.bench.content(counts);
        let pigments = content.iter().filter(|mass| **mass > 0).count();
        let kept = Kept {
            delta_e,
            counts: counts.to_vec(),
            content,
        };
        if let Some(simple) = self.simple.get_mut(pigments) {
            let no_fewer =
                |one: &Kept, other: &Kept| is_the_same(one, other) && one.drops() <= other.drops();
            keep(simple, kept.clone(), SIMPLE, no_fewer);
        }
        keep(&mut self.best, kept, self.size, is_the_same);
    }

    /// The recipe of fewest pigments, then of fewest drops, among those known of a ΔE00 of at most `limit`.
    pub(crate) fn simplest(&self, limit: f64) -> Option<&Kept> {
        let near = |kept: &&Kept| kept.delta_e <= limit;
        (self.simple.iter())
            .find_map(|kept| kept.iter().filter(near).min_by_key(|kept| kept.drops()))
    }

    /// Tries each recipe known of a ΔE00 of at most `limit` in fewer drops that hold the same: for drops of a let-down the
    /// stronger ones that they make. The search passes them by, since the let-down's own clear base moves the colour a
    /// little, perhaps nearer.
    pub(crate) fn pour_in_fewer_drops(&mut self, limit: f64) {
        let exchanges = self.bench.exchanges();
        let near = self.simple.iter().flatten();
        let near: Vec<Vec<u32>> = near
            .filter(|kept| kept.delta_e <= limit)
            .map(|kept| kept.counts.clone())
            .collect();
        for mut counts in near {
            for &(weak, strong, ratio) in &exchanges {
                for made in (1..=counts[weak] / ratio).rev() {
                    let mut fewer = counts.clone();
                    fewer[weak] -= made * ratio;
                    fewer[strong] += made;
                    if let Some(delta_e) = self.within(&fewer).filter(|delta_e| *delta_e <= limit) {
                        self.take(delta_e, &fewer);
                        counts = fewer;
                        break;
                    }
                }
            }
        }
    }

    /// The colour difference of `counts` by the layer model; none where they break a limit.
    fn within(&self, counts: &[u32]) -> Option<f64> {
        let amounts = counts.iter().map(|count| f64::from(*count));
        let keeps_to_all = self.bench.allows(counts, self.question)
            && (self.question).contrasts(&self.bench.coefficients(amounts));
        keeps_to_all.then(|| self.question.delta_e_of(self.bench, counts))
    }
}

/// Whether two recipes hold the same of every pigment.
fn is_the_same(one: &Kept, other: &Kept) -> bool {
    one.content == other.content
}

/// Puts `next` in its place among the best `size`; of two of which the better `stands_for` the other, that alone is kept.
/// Equal differences are ordered by the counts, so that the order of trying doesn't show.
fn keep(best: &mut Vec<Kept>, next: Kept, size: usize, stands_for: impl Fn(&Kept, &Kept) -> bool) {
    let before = |kept: &Kept| (kept.delta_e, &kept.counts) < (next.delta_e, &next.counts);
    let rank = best.partition_point(before);
    if rank >= size || best[..rank].iter().any(|kept| stands_for(kept, &next)) {
        return;
    }
    let mut after = best.split_off(rank);
    after.retain(|kept| !stands_for(&next, kept));
    best.push(next);
    best.append(&mut after);
    best.truncate(size);
}
