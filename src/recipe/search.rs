//! The whole-drop search: a real-valued start, rounded, then improved drop by drop.
//!
//! It finds good recipes fast but proves next to nothing: the only bound it knows is that no colour difference
//! is below zero. An [`Answer`] says so by its gap.

use std::time::Instant;

use super::candidate::{Bench, dose, whole_number};
use super::question::Question;
use super::relaxed::{Relaxed, relax};
use crate::colour::delta_e_2000;
use crate::error::{Error, Result};
use crate::materials::{Amount, Colorant, Mix};

/// What a search found.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// Recipes, the best first; at least one.
    pub recipes: Vec<Recipe>,
    /// How far the best recipe may be from the best there is, in ΔE00.
    pub gap: f64,
    /// Whether that gap is at most what was asked for.
    pub proven: bool,
}

/// Drops for one cup.
#[derive(Clone, Debug, PartialEq)]
pub struct Recipe {
    /// Whole drops, none of them zero, in the order of the shelf.
    pub drops: Vec<(Colorant, u32)>,
    /// Mean ΔE00 from the aims.
    pub delta_e: f64,
}

impl Recipe {
    /// The drops as a mix, after `fixed`.
    ///
    /// # Errors
    /// A drop of what is in `fixed` already.
    pub fn mix(&self, fixed: &Mix) -> Result<Mix> {
        let drops = self
            .drops
            .iter()
            .map(|(colorant, count)| (colorant.clone(), Amount::Drops((*count).into())));
        Mix::new(drops.chain(fixed.entries().iter().cloned()).collect())
    }
}

/// A drop that moves the colour by more than this (ΔE00) is too coarse to be the finest there is.
const COARSE_DROP: f64 = 0.5;

/// Parts of the let-down that joins in where a drop is too coarse.
const LET_DOWN_PARTS: f64 = 10.0;

/// How many rounded starts are improved drop by drop.
const DESCENTS: usize = 16;

impl Question<'_> {
    /// Finds whole-drop recipes.
    ///
    /// # Errors
    /// No colorant at hand; a colorant that is not on the shelf, is not counted in drops, or is named twice.
    pub fn search(&self) -> Result<Answer> {
        if self.colorants.is_empty() {
            return Err(
                Error::input("no pigment to choose from").mend("name at least one that is dropped")
            );
        }
        let deadline = self
            .limits
            .time_limit
            // A moment beyond what the clock can tell never comes.
            .and_then(|limit| Instant::now().checked_add(limit));
        let neat = Bench::new(self, &self.colorants)?;
        let relaxed = relax(self, &neat);
        let bench = if self.let_downs {
            Bench::new(self, &self.with_let_downs(&neat, &relaxed))?
        } else {
            neat
        };

        let mut pool = Pool::new(self, &bench, DESCENTS.max(self.limits.top));
        pool.offer(&vec![0; bench.drops.len()]);
        for start in &relaxed {
            for counts in roundings(&bench, start) {
                pool.offer(&counts);
            }
        }
        for (_, counts) in pool.best.clone().into_iter().take(DESCENTS) {
            improve(&mut pool, counts, deadline);
        }

        let recipes: Vec<Recipe> = pool
            .best
            .iter()
            .take(self.limits.top.max(1))
            .map(|(delta_e, counts)| Recipe {
                drops: bench
                    .drops
                    .iter()
                    .zip(counts)
                    .filter(|(_, count)| **count > 0)
                    .map(|(drop, count)| (drop.colorant.clone(), *count))
                    .collect(),
                delta_e: *delta_e,
            })
            .collect();
        let gap = recipes.first().map_or(f64::INFINITY, |best| best.delta_e);
        Ok(Answer {
            recipes,
            gap,
            proven: gap <= self.limits.within,
        })
    }

    /// The colorants, and a let-down for each pigment whose drop is too coarse at the best real-valued recipe.
    fn with_let_downs(&self, bench: &Bench<'_>, relaxed: &[Relaxed]) -> Vec<Colorant> {
        let mut amounts = vec![0.0; bench.drops.len()];
        for (pigment, amount) in relaxed.first().map_or(&[][..], |best| &best.amounts) {
            amounts[bench.pigments[*pigment].strongest] = *amount;
        }
        let lab = |amounts: &[f64]| {
            self.aims[0]
                .weights
                .lab(&self.reading(&bench.coefficients(amounts.iter().copied())))
        };
        let here = lab(&amounts);
        let mut colorants = self.colorants.clone();
        for (place, drop) in bench.drops.iter().enumerate() {
            let mut more = amounts.clone();
            more[place] += 1.0;
            if drop.colorant.let_down == 1.0 && delta_e_2000(here, lab(&more)) > COARSE_DROP {
                colorants.push(Colorant {
                    let_down: LET_DOWN_PARTS,
                    ..drop.colorant.clone()
                });
            }
        }
        colorants
    }
}

