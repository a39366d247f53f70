//! What to add to the cup on the bench.

use std::time::Instant;

use super::cup::{skin, with_drops};
use super::request::Correction;
use crate::colour::TristimulusWeights;
use crate::error::Result;
use crate::forecast::Aim;
use crate::materials::{Casting, Colorant};
use crate::recipe::held::search_held;
use crate::search::{Contrast, CupLimits, Placement, Question, Recipe};
use crate::tone::Target;

/// The best that can be added to a cup.
pub(super) struct Additions {
    pub(super) add: Vec<(Colorant, u32)>,
    pub(super) delta_e_after: f64,
    pub(super) gap: f64,
    pub(super) strengths_left_out: usize,
}

impl Correction<'_> {
    /// What to add to the cup of `casting`, which is on the bench, so that its contrast ratio stays within `window`: the best
    /// found by `deadline`. `None` where nothing may be added, or no cup would keep to what is asked of it.
    pub(super) fn additions(
        &self,
        casting: &Casting<'_>,
        target: &Target,
        weights: &TristimulusWeights,
        window: Option<(f64, f64)>,
        deadline: Option<Instant>,
    ) -> Result<Option<Additions>> {
        let shelf = casting.shelf;
        let cup = skin(casting).clone();
        let dropped = shelf.dropped();
        let mut colorants: Vec<Colorant> = dropped
            .map(|pigment| Colorant::neat(&pigment.name))
            .chain(self.let_downs.iter().cloned())
            .collect();
        let pigment = |name: &str| shelf.pigment(name);
        colorants.retain(|each| {
            self.allows(each) && pigment(&each.pigment).is_ok_and(|it| cup.base.wants(it))
        });
        if self.may_add() == 0 || colorants.is_empty() {
            return Ok(None);
        }
        let question = Question {
            shelf,
            cup,
            placement: Placement::Film {
                thickness_mm: self.build.thickness.0,
                over: Vec::new(),
                beneath: casting.beneath(),
            },
            aims: vec![Aim {
                weights: weights.clone(),
                lab: target.lab,
            }],
            must: Vec::new(),
            contrast: window.map(|window| Contrast::over_cards(window, shelf)),
            let_downs: false,
            opened: Vec::new(),
            is_tinted: false,
            scale_step: None,
            nearby: Vec::new(),
            limits: CupLimits {
                max_drops: self.max_add,
                max_total_drops: self.max_add,
                max_pigments: colorants.len(),
                top: 1,
                within: 0.0,
                threads: self.limits.threads,
                watch: self.limits.watch,
            },
            deadline,
            colorants,
        };
        let with = |recipe: &Recipe| with_drops(casting, &recipe.drops);
        let answer = match search_held(question, with, Question::search) {
            Ok(answer) => answer,
            Err(error) if error.is_out_of_reach() => return Ok(None),
            Err(error) => return Err(error),
        };
        let best = answer.recipes.into_iter().next();
        Ok(best.map(|best| Additions {
            add: best.drops,
            delta_e_after: best.delta_e,
            gap: answer.gap,
            strengths_left_out: answer.strengths_left_out,
        }))
    }
}
