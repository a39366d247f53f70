//! From a recipe to what hands do: masses of A and B, drops or grams, pots, and the clock.
//!
//! # Why is what is poured not always what the recipe says?
//!
//! A recipe counts drops; a hand counts to about twenty; a scale has steps. Each pigment is measured in the handiest way that
//! is near enough: drops, drops and a let-down, or the scale. The sheet's log command says what was poured. What neither drop
//! nor scale can measure is refused, never rounded away.
//!
//! # Why is a matched batch one pot?
//!
//! Drops are whole in a pot and not in a batch, so a proof holds of what is poured only if the pot is what was searched. So an
//! order's cups are divided by [`pots`] before the search, and [`pour`] makes so many of them. A recipe that is given is
//! scaled, and the rounding that this takes is told. A count of more than twenty drops goes to the scale only where its
//! rounding and its step are the smaller error against the scatter of the drops, or above sixty.
//!
//! # Why are several pots tinted at once?
//!
//! What is counted into six pots is counted six times, and no two of them are alike. Part B alone has no clock: that of all
//! pots is tinted by the scale, read, put right, and then divided ([`AtOnce`]). What each pot would take by itself stands
//! beside it for whoever rather counts; both are the same recipe, and what is logged is one pot.
//!
//! # Where does a let-down's clear base count?
//!
//! It is part B. `base_g` is what is poured of A and B together, and the model adds the clear of let-downs to it. So A is
//! poured as its share of all of that, and so much less B: both meet in their ratio while what is poured still sums to
//! `base_g`. Half a gram of it in a patch of 50 g is 2 % of its part B, which a scale shows.

mod at_once;
#[cfg(test)]
mod checks;
mod jar_use;
mod let_downs;
mod measure;
mod schedule;
mod unlike;

pub use at_once::AtOnce;
pub use jar_use::JarUse;
pub(crate) use jar_use::as_whole;
pub use let_downs::{CalledFor, Jar, let_downs};
pub use schedule::{Schedule, Shift, Step, Task, schedule};
pub use unlike::{Unlike, UnlikePot, unlike};

use jiff::civil::Date;
use serde::Serialize;

use crate::error::{Error, Result};
use crate::materials::whole_number;
use crate::materials::{
    Amount, Base, Colorant, Cup, Grams, Kind, Mix, Pigment, Portion, RatioBy, Settings, Shelf,
    check_range,
};
pub use measure::{Dose, Measure};
use measure::{dropped, weighed};

/// Smallest pot, g.
const LEAST_POT_G: f64 = 1.0;

/// Most pots of one batch.
const MOST_POTS: f64 = 1000.0;

/// A pot above this mass of a base with a pot life is warned of, g: it is hard to mix and spread in time, and its
/// heat has nowhere to go. Common practice, no source.
const LARGE_POT_G: f64 = 1000.0;

/// One cup, ready to be mixed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Pour {
    /// Name of the base.
    pub base: String,
    /// What it is for.
    pub kind: Kind,
    /// How many pots of this size, one after the other.
    pub pots: u32,
    /// Mass of the mixed base in one pot, g: of what is poured of its parts, without what let-downs bring.
    pub base_g: f64,
    /// The parts of the base in one pot.
    #[serde(flatten)]
    pub parts: Parts,
    /// What goes into one pot besides the base.
    pub doses: Vec<Dose>,
    /// What goes into all pots together, where there are several.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub in_all: Option<InAll>,
    /// How several pots are tinted at once, which is handier than pot by pot and of one colour; `None` where that can't be.
    #[serde(skip)]
    pub at_once: Option<AtOnce>,
    /// The let-downs among these, with what goes into all pots.
    pub let_downs: Vec<CalledFor>,
    /// When to do what, from the moment A meets B.
    pub timeline: Vec<Moment>,
    /// What to think of before mixing this, a sentence each.
    pub warnings: Vec<String>,
}

/// The parts of a base, as they are measured.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Parts {
    /// Two parts, weighed, g.
    Weighed {
        /// Part A.
        part_a_g: f64,
        /// Part B.
        part_b_g: f64,
    },
    /// Two parts, measured by volume, ml.
    ByVolume {
        /// Part A.
        part_a_ml: f64,
        /// Part B.
        part_b_ml: f64,
    },
    /// One part, weighed: the whole base.
    Single {},
}

/// All pots of a batch together.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct InAll {
    /// Mass of the mixed base, g.
    pub base_g: f64,
    /// What is measured out besides, as a mix is written.
    pub mix: String,
}

/// A moment on the clock.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Moment {
    /// Minutes since A met B.
    pub minutes: f64,
    /// What is then.
    pub what: &'static str,
    /// The same as a stage.
    #[serde(skip)]
    pub stage: Stage,
}