/// The best distinct recipes seen so far.
struct Pool<'a> {
    question: &'a Question<'a>,
    bench: &'a Bench<'a>,
    size: usize,
    best: Vec<(f64, Vec<u32>)>,
}

impl<'a> Pool<'a> {
    fn new(question: &'a Question<'a>, bench: &'a Bench<'a>, size: usize) -> Self {
        Self {
            question,
            bench,
            size,
            best: Vec::with_capacity(size + 1),
        }
    }

    /// Tries `counts`; returns their colour difference, or none where they break a limit.
    fn offer(&mut self, counts: &[u32]) -> Option<f64> {
        if !self.bench.allows(counts, self.question) {
            return None;
        }
        let amounts = counts.iter().map(|count| f64::from(*count));
        let delta_e = self
            .question
            .delta_e(&self.question.reading(&self.bench.coefficients(amounts)));
        // Equal differences are ordered by the counts, so that the order of trying doesn't show.
        let place = self.best.partition_point(|(known, known_counts)| {
            (*known, known_counts.as_slice()) < (delta_e, counts)
        });
        let known = self
            .best
            .get(place)
            .is_some_and(|(_, there)| there == counts);
        if !known && place < self.size {
            self.best.insert(place, (delta_e, counts.to_vec()));
            self.best.truncate(self.size);
        }
        Some(delta_e)
    }
}

/// Whole-drop recipes around a real-valued one: for each pigment the count below and above, and where there are
/// weaker drops, the rest made up of them; in all combinations.
fn roundings(bench: &Bench<'_>, relaxed: &Relaxed) -> Vec<Vec<u32>> {
    let mut all = vec![vec![0; bench.drops.len()]];
    for (pigment, amount) in &relaxed.amounts {
        let strongest = bench.pigments[*pigment].strongest;
        let mut options = vec![
            vec![(strongest, whole_number(amount.floor()))],
            vec![(strongest, whole_number(amount.ceil()))],
        ];
        for (weaker, parts) in bench.weaker(*pigment) {
            let (whole, rest) = dose(*amount, parts);
            options.push(vec![(strongest, whole), (weaker, rest)]);
        }
        all = all
            .iter()
            .flat_map(|counts| {
                options.iter().map(move |option| {
                    let mut counts = counts.clone();
                    for (place, count) in option {
                        counts[*place] = *count;
                    }
                    counts
                })
            })
            .collect();
    }
    all
}

/// Walks from `counts` to better neighbours until there is none, or until `deadline`.
fn improve(pool: &mut Pool<'_>, mut counts: Vec<u32>, deadline: Option<Instant>) {
    let moves = moves(pool.bench);
    let Some(mut best) = pool.offer(&counts) else {
        return;
    };
    let mut next = counts.clone();
    loop {
        let before = best;
        for steps in &moves {
            next.copy_from_slice(&counts);
            let possible = steps.iter().all(|(place, step)| {
                let moved = next[*place].checked_add_signed(*step);
                next[*place] = moved.unwrap_or(0);
                moved.is_some()
            });
            if let Some(delta_e) = possible.then(|| pool.offer(&next)).flatten()
                && delta_e < best
            {
                best = delta_e;
                counts.copy_from_slice(&next);
            }
        }
        if best >= before || deadline.is_some_and(|deadline| Instant::now() >= deadline) {
            return;
        }
    }
}

/// Neighbours of a recipe: up to three drops more or fewer of one kind; one or two of one kind with one or two
/// of another; a drop exchanged for the weaker drops that make it, give or take two.
fn moves(bench: &Bench<'_>) -> Vec<Vec<(usize, i32)>> {
    let kinds = bench.drops.len();
    let mut moves: Vec<Vec<(usize, i32)>> = Vec::new();
    for one in 0..kinds {
        moves.extend([1, -1, 2, -2, 3, -3].map(|step| vec![(one, step)]));
        for other in one + 1..kinds {
            for (first, second) in [
                (1, -1),
                (-1, 1),
                (1, 1),
                (-1, -1),
                (1, -2),
                (-1, 2),
                (2, -1),
                (-2, 1),
            ] {
                moves.push(vec![(one, first), (other, second)]);
            }
        }
    }
    for (pigment, of_it) in bench.pigments.iter().enumerate() {
        for (weaker, parts) in bench.weaker(pigment) {
            let parts = i32::try_from(whole_number(parts.round())).unwrap_or(i32::MAX);
            for more in -2..=2 {
                moves.push(vec![
                    (of_it.strongest, 1),
                    (weaker, -parts.saturating_add(more)),
                ]);
                moves.push(vec![
                    (of_it.strongest, -1),
                    (weaker, parts.saturating_add(more)),
                ]);
            }
        }
    }
    moves
}
