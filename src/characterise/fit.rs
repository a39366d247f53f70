//! The joint fit: the unknowns that all chips at once, and the first guesses, make most likely.

use super::normal::inverse;
use super::problem::{Fit, State};
use crate::error::Result;
use crate::materials::factored;

/// Hears the share (0–1) of a fit that is done, and ends it with an error of its own.
pub type Progress<'a> = dyn FnMut(f64) -> Result<()> + 'a;

/// Standard deviations of its noise by which a whole reading may be off before it counts for less.
///
/// Source: P. J. Huber (1964), Annals of Mathematical Statistics 35, 73–101.
const TRUSTED: f64 = 2.0;

/// Share of their median miss that readings are taken to be noisy by: curves should follow what most agree on a little
/// further than their disagreement. This project's choice, set on measured paints.
const WORTH_FOLLOWING: f64 = 0.6;

/// What a step gains of the misfit below which no other is taken.
const SETTLED_FOR_GOOD: f64 = 1e-4;

impl Fit<'_> {
    /// Fits from the first guesses; `progress` is told the share (0–1) that is done, roughly, and may end it.
    ///
    /// Levenberg's damped Gauss–Newton, readings weighted anew by Huber's rule at each step. Far from the fit, readings are
    /// taken for as noisy as they are off, so that the first guesses lead; each round then takes the noise that the last one
    /// left.
    pub(super) fn solve(&mut self, progress: &mut Progress<'_>) -> Result<State> {
        let mut state = self.start();
        state.noise = self.noise(&state);
        self.settle(state, progress)
    }

    /// Fits from `state`, where a fit of readings that lie nearby came to rest; what was supposed beforehand stays as that left
    /// it.
    pub(super) fn follow(&self, mut state: State, progress: &mut Progress<'_>) -> Result<State> {
        /// What is gained below that moves readings by less than they are off by.
        const NEARLY_SETTLED: f64 = 1e-2;
        self.descend(&mut state, NEARLY_SETTLED, &mut || progress(0.0))?;
        Ok(state)
    }

    /// Fits from `state`, and sets right what was supposed beforehand.
    pub(super) fn settle(
        &mut self,
        mut state: State,
        progress: &mut Progress<'_>,
    ) -> Result<State> {
        const ROUNDS: u32 = 12;
        const SETTLED: f64 = 0.97;
        const SECOND_THOUGHTS: u32 = 4;
        for round in 0..ROUNDS {
            let done = f64::from(round) / f64::from(ROUNDS);
            self.descend(&mut state, SETTLED_FOR_GOOD, &mut || progress(done))?;
            // In short steps, each from the last fit: a long one may lead into a false valley.
            let noise = self.noise(&state).clamp(state.noise / 3.0, state.noise);
            let settled = noise > SETTLED * state.noise;
            state.noise = noise;
            if settled {
                break;
            }
        }
        for _ in 0..SECOND_THOUGHTS {
            if !self.reconsider(&mut state) {
                break;
            }
            self.descend(&mut state, SETTLED_FOR_GOOD, &mut || progress(1.0))?;
        }
        progress(1.0)?;
        Ok(state)
    }

    /// Sets right what was supposed beforehand, by what has come out: says whether it changed much.
    ///
    /// A material that lies farther from its first guess than its spread allows gets a wider one, and the chips' nuisances
    /// get the scatter that they show, smaller or larger. A width is right when departures, measured in it, are as large as
    /// the number of things that the readings have told of them.
    ///
    /// Source: D. J. C. MacKay (1992), Neural Computation 4, 415–447, the equations for α (numbers from memory).
    fn reconsider(&mut self, state: &mut State) -> bool {
        const WORTH_IT: f64 = 1.1;
        const AT_ONCE: f64 = 4.0;
        const UNSTEADY: (f64, f64) = (0.5, 1.0);
        // Nothing is widened without end: the rest is a slip.
        const WIDEST: f64 = 9.0;
        let normal = self.normal(state);
        let covariance = inverse(normal.curvature.clone());
        let mut any = false;
        for (index, (at, precision)) in self.precisions.iter_mut().enumerate() {
            let departed = state.offsets.rows(at.start, at.len());
            let own = covariance.view((at.start, at.start), (at.len(), at.len()));
            // trace(P Σ) is the sum of products, index by index, of two symmetric matrices.
            let removed = at.len() as f64 - precision.dot(&own);
            let surprise = departed.dot(&(&*precision * departed)) / removed.max(1.0);
            let room = WIDEST / state.widened[index];
            let wider = surprise.min(AT_ONCE).min(room);
            if wider > WORTH_IT {
                *precision /= wider;
                state.widened[index] *= wider;
                any = true;
            }
        }
        let (scatter, removed) = self.nuisance_scatter(state, &normal, &covariance);
        if removed > 1.0 {
            let surprise = (scatter / removed).clamp(1.0 / AT_ONCE, AT_ONCE);
            let (least, most) = UNSTEADY;
            let unsteady = (state.unsteady * surprise.sqrt()).clamp(least, most);
            any |= (unsteady / state.unsteady).ln().abs() > WORTH_IT.ln();
            state.unsteady = unsteady;
        }
        any
    }

    /// Descends until a step gains less than the share `settled` of the misfit, or `goes_on` ends it before a step.
    fn descend(
        &self,
        state: &mut State,
        settled: f64,
        goes_on: &mut dyn FnMut() -> Result<()>,
    ) -> Result<()> {
        const STEPS: u32 = 30;
        const TRIES: u32 = 8;
        // Logarithms move by at most this in a step: beyond it a straight line says nothing.
        const FARTHEST: f64 = 1.5;
        let mut damping = 1e-2;
        for _ in 0..STEPS {
            goes_on()?;
            self.judge(state);
            let mut misfit = self.misfit(state);
            let normal = self.normal(state);
            let mut gained = 0.0;
            for _ in 0..TRIES {
                let mut damped = normal.curvature.clone();
                for index in 0..damped.nrows() {
                    damped[(index, index)] *= 1.0 + damping;
                }
                // Rounding may leave a step too weakly damped to be solved: it is damped more.
                let Some(factor) = factored(damped) else {
                    damping *= 10.0;
                    continue;
                };
                let change = -factor.solve(&normal.slope);
                let change = &change * (FARTHEST / change.amax()).min(1.0);
                let next = self.after(state, &normal, &change);
                let there = self.misfit(&next);
                if there < misfit {
                    gained = (misfit - there) / misfit.max(f64::MIN_POSITIVE);
                    *state = next;
                    misfit = there;
                    damping *= 0.2;
                    break;
                }
                damping *= 6.0;
            }
            if gained < settled {
                break;
            }
        }
        Ok(())
    }

    /// Weighs each reading by how far off it is.
    fn judge(&self, state: &mut State) {
        let trust = self
            .chips
            .iter()
            .zip(&state.nuisances)
            .map(|(chip, nuisances)| {
                let misses = self.misses(chip, state, nuisances).into_iter();
                let trusted = TRUSTED;
                misses
                    .map(|miss| if miss > trusted { trusted / miss } else { 1.0 })
                    .collect()
            });
        state.trust = trust.collect();
    }

    /// By what factor the readings scatter more than supposed, by the median of their misses.
    fn noise(&self, state: &State) -> f64 {
        let mut misses: Vec<f64> = self
            .chips
            .iter()
            .zip(&state.nuisances)
            .flat_map(|(chip, nuisances)| self.misses(chip, state, nuisances))
            .collect();
        misses.sort_by(f64::total_cmp);
        // Without any reading there is nothing that says otherwise than supposed.
        let median = misses.get(misses.len() / 2).copied().unwrap_or(1.0);
        (WORTH_FOLLOWING * state.noise * median).max(self.least_noise)
    }
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use crate::characterise::calibrate;
    use crate::colour::SAMPLES;
    use crate::materials::fixtures::{chip, shelf};
    use crate::materials::{Casting, Swatch};

    /// Where a strength lies far outside its first guess's spread, its shape is believed less, too: what three Lab readings
    /// leave unknown of it is then wider than where the first guess was right.
    #[test]
    fn a_material_far_from_its_first_guess_is_given_a_wider_spread() {
        let mean_k_sd = |times_as_strong: f64| -> f64 {
            let mut first = shelf();
            // As unsure as the pigments.
            first.bases[0].spread = first.pigments[0].spread;
            let mut truth = shelf();
            let skin = truth.bases.iter_mut().find(|base| base.name == "skin");
            let curves = &mut skin.expect("it stands there").coefficients;
            curves.k = curves.k.map(|k| times_as_strong * k);
            curves.s = curves.s.map(|s| times_as_strong * s);
            let weights = first.settings.viewing.weights();
            let swatch = |mix: &str| {
                let casting = Casting::new(&truth, &chip(mix)).expect(mix);
                Swatch {
                    id: mix.to_owned(),
                    ..Swatch::of(chip(mix), weights.lab(&casting.reading()), date(2026, 3, 9))
                }
            };
            let swatches = ["", "red 1", "white 4"].map(swatch);
            let found = calibrate(&first, &swatches, &mut |_| Ok(())).expect("sound chips");
            let skin = found
                .curves
                .iter()
                .find(|each| each.material.name() == "skin");
            let spread = &skin.expect("chips are of it").spread;
            (0..SAMPLES).map(|band| spread.k_sd[band]).sum::<f64>() / SAMPLES as f64
        };
        let (as_guessed, far) = (mean_k_sd(1.0), mean_k_sd(4.0));
        assert!(far > 1.5 * as_guessed, "{far} against {as_guessed}");
    }
}
