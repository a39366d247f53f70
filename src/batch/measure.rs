//! How a portion is measured: counted, let down and counted, or weighed.

use serde::Serialize;

use crate::error::{Error, Result};
use crate::materials::{Amount, Colorant, Grams, Pigment, Portion, Settings};
use crate::materials::{LET_DOWN_PARTS, dose, whole_number};

/// One colorant in a pot.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Dose {
    /// The pigment, with the ratio of a let-down.
    pub colorant: Colorant,
    /// How much, in the way it is measured.
    #[serde(flatten)]
    pub measure: Measure,
    /// What that weighs, g.
    pub weighs_g: f64,
    /// By how much what is measured is off what the recipe wants, relative.
    pub rounding: f64,
}

/// Counted or weighed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Measure {
    /// Whole drops.
    Drops(u32),
    /// Grams, to the step of the scale.
    MassG(f64),
}

impl Measure {
    /// As a mix has it.
    pub(super) fn amount(self) -> Amount {
        match self {
            Self::Drops(count) => Amount::Drops(count.into()),
            Self::MassG(mass) => Amount::Mass(Grams(mass)),
        }
    }
}

/// Most drops that a hand counts without losing count; more are weighed, where the scale is surer. Common practice,
/// no source.
const MOST_DROPS: f64 = 20.0;

/// Most drops that are counted where the scale would do, however unsure it is. Common practice, no source.
const LONGEST_COUNT: f64 = 60.0;

/// Drops counted by hand are near enough to what the scaled recipe wants within this (relative): the mean mass of a drop
/// is hardly known better. Common practice, no source.
const NEAR_BY_HAND: f64 = 0.05;

/// A weighed mass is near enough within this (relative).
const NEAR_BY_SCALE: f64 = 0.02;

/// A way to measure that is further off than this (relative) is none.
const TOO_FAR: f64 = 0.25;

/// `wanted` of `colorant`, to the `step` of the scale.
///
/// # Errors
/// Less than the scale can show to within a quarter.
pub(super) fn weighed(colorant: Colorant, wanted: Grams, step: Grams) -> Result<Dose> {
    let dose = on_the_scale(colorant, wanted, step);
    if dose.rounding.abs() > TOO_FAR {
        let finding = format!(
            "{:.4} g of {} can't be weighed to {step}",
            wanted.0, dose.colorant
        );
        return Err(Error::input(finding).mend("make more, or use a finer scale"));
    }
    Ok(dose)
}

/// `wanted` of the pigment for several pots at once: weighed from its bottle where the scale is near enough, counted where whole
/// drops of it are, and else by scale, whole drops, or drops and a let-down of one part in `parts`, whichever errs least; `None`
/// where nothing measures it.
pub(super) fn in_bulk(
    pigment: &Pigment,
    parts: f64,
    wanted: Grams,
    settings: &Settings,
) -> Option<Vec<Dose>> {
    let name = pigment.name.as_str();
    let step = settings.scale_resolution;
    let weighed = vec![on_the_scale(Colorant::neat(name), wanted, step)];
    let Some(drop) = pigment.drop_mass else {
        return Some(weighed).filter(|way| off(way) <= TOO_FAR);
    };
    let wanted = Wanted {
        name,
        drop,
        drops: wanted.0 / drop.0,
    };
    let counted = |counts: &[(f64, f64)]| wanted.counted(counts, f64::INFINITY);
    let whole = counted(&[(1.0, wanted.drops.round())]);
    let neat: Vec<Vec<Dose>> = std::iter::once(weighed).chain(whole).collect();
    let is_near = |way: &&Vec<Dose>| off(way) <= NEAR_BY_SCALE;
    if let Some(near) = neat.iter().find(is_near) {
        return Some(near.clone());
    }
    let let_down = counted(&wanted.split(parts));
    let ways = neat.into_iter().chain(let_down);
    ways.filter(|way| off(way) <= TOO_FAR)
        .min_by(|one, other| error(one, settings).total_cmp(&error(other, settings)))
}

/// By how much `way` is off what is wanted, relative; a way that measures out nothing is off by all of it.
fn off(way: &[Dose]) -> f64 {
    way.first().map_or(1.0, |dose| dose.rounding.abs())
}

fn on_the_scale(colorant: Colorant, wanted: Grams, step: Grams) -> Dose {
    let mass = wanted.rounded_to(step);
    let rounding = if wanted.0 > 0.0 {
        mass.0 / wanted.0 - 1.0
    } else {
        0.0
    };
    Dose {
        colorant,
        measure: Measure::MassG(mass.0),
        weighs_g: mass.0,
        rounding,
    }
}

