//! Pots of unlike size: where as many drops as a batch takes cannot be divided into pots alike, pots of two sizes or three take
//! whole drops each, as much base to a drop in one as in another.
//!
//! Seven drops for three pots are two, two and three, into two sevenths, two sevenths and three sevenths of the base. With several
//! pigments no sizes suit all of them; those are taken whose pots differ least to the eye.

use super::{Parts, Pour, measure::Dose, parts, pots};
use crate::batch::{Measure, Scale};
use crate::error::Result;
use crate::materials::{
    Amount, Colorant, Cup, Grams, Mix, Portion, Poured, Settings, whole_number,
};

/// Pots of unlike size, in whole drops.
#[derive(Clone, Debug, PartialEq)]
pub struct Unlike {
    /// Each pot, the largest first.
    pub pots: Vec<UnlikePot>,
    /// How far apart the two lie that differ most, ΔE00.
    pub apart: f64,
}

/// One of them.
#[derive(Clone, Debug, PartialEq)]
pub struct UnlikePot {
    /// What goes into it, as it is measured out.
    pub poured: Poured,
    /// The parts of its base.
    pub parts: Parts,
    /// Its doses, in whole drops.
    pub doses: Vec<Dose>,
}

impl Unlike {
    /// Leaves out of `pour`, which is of the same cup, the let-downs that none of these pots takes: those by which pots alike would
    /// have been brought nearer the recipe.
    pub fn leave_out_of(&self, pour: &mut Pour) {
        let takes = |colorant: &Colorant| {
            let mixes = self.pots.iter().map(|pot| &pot.poured.mix);
            let mut entries = mixes.flat_map(|mix| mix.entries());
            entries.any(|(taken, _)| taken == colorant)
        };
        pour.let_downs
            .retain(|called_for| takes(&called_for.let_down));
    }
}

/// Pots that differ by no more than this are of one colour, ΔE00: ours, below what anybody sees.
const OF_ONE_COLOUR: f64 = 0.3;

/// How many pots more than are needed are tried: they may take whole drops where fewer do not.
const MORE_POTS: u32 = 2;

/// By how much the drops of one pigment are raised to see what they are worth to the eye.
const A_LITTLE_MORE: f64 = 1.1;

/// Pots of unlike size for `cup`, scaled, of which none is larger than may be: the fewest that are of one colour. `doses` are
/// those of pots alike; `apart` tells how far two cups lie apart, ΔE00.
///
/// `None` where pots alike take the whole drops of the recipe, or where no such pots are of one colour.
///
/// # Errors
/// As `apart`; pots below a gram, or more than a thousand.
pub fn unlike(
    cup: &Cup<'_>,
    scale: Scale,
    doses: &[Dose],
    settings: &Settings,
    apart: impl Fn(&Poured, &Poured) -> Result<f64>,
) -> Result<Option<Unlike>> {
    let whole = cup.base_mass * scale.factor;
    let fewest = pots(whole, scale.largest_pot)?;
    let batch = Batch::of(cup, scale.factor);
    let is_let_down_anew = |dose: &Dose| {
        let named = |portion: &Portion<'_>| portion.colorant() == dose.colorant;
        matches!(dose.measure, Measure::Drops(_)) && !cup.portions.iter().any(named)
    };
    let is_rounded =
        |dose: &Dose| matches!(dose.measure, Measure::Drops(_)) && dose.rounding.abs() > 1e-6;
    let serve_alike = !doses
        .iter()
        .any(|dose| is_rounded(dose) || is_let_down_anew(dose));
    let Some(batch) = batch.filter(|_| fewest > 1 && !serve_alike) else {
        return Ok(None);
    };
    let weights = batch.weights(&apart)?;
    for count in fewest..=fewest + MORE_POTS {
        let divided = batch.divided(count, &weights, settings.scale_resolution)?;
        let fits = |pot: &Poured| {
            pot.base_mass.0 >= super::LEAST_POT_G
                && scale
                    .largest_pot
                    .is_none_or(|largest| pot.base_mass.0 <= largest.0 + 1e-9)
        };
        if !divided.iter().all(fits) {
            continue;
        }
        let mut worst: f64 = 0.0;
        for (index, one) in divided.iter().enumerate() {
            for other in divided[..index].iter().filter(|other| *other != one) {
                worst = worst.max(apart(one, other)?);
            }
        }
        if worst <= OF_ONE_COLOUR {
            let pots = divided.into_iter().map(|poured| UnlikePot {
                parts: parts_of(cup, &poured, settings.scale_resolution),
                doses: doses_of(cup, &poured),
                poured,
            });
            return Ok(Some(Unlike {
                pots: pots.collect(),
                apart: worst,
            }));
        }
    }
    Ok(None)
}

/// A batch in whole drops, before it is divided.
struct Batch {
    base: String,
    base_mass: Grams,
    /// What is counted, with whole drops of it in all.
    counted: Vec<(Colorant, f64)>,
    /// What is weighed, in all.
    weighed: Vec<(Colorant, Grams)>,
}