/// A stage of what sets, in the order of the clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stage {
    /// The pot life is over.
    UsedUp,
    /// It gels.
    Gelled,
    /// It may leave the mould.
    Open,
}

/// How a cup is scaled.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scale {
    /// The new mass of the mixed base over the old.
    pub factor: f64,
    /// The largest pot that can be used up within its pot life; all in one where `None`.
    pub largest_pot: Option<Grams>,
}

/// Works out the pots for `cup`, scaled, on the day `day`, where the let-downs of `shelf` stand.
///
/// # Errors
/// A batch out of the range of a cup's mass; pots below a gram, or more than a thousand; a portion that neither drop nor
/// let-down nor scale can measure.
pub fn pour(cup: &Cup<'_>, scale: Scale, shelf: &Shelf, day: Date) -> Result<Pour> {
    let total = cup.base_mass * scale.factor;
    check_range("the mass of the batch", total.0, Cup::BASE_MASS_G, "g").map_err(|error| {
        error.mend("check the mass of the recipe, and how much of it is wanted")
    })?;
    let pots = pots(total, scale.largest_pot)?;
    let in_one = scale.factor / f64::from(pots);
    let base_mass = cup.base_mass * in_one;
    let step = shelf.settings.scale_resolution;
    let doses = doses(cup, in_one, &shelf.settings)?;
    let clear = doses.iter().map(Dose::clear_mass).sum();
    let in_all = doses.iter().map(|dose| {
        let mass = Grams(dose.weighs_g * f64::from(pots));
        (dose.colorant.clone(), mass)
    });
    let base_g = base_mass.rounded_to(step).0;
    let parts = parts(&cup.base, base_mass, clear, step);
    Ok(Pour {
        base: cup.base.name.clone(),
        kind: cup.base.kind.kind(),
        pots,
        base_g,
        in_all: (pots > 1)
            .then(|| InAll::of(pots, Grams(base_g), &doses, step))
            .transpose()?,
        at_once: AtOnce::of(cup, in_one, (pots, base_mass), shelf, day),
        parts,
        let_downs: let_downs::of(in_all, &cup.base, shelf, day),
        doses,
        timeline: timeline(&cup.base),
        warnings: warnings(cup, base_mass, clear),
    })
}

impl Pour {
    /// Takes the let-downs that stand ready for it, pot by pot, off `shelf`, so that the next cup finds what this one leaves.
    pub fn take_let_downs(&self, shelf: &mut Shelf, day: Date) {
        for ready in self.let_downs.iter().filter(|each| each.is_ready()) {
            let wanted = Grams(ready.uses_g);
            if let Some(supply) = shelf.supply(&ready.let_down, &self.base, wanted, day) {
                shelf.draw(&supply);
            }
        }
    }

    /// The let-downs that are stirred, or taken off the shelf, for it: where its pots are tinted at once, those few that measure
    /// better than bottle and scale.
    pub fn drawn_on(&self) -> &[CalledFor] {
        match &self.at_once {
            Some(at_once) => &at_once.let_downs,
            None => &self.let_downs,
        }
    }

    /// What all its pots take neat from each bottle, and of the fibre: a mass a dose.
    pub fn neat(&self) -> Vec<(&str, Grams)> {
        let pots = f64::from(self.pots);
        let of = |dose: &'_ Dose, times: f64| Grams(dose.weighs_g * times);
        let mut own = self
            .doses
            .iter()
            .filter(|dose| dose.colorant.let_down == 1.0);
        let Some(at_once) = &self.at_once else {
            return own
                .map(|dose| (dose.colorant.pigment.as_str(), of(dose, pots)))
                .collect();
        };
        // Fibre goes in pot by pot.
        let fibre = own.find(|dose| dose.colorant.pigment == Pigment::FIBRE);
        let doses = at_once.doses.iter();
        let doses = doses.filter(|dose| dose.colorant.let_down == 1.0);
        let doses = doses.map(|dose| (dose, 1.0));
        let doses = doses.chain(fibre.map(|dose| (dose, pots)));
        doses
            .map(|(dose, times)| (dose.colorant.pigment.as_str(), of(dose, times)))
            .collect()
    }

    /// Its base, and the let-downs that it is poured from.
    pub fn called_for(&self) -> (&str, &[CalledFor]) {
        (&self.base, self.drawn_on())
    }

    /// Minutes from when A meets B until `stage`; `None` where the book does not say.
    pub fn minutes_until(&self, stage: Stage) -> Option<f64> {
        let mut moments = self.timeline.iter();
        let found = moments.find(|moment| moment.stage == stage);
        found.map(|moment| moment.minutes)
    }

