//! What a cup is aimed at, and what is told of a recipe for it, whether it was just found or is kept.

use super::order::Order;
use super::part::Choice;
use crate::colour::{Lab, Light, delta_e_2000};
use crate::forecast::{Aim, Bullseye, Pair, Prediction};
use crate::materials::{Amount, Casting, Colorant, Grams, Mix, Poured, Shelf};
use crate::tone::Target;

/// What a cup is aimed at.
#[derive(Clone, Debug)]
pub(super) struct Goal {
    /// The tone, under the book's viewing.
    pub(super) aim: Lab,
    /// It under each light that is matched under; at least one.
    pub(super) aims: Vec<Aim>,
    /// Those lights, in the order of the aims.
    pub(super) lights: Vec<Light>,
}

/// A recipe, before anything is told of it.
pub(super) struct Found {
    /// What goes into the cup.
    pub(super) poured: Poured,
    /// Its drops, none of them zero.
    pub(super) drops: Vec<(Colorant, u32)>,
    /// Mean ΔE00 from the aims.
    pub(super) delta_e: f64,
}

impl Goal {
    /// Mean ΔE00 from the aims to `prediction`.
    pub(super) fn delta_e(&self, prediction: &Prediction) -> f64 {
        let apart = |aim: &Aim| delta_e_2000(aim.lab, aim.weights.lab(&prediction.reflectance));
        self.aims.iter().map(apart).sum::<f64>() / self.aims.len() as f64
    }
}

impl Order<'_> {
    /// The base tone, or so much `lighter` a one, L*.
    pub(super) fn goal(&self, target: &Target, lighter: f64) -> Goal {
        let lightened = |lab: Lab| Lab {
            l: (lab.l + lighter).min(100.0),
            ..lab
        };
        let mut aims = self.aims(target);
        aims.iter_mut().for_each(|aim| aim.lab = lightened(aim.lab));
        Goal {
            aim: lightened(target.lab),
            aims,
            lights: self.lights.clone(),
        }
    }

    /// A paint's `tone`, which is known under the book's light alone.
    pub(super) fn goal_of_paint(&self, tone: Lab) -> Goal {
        let viewing = self.shelf.settings.viewing;
        Goal {
            aim: tone,
            aims: vec![Aim {
                weights: viewing.weights(),
                lab: tone,
            }],
            lights: vec![viewing.illuminant.into()],
        }
    }

    /// What is told of the recipe `found` for `goal`, of whose `casting` this is the `prediction`; what to do next, too, where
    /// `with_next_step`.
    pub(super) fn choice(
        &self,
        found: Found,
        (casting, prediction): (&Casting<'_>, Prediction),
        goal: &Goal,
        target: &Target,
        with_next_step: bool,
    ) -> Choice {
        let weights = self.shelf.settings.viewing.weights();
        let bullseye = Bullseye {
            aim: goal.aim,
            tolerance: self.tolerance_for(target),
            target,
        };
        let budget = casting.budget(&prediction, &weights, &bullseye, with_next_step);
        let before_rise = casting.bare_before_rise(&weights);
        let at_home = Aim {
            weights,
            lab: goal.aim,
        };
        let under = (goal.lights.iter().zip(&goal.aims))
            .map(|(light, aim)| Pair::new(light, aim, &at_home, &prediction.reflectance));
        Choice {
            drops: found.drops,
            weighed: weighed(self.shelf, &found.poured.mix),
            delta_e: found.delta_e,
            under: under.collect(),
            chance: budget.chance,
            before_rise,
            budget,
            prediction,
            poured: found.poured,
        }
    }
}

/// What of `mix` is weighed although it comes in drops.
fn weighed(shelf: &Shelf, mix: &Mix) -> Vec<(Colorant, Grams)> {
    let is_dropped = |colorant: &Colorant| {
        let pigment = shelf.pigment(&colorant.pigment);
        pigment.is_ok_and(|pigment| pigment.drop_mass.is_some())
    };
    (mix.entries().iter())
        .filter_map(|(colorant, amount)| match amount {
            Amount::Mass(mass) if is_dropped(colorant) => Some((colorant.clone(), *mass)),
            Amount::Mass(_) | Amount::Drops(_) => None,
        })
        .collect()
}
