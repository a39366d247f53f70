//! A reading that came out otherwise than predicted: what to add to this cup, and what to mix next.

use std::time::Instant;

use nalgebra::{DMatrix, DVector, Matrix3, Vector3};

use super::order::{Order, OrderedUnderlay};
use super::part::CupRecipe;
use crate::colour::{Lab, Translucency, TristimulusWeights, delta_e_2000};
use crate::error::{Error, Mend, Result, Setting};
use crate::forecast::Aim;
use crate::forecast::Doubt;
use crate::forecast::tolerance;
use crate::materials::Casting;
use crate::materials::whole_number;
use crate::materials::{Amount, Build, Colorant, Cup, Mix, Portion, Shelf, Underlay};
use crate::search::{Contrast, CupLimits, Limits, Placement, Question};
use crate::tone::Target;

/// A casting of skin that was read, and what it should have been.
///
/// Made by [`of`](Self::of), then changed field by field.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Correction<'shelf> {
    /// Where names are looked up.
    pub shelf: &'shelf Shelf,
    /// Whether the shelf's curves have learnt from this reading already.
    pub taught: bool,
    /// What was cast: its skin's cup is the one on the bench.
    pub build: Build,
    /// How it read, under the book's viewing.
    pub measured: Lab,
    /// Most drops that may be added; with 0 the next cup alone is sought.
    pub max_add: u32,
    /// Let-downs that stand ready for the cup on the bench: there is no time to make one.
    pub let_downs: Vec<Colorant>,
    /// ΔE00 up to which a skin passes; by the target's lightness where `None`.
    pub tolerance: Option<f64>,
    /// Bounds of the searches; the time limit is for all of them together, a window for the contrast ratio for both cups.
    pub limits: Limits,
}

/// The two answers to a miss.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Remedy {
    /// ΔE00 from the target to the casting as it read.
    pub delta_e_now: f64,
    /// Whether that passes.
    pub passes: bool,
    /// What the casting shows of black and white beneath it, as far as the model tells.
    pub seen_now: Translucency,
    /// Drops to add to the cup on the bench; none where nothing that is added helps.
    pub add: Vec<(Colorant, u32)>,
    /// ΔE00 predicted of a casting from the cup with those drops.
    pub delta_e_after: f64,
    /// What that casting would show of black and white beneath it.
    pub seen_after: Translucency,
    /// How far those drops may be from the best there are, ΔE00.
    pub gap: f64,
    /// Whether the cup is better poured away: nothing that is added brings it to the target.
    pub start_again: bool,
    /// The recipe for the next cup.
    pub next: CupRecipe,
}

/// What an addition must gain, ΔE00, to be worth a stir within the pot life.
const WORTH_ADDING: f64 = 0.1;

/// Standard deviation of a reading of L*, a* or b*. Common practice, no source.
const READING_SD: f64 = 0.25;

/// What other pigments must gain for the next cup, ΔE00: of those that were in it the reading says most.
const WORTH_OTHER_PIGMENTS: f64 = 0.3;

impl<'shelf> Correction<'shelf> {
    /// The most drops that are added to a cup unless others are asked for.
    pub const MAX_ADD: u32 = 12;

    /// What to do about `build`, which read `measured`; its cup may take [`MAX_ADD`](Self::MAX_ADD) drops more, from bottles.
    pub fn of(shelf: &'shelf Shelf, build: Build, measured: Lab) -> Self {
        Self {
            shelf,
            taught: false,
            build,
            measured,
            max_add: Self::MAX_ADD,
            let_downs: Vec::new(),
            tolerance: None,
            limits: Limits::default(),
        }
    }

    /// ΔE00 up to which a skin passes for `target`.
    pub fn tolerance_for(&self, target: &Target) -> f64 {
        self.tolerance.unwrap_or_else(|| tolerance(target.lab))
    }

    /// Refuses what no correction can be made of.
    ///
    /// # Errors
    /// A target under another viewing than the book's; a painted casting; a reading that no colour can have; a foam over a
    /// foam; a let-down of a pigment that is not on the shelf or only weighed; a tolerance or bounds that are no numbers or
    /// exclude each other.
    pub fn check(&self, target: &Target) -> Result<()> {
        if self.build.paint.is_some() {
            return Err(
                Error::input("a painted casting tells of its skin through the paint").mend(
                    Mend::from("read the skin before it is painted, and leave ")
                        .set(Setting::Paint)
                        .and(" out"),
                ),
            );
        }
        // A colour that none can be is refused as for a target.
        Target::from_lab(self.measured, self.shelf.settings.viewing)?;
        for let_down in &self.let_downs {
            self.shelf.pigment(&let_down.pigment)?.check_drops()?;
        }
        self.order_of_next(self.shelf)?.check(target)
    }

