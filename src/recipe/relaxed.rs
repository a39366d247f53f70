//! The best recipe if drops could be split: where the whole-drop search begins.

use nalgebra::{DMatrix, DVector};

use super::candidate::Bench;
use super::question::{Aim, Question};
use crate::colour::Lab;

/// Amounts of some pigments, each in its strongest drops.
#[derive(Clone, Debug)]
pub(super) struct Relaxed {
    /// `(pigment, amount)`, amounts positive.
    pub(super) amounts: Vec<(usize, f64)>,
    /// Mean ΔE00 from the aims.
    pub(super) delta_e: f64,
}

/// How many of the best sets of pigments are carried on to the next size; more changed no answer in this project's
/// trials.
const BEAM: usize = 12;

/// Dispersion fractions of the cup at which a pigment newly added begins: less than a black's, a red's, a white's, so
/// that one of the three is near whatever the pigment.
const STARTS: [f64; 3] = [1e-6, 1e-5, 2e-4];

/// The best real-valued recipes found: sets of one pigment, then of two by adding one to each of the best, and
/// so on. Sorted by colour difference.
pub(super) fn relax(question: &Question<'_>, bench: &Bench<'_>) -> Vec<Relaxed> {
    let mut all: Vec<Relaxed> = Vec::new();
    let mut beam = vec![Relaxed {
        amounts: Vec::new(),
        delta_e: f64::INFINITY,
    }];
    for _ in 0..question.limits.max_pigments.min(bench.pigments.len()) {
        let mut grown: Vec<Relaxed> = Vec::new();
        for parent in &beam {
            for pigment in 0..bench.pigments.len() {
                if parent.amounts.iter().any(|(known, _)| *known == pigment) || question.is_over() {
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
                        descend(question, bench, amounts)
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

/// Damped Gauss–Newton from `start` in the logarithms of the amounts, on the colour's distance from the aims in
/// the weights that ΔE00 has at each aim.
fn descend(question: &Question<'_>, bench: &Bench<'_>, start: Vec<(usize, f64)>) -> Relaxed {
    /// Smallest amount told apart from none, in strongest drops.
    const LEAST: f64 = 1e-4;
    const STEPS: usize = 20;
    const NUDGE: f64 = 1e-4;

    let scales: Vec<AimScale> = question.aims.iter().map(AimScale::new).collect();
    let pigments: Vec<usize> = start.iter().map(|(pigment, _)| *pigment).collect();
    let bounds: Vec<(f64, f64)> = pigments
        .iter()
        .map(|pigment| {
            (
                LEAST.ln(),
                bench.room_for(*pigment, question).max(LEAST).ln(),
            )
        })
        .collect();
    let into_bounds = |logs: &mut DVector<f64>| {
        for (log, (low, high)) in logs.iter_mut().zip(&bounds) {
            *log = log.clamp(*low, *high);
        }
    };
    let reading = |logs: &DVector<f64>| {
        let mut amounts = vec![0.0; bench.drops.len()];
        for (pigment, log) in pigments.iter().zip(logs.iter()) {
            amounts[bench.pigments[*pigment].strongest] = log.exp();
        }
        question.reading(&bench.coefficients(amounts.into_iter()))
    };
    let residual = |logs: &DVector<f64>| {
        let reflectance = reading(logs);
        let parts = question.aims.iter().zip(&scales);
        let parts = parts.flat_map(|(aim, scale)| scale.residual(aim.weights.lab(&reflectance)));
        DVector::from_iterator(3 * scales.len(), parts)
    };

    let mut logs = DVector::from_iterator(start.len(), start.iter().map(|(_, amount)| amount.ln()));
    into_bounds(&mut logs);
    let mut at = residual(&logs);
    let mut damping = 0.1;
    for _ in 0..STEPS {
        let mut slopes = DMatrix::zeros(at.len(), logs.len());
        for place in 0..logs.len() {
            let mut nudged = logs.clone();
            // Away from the nearer bound, so that a recipe at its limit still has a slope.
            let (low, high) = bounds[place];
            let nudge = if logs[place] + NUDGE > high {
                -NUDGE
            } else {
                NUDGE
            };
            nudged[place] = (nudged[place] + nudge).max(low);
            slopes.set_column(place, &((residual(&nudged) - &at) / nudge));
        }
        let normal = slopes.transpose() * &slopes;
        let downhill = slopes.transpose() * &at;
        let mut moved = false;
        for _ in 0..6 {
            let damped = &normal + DMatrix::identity(logs.len(), logs.len()) * damping;
            let Some(factor) = damped.cholesky() else {
                break;
            };
            let step = factor.solve(&downhill).map(|step| step.clamp(-2.0, 2.0));
            let mut next = &logs - step;
            into_bounds(&mut next);
            let there = residual(&next);
            if there.norm_squared() < at.norm_squared() {
                moved = (&next - &logs).amax() > 1e-4;
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
    let delta_e = question.delta_e(&reading(&logs));
    Relaxed {
        amounts: pigments
            .into_iter()
            .zip(logs.iter().map(|log| log.exp()))
            .collect(),
        delta_e,
    }
}

/// ΔE00 near an aim as a plain sum of squares: differences in lightness, chroma and hue over the weights that
/// the formula has at the aim, without its rotation term.
struct AimScale {
    aim: Lab,
    stretch: f64,
    hue: (f64, f64),
    over: [f64; 3],
}

impl AimScale {
    fn new(aim: &Aim) -> Self {
        let lab = aim.lab;
        let seventh = lab.a.hypot(lab.b).powi(7);
        let stretch = 1.5 - 0.5 * (seventh / (seventh + 25.0_f64.powi(7))).sqrt();
        let angle = lab.b.atan2(lab.a * stretch);
        let chroma = lab.b.hypot(lab.a * stretch);
        let from_middle = (lab.l - 50.0).powi(2);
        let over = [
            1.0 + 0.015 * from_middle / (20.0 + from_middle).sqrt(),
            1.0 + 0.045 * chroma,
            1.0 + 0.015 * chroma,
        ];
        Self {
            aim: lab,
            stretch,
            hue: angle.sin_cos(),
            over,
        }
    }

    fn residual(&self, lab: Lab) -> [f64; 3] {
        let (sin, cos) = self.hue;
        let (a, b) = ((lab.a - self.aim.a) * self.stretch, lab.b - self.aim.b);
        let [lightness, chroma, hue] = self.over;
        [
            (lab.l - self.aim.l) / lightness,
            (a * cos + b * sin) / chroma,
            (b * cos - a * sin) / hue,
        ]
    }
}
