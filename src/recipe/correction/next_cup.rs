//! The recipe for the next cup.

use std::time::Instant;

use super::request::Correction;
use crate::error::Result;
use crate::materials::{Amount, Build, Colorant, Cup, Mix, Shelf, Underlay, whole_number};
use crate::recipe::order::{Order, OrderedUnderlay};
use crate::recipe::part::CupRecipe;
use crate::search::{CupLimits, Limits};
use crate::tone::Target;

/// What other pigments must gain for the next cup, ΔE00: of those that were in it the reading says most.
const WORTH_OTHER_PIGMENTS: f64 = 0.3;

impl Correction<'_> {
    /// The best recipe for another cup; of the pigments that were in this one, if they will do. Its contrast
    /// ratio stays within `window`. The best found of these by the first deadline, of any pigments by the second.
    pub(super) fn next(
        &self,
        shelf: &Shelf,
        target: &Target,
        window: Option<(f64, f64)>,
        [same_by, any_by]: [Option<Instant>; 2],
    ) -> Result<CupRecipe> {
        let any = self.order_of_next(shelf, window)?;
        let beneath = || self.build.beneath.clone();
        let entries = self.build.skin.mix.entries().iter();
        let dropped: Vec<&str> = entries
            .filter(|(colorant, _)| is_dropped(colorant, shelf))
            .map(|(colorant, _)| colorant.pigment.as_str())
            .collect();
        let others = shelf
            .pigments
            .iter()
            .filter(|pigment| !dropped.contains(&pigment.name.as_str()));
        let same = Order {
            banned: others.map(|pigment| pigment.name.clone()).collect(),
            ..any.clone()
        };
        if same.colorants_for(&same.skin.base).is_empty() {
            return any.skin_over(target, beneath(), any_by);
        }
        let same = match same.skin_over(target, beneath(), same_by) {
            Ok(same) => same,
            // Other pigments may give the contrast ratio that is asked for.
            Err(error) if error.is_out_of_reach() => {
                return any.skin_over(target, beneath(), any_by);
            }
            Err(error) => return Err(error),
        };
        if same.best().delta_e <= WORTH_OTHER_PIGMENTS {
            return Ok(same);
        }
        let any = any.skin_over(target, beneath(), any_by)?;
        let gains = any.best().delta_e < same.best().delta_e - WORTH_OTHER_PIGMENTS;
        Ok(if gains { any } else { same })
    }

    /// What is asked for the next cup on `shelf`, of any pigments, its contrast ratio within `window`.
    pub(super) fn order_of_next<'other>(
        &self,
        shelf: &'other Shelf,
        window: Option<(f64, f64)>,
    ) -> Result<Order<'other>> {
        let Build {
            skin,
            thickness,
            beneath,
            ..
        } = &self.build;
        // What is only ever weighed stays; a pigment that can be dropped is free, however it was measured.
        let weighed = skin.mix.entries().iter();
        let weighed = weighed.filter(|(colorant, _)| !is_dropped(colorant, shelf));
        let mut order = Order::skin(shelf, &skin.base, skin.base_mass)
            .thick(*thickness)
            .holding(Mix::new(weighed.cloned().collect())?);
        order.beneath = match beneath {
            Underlay::Backing { name, contact } => OrderedUnderlay::Backing {
                name: name.clone(),
                contact: *contact,
            },
            Underlay::Foam(foam) => OrderedUnderlay::PouredFoam(foam.clone()),
        };
        order.banned = (shelf.dropped())
            .filter(|pigment| !self.allows(&Colorant::neat(&pigment.name)))
            .map(|pigment| pigment.name.clone())
            .collect();
        order.passed_over = (self.passed_over.iter())
            .filter(|name| !self.allows(&Colorant::neat(name.as_str())))
            .cloned()
            .collect();
        order.tolerance = self.tolerance;
        order.limits = self.limits;
        order.limits = Limits {
            contrast_ratio: window,
            ..self.limits_of_next(order.limits_of(&Cup::pour(shelf, skin)?))
        };
        Ok(order)
    }

    /// Bounds of the search for the next cup: it may take what this one would hold with all that may be added, where that is
    /// more than `usual`.
    fn limits_of_next(&self, usual: CupLimits) -> Limits {
        let entries = self.build.skin.mix.entries().iter();
        let drops = entries.filter_map(|(_, amount)| match amount {
            Amount::Drops(count) => Some(whole_number(count.ceil())),
            Amount::Mass(_) => None,
        });
        let (most, total) = drops.fold((0, 0), |(most, total): (u32, u32), count| {
            (most.max(count), total.saturating_add(count))
        });
        let with_more = |count: u32| (count.saturating_add(self.max_add)).min(Limits::MOST_DROPS);
        Limits {
            max_drops: Some(usual.max_drops.max(with_more(most))),
            max_total_drops: Some(usual.max_total_drops.max(with_more(total))),
            ..self.limits
        }
    }
}

/// Whether `colorant` goes in by the drop.
fn is_dropped(colorant: &Colorant, shelf: &Shelf) -> bool {
    let pigment = shelf.pigment(&colorant.pigment);
    pigment.is_ok_and(|pigment| pigment.drop_mass.is_some())
}