    /// Finds both answers for `target`.
    ///
    /// The reading is first taken for what it tells of all that was in doubt: the curves, and also how many grams the drops
    /// came to and how thick the film was, each moved as far as it is unsure, so that the prediction meets the reading. What
    /// was learnt of curves goes into both answers; what was learnt of the drops, into the cup on the bench alone; what was
    /// learnt of the thickness, into neither. Then whole drops are searched as for a new recipe.
    ///
    /// Source: the update by one reading is the iterated extended Kalman filter, B. M. Bell, F. W. Cathey (1993), IEEE
    /// Transactions on Automatic Control 38, 294–297.
    ///
    /// # Errors
    /// As [`check`](Self::check); names that are not on the shelf.
    pub fn remedy(&self, target: &Target) -> Result<Remedy> {
        self.check(target)?;
        let tolerance = self.tolerance_for(target);
        let weights = self.shelf.settings.viewing.weights();
        let casting = Casting::new(self.shelf, &self.build)?;
        let learnt = Learnt::from(&casting, self.measured, &weights);
        let shelf = if self.taught {
            self.shelf.clone()
        } else {
            learnt.shelf(self.shelf)
        };
        // One limit for all: what a search leaves of its third, those after it have too.
        let [bench_by, same_by, any_by] =
            [1.0 / 3.0, 2.0 / 3.0, 1.0].map(|share| self.limits.deadline_of(share));
        let on_the_bench = self.on_the_bench(&shelf, &learnt)?;
        let delta_e_now = delta_e_2000(target.lab, self.measured);
        // The cup on the bench can't wait.
        let found = self.additions(&on_the_bench, target, &weights, bench_by)?;
        let helps = |found: &Additions| {
            let passes = |delta_e: f64| delta_e <= tolerance;
            found.delta_e_after < delta_e_now - WORTH_ADDING
                || (passes(found.delta_e_after) && !passes(delta_e_now))
        };
        let gap = found.as_ref().map_or(0.0, |found| found.gap);
        let additions = found.filter(helps).unwrap_or(Additions {
            add: Vec::new(),
            delta_e_after: delta_e_now,
            gap,
        });
        let after = with_drops(&on_the_bench, &additions.add)?;
        let next = self.next(&shelf, target, [same_by, any_by])?;
        Ok(Remedy {
            delta_e_now,
            passes: delta_e_now <= tolerance,
            seen_now: on_the_bench.translucency(&weights),
            start_again: delta_e_now > tolerance && additions.delta_e_after > tolerance,
            add: additions.add,
            delta_e_after: additions.delta_e_after,
            seen_after: after.translucency(&weights),
            gap: additions.gap,
            next,
        })
    }

