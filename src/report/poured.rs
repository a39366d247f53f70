//! What is poured, in one shape for every answer: cups, doses and jars.
//!
//! A jar is one let-down for one base, and stands once for all cups that draw on it. Masses of a cup are those of all its
//! pots together; `per_pot` has the same for one.

use serde::Serialize;

use crate::batch::{Dose, Measure, Parts, Pour, Stage, Unlike, as_whole};
use crate::jobs::batching::Batched;
use crate::jobs::matching::{FilledCup, Layer, Matched};
use crate::materials::Kind;
use crate::tone::ToneRole;

/// Version of the documents' shape.
pub(super) const SCHEMA: u32 = 2;

/// What the fibre is called on every shelf.
const FIBRE: &str = "fibre";

/// One thing that goes into a cup besides its base and its fibre.
#[derive(Serialize)]
pub(super) struct DoseRow<'a> {
    /// The pigment, or stock.
    pigment: &'a str,
    /// One part of it in so many; 1 from the bottle itself.
    #[serde(serialize_with = "as_whole")]
    ratio: f64,
    /// Whole drops; `null` where it is weighed.
    drops: Option<u32>,
    /// What they weigh, or what is weighed, g.
    g: f64,
}

impl<'a> DoseRow<'a> {
    /// `dose` of `pots` pots.
    pub(super) fn of(dose: &'a Dose, pots: u32) -> Self {
        Self {
            pigment: &dose.colorant.pigment,
            ratio: dose.colorant.let_down,
            drops: match dose.measure {
                Measure::Drops(count) => Some(count * pots),
                Measure::MassG(_) => None,
            },
            g: f64::from(pots) * dose.weighs_g,
        }
    }
}

/// What goes into one pot, or into all of them.
#[derive(Serialize)]
struct Amounts<'a> {
    /// Part B, g, or all of a base that comes as one part; `null` where it is measured by volume.
    part_b_g: Option<f64>,
    /// Part A, g; 0 where there is none, `null` where it is measured by volume.
    part_a_g: Option<f64>,
    /// Part B, ml, where it is measured by volume.
    #[serde(skip_serializing_if = "Option::is_none")]
    part_b_ml: Option<f64>,
    /// Part A, ml, likewise.
    #[serde(skip_serializing_if = "Option::is_none")]
    part_a_ml: Option<f64>,
    /// Weighed fibre, g.
    fibre_g: f64,
    /// What else goes in, in the order in which it does.
    doses: Vec<DoseRow<'a>>,
}

impl<'a> Amounts<'a> {
    /// Of `pots` pots of `pour`.
    fn of(pour: &'a Pour, pots: u32) -> Self {
        let times = f64::from(pots);
        let [part_b_g, part_a_g, part_b_ml, part_a_ml] = match pour.parts {
            Parts::Single {} => [Some(pour.base_g), Some(0.0), None, None],
            Parts::Weighed { part_a_g, part_b_g } => [Some(part_b_g), Some(part_a_g), None, None],
            Parts::ByVolume {
                part_a_ml,
                part_b_ml,
            } => [None, None, Some(part_b_ml), Some(part_a_ml)],
        }
        .map(|amount| amount.map(|amount| times * amount));
        let (fibre, doses): (Vec<&Dose>, Vec<&Dose>) =
            pour.doses.iter().partition(|dose| is_fibre(dose));
        Self {
            part_b_g,
            part_a_g,
            part_b_ml,
            part_a_ml,
            // The sum of nothing has a minus.
            fibre_g: fibre.iter().map(|dose| times * dose.weighs_g).sum::<f64>() + 0.0,
            doses: doses.iter().map(|dose| DoseRow::of(dose, pots)).collect(),
        }
    }
}

/// Part B of all pots, tinted together.
#[derive(Serialize)]
struct AtOnceJson<'a> {
    /// Part B of all pots, g.
    part_b_g: f64,
    /// What is stirred into it.
    doses: Vec<DoseRow<'a>>,
    /// What is taken of that for one pot, g.
    share_g: f64,
    /// Part A of one pot, g.
    part_a_g: f64,
}

/// Whether `dose` is the fibre, which is weighed.
pub(crate) fn is_fibre(dose: &Dose) -> bool {
    dose.colorant.pigment == FIBRE && matches!(dose.measure, Measure::MassG(_))
}

/// Pots of unlike size in whole drops.
#[derive(Serialize)]
pub(super) struct UnlikeJson {
    /// ΔE00 between the two that differ most.
    worst_delta_e: f64,
    /// Each pot, the largest first.
    pots: Vec<UnlikePotJson>,
}

