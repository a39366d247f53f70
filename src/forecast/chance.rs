//! Chances by seeded draws, where a normal law would not do.

use std::f64::consts::TAU;

use super::prediction::Prediction;
use crate::colour::{Lab, TristimulusWeights, delta_e_2000};
use crate::materials::Casting;

/// The seed of all draws of this room, so that the same question has the same answer.
pub const SEED: u64 = 1976;

/// Draws of a chance; its own standard error is then under one per cent.
const DRAWS: u32 = 4096;

/// How much of a colour's way, root mean square, curvatures may make up beside its spread for the normal law of first order to
/// do: a tenth changes a chance by a few per cent at most. Our own choice, no source.
const CURVED: f64 = 0.1;

impl Prediction {
    /// The chance (0–1) that a casting lands within `tolerance` (ΔE00) of `aim`, of which L*, a*, b* are
    /// themselves known to `aim_spread` (standard deviations).
    ///
    /// To first order in what is not known, and normal; where first order won't do ([`is_curved`](Self::is_curved)), by seeded
    /// draws.
    pub fn chance_within(&self, tolerance: f64, aim: Lab, aim_spread: [f64; 3]) -> f64 {
        Chances::of(self).within(self, tolerance, aim, aim_spread)
    }

    /// Whether what is not known curves the colour so much that chances are drawn and not taken from the normal law.
    pub fn is_curved(&self) -> bool {
        // Of a normal deviate z, z² has mean 1 and variance 2.
        let second_order = |axis: usize| {
            let curvatures = || {
                self.contributions
                    .iter()
                    .map(|contribution| contribution.curvature[axis])
            };
            curvatures().sum::<f64>().powi(2)
                + 2.0
                    * curvatures()
                        .map(|curvature| curvature * curvature)
                        .sum::<f64>()
        };
        let first_order: f64 = self.spread().iter().map(|sd| sd * sd).sum();
        (0..3).map(second_order).sum::<f64>() > CURVED * CURVED * first_order
    }
}

/// How chances of a prediction, and of what becomes of it, are told; all in the same way, so that they compare.
#[derive(Clone, Debug)]
pub(crate) enum Chances {
    /// By the normal law of first order.
    Normal,
    /// By draws from the surface of second order through the contributions and their curvatures: the deviates of all draws,
    /// one for each contribution and three for the aim.
    Drawn(Vec<f64>),
}

impl Chances {
    /// As is right for `prediction`; seeded with [`SEED`].
    pub(crate) fn of(prediction: &Prediction) -> Self {
        if !prediction.is_curved() {
            return Self::Normal;
        }
        let mut deviates = Deviates::new(SEED);
        let each = prediction.contributions.len() + 3;
        let all = (0..each * DRAWS as usize).map(|_| deviates.draw());
        Self::Drawn(all.collect())
    }

    /// The chance (0–1) that a casting lands within `tolerance` of `aim`, known to `aim_spread`; `prediction` has as many
    /// contributions as the one that these chances are of.
    pub(crate) fn within(
        &self,
        prediction: &Prediction,
        tolerance: f64,
        aim: Lab,
        aim_spread: [f64; 3],
    ) -> f64 {
        let Self::Drawn(deviates) = self else {
            return prediction.normal_chance(tolerance, aim, aim_spread);
        };
        let Prediction {
            lab, contributions, ..
        } = prediction;
        let landed = deviates
            .chunks_exact(contributions.len() + 3)
            .filter(|draw| {
                let (of_contributions, of_the_aim) = draw.split_at(contributions.len());
                let mut made = [lab.l, lab.a, lab.b];
                for (contribution, z) in contributions.iter().zip(of_contributions) {
                    for (axis, value) in made.iter_mut().enumerate() {
                        *value += contribution.by[axis] * z + contribution.curvature[axis] * z * z;
                    }
                }
                for (value, (sd, z)) in made.iter_mut().zip(aim_spread.iter().zip(of_the_aim)) {
                    *value += sd * z;
                }
                let [l, a, b] = made;
                delta_e_2000(aim, Lab::new(l, a, b)) <= tolerance
            });
        landed.count() as f64 / f64::from(DRAWS)
    }
}

