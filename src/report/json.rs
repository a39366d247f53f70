//! JSON documents, one a command; numbers in full.

use std::path::Path;

use serde::Serialize;
use serde_json::{Map, Value};

use super::part::{miss, steps};
use super::{Logged, PartReport, PouredRecipe, expectations, one_tint};
use crate::batch::Pour;
use crate::colour::{Lab, Light, Observer, Spectrum, Translucency, delta_e_2000, delta_e_ab};
use crate::error::{Error, Result};
use crate::forecast::{Pair, Prediction, acceptable_ab};
use crate::materials::Colorant;
use crate::tone::{TargetDocument, ToneRole};

/// A document on one line, with a line end.
pub(super) fn document(value: &impl Serialize) -> String {
    let text = serde_json::to_string(value).unwrap_or_else(|error| {
        unreachable!("a document of numbers, names and lists always serialises: {error}")
    });
    text + "\n"
}

/// What a film shows of black and white beneath it.
#[derive(Serialize)]
pub(super) struct SeenJson {
    contrast_ratio: f64,
    /// ΔE*ab, and ΔE00, over black to over white.
    tp_ab: f64,
    tp_00: f64,
}

impl From<Translucency> for SeenJson {
    fn from(seen: Translucency) -> Self {
        let Translucency {
            contrast_ratio,
            tp_ab,
            tp_00,
        } = seen;
        Self {
            contrast_ratio,
            tp_ab,
            tp_00,
        }
    }
}

#[derive(Serialize)]
struct Predicted {
    #[serde(rename = "L")]
    l: f64,
    a: f64,
    b: f64,
    #[serde(rename = "L_sd")]
    l_sd: f64,
    a_sd: f64,
    b_sd: f64,
    #[serde(flatten)]
    seen: SeenJson,
    r: Spectrum,
    under: Map<String, Value>,
}

impl Predicted {
    fn new(prediction: &Prediction, observer: Observer, lights: &[Light]) -> Self {
        let Prediction {
            lab,
            translucency,
            reflectance,
            ..
        } = *prediction;
        let [l_sd, a_sd, b_sd] = prediction.spread();
        let under = lights.iter().map(|light| {
            (
                light.name().to_owned(),
                triple(prediction.under(light, observer)),
            )
        });
        Self {
            l: lab.l,
            a: lab.a,
            b: lab.b,
            l_sd,
            a_sd,
            b_sd,
            seen: translucency.into(),
            r: reflectance,
            under: under.collect(),
        }
    }
}

pub(super) fn triple(lab: Lab) -> Value {
    Value::from(vec![lab.l, lab.a, lab.b])
}

/// The answer of `predict`: `{"builds": […]}`.
pub fn predictions(
    builds: &[(String, Prediction)],
    observer: Observer,
    lights: &[Light],
) -> String {
    #[derive(Serialize)]
    struct Built<'a> {
        build: &'a str,
        #[serde(flatten)]
        predicted: Predicted,
    }
    #[derive(Serialize)]
    struct Document<'a> {
        builds: Vec<Built<'a>>,
    }
    let built = builds.iter().map(|(build, prediction)| Built {
        build,
        predicted: Predicted::new(prediction, observer, lights),
    });
    document(&Document {
        builds: built.collect(),
    })
}

/// A target, as `target --json` prints it and `match --target FILE` reads it.
pub fn target(target: &TargetDocument) -> String {
    document(target)
}

#[derive(Serialize)]
struct CupJson<'a> {
    base: &'a str,
    /// Of one of so many pots alike is all that follows.
    pots: u32,
    base_g: f64,
    mix: String,
    aim: Value,
    /// Whether the best is aimed to within tolerance.
    passes: bool,
    proven: bool,
    gap: f64,
    recipes: Vec<RecipeJson>,
    pour: &'a Pour,
    #[serde(skip_serializing_if = "Option::is_none")]
    before_rise: Option<Value>,
}