/// The handiest way to measure `factor` times the drops of one pigment (`portions`, neat and let down), of which a
/// drop weighs `drop`: the recipe's own counts, whole drops, drops and let-down drops, or the scale.
///
/// # Errors
/// Less than any of these can measure to within a quarter.
pub(super) fn dropped(
    portions: &[&Portion<'_>],
    drop: Grams,
    factor: f64,
    settings: &Settings,
) -> Result<Vec<Dose>> {
    let name = portions[0].pigment.name.as_str();
    let dispersion: Grams = portions
        .iter()
        .map(|portion| portion.dispersion_mass())
        .sum();
    let wanted = Wanted {
        name,
        drop,
        drops: dispersion.0 * factor / drop.0,
    };
    if wanted.drops == 0.0 {
        return Ok(Vec::new());
    }
    let as_written: Vec<(f64, f64)> = portions
        .iter()
        .map(|portion| (portion.let_down, drops_of(portion) * factor))
        .collect();
    let named = portions
        .iter()
        .map(|portion| portion.let_down)
        .fold(1.0, f64::max);
    let parts = if named > 1.0 { named } else { LET_DOWN_PARTS };
    let finer = parts * LET_DOWN_PARTS;

    let whole = vec![(1.0, wanted.drops.round())];
    let counts = [as_written, whole, wanted.split(parts), wanted.split(finer)];
    let by_hand = |most| {
        counts
            .iter()
            .filter_map(move |counts| wanted.counted(counts, most))
    };
    let by_scale = vec![on_the_scale(
        Colorant::neat(name),
        drop * wanted.drops,
        settings.scale_resolution,
    )];
    let near_by_hand = |most| by_hand(most).find(|way| off(way) <= NEAR_BY_HAND);
    let near_by_scale = Some(by_scale.clone()).filter(|way| off(way) <= NEAR_BY_SCALE);
    // What a hand counts first; then the surer of a longer count and the scale; counts without end last; and what is
    // nearest where nothing is near.
    let surer = || {
        let ways = near_by_scale
            .iter()
            .cloned()
            .chain(near_by_hand(LONGEST_COUNT));
        ways.min_by(|one, other| error(one, settings).total_cmp(&error(other, settings)))
    };
    let handiest = near_by_hand(MOST_DROPS)
        .or_else(surer)
        .or_else(|| near_by_hand(f64::INFINITY));
    let nearest = || {
        let ways = by_hand(f64::INFINITY).chain([by_scale.clone()]);
        ways.min_by(|one, other| off(one).total_cmp(&off(other)))
    };
    match handiest.or_else(nearest).filter(|way| off(way) <= TOO_FAR) {
        Some(way) => Ok(way),
        None => {
            let finding = format!("{:.4} of a drop of {name} can't be measured", wanted.drops);
            Err(Error::input(finding).mend("make a larger batch, or larger pots"))
        }
    }
}

/// Relative error of a pigment that is measured out as `doses`: by how much they are off what is wanted, and how they
/// scatter.
///
/// What is not known of the mean mass of a drop is left out: counted drops err by it where they are many times a weighed
/// recipe, and weighed ones where they are many times a counted one.
fn error(doses: &[Dose], settings: &Settings) -> f64 {
    let dispersion = |dose: &Dose| dose.weighs_g / dose.colorant.let_down;
    let whole: f64 = doses.iter().map(dispersion).sum();
    let scatter = doses.iter().map(|dose| {
        let share = dispersion(dose) / whole;
        (share * dose.measure.amount().mass_sd(settings)).powi(2)
    });
    let rounding = doses.first().map_or(0.0, |dose| dose.rounding);
    rounding.hypot(scatter.sum::<f64>().sqrt())
}

fn drops_of(portion: &Portion<'_>) -> f64 {
    match portion.amount {
        Amount::Drops(count) => count,
        Amount::Mass(mass) => {
            let drop = portion.pigment.drop_mass;
            mass.0 / drop.expect("only what has a drop mass is counted").0
        }
    }
}

impl Dose {
    /// Mass of the clear base that a let-down brings along.
    pub(super) fn clear_mass(&self) -> Grams {
        Grams(self.weighs_g * (1.0 - 1.0 / self.colorant.let_down))
    }

    /// Whether what is weighed is near enough to what the recipe wants.
    pub(super) fn is_well_weighed(&self) -> bool {
        self.rounding.abs() <= NEAR_BY_SCALE
    }
}

/// What one pot wants of a pigment.
#[derive(Clone, Copy)]
struct Wanted<'a> {
    name: &'a str,
    /// Mass of a drop.
    drop: Grams,
    /// In drops of the dispersion, positive.
    drops: f64,
}

impl Wanted<'_> {
    /// Whole drops and drops of a let-down of `parts`, as `(parts, count)`.
    fn split(&self, parts: f64) -> Vec<(f64, f64)> {
        let (whole, rest) = dose(self.drops, parts);
        vec![(1.0, whole.into()), (parts, rest.into())]
    }

    /// Doses of whole `counts`, none above `most`; `None` where they are not such.
    fn counted(&self, counts: &[(f64, f64)], most: f64) -> Option<Vec<Dose>> {
        let given: f64 = counts.iter().map(|(parts, count)| count / parts).sum();
        let rounding = given / self.drops - 1.0;
        let dose = |(parts, count): &(f64, f64)| Dose {
            colorant: Colorant {
                pigment: self.name.to_owned(),
                let_down: *parts,
            },
            measure: Measure::Drops(whole_number(*count)),
            weighs_g: self.drop.0 * count,
            rounding,
        };
        let can = counts
            .iter()
            .all(|(_, count)| *count <= most && count.fract() == 0.0);
        can.then(|| {
            counts
                .iter()
                .filter(|(_, count)| *count > 0.0)
                .map(dose)
                .collect()
        })
    }
}