    /// What goes into all its pots together as a mix, as they are tinted: what was measured out, not what the recipe wanted.
    ///
    /// # Errors
    /// As [`mix`](Self::mix).
    pub fn mix_in_all(&self) -> Result<Mix> {
        let times = f64::from(self.pots);
        let in_all = |dose: &Dose| match dose.measure.amount() {
            Amount::Drops(count) => Amount::Drops(count * times),
            Amount::Mass(mass) => Amount::Mass(mass * times),
        };
        let entries: Vec<(Colorant, Amount)> = match &self.at_once {
            None => (self.doses.iter())
                .map(|dose| (dose.colorant.clone(), in_all(dose)))
                .collect(),
            Some(at_once) => {
                let is_fibre = |dose: &&Dose| dose.colorant.pigment == Pigment::FIBRE;
                let fibre = self.doses.iter().filter(is_fibre);
                let stirred = at_once.doses.iter();
                stirred
                    .map(|dose| (dose.colorant.clone(), dose.measure.amount()))
                    .chain(fibre.map(|dose| (dose.colorant.clone(), in_all(dose))))
                    .collect()
            }
        };
        Mix::new(entries)
    }

    /// What goes into one pot as a mix: what was measured out, not what the recipe wanted.
    ///
    /// # Errors
    /// As [`Mix::new`]: a colorant that is measured out twice.
    pub fn mix(&self) -> Result<Mix> {
        let entries = self.doses.iter();
        let entries = entries.map(|dose| (dose.colorant.clone(), dose.measure.amount()));
        Mix::new(entries.collect())
    }
}

impl InAll {
    /// `pots` pots of `base_mass` and `doses`, all to the `step` of the scale.
    fn of(pots: u32, base_mass: Grams, doses: &[Dose], step: Grams) -> Result<Self> {
        let times = f64::from(pots);
        let entries = doses.iter().map(|dose| {
            let amount = match dose.measure.amount() {
                Amount::Drops(count) => Amount::Drops(count * times),
                Amount::Mass(mass) => Amount::Mass((mass * times).rounded_to(step)),
            };
            (dose.colorant.clone(), amount)
        });
        Ok(Self {
            base_g: (base_mass * times).rounded_to(step).0,
            mix: Mix::new(entries.collect())?.to_string(),
        })
    }
}

/// How many pots alike `total` makes, of which none is larger than `largest`.
///
/// # Errors
/// Pots below a gram, or more than a thousand.
pub fn pots(total: Grams, largest: Option<Grams>) -> Result<u32> {
    let Some(largest) = largest else {
        return Ok(1);
    };
    if largest.0 < LEAST_POT_G {
        let finding = format!("pots of {largest}; expected at least {LEAST_POT_G} g");
        return Err(Error::input(finding));
    }
    // The slack keeps ten pots of 60 g from becoming eleven by rounding.
    let pots = (total.0 / largest.0 - 1e-9).ceil().max(1.0);
    if pots > MOST_POTS {
        let finding = format!("{pots} pots of {largest}; expected at most {MOST_POTS}");
        return Err(Error::input(finding).mend("allow a larger pot"));
    }
    Ok(whole_number(pots))
}

/// The parts of `base_mass` of the base, into which let-downs bring `clear` of part B besides. A ratio by volume is measured
/// by volume, with the density of the mix, since that of A and of B alone is not known.
///
/// What is poured sums to `base_mass`. Part A is its share of all that sets, let-downs' clear included, so that A and B meet
/// in their ratio: so much less of B is poured.
fn parts(base: &Base, base_mass: Grams, clear: Grams, step: Grams) -> Parts {
    if base.ratio.is_single() {
        return Parts::Single {};
    }
    let part_a_of_all = (base_mass + clear) * base.ratio.share_a();
    let part_a = Grams(part_a_of_all.0.min(base_mass.0));
    match base.ratio.by {
        RatioBy::Mass => {
            let part_a = part_a.rounded_to(step);
            // The rest, so that the two make up the whole to the scale's step.
            let part_b = Grams(base_mass.rounded_to(step).0 - part_a.0).rounded_to(step);
            Parts::Weighed {
                part_a_g: part_a.0,
                part_b_g: part_b.0,
            }
        }
        RatioBy::Volume => {
            // A syringe or a jug is read to half a millilitre.
            let ml = |mass: f64| (mass / base.density_g_ml * 2.0).round() / 2.0;
            let part_a_ml = ml(part_a.0);
            let part_b_ml = ml(base_mass.0 - part_a.0);
            Parts::ByVolume {
                part_a_ml,
                part_b_ml,
            }
        }
    }
}

