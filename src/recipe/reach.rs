//! When no recipe is near enough: which other pigment would bring the colour within reach.

use std::time::{Duration, Instant};

use super::order::Order;
use super::part::PartRecipe;
use crate::error::Result;
use crate::materials::{Colorant, Pigment, Shelf};
use crate::target::Target;

/// A pigment that would bring the skin nearer to its target.
#[derive(Clone, Debug, PartialEq)]
pub struct Helper {
    /// Its name.
    pub pigment: String,
    /// Whether it stands on the shelf, and was left out of this order.
    pub at_hand: bool,
    /// The best ΔE00 found with it beside the others.
    pub delta_e: f64,
}

/// Pigments that gain less than this (ΔE00) don't help.
const WORTH_A_PIGMENT: f64 = 0.2;

/// How long a search with one pigment more may take: it needs no proof.
const A_LOOK: Duration = Duration::from_millis(75);

impl Order<'_> {
    /// Which pigments of the shelf that this order leaves out, or of `others` that the shelf doesn't have, would
    /// bring the skin of `recipe` nearer to `target`, over the same underlay; the best first.
    ///
    /// # Errors
    /// As [`search`](Self::search).
    pub fn helpers(
        &self,
        target: &Target,
        recipe: &PartRecipe,
        others: &[Pigment],
    ) -> Result<Vec<Helper>> {
        let have = self.colorants();
        let best = recipe.skin.best().delta_e;
        let on_the_shelf = self.shelf.pigments.iter().map(|pigment| (pigment, true));
        let missing = (others.iter()).filter(|other| self.shelf.pigment(&other.name).is_err());
        let candidates = on_the_shelf
            .chain(missing.map(|pigment| (pigment, false)))
            .filter(|(pigment, _)| pigment.drop_mass.is_some())
            .filter(|(pigment, _)| have.iter().all(|known| known.pigment != pigment.name));
        let mut helpers = Vec::new();
        for (pigment, at_hand) in candidates {
            let mut shelf: Shelf = self.shelf.clone();
            if !at_hand {
                shelf.pigments.push(pigment.clone());
            }
            let colorants = have.iter().cloned().chain([Colorant::neat(&pigment.name)]);
            let wider = Order {
                shelf: &shelf,
                colorants: Some(colorants.collect()),
                ..self.clone()
            };
            let unfilled = wider.unfilled(recipe.build.beneath.clone());
            let task = wider.skin_task(&unfilled, target)?;
            let mut question = wider.question(task, Instant::now().checked_add(A_LOOK))?;
            question.let_downs = self.colorants.is_none();
            let delta_e = question.search()?.recipes[0].delta_e;
            if delta_e < best - WORTH_A_PIGMENT {
                helpers.push(Helper {
                    pigment: pigment.name.clone(),
                    at_hand,
                    delta_e,
                });
            }
        }
        helpers.sort_by(|one, other| one.delta_e.total_cmp(&other.delta_e));
        Ok(helpers)
    }
}