#[derive(Serialize)]
struct RecipeJson {
    drops: Map<String, Value>,
    delta_e: f64,
    #[serde(rename = "delta_L")]
    delta_l: f64,
    delta_a: f64,
    delta_b: f64,
    /// ΔE00 under each light that was matched under.
    delta_e_under: Map<String, Value>,
    /// What of it is metamerism against the book's light.
    metamerism_under: Map<String, Value>,
    #[serde(skip_serializing_if = "Option::is_none")]
    worst_under: Option<Worst>,
    /// ΔE*ab, and how much of it observers accept.
    delta_e_ab: f64,
    acceptable_ab: f64,
    /// Chance of landing within the tolerance, 0–1.
    chance: f64,
    budget: Value,
    #[serde(flatten)]
    predicted: Predicted,
}

/// The light under which a recipe looks worst beside its target.
#[derive(Serialize)]
struct Worst {
    light: String,
    delta_e: f64,
}

fn by_light(pairs: &[Pair], value: impl Fn(&Pair) -> f64) -> Map<String, Value> {
    let named = |pair: &Pair| (pair.light.name().to_owned(), Value::from(value(pair)));
    pairs.iter().map(named).collect()
}

pub(super) fn drops(counted: &[(Colorant, u32)]) -> Map<String, Value> {
    counted
        .iter()
        .map(|(colorant, count)| (colorant.to_string(), Value::from(*count)))
        .collect()
}

impl<'a> CupJson<'a> {
    fn new(
        report: &PartReport<'_>,
        cup: &'a PouredRecipe,
        observer: Observer,
        lights: &[Light],
    ) -> Result<Self> {
        let passes = report.is_reached(cup);
        let PouredRecipe {
            recipe: cup, pour, ..
        } = cup;
        let best = cup.best();
        let recipes = cup.choices.iter().map(|choice| {
            let [delta_l, delta_a, delta_b] = steps(cup.aim, choice.prediction.lab);
            RecipeJson {
                drops: drops(&choice.drops),
                delta_e: choice.delta_e,
                delta_l,
                delta_a,
                delta_b,
                delta_e_under: by_light(&choice.under, |pair| pair.delta_e),
                metamerism_under: by_light(&choice.under, |pair| pair.metamerism),
                worst_under: Pair::worst(&choice.under).map(|pair| Worst {
                    light: pair.light.name().to_owned(),
                    delta_e: pair.delta_e,
                }),
                delta_e_ab: delta_e_ab(cup.aim, choice.prediction.lab),
                acceptable_ab: acceptable_ab(cup.aim),
                chance: choice.chance,
                budget: expectations::budget(&choice.budget, choice.prediction.is_curved()),
                predicted: Predicted::new(&choice.prediction, observer, lights),
            }
        });
        Ok(Self {
            base: &best.poured.base,
            pots: pour.pots,
            base_g: best.poured.base_mass.0,
            mix: report.spelled_out(&best.poured.mix)?.to_string(),
            aim: triple(cup.aim),
            passes,
            proven: cup.proven,
            gap: cup.gap,
            recipes: recipes.collect(),
            pour,
            before_rise: best.before_rise.map(triple),
        })
    }
}

/// What a miss is like, and what would mend it.
#[derive(Serialize)]
struct OutOfReach<'a> {
    /// CIELAB of the nearest.
    nearest: Value,
    miss: String,
    would_help: Vec<WouldHelp<'a>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    more_drops: Option<Value>,
}

#[derive(Serialize)]
struct WouldHelp<'a> {
    pigment: &'a str,
    at_hand: bool,
    delta_e: f64,
}

impl<'a> OutOfReach<'a> {
    fn new(report: &'a PartReport<'_>) -> Self {
        let made = report.skin.recipe.best().prediction.lab;
        let would_help = report.reach.helpers.iter().map(|helper| WouldHelp {
            pigment: &helper.pigment,
            at_hand: helper.at_hand,
            delta_e: helper.delta_e,
        });
        Self {
            nearest: triple(made),
            miss: miss(report.skin.recipe.aim, made),
            would_help: would_help.collect(),
            more_drops: report.reach.more_drops.as_ref().map(|more| {
                serde_json::json!({
                    "count": more.count,
                    "max_drops": more.max_drops,
                    "max_total_drops": more.max_total_drops,
                    "most_of": more.most_of.to_string(),
                    "delta_e": more.delta_e,
                })
            }),
        }
    }
}

