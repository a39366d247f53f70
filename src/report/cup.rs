//! One cup of a matched part: its recipes, how to pour the best, and what comes out.
//!
//! Skin, foam and paint are worded alike. What only one of them has (a liquid colour before it rises, several pots) is left
//! out elsewhere.

use std::fmt::{self, Write as _};

use serde::Serialize;
use serde_json::{Map, Value};

use super::batch::write_measured;
use super::budget;
use super::colours::{Numbers, Patch, Seen, Steps, steps};
use super::document::{drops, triple, weighed};
use super::lights::{Worst, by_light, write_pairs};
use super::part_report::{aims_at, applied};
use super::predictions::{Predicted, write_made};
use super::text::{HEADING, capital, write_hanging, write_wrapped};
use crate::batch::Pour;
use crate::colour::{Lab, delta_e_ab};
use crate::error::Result;
use crate::forecast::{Prediction, acceptable_ab};
use crate::jobs::matching::{FilledCup, Matched};

/// The `step`th cup of a part, in the order of the work: what measuring it costs, and what comes out beside what is aimed at. Then what is
/// `said` of it besides (a sentence each), its doubts, and how it looks under each light. At the end stand the next best
/// recipes, and how far from the best this one can be.
pub(super) fn write_cup(
    out: &mut String,
    step: usize,
    cup: &FilledCup,
    remarks: &[String],
) -> fmt::Result {
    let FilledCup {
        layer,
        recipe,
        pour,
        application,
        off_recipe,
        ..
    } = cup;
    let best = recipe.best();
    let name = capital(&cup.name());
    let apply = applied(*application);
    writeln!(
        out,
        "{HEADING}{step} {name}{HEADING:#}   {}: {apply}",
        pour.base
    )?;
    write_measured(out, pour, *off_recipe)?;
    if let Some(liquid) = best.before_rise {
        let (numbers, patch) = (Numbers(liquid), Patch(liquid));
        writeln!(out, "  before it rises {numbers}  {patch}  (it lightens)")?;
    }
    write_prediction(out, &best.prediction, recipe.aim, best.delta_e)?;
    write_wrapped(out, "  ", &format!("aimed at {}", aims_at(*layer)))?;
    remarks.iter().try_for_each(|one| write_hanging(out, one))?;
    write_hanging(out, &budget::in_doubt(&best.budget))?;
    if let Some(next_step) = budget::best_next_step(&best.budget) {
        write_hanging(out, &next_step)?;
    }
    write_pairs(out, &best.under)?;
    for other in &recipe.choices[1..] {
        let mix = &other.poured.mix;
        let mix = if mix.is_empty() {
            "no pigment".to_owned()
        } else {
            mix.to_string()
        };
        writeln!(out, "  or ΔE00 {:.2}: {mix}", other.delta_e)?;
    }
    if recipe.proven {
        writeln!(
            out,
            "  proven within {:.2} ΔE00 of the best whole-drop recipe",
            recipe.gap
        )
    } else if recipe.gap.is_infinite() {
        writeln!(
            out,
            "  the best recipe found; how near the best there is comes was not proven"
        )
    } else {
        writeln!(
            out,
            "  the best recipe found; none can be nearer by more than ΔE00 {:.2}",
            recipe.gap
        )
    }
}

/// The aim, what comes out and its standard deviations, and the difference of the two; `delta_e` is ΔE00 between them.
fn write_prediction(
    out: &mut String,
    prediction: &Prediction,
    aim: Lab,
    delta_e: f64,
) -> fmt::Result {
    let Prediction {
        lab, translucency, ..
    } = prediction;
    writeln!(out, "  aim             {}  {}", Numbers(aim), Patch(aim))?;
    write_made(out, prediction)?;
    writeln!(out, "  ΔE00 {delta_e:.2}   {}", Steps(steps(aim, *lab)))?;
    writeln!(out, "  {}", Seen(*translucency))
}

