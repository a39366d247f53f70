//! The error budget of a recipe: what is in doubt, and the act that helps most.
//!
//! Spreads are one standard deviation, worded as ΔE00 and largest first; what is below 0.05 goes without a word. The act is
//! chosen elsewhere; here it is said with its number.
//!
//! The parts don't add up to the whole, as spreads add by their squares; they are told largest first so that nobody tries.

use serde_json::{Value, json as object};

use super::numbers::in_a_hundred;
use crate::forecast::{Act, Budget, BudgetLine, DoubtSource, NextStep, SEED};
use crate::tone::InstrumentKind;

/// What a source of doubt is called in a sentence.
pub(crate) fn name(source: DoubtSource) -> &'static str {
    match source {
        DoubtSource::DropMass => "mean mass of drops",
        DoubtSource::DropScatter => "scatter of drops",
        DoubtSource::Weighing => "weighing",
        DoubtSource::Fibre => "fibre by feel",
        DoubtSource::Thickness => "thickness",
        DoubtSource::Curves => "pigments not yet measured",
        DoubtSource::Foam => "cells and rise of the foam",
        DoubtSource::FoamContact => "how the foam touches the skin",
        DoubtSource::LeftOver => "what the physics leaves over",
        DoubtSource::Model => "the layer model",
        DoubtSource::Target => "the target",
    }
}

/// What a source of doubt is called in a document. Other programs look for these keys, so that the words of a sentence may change
/// and these may not.
fn key(source: DoubtSource) -> &'static str {
    match source {
        DoubtSource::DropMass => "drop_mass",
        DoubtSource::DropScatter => "drop_scatter",
        DoubtSource::Weighing => "weighing",
        DoubtSource::Fibre => "fibre",
        DoubtSource::Thickness => "thickness",
        DoubtSource::Curves => "curves",
        DoubtSource::Foam => "foam",
        DoubtSource::FoamContact => "foam_contact",
        DoubtSource::LeftOver => "left_over",
        DoubtSource::Model => "model",
        DoubtSource::Target => "target",
    }
}

/// What is in doubt, the largest first: `as ΔE00: pigments not yet measured 3.1, thickness 0.6; together 3.2`.
pub(super) fn in_doubt(budget: &Budget) -> String {
    let said: Vec<String> = (worth_a_word(budget).iter())
        .map(|line| format!("{} {:.1}", name(line.source), line.delta_e))
        .collect();
    let said = if said.is_empty() {
        "nothing to speak of".to_owned()
    } else {
        said.join(", ")
    };
    format!(
        "in doubt, as ΔE00 (one sd): {said}; together {:.1}",
        budget.delta_e
    )
}

/// What is in doubt, the largest first, without its numbers: `thickness and the layer model`; `None` where there is nothing
/// to speak of.
pub(super) fn what_is_in_doubt(budget: &Budget) -> Option<String> {
    let lines = worth_a_word(budget);
    let names: Vec<&str> = lines.iter().map(|line| name(line.source)).collect();
    match names.split_last()? {
        (last, []) => Some((*last).to_owned()),
        (last, others) => Some(format!("{} and {last}", others.join(", "))),
    }
}

/// The lines that are worth a word, the largest first.
pub(crate) fn worth_a_word(budget: &Budget) -> Vec<BudgetLine> {
    /// Less than this, as ΔE00, is not worth a word.
    const WORTH_A_WORD: f64 = 0.05;
    let mut lines = budget.lines.clone();
    lines.retain(|line| line.delta_e >= WORTH_A_WORD);
    lines.sort_by(|one, other| other.delta_e.total_cmp(&one.delta_e));
    lines
}

/// The act that helps most, with what it makes of the chance and of the ΔE00 in doubt; `None` where none helps.
///
/// Where the chance stays the same in whole castings of a hundred, it says that they land nearer and gives no second chance.
pub(crate) fn best_next_step(budget: &Budget) -> Option<String> {
    let NextStep {
        act,
        chance,
        delta_e,
    } = budget.best_next_step.as_ref()?;
    let [now, then] = [budget.chance, *chance].map(in_a_hundred);
    let landing = if now == then {
        format!("Still about {now} of 100 castings would land, but nearer")
    } else {
        format!("Of 100 castings {then} would land in place of {now}")
    };
    Some(format!(
        "what helps most: {}. {landing} (what is in doubt: ΔE00 {:.1} → {delta_e:.1})",
        words(act),
        budget.delta_e
    ))
}