/// The answer of `match`: the skin's recipes, and beside them the foam's and the paint's where there are any.
///
/// # Errors
/// A mix that can't be told in the book's pigments alone: see [`PartReport::spelled_out`].
pub fn part(
    report: &PartReport<'_>,
    observer: Observer,
    lights: &[Light],
    elapsed_s: f64,
) -> Result<String> {
    #[derive(Serialize)]
    struct Document<'a> {
        title: &'a str,
        date: &'a str,
        elapsed_s: f64,
        tolerance: f64,
        #[serde(skip_serializing_if = "Option::is_none")]
        out_of_reach: Option<OutOfReach<'a>>,
        #[serde(flatten)]
        skin: CupJson<'a>,
        #[serde(skip_serializing_if = "Option::is_none")]
        foam: Option<CupJson<'a>>,
        #[serde(skip_serializing_if = "Option::is_none")]
        paint: Option<CupJson<'a>>,
        #[serde(skip_serializing_if = "Option::is_none")]
        shadow_paint: Option<CupJson<'a>>,
        #[serde(skip_serializing_if = "Option::is_none")]
        base_paint: Option<CupJson<'a>>,
        #[serde(skip_serializing_if = "Option::is_none")]
        one_tint: Option<Value>,
        prospects: Value,
        target: TargetDocument,
        notes: &'a [String],
    }
    let cup = |recipe| CupJson::new(report, recipe, observer, lights);
    let paint = |role| {
        let mut paints = report.paints.iter();
        let found = paints.find(|(tone, _)| *tone == role);
        found.map(|(_, recipe)| cup(recipe)).transpose()
    };
    Ok(document(&Document {
        title: report.title,
        date: report.date,
        elapsed_s,
        tolerance: report.tolerance,
        out_of_reach: (!report.passes()).then(|| OutOfReach::new(report)),
        skin: cup(&report.skin)?,
        foam: report.foam.as_ref().map(cup).transpose()?,
        paint: paint(ToneRole::Flush)?,
        shadow_paint: paint(ToneRole::Shadow)?,
        base_paint: paint(ToneRole::Base)?,
        one_tint: report.one_tint.map(one_tint::as_json),
        prospects: expectations::prospects(report),
        target: TargetDocument::new(report.target, lights),
        notes: &report.notes,
    }))
}

/// The answer of `batch`.
pub fn batch(pour: &Pour) -> String {
    document(pour)
}

/// A swatch beside its prediction.
#[derive(Serialize)]
struct Row<'a> {
    swatch: &'a str,
    date: String,
    mix: String,
    measured: Value,
    predicted: Value,
    delta_e: f64,
    #[serde(rename = "delta_L")]
    delta_l: f64,
    delta_a: f64,
    delta_b: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    specular: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    aperture_mm: Option<f64>,
}

/// The answer of `swatch list` and `swatch add`: `{"swatches": […], "doubtful": […]}`; rows of the log that are `doubtful` are
/// told in words.
pub fn swatches(logged: &[Logged<'_>], doubtful: &[Error]) -> String {
    #[derive(Serialize)]
    struct Document<'a> {
        swatches: Vec<Row<'a>>,
        doubtful: Vec<String>,
    }
    let rows = logged.iter().map(|logged| {
        let geometry = logged.swatch.geometry;
        let [delta_l, delta_a, delta_b] = steps(logged.predicted, logged.measured);
        Row {
            swatch: &logged.swatch.id,
            date: logged.swatch.date.to_string(),
            mix: logged.swatch.build.skin.mix.to_string(),
            measured: triple(logged.measured),
            predicted: triple(logged.predicted),
            delta_e: delta_e_2000(logged.measured, logged.predicted),
            delta_l,
            delta_a,
            delta_b,
            specular: geometry.specular.map(|specular| specular.to_string()),
            aperture_mm: geometry.aperture_mm,
        }
    });
    document(&Document {
        swatches: rows.collect(),
        doubtful: doubtful.iter().map(Error::to_string).collect(),
    })
}

/// The answer of `swatch export`.
pub fn exported(file: &Path, readings: usize) -> String {
    document(&serde_json::json!({ "file": file.display().to_string(), "readings": readings }))
}