impl Casting<'_> {
    /// Colours of `draws` castings after this one, each with everything that is not known drawn at random: every doubt
    /// goes through the layer model in full. The truth that first and second order are held against; slow.
    pub fn simulated(&self, weights: &TristimulusWeights, draws: u32, seed: u64) -> Vec<Lab> {
        let doubts = self.doubts();
        let own = self.own_spread();
        let mut deviates = Deviates::new(seed);
        let one = |_| {
            let mut casting = self.clone();
            for doubt in &doubts {
                casting = doubt.applied(&casting, deviates.draw());
            }
            let Lab { l, a, b, .. } = weights.lab(&casting.reading());
            let [dl, da, db] = own.map(|sd| sd * deviates.draw());
            Lab::new(l + dl, a + da, b + db)
        };
        (0..draws).map(one).collect()
    }
}

/// Normal deviates, seeded.
///
/// Source: G. E. P. Box and M. E. Muller (1958), Annals of Mathematical Statistics 29, 610–611.
struct Deviates(fastrand::Rng);

impl Deviates {
    fn new(seed: u64) -> Self {
        Self(fastrand::Rng::with_seed(seed))
    }

    fn draw(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.0.f64()).ln()).sqrt();
        radius * (TAU * self.0.f64()).cos()
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;
    use crate::forecast::Doubts;
    use crate::materials::fixtures::{chip, shelf};

    /// Mean and standard deviation of L*, a*, b*.
    fn moments(labs: &[Lab]) -> [(f64, f64); 3] {
        let of: [fn(&Lab) -> f64; 3] = [|lab| lab.l, |lab| lab.a, |lab| lab.b];
        of.map(|axis| {
            let count = labs.len() as f64;
            let mean = labs.iter().map(axis).sum::<f64>() / count;
            let squares = labs
                .iter()
                .map(|lab| (axis(lab) - mean).powi(2))
                .sum::<f64>();
            (mean, (squares / (count - 1.0)).sqrt())
        })
    }

    #[test]
    fn the_normal_law_agrees_with_draws_through_the_whole_model_where_little_is_unknown() {
        const DRAWN: u32 = 4000;
        let mut shelf = shelf();
        for pigment in &mut shelf.pigments {
            pigment.spread = crate::materials::CoefficientSpread {
                k_sd: crate::colour::Spectrum::constant(0.05),
                s_sd: crate::colour::Spectrum::constant(0.05),
            };
        }
        let weights = shelf.settings.viewing.weights();
        let casting = Casting::new(&shelf, &chip("red 3; white 5; fibre 2 g")).expect("sound");
        let predicted = casting.predict(&weights, Doubts::All);
        assert!(!predicted.is_curved(), "first order will do");
        let drawn = casting.simulated(&weights, DRAWN, 7);
        let spread = predicted.spread();
        // Standard deviations of 4000 draws are known to 1.1 %; the rest is what first order leaves out.
        for ((_, sd), stated) in moments(&drawn).into_iter().zip(spread) {
            assert_abs_diff_eq!(sd / stated, 1.0, epsilon = 0.05);
        }
        for tolerance in [1.0, 2.0, 3.0] {
            let share = share_within(&drawn, predicted.lab, tolerance);
            let chance = predicted.chance_within(tolerance, predicted.lab, [0.0; 3]);
            assert_abs_diff_eq!(share, chance, epsilon = 0.03);
        }
    }

    #[test]
    fn second_order_agrees_with_the_whole_model_where_much_is_unknown() {
        const DRAWN: u32 = 4000;
        let mut shelf = shelf();
        for pigment in &mut shelf.pigments {
            pigment.spread = crate::materials::CoefficientSpread {
                k_sd: crate::colour::Spectrum::constant(0.8),
                s_sd: crate::colour::Spectrum::constant(0.6),
            };
        }
        let weights = shelf.settings.viewing.weights();
        let casting = Casting::new(&shelf, &chip("red 1:10 2; white 1")).expect("sound");
        let predicted = casting.predict(&weights, Doubts::All);
        assert!(predicted.is_curved(), "first order won't do");
        let drawn = casting.simulated(&weights, DRAWN, 7);
        for tolerance in [4.0, 8.0, 12.0] {
            let share = share_within(&drawn, predicted.lab, tolerance);
            let chance = predicted.chance_within(tolerance, predicted.lab, [0.0; 3]);
            assert_abs_diff_eq!(share, chance, epsilon = 0.06);
        }
    }

    fn share_within(labs: &[Lab], aim: Lab, tolerance: f64) -> f64 {
        let landed = labs
            .iter()
            .filter(|lab| delta_e_2000(aim, **lab) <= tolerance);
        landed.count() as f64 / labs.len() as f64
    }
}
