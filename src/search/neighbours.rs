//! Walking from one whole-drop recipe to a better one beside it.

use super::candidate::Bench;
use super::pool::Pool;
use super::real_valued::Relaxed;
use crate::materials::{dose, whole_number};

/// Kinds of drops from which on pairs are tried of which one is in the recipe already: of all pairs there are millions.
const MANY: usize = 64;

/// Whole-drop recipes around a real-valued one: for each pigment the count below and above, and where there are
/// weaker drops, the rest made up of them; in all combinations.
///
/// With two ways to round a pigment and one more for each of its weaker drops, four pigments of one let-down each give
/// 81. Whether they keep to the limits is not looked at here.
pub(crate) fn roundings(bench: &Bench<'_>, relaxed: &Relaxed) -> Vec<Vec<u32>> {
    let mut all = vec![vec![0; bench.drops.len()]];
    for (pigment, amount) in &relaxed.amounts {
        let strongest = bench.pigments[*pigment].strongest;
        let mut options = vec![
            vec![(strongest, whole_number(amount.floor()))],
            vec![(strongest, whole_number(amount.ceil()))],
        ];
        for (weaker, ratio) in bench.weaker(*pigment) {
            let (whole, rest) = dose(*amount, ratio);
            options.push(vec![(strongest, whole), (weaker, rest)]);
        }
        all = all
            .iter()
            .flat_map(|counts| {
                options.iter().map(move |option| {
                    let mut counts = counts.clone();
                    for (index, count) in option {
                        counts[*index] = *count;
                    }
                    counts
                })
            })
            .collect();
    }
    all
}

/// Walks from `counts`, which are about `best` from what is asked, to better neighbours until there is none; returns where it
/// ends, and about how far that is.
///
/// A neighbour that is nearer to the aims is taken as soon as it is met, and the next are those of the new recipe; the
/// walk ends after a round through all that gains nothing. Counts that break a limit are no neighbour. Among [`MANY`] kinds it ends
/// where the time does, too.
pub(crate) fn improve(pool: &Pool<'_>, (mut best, mut counts): (f64, Vec<u32>)) -> (f64, Vec<u32>) {
    let neighbours = neighbours(pool.bench, &counts);
    let is_long = counts.len() > MANY;
    let mut next = counts.clone();
    loop {
        let before = best;
        for (nth, steps) in neighbours.iter().enumerate() {
            if is_long && nth % 16 == 0 && pool.question.is_over(pool.question.deadline) {
                return (best, counts);
            }
            next.copy_from_slice(&counts);
            let possible = steps.iter().all(|(index, step)| {
                let moved = next[*index].checked_add_signed(*step);
                next[*index] = moved.unwrap_or(0);
                moved.is_some()
            });
            if let Some(delta_e) = possible.then(|| pool.about(&next)).flatten()
                && delta_e < best
            {
                best = delta_e;
                counts.copy_from_slice(&next);
            }
        }
        if best >= before {
            return (best, counts);
        }
    }
}

/// Steps to the neighbours of the recipe of `counts`: up to three drops more or fewer of one kind; one or two of one kind with one or two
/// of another; a drop exchanged for the weaker drops that make it, give or take two.
///
/// Each is a list of the drops that change: their index on the bench, and by how many. Of n kinds there are 4n² + 2n,
/// and ten more for each weaker drop; of more than [`MANY`] kinds, pairs of which one is in the recipe.
fn neighbours(bench: &Bench<'_>, counts: &[u32]) -> Vec<Vec<(usize, i32)>> {
    let kinds = bench.drops.len();
    let is_near = |one: usize, other: usize| kinds <= MANY || counts[one] > 0 || counts[other] > 0;
    let mut neighbours: Vec<Vec<(usize, i32)>> = Vec::new();
    for one in 0..kinds {
        neighbours.extend([1, -1, 2, -2, 3, -3].map(|step| vec![(one, step)]));
        for other in (one + 1..kinds).filter(|other| is_near(one, *other)) {
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
                neighbours.push(vec![(one, first), (other, second)]);
            }
        }
    }
    for (pigment, of_it) in bench.pigments.iter().enumerate() {
        for (weaker, ratio) in bench.weaker(pigment) {
            let ratio = i32::try_from(whole_number(ratio.round())).unwrap_or(i32::MAX);
            for more in -2..=2 {
                neighbours.push(vec![
                    (of_it.strongest, 1),
                    (weaker, -ratio.saturating_add(more)),
                ]);
                neighbours.push(vec![
                    (of_it.strongest, -1),
                    (weaker, ratio.saturating_add(more)),
                ]);
            }
        }
    }
    neighbours
}