/// One of them.
#[derive(Serialize)]
struct UnlikePotJson {
    /// Mass of the mixed base, g.
    base_g: f64,
    /// Its parts.
    #[serde(flatten)]
    parts: Parts,
    /// What goes in, as a mix is written.
    mix: String,
}

impl UnlikeJson {
    /// These pots.
    pub(super) fn of(unlike: &Unlike) -> Self {
        Self {
            worst_delta_e: unlike.apart,
            pots: (unlike.pots.iter())
                .map(|pot| UnlikePotJson {
                    base_g: pot.poured.base_mass.0,
                    parts: pot.parts,
                    mix: pot.poured.mix.to_string(),
                })
                .collect(),
        }
    }
}

/// A cup as it is poured.
#[derive(Serialize)]
pub(super) struct PouredCup<'a> {
    /// `skin`, `foam` or `paint`.
    layer: Kind,
    /// `base`, `flush` or `shadow`: the tone that it is aimed at; `null` where nothing says.
    tone: Option<ToneRole>,
    /// The base's name.
    base: &'a str,
    /// How many pots alike.
    pots: u32,
    /// All pots together.
    #[serde(flatten)]
    all: Amounts<'a>,
    /// One pot.
    per_pot: Amounts<'a>,
    /// How all pots are tinted at once, where there are several and they can be: part B of all of them and what goes into it,
    /// g, and what is taken of that for one pot.
    #[serde(skip_serializing_if = "Option::is_none")]
    at_once: Option<AtOnceJson<'a>>,
    /// Pots of unlike size in whole drops, where each is tinted for itself and pots alike take none: of a part's cup.
    #[serde(skip_serializing_if = "Option::is_none")]
    unlike: Option<UnlikeJson>,
    /// ΔE00 by which what is measured out lies off the recipe; of a recipe that nobody says where to put, as it is seen thick.
    rounding_delta_e: f64,
    /// Minutes until it must be used up; `null` where the book does not say, as of a paint.
    pot_life_min: Option<f64>,
    /// ΔE00 of what comes out from its aim; `null` where nothing is aimed at.
    delta_e: Option<f64>,
    /// Y over black by Y over white of what comes out; likewise.
    contrast_ratio: Option<f64>,
    /// Whether it is aimed to within tolerance; likewise.
    within_tolerance: Option<bool>,
}

impl<'a> PouredCup<'a> {
    /// A cup that nothing is aimed at.
    pub(super) fn of_batch(batched: &'a Batched) -> Self {
        Self::of_pour(&batched.pour, batched.off_recipe)
    }

    /// A cup as it is poured, all its pots together, and by how much what is poured is off the recipe it was rounded from: the
    /// masses are what a scale shows, and the colour difference is what that costs.
    fn of_pour(pour: &'a Pour, off_recipe: f64) -> Self {
        Self {
            layer: pour.kind,
            tone: None,
            base: &pour.base,
            pots: pour.pots,
            all: Amounts::of(pour, pour.pots),
            per_pot: Amounts::of(pour, 1),
            at_once: pour.at_once.as_ref().map(|at_once| AtOnceJson {
                part_b_g: at_once.part_b_g,
                doses: at_once
                    .doses
                    .iter()
                    .map(|dose| DoseRow::of(dose, 1))
                    .collect(),
                share_g: at_once.share_g,
                part_a_g: at_once.part_a_g,
            }),
            unlike: None,
            rounding_delta_e: off_recipe,
            pot_life_min: pour.minutes_until(Stage::UsedUp),
            delta_e: None,
            contrast_ratio: None,
            within_tolerance: None,
        }
    }

    /// The cups of `matched`, in the order of the work.
    pub(super) fn all_of(matched: &'a Matched) -> Vec<Self> {
        let cup = |cup: &'a FilledCup| {
            let best = cup.recipe.best();
            Self {
                tone: Some(match cup.layer {
                    Layer::Skin | Layer::Foam { .. } => ToneRole::Base,
                    Layer::Paint(role) => role,
                }),
                delta_e: Some(best.delta_e),
                contrast_ratio: Some(best.prediction.contrast_ratio),
                within_tolerance: Some(matched.is_reached(cup)),
                unlike: cup.unlike.as_ref().map(UnlikeJson::of),
                ..Self::of_pour(&cup.pour, cup.off_recipe)
            }
        };
        matched.cups().map(cup).collect()
    }
}
