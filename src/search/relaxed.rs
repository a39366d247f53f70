//! The best recipe if drops could be split: where the whole-drop search begins.

use nalgebra::{DMatrix, DVector};

use super::candidate::Bench;
use super::proof::kernel::Kernel;
use super::question::Question;
use super::real_valued::Relaxed;
use crate::colour::DifferenceNear;

/// How many of the best sets of pigments are carried on to the next size; more changed no answer in this project's
/// trials.
const BEAM: usize = 5;

/// Dispersion fractions of the cup at which a pigment newly added begins: less than a black's, a red's, a white's, so
/// that one of the three is near whatever the pigment.
const STARTS: [f64; 3] = [1e-6, 1e-5, 2e-4];

/// The best real-valued recipes found: sets of one pigment, then of two by adding one to each of the best, and
/// so on. Sorted by colour difference.
///
/// It takes up to 15 descents for each pigment and size: from each of [`BEAM`] sets at each of [`STARTS`].
pub(crate) fn relax(question: &Question<'_>, bench: &Bench<'_>, kernel: &Kernel) -> Vec<Relaxed> {
    let mut all: Vec<Relaxed> = Vec::new();
    let mut beam = vec![Relaxed {
        amounts: Vec::new(),
        delta_e: f64::INFINITY,
    }];
    for _ in 0..question.limits.max_pigments.min(bench.pigments.len()) {
        let mut grown: Vec<Relaxed> = Vec::new();
        for parent in &beam {
            for pigment in 0..bench.pigments.len() {
                if !grown.is_empty() && question.is_over(question.deadline) {
                    break;
                }
                if parent.amounts.iter().any(|(known, _)| *known == pigment) {
                    continue;
                }
                let set = |relaxed: &Relaxed| {
                    let mut set: Vec<usize> = relaxed
                        .amounts
                        .iter()
                        .map(|(pigment, _)| *pigment)
                        .collect();
                    set.sort_unstable();
                    set
                };
                let best = STARTS
                    .iter()
                    .map(|fraction| {
                        let mut amounts = parent.amounts.clone();
                        amounts.push((pigment, bench.amount_for(pigment, *fraction)));
                        descend(question, bench, kernel, amounts)
                    })
                    .min_by(|one, other| one.delta_e.total_cmp(&other.delta_e));
                let Some(best) = best else { continue };
                match grown.iter_mut().find(|known| set(known) == set(&best)) {
                    Some(known) if known.delta_e <= best.delta_e => {}
                    Some(known) => *known = best,
                    None => grown.push(best),
                }
            }
        }
        grown.sort_by(|one, other| one.delta_e.total_cmp(&other.delta_e));
        grown.truncate(BEAM);
        all.extend(grown.iter().cloned());
        beam = grown;
    }
    all.sort_by(|one, other| one.delta_e.total_cmp(&other.delta_e));
    all
}

/// The same by those of `known`, which were the best for aims nearby: each is brought to these, and no other is sought.
///
/// It takes one descent for each of them.
pub(crate) fn relax_from(
    known: &[Relaxed],
    question: &Question<'_>,
    bench: &Bench<'_>,
    kernel: &Kernel,
) -> Vec<Relaxed> {
    let starts = known.iter().map(|relaxed| relaxed.amounts.clone());
    let mut all: Vec<Relaxed> = starts
        .map(|start| descend(question, bench, kernel, start))
        .collect();
    all.sort_by(|one, other| one.delta_e.total_cmp(&other.delta_e));
    all
}

/// The best real-valued recipe of the pigments of `start`, near it.
fn descend(
    question: &Question<'_>,
    bench: &Bench<'_>,
    kernel: &Kernel,
    start: Vec<(usize, f64)>,
) -> Relaxed {
    let (pigments, amounts): (Vec<usize>, Vec<f64>) = start.into_iter().unzip();
    let slope = Slope::new(question, bench, kernel, pigments);
    let logs = slope.descend(DVector::from_vec(amounts).map(f64::ln));
    let delta_e = kernel.delta_e(&question.aims, &slope.grams(&logs));
    let amounts = slope
        .pigments
        .into_iter()
        .zip(logs.iter().map(|log| log.exp()));
    Relaxed {
        amounts: amounts.collect(),
        delta_e,
    }
}

/// A recipe of some pigments as a least-squares problem in the logarithms of their amounts.
struct Slope<'a> {
    bench: &'a Bench<'a>,
    kernel: &'a Kernel,
    /// Indices of the pigments on the bench; logarithms, bounds and columns of slopes are in their order.
    pigments: Vec<usize>,
    /// Least and greatest logarithm of each amount.
    bounds: Vec<(f64, f64)>,
    /// The colour difference near each aim.
    near: Vec<DifferenceNear>,
}

