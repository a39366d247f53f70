//! The error budget and the prospects of a part, as JSON.

use serde_json::{Value, json};

use super::PartReport;
use super::budget::lever;
use super::json::triple;
use crate::colour::Translucency;
use crate::forecast::{AtThickness, Budget, BudgetLine, DoubtSource, SEED, Spraying};

fn key(part: DoubtSource) -> &'static str {
    match part {
        DoubtSource::DropMass => "drop_mass",
        DoubtSource::DropScatter => "drop_scatter",
        DoubtSource::Weighing => "weighing",
        DoubtSource::Thickness => "thickness",
        DoubtSource::Curves => "curves",
        DoubtSource::Foam => "foam",
        DoubtSource::Model => "model",
        DoubtSource::Target => "target",
    }
}

/// Where a spread comes from; `bent` where its chances were drawn.
pub(super) fn budget(budget: &Budget, bent: bool) -> Value {
    let parts = budget.lines.iter().map(|line| {
        let BudgetLine {
            source,
            spread: [l_sd, a_sd, b_sd],
            delta_e,
            chance_without,
        } = line;
        json!({
            "part": key(*source), "L_sd": l_sd, "a_sd": a_sd, "b_sd": b_sd, "delta_e": delta_e,
            "chance_without": chance_without
        })
    });
    let lever = budget.best_next_step.as_ref().map(|found| {
        json!({
            "words": lever(budget), "chance": found.chance, "delta_e": found.delta_e
        })
    });
    json!({
        "delta_e": budget.delta_e,
        "chance": budget.chance,
        "by": if bent { "seeded draws" } else { "first order" },
        "seed": bent.then_some(SEED),
        "parts": parts.collect::<Vec<_>>(),
        "best_next_step": lever,
    })
}

/// What else is to be expected of a part.
pub(super) fn prospects(report: &PartReport<'_>) -> Value {
    let prospects = &report.prospects;
    let at = prospects.at_thicknesses.iter().map(|at| {
        let AtThickness {
            thickness,
            lab,
            delta_e,
            translucency:
                Translucency {
                    contrast_ratio,
                    tp_ab,
                    tp_00,
                },
        } = *at;
        json!({
            "thickness_mm": thickness.0, "L": lab.l, "a": lab.a, "b": lab.b, "delta_e": delta_e,
            "contrast_ratio": contrast_ratio, "tp_ab": tp_ab, "tp_00": tp_00
        })
    });
    let spraying = report.paints.iter().zip(&prospects.spraying);
    let spraying = spraying.map(|((tone, _), spraying)| {
        let Spraying {
            wet_g_per_100_cm2,
            covers_cm2,
            one_coat,
            coats,
            reaches_at,
            more_coats,
            on_the_card,
        } = spraying;
        json!({
            "tone": tone, "wet_g_per_100_cm2": wet_g_per_100_cm2, "covers_cm2": covers_cm2,
            "one_coat_mm": one_coat.0,
            "after_each_coat": coats.iter().copied().map(triple).collect::<Vec<_>>(),
            "reaches_at": reaches_at, "on_the_card": triple(*on_the_card),
            "more_coats": more_coats.map(|more| json!({
                "count": more.count, "paint_mm": more.dry_thickness.0, "delta_e": more.delta_e,
            }))
        })
    });
    json!({
        "at_thicknesses": at.collect::<Vec<_>>(),
        "thinnest": prospects.thinnest.map(|thinnest| {
            json!({ "thickness_mm": thinnest.thickness.0, "within": thinnest.within })
        }),
        "foaming": prospects.foaming.map(|foaming| json!({
            "pigment_multiplier": foaming.pigment_multiplier,
            "cells_from_half_to_double":
                foaming.cells_from_half_to_double.map(|labs| labs.map(triple)),
        })),
        "spraying": spraying.collect::<Vec<_>>(),
    })
}