/// What goes into one pot of `factor` times the cup.
///
/// What the recipe weighs of a pigment is weighed; what it counts, and what is too little for the scale, is taken
/// together, neat and let down, and counted anew. What is not wanted is not listed.
fn doses(cup: &Cup<'_>, factor: f64, settings: &Settings) -> Result<Vec<Dose>> {
    let step = settings.scale_resolution;
    let mut doses = Vec::new();
    let mut done: Vec<&str> = Vec::new();
    let wanted = || cup.portions.iter().filter(|portion| portion.mass.0 > 0.0);
    for Portion { pigment, .. } in wanted() {
        if done.contains(&pigment.name.as_str()) {
            continue;
        }
        done.push(&pigment.name);
        let of_it: Vec<&Portion<'_>> = (wanted())
            .filter(|portion| portion.pigment.name == pigment.name)
            .collect();
        let on_the_scale =
            |portion: &Portion<'_>| weighed(portion.colorant(), portion.mass * factor, step);
        let Some(drop) = pigment.drop_mass else {
            for portion in of_it {
                doses.push(on_the_scale(portion)?);
            }
            continue;
        };
        let mut well_weighed: Vec<Dose> = (of_it.iter())
            .filter(|portion| matches!(portion.amount, Amount::Mass(_)))
            .filter_map(|portion| on_the_scale(portion).ok().filter(Dose::is_well_weighed))
            .collect();
        let is_weighed = |colorant: &Colorant| {
            let mut weighed = well_weighed.iter();
            weighed.any(|dose| dose.colorant == *colorant)
        };
        let counted: Vec<&Portion<'_>> = (of_it.iter().copied())
            .filter(|portion| !is_weighed(&portion.colorant()))
            .collect();
        if !counted.is_empty() {
            let mut anew = dropped(&counted, drop, factor, settings)?;
            // One colorant is measured out once.
            if anew.iter().any(|dose| is_weighed(&dose.colorant)) {
                well_weighed.clear();
                anew = dropped(&of_it, drop, factor, settings)?;
            }
            doses.extend(anew);
        }
        doses.extend(well_weighed);
    }
    Ok(doses)
}

/// What the clock says after A meets B.
pub fn timeline(base: &Base) -> Vec<Moment> {
    let [pot_life, gel, demold] = match base.kind.kind() {
        Kind::Skin => [
            "pot life ends: all of it must be in the mould",
            "it gels: what goes behind it may go on now",
            "it may leave the mould, with what is behind it set too",
        ],
        Kind::Foam => [
            "pot life ends: it must be poured before it rises",
            "it gels: leave it alone",
            "it may leave the mould",
        ],
        Kind::Paint => [
            "pot life ends: clean the airbrush before",
            "it no longer levels",
            "it may be handled",
        ],
    };
    [
        (base.pot_life_min, pot_life, Stage::UsedUp),
        (base.gel_min, gel, Stage::Gelled),
        (base.demold_min, demold, Stage::Open),
    ]
    .into_iter()
    .filter_map(|(minutes, what, stage)| {
        minutes.map(|minutes| Moment {
            minutes,
            what,
            stage,
        })
    })
    .collect()
}

fn warnings(cup: &Cup<'_>, base_mass: Grams, clear: Grams) -> Vec<String> {
    let mut warnings = Vec::new();
    let ratio = &cup.base.ratio;
    if !ratio.is_single() && (base_mass + clear).0 * ratio.share_a() > base_mass.0 {
        warnings.push(format!(
            "the let-downs bring more part B than this cup takes, {clear:.2}: it would set soft; use stronger let-downs, \
             or make more"
        ));
    }
    if let Some(minutes) = cup.base.pot_life_min
        && base_mass.0 > LARGE_POT_G
    {
        warnings.push(format!(
            "{base_mass:.0} of {} in one pot is hard to use up in {minutes} min and may overheat: mix it \
             in several pots",
            cup.base.name
        ));
    }
    // Each limit is for that pigment alone; of several together each uses up its share.
    let mut pigments: Vec<&Pigment> = cup
        .portions
        .iter()
        .map(|portion| &*portion.pigment)
        .collect();
    pigments.retain(|pigment| pigment.drop_mass.is_some());
    pigments.sort_by(|one, other| one.name.cmp(&other.name));
    pigments.dedup_by(|one, other| one.name == other.name);
    let fraction = |pigment: &&Pigment| cup.fraction(&pigment.name);
    let used_up: f64 = pigments
        .iter()
        .map(|pigment| fraction(pigment) / pigment.max_fraction)
        .sum();
    if used_up > 1.0 {
        let together: f64 = pigments.iter().map(fraction).sum();
        warnings.push(format!(
            "the dispersions together are {:.1} % of {}, more than their limits allow in sum: try whether it cures",
            100.0 * together,
            cup.base.name
        ));
    }
    warnings
}