impl Batch {
    /// That of `factor` times `cup`; `None` where it takes no whole number of drops, to within a twentieth of one in a hundred, or
    /// none at all.
    fn of(cup: &Cup<'_>, factor: f64) -> Option<Self> {
        /// How far from whole a count may be, relative.
        const NEARLY_WHOLE: f64 = 5e-4;
        let mut batch = Self {
            base: cup.base.name.clone(),
            base_mass: cup.base_mass * factor,
            counted: Vec::new(),
            weighed: Vec::new(),
        };
        for portion in cup.portions.iter().filter(|portion| portion.mass.0 > 0.0) {
            match portion.amount {
                Amount::Drops(drops) => {
                    let count = drops * factor;
                    if (count / count.round() - 1.0).abs() > NEARLY_WHOLE || count < 1.0 {
                        return None;
                    }
                    batch.counted.push((portion.colorant(), count.round()));
                }
                Amount::Mass(mass) => batch.weighed.push((portion.colorant(), mass * factor)),
            }
        }
        (!batch.counted.is_empty()).then_some(batch)
    }

    /// The share of the batch that is a pot with these `counts` of what is counted, and with `share` of what is weighed.
    fn pot(&self, counts: &[f64], share: f64, step: Grams) -> Result<Poured> {
        let counted = self.counted.iter().zip(counts);
        let counted = counted
            .filter(|(_, count)| **count > 0.0)
            .map(|((colorant, _), count)| (colorant.clone(), Amount::Drops(*count)));
        let weighed = self.weighed.iter().map(|(colorant, mass)| {
            let mass = (*mass * share).rounded_to(step);
            (colorant.clone(), Amount::Mass(mass))
        });
        Ok(Poured {
            base: self.base.clone(),
            base_mass: (self.base_mass * share).rounded_to(step),
            mix: Mix::new(counted.chain(weighed).collect())?,
        })
    }

    /// What each of the counted is worth to the eye: by how far a little more of it takes the batch, ΔE00.
    fn weights(&self, apart: impl Fn(&Poured, &Poured) -> Result<f64>) -> Result<Vec<f64>> {
        let counts: Vec<f64> = self.counted.iter().map(|(_, count)| *count).collect();
        // Finer than any scale: what is compared differs by little.
        let exact = Grams(1e-6);
        let as_it_is = self.pot(&counts, 1.0, exact)?;
        (0..counts.len())
            .map(|index| {
                let mut more = counts.clone();
                more[index] *= A_LITTLE_MORE;
                // One that does nothing still wants its share.
                Ok(apart(&as_it_is, &self.pot(&more, 1.0, exact)?)?.max(1e-3))
            })
            .collect()
    }

    /// So many pots, the largest first. Of each pigment as many pots as must take a drop more than the others, the first ones
    /// always; a pot is as large as its drops want it, each pigment by its weight.
    fn divided(&self, pots: u32, weights: &[f64], step: Grams) -> Result<Vec<Poured>> {
        let all_weights: f64 = weights.iter().sum();
        let pot = |index: u32| {
            let count = |(_, count): &(Colorant, f64)| {
                let (each, left) = (whole_number(*count) / pots, whole_number(*count) % pots);
                f64::from(each + u32::from(index < left))
            };
            let counts: Vec<f64> = self.counted.iter().map(count).collect();
            let shares = self.counted.iter().zip(&counts).zip(weights);
            let share: f64 = shares
                .map(|(((_, all), count), weight)| weight * count / all)
                .sum::<f64>()
                / all_weights;
            self.pot(&counts, share, step)
        };
        (0..pots).map(pot).collect()
    }
}

/// The parts of the base of one pot of `cup`, into which its let-downs bring some of part B.
fn parts_of(cup: &Cup<'_>, pot: &Poured, step: Grams) -> Parts {
    let clear = (pot.mix.entries().iter())
        .map(|(colorant, amount)| weight(cup, colorant, *amount) * (1.0 - 1.0 / colorant.let_down));
    parts(&cup.base, pot.base_mass, clear.sum(), step)
}

/// What goes into one `pot` of `cup`, dose by dose; nothing is rounded.
fn doses_of(cup: &Cup<'_>, pot: &Poured) -> Vec<Dose> {
    let dose = |(colorant, amount): &(Colorant, Amount)| Dose {
        colorant: colorant.clone(),
        measure: match amount {
            Amount::Drops(count) => Measure::Drops(whole_number(*count)),
            Amount::Mass(mass) => Measure::MassG(mass.0),
        },
        weighs_g: weight(cup, colorant, *amount).0,
        rounding: 0.0,
    };
    pot.mix.entries().iter().map(dose).collect()
}

/// What `amount` of a `colorant` of `cup` weighs.
fn weight(cup: &Cup<'_>, colorant: &Colorant, amount: Amount) -> Grams {
    match amount {
        Amount::Mass(mass) => mass,
        Amount::Drops(count) => {
            let mut portions = cup.portions.iter();
            let drop = portions.find_map(|portion| {
                (portion.colorant() == *colorant).then_some(portion.pigment.drop_mass)?
            });
            drop.unwrap_or_default() * count
        }
    }
}
