//! What is sought: the nearest recipes, or the one of least effort among those that are near enough.

use super::candidate::Bench;
use super::effort::Effort;
use super::pool::Pool;

/// What a proof collects, and what is worth looking at for it.
pub(crate) trait Sought {
    /// What would still be taken.
    fn cut(&self) -> Cut;

    /// Takes `counts` of the drops, which are within limits, if they are sought; `delta_e` is the layer model's.
    fn take(&mut self, delta_e: f64, counts: &[u32]);
}

/// From where on a recipe is not worth looking at.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Cut {
    /// One of this mean ΔE00 or more.
    Nearest(f64),
    /// One that is no handier than what is known.
    Handiest {
        /// Recipes of less effort than `effort` are sought below this mean ΔE00;
        delta_e: f64,
        /// none of more than this effort,
        effort: Effort,
        /// and those of just that effort below this mean ΔE00.
        at_that_effort: f64,
    },
}

impl Cut {
    /// The greatest effort that is worth looking at; `None` where effort doesn't count.
    pub(crate) fn effort(self) -> Option<Effort> {
        match self {
            Self::Nearest(_) => None,
            Self::Handiest { effort, .. } => Some(effort),
        }
    }

    /// The mean ΔE00 that recipes of at least `least` effort must be below to be sought; below any where none is.
    pub(crate) fn delta_e(self, least: Effort) -> f64 {
        match self {
            Self::Nearest(delta_e) => delta_e,
            Self::Handiest {
                delta_e,
                effort,
                at_that_effort,
            } => match least.cmp(&effort) {
                std::cmp::Ordering::Less => delta_e,
                std::cmp::Ordering::Equal => at_that_effort,
                std::cmp::Ordering::Greater => f64::NEG_INFINITY,
            },
        }
    }
}

/// The nearest recipes: those that would get into a pool by more than `within`, ΔE00.
pub(crate) struct Nearest<'pool, 'a> {
    pub(crate) pool: &'pool mut Pool<'a>,
    pub(crate) within: f64,
}

impl Sought for Nearest<'_, '_> {
    fn cut(&self) -> Cut {
        Cut::Nearest(self.pool.worst() - self.within)
    }

    fn take(&mut self, delta_e: f64, counts: &[u32]) {
        self.pool.take(delta_e, counts);
    }
}

/// A recipe as the hands see it, ordered by what is better: the one of less effort, of equal ones the nearer.
#[derive(Clone, Debug, PartialEq, PartialOrd)]
pub(crate) struct Handy {
    /// What it asks of the hands.
    pub(crate) effort: Effort,
    /// Mean ΔE00 from the aims.
    pub(crate) delta_e: f64,
    /// Drops of each kind on the bench.
    pub(crate) counts: Vec<u32>,
}

/// The handiest recipe below a mean ΔE00.
pub(crate) struct Handiest<'a> {
    pub(crate) bench: &'a Bench<'a>,
    /// Recipes are sought below this mean ΔE00.
    pub(crate) limit: f64,
    /// The most effort that is looked at.
    pub(crate) most: Effort,
    /// Whether a cup without any drop is out of the question.
    pub(crate) is_tinted: bool,
    /// The handiest so far.
    pub(crate) best: Option<Handy>,
}

impl Sought for Handiest<'_> {
    fn cut(&self) -> Cut {
        let (effort, at_that_effort) = match &self.best {
            Some(best) => (best.effort, best.delta_e),
            None => (self.most, self.limit),
        };
        Cut::Handiest {
            delta_e: self.limit,
            effort,
            at_that_effort,
        }
    }

    fn take(&mut self, delta_e: f64, counts: &[u32]) {
        let effort = self.bench.effort(counts);
        if delta_e >= self.limit || effort > self.most || (self.is_tinted && effort == Effort::NONE)
        {
            return;
        }
        let next = Handy {
            effort,
            delta_e,
            counts: counts.to_vec(),
        };
        if self.best.as_ref().is_none_or(|best| next < *best) {
            self.best = Some(next);
        }
    }
}