    /// The casting of the cup on the bench by `shelf`, with the drops as they seem to have come out.
    fn on_the_bench<'learnt>(
        &self,
        shelf: &'learnt Shelf,
        learnt: &Learnt<'_>,
    ) -> Result<Casting<'learnt>> {
        let mut casting = Casting::new(shelf, &self.build)?;
        let portions = skin_mut(&mut casting).portions.iter_mut();
        for (portion, poured) in portions.zip(learnt.skin().portions.iter()) {
            portion.mass = poured.mass;
        }
        Ok(casting)
    }

    /// The best recipe for another cup; of the pigments that were in this one, if they will do. The best found of these by
    /// the first deadline, of any pigments by the second.
    fn next(
        &self,
        shelf: &Shelf,
        target: &Target,
        [same_by, any_by]: [Option<Instant>; 2],
    ) -> Result<CupRecipe> {
        let any = self.order_of_next(shelf)?;
        let beneath = || self.build.beneath.clone();
        let entries = self.build.skin.mix.entries().iter();
        let dropped: Vec<&str> = entries
            .filter(|(colorant, _)| is_dropped(colorant, shelf))
            .map(|(colorant, _)| colorant.pigment.as_str())
            .collect();
        let others = shelf
            .pigments
            .iter()
            .filter(|pigment| !dropped.contains(&pigment.name.as_str()));
        let same = Order {
            banned: others.map(|pigment| pigment.name.clone()).collect(),
            ..any.clone()
        };
        if same.colorants_for(&same.skin.base).is_empty() {
            return any.skin_over(target, beneath(), any_by);
        }
        let same = match same.skin_over(target, beneath(), same_by) {
            Ok(same) => same,
            // Other pigments may give the contrast ratio that is asked for.
            Err(error) if error.is_out_of_reach() => {
                return any.skin_over(target, beneath(), any_by);
            }
            Err(error) => return Err(error),
        };
        if same.best().delta_e <= WORTH_OTHER_PIGMENTS {
            return Ok(same);
        }
        let any = any.skin_over(target, beneath(), any_by)?;
        let gains = any.best().delta_e < same.best().delta_e - WORTH_OTHER_PIGMENTS;
        Ok(if gains { any } else { same })
    }

    /// What is asked for the next cup on `shelf`, of any pigments.
    fn order_of_next<'other>(&self, shelf: &'other Shelf) -> Result<Order<'other>> {
        let Build {
            skin,
            thickness,
            beneath,
            ..
        } = &self.build;
        // What is only ever weighed stays; a pigment that can be dropped is free, however it was measured.
        let weighed = skin.mix.entries().iter();
        let weighed = weighed.filter(|(colorant, _)| !is_dropped(colorant, shelf));
        let mut order = Order::skin(shelf, &skin.base, skin.base_mass)
            .thick(*thickness)
            .holding(Mix::new(weighed.cloned().collect())?);
        order.beneath = match beneath {
            Underlay::Backing { name, contact } => OrderedUnderlay::Backing {
                name: name.clone(),
                contact: *contact,
            },
            Underlay::Foam(foam) => OrderedUnderlay::PouredFoam(foam.clone()),
        };
        order.tolerance = self.tolerance;
        order.limits = self.limits;
        order.limits = self.limits_of_next(order.limits_of(&Cup::pour(shelf, skin)?));
        Ok(order)
    }

    /// Bounds of the search for the next cup: it may take what this one would hold with all that may be added, where that is
    /// more than `usual`.
    fn limits_of_next(&self, usual: CupLimits) -> Limits {
        let entries = self.build.skin.mix.entries().iter();
        let drops = entries.filter_map(|(_, amount)| match amount {
            Amount::Drops(count) => Some(whole_number(count.ceil())),
            Amount::Mass(_) => None,
        });
        let (most, total) = drops.fold((0, 0), |(most, total): (u32, u32), count| {
            (most.max(count), total.saturating_add(count))
        });
        let with_more = |count: u32| count.saturating_add(self.max_add);
        Limits {
            max_drops: Some(usual.max_drops.max(with_more(most))),
            max_total_drops: Some(usual.max_total_drops.max(with_more(total))),
            ..self.limits
        }
    }

    /// What to add to the cup of `casting`, which is on the bench: the best found by `deadline`. `None` where nothing may be
    /// added, or no cup would keep to what is asked of it.
    fn additions(
        &self,
        casting: &Casting<'_>,
        target: &Target,
        weights: &TristimulusWeights,
        deadline: Option<Instant>,
    ) -> Result<Option<Additions>> {
        let shelf = casting.shelf;
        let cup = skin(casting).clone();
        let dropped = (shelf.pigments.iter()).filter(|pigment| pigment.drop_mass.is_some());
        let mut colorants: Vec<Colorant> = dropped
            .map(|pigment| Colorant::neat(&pigment.name))
            .chain(self.let_downs.iter().cloned())
            .collect();
        let pigment = |name: &str| shelf.pigment(name);
        colorants.retain(|each| pigment(&each.pigment).is_ok_and(|it| cup.base.wants(it)));
        if self.max_add == 0 || colorants.is_empty() {
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
            contrast: (self.limits.contrast_ratio)
                .map(|window| Contrast::over_cards(window, shelf)),
            let_downs: false,
            opened: Vec::new(),
            is_tinted: false,
            limits: CupLimits {
                max_drops: self.max_add,
                max_total_drops: self.max_add,
                max_pigments: colorants.len(),
                top: 1,
                within: 0.0,
                threads: self.limits.threads,
                stop: self.limits.stop,
            },
            deadline,
            colorants,
        };
        let answer = match question.search() {
            Ok(answer) => answer,
            Err(error) if error.is_out_of_reach() => return Ok(None),
            Err(error) => return Err(error),
        };
        let best = answer.recipes.into_iter().next();
        Ok(best.map(|best| Additions {
            add: best.drops,
            delta_e_after: best.delta_e,
            gap: answer.gap,
        }))
    }
}

/// Whether `colorant` goes in by the drop.
fn is_dropped(colorant: &Colorant, shelf: &Shelf) -> bool {
    let pigment = shelf.pigment(&colorant.pigment);
    pigment.is_ok_and(|pigment| pigment.drop_mass.is_some())
}

/// The cup of a casting to be corrected, which has one film, without paint.
fn skin<'a, 'shelf>(casting: &'a Casting<'shelf>) -> &'a Cup<'shelf> {
    &casting.films[casting.films.len() - 1].cup
}

fn skin_mut<'a, 'shelf>(casting: &'a mut Casting<'shelf>) -> &'a mut Cup<'shelf> {
    let last = casting.films.len() - 1;
    &mut casting.films[last].cup
}

