//! What is poured, in one shape for every answer: cups, doses and jars.
//!
//! A jar is one let-down for one base, and stands once for all cups that draw on it. Masses of a cup are those of all its
//! pots together; `per_pot` has the same for one.

use jiff::civil::Date;
use serde::{Serialize, Serializer};

use crate::batch::{CalledFor, Dose, Measure, Parts, Pour, Stage};
use crate::jobs::matching::{FilledCup, Layer, Matched};
use crate::materials::{Colorant, Kind, whole_number};
use crate::tone::ToneRole;

/// Version of the documents' shape.
pub(super) const SCHEMA: u32 = 2;

/// What the fibre is called on every shelf.
const FIBRE: &str = "fibre";

/// A let-down for one base, with what all cups take of it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct Jar {
    /// The pigment in it.
    pub(crate) pigment: String,
    /// One part of the pigment in so many.
    #[serde(serialize_with = "as_whole")]
    pub(crate) ratio: f64,
    /// The base of the cups that draw on it, whose clear part (part B) the rest is.
    pub(crate) base: String,
    /// Pigment in it, g: to be stirred in where it is new, as it stands otherwise.
    pub(crate) pigment_g: f64,
    /// Clear base in it, g, likewise.
    pub(crate) base_g: f64,
    /// What all cups together take of it, g.
    pub(crate) uses_g: f64,
    /// Whether it is to be made.
    pub(crate) new: bool,
    /// The last good day of those that stand, the first of several.
    #[serde(skip)]
    pub(crate) keeps_until: Option<Date>,
}

impl Jar {
    /// How much more is made than the cups take: some stays on stick and dropper. Common practice, no source.
    const SPARE: f64 = 1.2;

    /// The jars that are stirred or taken for `pours` as they are poured: those of pots that are tinted at once are not.
    pub(super) fn to_stir<'a>(pours: impl IntoIterator<Item = &'a Pour>) -> Vec<Self> {
        Self::of(pours.into_iter().filter(|pour| !pour.drawn_on().is_empty()))
    }

    /// The jars that `pours` draw on pot by pot, in the order in which they are wanted.
    pub(crate) fn of<'a>(pours: impl IntoIterator<Item = &'a Pour>) -> Vec<Self> {
        let mut jars: Vec<Self> = Vec::new();
        for pour in pours {
            for called_for in &pour.let_downs {
                let CalledFor {
                    let_down,
                    uses_g,
                    from,
                    ..
                } = called_for;
                let known = jars
                    .iter()
                    .position(|jar| jar.base == pour.base && jar.is_of(let_down));
                let index = known.unwrap_or_else(|| {
                    let left: f64 = from.iter().map(|jar| jar.let_down.mass.0).sum();
                    jars.push(Self {
                        pigment: let_down.pigment.clone(),
                        ratio: let_down.let_down,
                        base: pour.base.clone(),
                        pigment_g: left / let_down.let_down,
                        base_g: left - left / let_down.let_down,
                        uses_g: 0.0,
                        new: false,
                        keeps_until: from.iter().map(|jar| jar.let_down.keeps_until).min(),
                    });
                    jars.len() - 1
                });
                let jar = &mut jars[index];
                jar.uses_g += uses_g;
                jar.new |= !called_for.is_ready();
            }
        }
        for jar in jars.iter_mut().filter(|jar| jar.new) {
            jar.pigment_g = Self::pigment_to_stir_g(jar.uses_g, jar.ratio);
            jar.base_g = jar.pigment_g * (jar.ratio - 1.0);
        }
        jars
    }

    /// Pigment that is stirred into a new jar of one part in `ratio`, g, of which so much is used.
    pub(super) fn pigment_to_stir_g(uses_g: f64, ratio: f64) -> f64 {
        // A gram is the least that a bench scale weighs to some per cent.
        (uses_g * Self::SPARE / ratio).ceil().max(1.0)
    }

    /// Whether the jar holds `colorant`, at its very ratio.
    fn is_of(&self, colorant: &Colorant) -> bool {
        self.pigment == colorant.pigment && self.ratio.to_bits() == colorant.let_down.to_bits()
    }
}

/// Writes a ratio as a whole number where it is one.
#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde hands a reference")]
fn as_whole<S: Serializer>(ratio: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    if ratio.fract() == 0.0 {
        serializer.serialize_u32(whole_number(*ratio))
    } else {
        serializer.serialize_f64(*ratio)
    }
}

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
    pub(super) fn of_pour(pour: &'a Pour) -> Self {
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
                ..Self::of_pour(&cup.pour)
            }
        };
        matched.cups().map(cup).collect()
    }
}
