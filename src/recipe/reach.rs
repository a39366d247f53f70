//! When no recipe is near enough: which other pigment, or how many more drops, would bring the colour within reach.

use std::collections::HashSet;
use std::time::Instant;

use super::filling::held_drops;
use super::order::Order;
use super::part::PartRecipe;
use crate::error::Result;
use crate::forecast::WORTH_IT;
use crate::materials::{Colorant, Cup, Pigment, Shelf};
use crate::search::Limits;
use crate::search::Recipe;
use crate::tone::Target;

/// What would bring the skin nearer to its target.
#[derive(Clone, Debug, Default, PartialEq)]
#[non_exhaustive]
pub struct Reach {
    /// Other pigments, the best first.
    pub helpers: Vec<Helper>,
    /// More drops of the same, where a limit of their count is in the way.
    pub more_drops: Option<MoreDrops>,
}

/// A recipe of more drops than the limits allow.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct MoreDrops {
    /// What it takes most of.
    pub most_of: Colorant,
    /// How many drops of that.
    pub count: u32,
    /// The limit of drops of one colorant that it keeps to, no lower than the one in force.
    pub max_drops: u32,
    /// The limit of drops of all colorants together, likewise.
    pub max_total_drops: u32,
    /// Its ΔE00.
    pub delta_e: f64,
}

/// A pigment that would bring the skin nearer to its target.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Helper {
    /// Its name.
    pub pigment: String,
    /// Whether it stands on the shelf, and was left out of this order.
    pub at_hand: bool,
    /// The best ΔE00 found with it beside the others.
    pub delta_e: f64,
}

/// What share of the time limit, after the search, goes into looking at other pigments at most.
const OF_THE_LIMIT: f64 = 0.5;

impl Order<'_> {
    /// What would bring the skin of `recipe` nearer to `target`, over the same underlay: a pigment of the shelf that this
    /// order leaves out, or of `others` that the shelf doesn't have; or more drops. Other pigments are looked at, in that order, until
    /// half as long as the search may take is over.
    ///
    /// # Errors
    /// As [`search`](Self::search).
    pub fn reach(&self, target: &Target, recipe: &PartRecipe, others: &[Pigment]) -> Result<Reach> {
        self.check(target)?;
        let until = self.limits.deadline_of(OF_THE_LIMIT);
        Ok(Reach {
            more_drops: self.more_drops(target, recipe)?,
            helpers: self.helpers(target, recipe, others, until)?,
        })
    }

    fn helpers(
        &self,
        target: &Target,
        recipe: &PartRecipe,
        others: &[Pigment],
        until: Option<Instant>,
    ) -> Result<Vec<Helper>> {
        let have = self.colorants_for(&self.skin.base);
        let best = recipe.skin.nearest_delta_e;
        let on_the_shelf = self.shelf.pigments.iter().map(|pigment| (pigment, true));
        let missing = (others.iter()).filter(|other| self.shelf.pigment(&other.name).is_err());
        let passed_over: HashSet<&String> = self.passed_over.iter().collect();
        let candidates = on_the_shelf
            .filter(|(pigment, _)| !passed_over.contains(&pigment.name))
            .chain(missing.map(|pigment| (pigment, false)))
            .filter(|(pigment, _)| pigment.drop_mass.is_some() && !pigment.is_unread())
            .filter(|(pigment, _)| have.iter().all(|known| known.pigment != pigment.name));
        let mut helpers = Vec::new();
        for (pigment, at_hand) in candidates {
            if self.limits.watch.is_stopped() || until.is_some_and(|until| Instant::now() >= until)
            {
                break;
            }
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
            let found = wider.look(target, recipe, self.colorants.is_none())?;
            if let Some(found) = found.filter(|found| found.delta_e < best - WORTH_IT) {
                helpers.push(Helper {
                    pigment: pigment.name.clone(),
                    at_hand,
                    delta_e: found.delta_e,
                });
            }
        }
        helpers.sort_by(|one, other| one.delta_e.total_cmp(&other.delta_e));
        Ok(helpers)
    }

    fn more_drops(&self, target: &Target, recipe: &PartRecipe) -> Result<Option<MoreDrops>> {
        const TIMES: u32 = 2;
        let best = recipe.skin.best();
        let limits = self.limits_of(&Cup::pour(self.shelf, &best.poured)?);
        let counts = |drops: &[(Colorant, u32)]| -> (u32, u32) {
            let counts = drops.iter().map(|(_, count)| *count);
            (counts.clone().max().unwrap_or(0), counts.sum())
        };
        // Where the nearest was asked for, its drops tell whether a limit is in the way; the handiest has fewer.
        let (most, total) = counts(&best.drops);
        if self.limits.within.is_some() && most < limits.max_drops && total < limits.max_total_drops
        {
            return Ok(None);
        }
        let wider = Order {
            limits: Limits {
                max_drops: Some(limits.max_drops.saturating_mul(TIMES)),
                max_total_drops: Some(limits.max_total_drops.saturating_mul(TIMES)),
                ..self.limits
            },
            ..self.clone()
        };
        let found = wider.look(target, recipe, self.colorants.is_none())?;
        let nearest = recipe.skin.nearest_delta_e;
        let Some(found) = found.filter(|found| found.delta_e < nearest - WORTH_IT) else {
            return Ok(None);
        };
        let most_of = found.drops.iter().max_by_key(|(_, count)| *count);
        let Some((most_of, count)) = most_of.cloned() else {
            return Ok(None);
        };
        // What the cup holds already counts against the limits as well.
        let held = held_drops(&self.in_the_skin);
        let (most, total) = counts(&found.drops.into_iter().chain(held).collect::<Vec<_>>());
        Ok(Some(MoreDrops {
            most_of,
            count,
            max_drops: most.max(limits.max_drops),
            max_total_drops: total.max(limits.max_total_drops),
            delta_e: found.delta_e,
        }))
    }

    /// The best skin found at once over the underlay of `recipe`, if any is.
    fn look(
        &self,
        target: &Target,
        recipe: &PartRecipe,
        let_downs: bool,
    ) -> Result<Option<Recipe>> {
        let unfilled = self.unfilled(recipe.build.beneath.clone());
        let task = self.skin_task(&unfilled, target, self.limits.contrast_ratio)?;
        let mut question = self.question(task, None)?;
        question.let_downs = let_downs;
        question.nearest_at_once()
    }
}