/// `casting` with these drops more in its cup.
fn with_drops<'shelf>(
    casting: &Casting<'shelf>,
    drops: &[(Colorant, u32)],
) -> Result<Casting<'shelf>> {
    let mut casting = casting.clone();
    for (colorant, count) in drops {
        let portion = Portion::new(casting.shelf, colorant, Amount::Drops((*count).into()))?;
        skin_mut(&mut casting).portions.push(portion);
    }
    Ok(casting)
}

/// The best that can be added to a cup.
struct Additions {
    add: Vec<(Colorant, u32)>,
    delta_e_after: f64,
    gap: f64,
}

/// What a reading tells of all that was in doubt.
struct Learnt<'shelf> {
    casting: Casting<'shelf>,
    /// Each doubt, with the standard deviations that it is off by.
    off: Vec<(Doubt, f64)>,
}

impl<'shelf> Learnt<'shelf> {
    fn from(casting: &Casting<'shelf>, measured: Lab, weights: &TristimulusWeights) -> Self {
        const ROUNDS: usize = 5;
        const NUDGE: f64 = 0.05;
        let seen = |casting: &Casting<'_>| {
            let lab = weights.lab(&casting.reading());
            Vector3::new(lab.l, lab.a, lab.b)
        };
        let doubts = casting.doubts();
        let measured = Vector3::new(measured.l, measured.a, measured.b);
        let moved = |off: &DVector<f64>| {
            let doubts = doubts.iter().zip(off.iter());
            doubts.fold(casting.clone(), |casting, (doubt, sds)| {
                doubt.applied(&casting, *sds)
            })
        };
        let mut noise = Matrix3::from_diagonal_element(READING_SD.powi(2));
        for (axis, own) in casting
            .shelf
            .settings
            .model
            .own_spread()
            .into_iter()
            .enumerate()
        {
            noise[(axis, axis)] += own.powi(2);
        }
        let mut off = DVector::zeros(doubts.len());
        for _ in 0..ROUNDS {
            let here = moved(&off);
            let at = seen(&here);
            let mut slopes = DMatrix::zeros(3, doubts.len());
            for (column, doubt) in doubts.iter().enumerate() {
                let step = (seen(&doubt.applied(&here, NUDGE)) - at) / NUDGE;
                slopes.set_column(column, &step);
            }
            let surprise = DVector::from_column_slice((measured - at).as_slice()) + &slopes * &off;
            let spread =
                &slopes * slopes.transpose() + DMatrix::from_iterator(3, 3, noise.iter().copied());
            // The reading's own noise keeps it away from singular.
            let Some(factor) = spread.cholesky() else {
                break;
            };
            off = slopes.transpose() * factor.solve(&surprise);
        }
        Self {
            casting: moved(&off),
            off: doubts.into_iter().zip(off.iter().copied()).collect(),
        }
    }

    /// The cup of the skin, with the drops as they seem to have come out.
    fn skin(&self) -> &Cup<'shelf> {
        skin(&self.casting)
    }

    /// `shelf` with what was learnt of its materials.
    fn shelf(&self, shelf: &Shelf) -> Shelf {
        let mut learnt = shelf.clone();
        for (doubt, sds) in &self.off {
            if doubt.is_of_calibration() {
                doubt.alter(&mut learnt, &shelf.joint_directions, *sds);
            }
        }
        learnt
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::Viewing;
    use crate::materials::fixtures::{chip, shelf};
    use crate::materials::{CoefficientSpread, Millimetres};

    #[test]
    fn drops_that_came_out_light_are_made_up_for() {
        // Curves and thickness are known, so a reading can tell of the drops alone.
        let mut shelf = shelf();
        for pigment in &mut shelf.pigments {
            pigment.spread = CoefficientSpread::NONE;
        }
        shelf.settings.thickness_sd = Millimetres(0.001);
        let weights = shelf.settings.viewing.weights();
        let lab_of = |mix: &str| {
            let casting = Casting::new(&shelf, &chip(mix)).expect("a sound chip");
            weights.lab(&casting.reading())
        };
        // Four drops of red came to what 3.4 usual ones weigh, and the tone takes 6.4 of those: three more, where two would
        // do by what was counted.
        let target =
            Target::from_lab(lab_of("red 6.4; white 30"), Viewing::D65_10).expect("a tone");
        let correction = Correction {
            shelf: &shelf,
            taught: false,
            build: chip("red 4; white 30"),
            measured: lab_of("red 3.4; white 30"),
            max_add: 3,
            let_downs: Vec::new(),
            tolerance: Some(0.7),
            limits: Limits {
                time_limit: None,
                ..Limits::default()
            },
        };
        let remedy = correction.remedy(&target).expect("an answer");
        assert_eq!(
            remedy.add,
            [(Colorant::neat("red"), 3)],
            "made up for, and no more"
        );
        assert!(
            remedy.delta_e_after <= 0.7,
            "three make the tone, and ΔE00 {} is promised",
            remedy.delta_e_after
        );
    }
}