/// An act, as one says it to whoever stands at the bench: with its number, and the scale or tolerance that it takes.
fn words(act: &Act) -> String {
    match act {
        Act::Weigh { pigment, step } => {
            format!("weigh the {pigment} instead of dropping it, on a scale that shows {step}")
        }
        Act::HoldThickness {
            sprayed,
            thickness,
            to,
        } => {
            let verb = if *sprayed { "spray" } else { "brush" };
            let digits = if *sprayed { 4 } else { 2 };
            format!("{verb} to {} ± {:.digits$} mm", thickness.0, to.0)
        }
        Act::CastChips { material, more } => {
            let more = if *more { "two more chips" } else { "two chips" };
            format!(
                "cast {more} of {}, if that halves what is not known of it",
                material.name()
            )
        }
        Act::CastFoamChip { foam } => format!(
            "cast a light tint in {foam} and in clear skin, log a thin slice and the skin over both cards and calibrate, if that halves the doubt of its cells"
        ),
        Act::HoldRise {
            foam,
            to: (expansion, sd),
        } => format!(
            "keep the rise of {foam} to {expansion} ± {sd:.1} times, by weighing, warming and stirring it alike"
        ),
        Act::ReadTone { read_by } => {
            let how = match read_by {
                Some(InstrumentKind::NonContact) => {
                    "read the tone with an instrument instead of off a photograph"
                }
                Some(InstrumentKind::Contact) | None => "read the tone in more places",
            };
            format!("{how}, if that halves its doubt")
        }
    }
}

/// `{"delta_e": …, "chance": …, "by": …, "seed": …, "parts": [{"part": …, "L_sd": …, …}], "best_next_step": {"words": …,
/// "chance": …, "delta_e": …}}`.
///
/// `parts` are the sources of a spread: ΔE00 of each at one standard deviation, and the chance (0–1) that would be left
/// without it. The chances were drawn, from `seed`, where `by_draws`, and are of first order otherwise, with `seed` `null`.
/// All sources that move the colour stand there, in the order of the work, also those too small for a word in text.
/// `best_next_step` is `null` where no act helps.
pub(super) fn json(budget: &Budget, by_draws: bool) -> Value {
    let parts = budget.lines.iter().map(|line| {
        let BudgetLine {
            source,
            spread: [l_sd, a_sd, b_sd],
            delta_e,
            chance_without,
        } = line;
        object!({
            "part": key(*source), "L_sd": l_sd, "a_sd": a_sd, "b_sd": b_sd, "delta_e": delta_e,
            "chance_without": chance_without
        })
    });
    let next_step = budget.best_next_step.as_ref().map(|found| {
        object!({
            "words": best_next_step(budget), "chance": found.chance, "delta_e": found.delta_e
        })
    });
    object!({
        "delta_e": budget.delta_e,
        "chance": budget.chance,
        "by": if by_draws { "seeded draws" } else { "first order" },
        "seed": by_draws.then_some(SEED),
        "parts": parts.collect::<Vec<_>>(),
        "best_next_step": next_step,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::materials::{Grams, Material, Millimetres};

    #[test]
    fn an_act_is_said_with_its_number() {
        let weigh = Act::Weigh {
            pigment: "red".to_owned(),
            step: Grams(0.01),
        };
        assert_eq!(
            words(&weigh),
            "weigh the red instead of dropping it, on a scale that shows 0.01 g",
            "weighing"
        );
        let brush = Act::HoldThickness {
            sprayed: false,
            thickness: Millimetres(2.0),
            to: Millimetres(0.2),
        };
        assert_eq!(words(&brush), "brush to 2 ± 0.20 mm", "brushing");
        let cast = Act::CastChips {
            material: Material::Pigment("umber".to_owned()),
            more: true,
        };
        assert!(
            words(&cast).starts_with("cast two more chips of umber"),
            "casting"
        );
    }
}