impl<'a> Slope<'a> {
    /// Smallest amount told apart from none, in strongest drops.
    const LEAST: f64 = 1e-4;

    /// The problem of these `pigments`, each from [`LEAST`](Self::LEAST) to what its load and the cup's drops leave
    /// room for.
    fn new(
        question: &'a Question<'a>,
        bench: &'a Bench<'a>,
        kernel: &'a Kernel,
        pigments: Vec<usize>,
    ) -> Self {
        let bounds = pigments.iter().map(|pigment| {
            let most = bench.room_for(*pigment, question).max(Self::LEAST);
            (Self::LEAST.ln(), most.ln())
        });
        let bounds = bounds.collect();
        let near = question
            .aims
            .iter()
            .map(|aim| DifferenceNear::new(aim.lab))
            .collect();
        Self {
            bench,
            kernel,
            pigments,
            bounds,
            near,
        }
    }

    /// Grams of each addition of the kernel, the clear base last; a kernel to which none is added passes that over.
    fn grams(&self, logs: &DVector<f64>) -> Vec<f64> {
        let mut grams = vec![0.0; self.bench.pigments.len() + 1];
        for (pigment, log) in self.pigments.iter().zip(logs.iter()) {
            let drop = &self.bench.drops[self.bench.pigments[*pigment].strongest];
            grams[*pigment] += log.exp() * drop.dispersion_g;
            grams[self.bench.pigments.len()] += log.exp() * drop.clear_g();
        }
        grams
    }

    /// Three weighted steps from each aim.
    fn residual(&self, logs: &DVector<f64>) -> DVector<f64> {
        let reading = self.kernel.read(&self.grams(logs));
        let near = self.near.iter().enumerate();
        let steps = near.flat_map(|(light, near)| near.steps(self.kernel.lab(light, &reading)));
        DVector::from_iterator(3 * self.near.len(), steps)
    }

    /// Brings each logarithm that is out of its bounds to the nearer of them.
    fn within_bounds(&self, mut logs: DVector<f64>) -> DVector<f64> {
        for (log, (low, high)) in logs.iter_mut().zip(&self.bounds) {
            *log = log.clamp(*low, *high);
        }
        logs
    }

    /// How the residual, which is `at` here, changes with each logarithm.
    fn slopes(&self, logs: &DVector<f64>, at: &DVector<f64>) -> DMatrix<f64> {
        /// By how much a logarithm is changed: a ten-thousandth of the amount.
        const NUDGE: f64 = 1e-4;
        let columns = (0..logs.len()).map(|index| {
            // Down where there is no room above, so that a recipe at its limit still has a slope.
            let room = self.bounds[index].1 - logs[index];
            let nudge = if room < NUDGE { -NUDGE } else { NUDGE };
            let mut nudged = logs.clone();
            nudged[index] += nudge;
            (self.residual(&nudged) - at) / nudge
        });
        DMatrix::from_columns(&columns.collect::<Vec<_>>())
    }

    /// Levenberg's damped Gauss–Newton from `start`, kept within bounds.
    ///
    /// Source: K. Levenberg (1944), Quarterly of Applied Mathematics 2, 164–168. The figures are this project's
    /// choice: on skin tones more steps, or finer ones, led to no better whole-drop recipe.
    fn descend(&self, start: DVector<f64>) -> DVector<f64> {
        /// Most linearizations, each of one reading a pigment and one for each damping tried.
        const STEPS: usize = 12;
        /// Most dampings that are tried on one linearization; where none helps, the descent is over.
        const TRIES: usize = 6;
        /// A step that changes no logarithm by more than this is the last.
        const SETTLED: f64 = 1e-4;
        let mut logs = self.within_bounds(start);
        let mut at = self.residual(&logs);
        let mut damping = 0.1;
        for _ in 0..STEPS {
            let slopes = self.slopes(&logs, &at);
            let normal = slopes.transpose() * &slopes;
            let downhill = slopes.transpose() * &at;
            let mut moved = false;
            for _ in 0..TRIES {
                let damped = &normal + DMatrix::identity(logs.len(), logs.len()) * damping;
                let Some(factor) = damped.cholesky() else {
                    break;
                };
                let step = factor.solve(&downhill).map(|step| step.clamp(-2.0, 2.0));
                let next = self.within_bounds(&logs - step);
                let there = self.residual(&next);
                if there.norm_squared() < at.norm_squared() {
                    moved = (&next - &logs).amax() > SETTLED;
                    (logs, at) = (next, there);
                    damping *= 0.3;
                    break;
                }
                damping *= 4.0;
            }
            if !moved {
                break;
            }
        }
        logs
    }
}