/// A cup: its recipes, the best first, how to pour that, and how far from the best it can be.
#[derive(Serialize)]
pub(super) struct CupJson<'a> {
    /// The base's name.
    base: &'a str,
    /// Of one of so many pots alike is all that follows.
    pots: u32,
    /// Mass of mixed base in one pot, g.
    base_g: f64,
    /// What is stirred into it, in pigments of the book alone.
    mix: String,
    /// CIELAB that is aimed at.
    aim: [f64; 3],
    /// Whether the best is aimed to within tolerance.
    passes: bool,
    /// Whether the search ended with a proof.
    proven: bool,
    /// ΔE00 by which another recipe within the limits may be nearer at most.
    gap: f64,
    /// ΔE00 of the nearest recipe, whatever it asks of the hands.
    nearest_delta_e: f64,
    /// What the recipe to mix asks of the hands, in doses.
    effort: f64,
    /// Whether none that is near enough asks less.
    effort_proven: bool,
    /// How much more than the least that may be; null where the nearest was asked for.
    effort_gap: Option<f64>,
    /// The best first.
    recipes: Vec<RecipeJson>,
    /// How to pour the best.
    pour: &'a Pour,
    /// CIELAB of the liquid in the cup, of a foam: it lightens as it rises. Left out of skin and paint.
    #[serde(skip_serializing_if = "Option::is_none")]
    before_rise: Option<[f64; 3]>,
}

/// A recipe, what comes out of it, and how sure that is.
#[derive(Serialize)]
struct RecipeJson {
    /// Whole drops of each colorant, by its name.
    drops: Map<String, Value>,
    /// Grams of each colorant that is weighed instead, on a scale that is fine enough; left out where none is.
    #[serde(skip_serializing_if = "Map::is_empty")]
    weighed: Map<String, Value>,
    /// ΔE00 of what comes out from the aim; the mean of those under all lights, where it was matched under several.
    delta_e: f64,
    /// What comes out less the aim.
    #[serde(rename = "delta_L")]
    delta_l: f64,
    /// Δa* likewise.
    delta_a: f64,
    /// Δb* likewise.
    delta_b: f64,
    /// ΔE00 under each light that was matched under.
    delta_e_under: Map<String, Value>,
    /// ΔE00 that would be left under each light if the two looked alike under the book's, where it is 0: no small
    /// correction of the recipe mends it.
    metamerism_under: Map<String, Value>,
    /// Where it was matched under several lights.
    #[serde(skip_serializing_if = "Option::is_none")]
    worst_under: Option<Worst>,
    /// The same difference as ΔE*ab, a scale of its own that is not to be mixed with ΔE00.
    delta_e_ab: f64,
    /// ΔE*ab up to which observers accept a casting of the aim's colour: 1.8 on fair skin to 2.6 on dark.
    acceptable_ab: f64,
    /// Chance that a casting lands within the tolerance of the true tone, 0–1, with what the book knows.
    chance: f64,
    /// Where its doubt comes from.
    budget: Value,
    /// What comes out, in the keys that every prediction has.
    #[serde(flatten)]
    predicted: Predicted,
}

impl<'a> CupJson<'a> {
    /// The recipes of `cup`, which is one of the cups of `matched`, under each light that was matched under.
    ///
    /// # Errors
    /// A mix that can't be told in the book's pigments alone: see [`Matched::spelled_out`].
    pub(super) fn new(matched: &Matched, cup: &'a FilledCup) -> Result<Self> {
        let passes = matched.is_reached(cup);
        let observer = matched.target.viewing.observer;
        let lights = &matched.lights;
        let FilledCup {
            recipe: cup, pour, ..
        } = cup;
        let best = cup.best();
        let recipes = cup.choices.iter().map(|choice| {
            let [delta_l, delta_a, delta_b] = steps(cup.aim, choice.prediction.lab);
            RecipeJson {
                drops: drops(&choice.drops),
                weighed: weighed(&choice.weighed),
                delta_e: choice.delta_e,
                delta_l,
                delta_a,
                delta_b,
                delta_e_under: by_light(&choice.under, |pair| pair.delta_e),
                metamerism_under: by_light(&choice.under, |pair| pair.metamerism),
                worst_under: Worst::of(&choice.under),
                delta_e_ab: delta_e_ab(cup.aim, choice.prediction.lab),
                acceptable_ab: acceptable_ab(cup.aim),
                chance: choice.chance,
                budget: budget::json(&choice.budget, choice.prediction.is_curved()),
                predicted: Predicted::new(&choice.prediction, observer, lights),
            }
        });
        Ok(Self {
            base: &best.poured.base,
            pots: pour.pots,
            base_g: best.poured.base_mass.0,
            mix: matched.spelled_out(&best.poured.mix)?.to_string(),
            aim: triple(cup.aim),
            passes,
            proven: cup.proven,
            gap: cup.gap,
            nearest_delta_e: cup.nearest_delta_e,
            effort: cup.effort,
            effort_proven: cup.is_least_effort(),
            effort_gap: cup.effort_gap,
            recipes: recipes.collect(),
            pour,
            before_rise: best.before_rise.map(triple),
        })
    }
}
