//! A reading that came out otherwise than predicted: what to add to this cup, and what to mix next.

use std::time::Instant;

use nalgebra::{DMatrix, DVector, Matrix3, Vector3};

use super::Casting;
use super::dose::whole_number;
use super::doubt::Doubt;
use super::order::{Order, OrderedCup, OrderedUnderlay};
use super::part::CupRecipe;
use super::question::{Aim, CupLimits, Limits, Place, Question};
use crate::colour::{Lab, TristimulusWeights, delta_e_2000};
use crate::error::Result;
use crate::materials::{Amount, Build, Colorant, Cup, Mix, Shelf, Underlay};
use crate::target::Target;

/// A casting of skin that was read, and what it should have been.
#[derive(Clone, Debug)]
pub struct Correction<'shelf> {
    /// Where names are looked up.
    pub shelf: &'shelf Shelf,
    /// Whether the shelf's curves have learnt from this reading already.
    pub taught: bool,
    /// What was cast: its skin's cup is the one on the bench.
    pub build: Build,
    /// How it read, under the book's viewing.
    pub measured: Lab,
    /// Most drops that may be added.
    pub max_add: u32,
    /// ΔE00 up to which a skin passes.
    pub tolerance: f64,
    /// Bounds of the searches; the time limit is for all of them together.
    pub limits: Limits,
}

/// The two answers to a miss.
#[derive(Clone, Debug)]
pub struct Remedy {
    /// ΔE00 from the target to the casting as it read.
    pub delta_e_now: f64,
    /// Whether that passes.
    pub passes: bool,
    /// Drops to add to the cup on the bench; none where nothing that is added helps.
    pub add: Vec<(Colorant, u32)>,
    /// ΔE00 predicted of a casting from the cup with those drops.
    pub delta_e_after: f64,
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

/// What other pigments must gain for the next cup, ΔE00: the reading has told most of those that were in it.
const WORTH_OTHER_PIGMENTS: f64 = 0.3;

impl Correction<'_> {
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
    /// Names that are not on the shelf; a target under another viewing than the book's.
    pub fn remedy(&self, target: &Target) -> Result<Remedy> {
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
        // The cup on the bench can't wait.
        let Additions {
            add,
            delta_e_after,
            gap,
        } = self.additions(&shelf, &learnt, target, &weights, bench_by)?;
        let next = self.next(&shelf, target, [same_by, any_by])?;
        let delta_e_now = delta_e_2000(target.lab, self.measured);
        let helps = delta_e_after < delta_e_now - WORTH_ADDING;
        Ok(Remedy {
            delta_e_now,
            passes: delta_e_now <= self.tolerance,
            start_again: delta_e_now > self.tolerance && delta_e_after > self.tolerance,
            add: if helps { add } else { Vec::new() },
            delta_e_after: if helps { delta_e_after } else { delta_e_now },
            gap,
            next,
        })
    }

    /// The best recipe for another cup; of the pigments that were in this one, if they will do. The best found of these by
    /// the first deadline, of any pigments by the second.
    fn next(
        &self,
        shelf: &Shelf,
        target: &Target,
        [same_by, any_by]: [Option<Instant>; 2],
    ) -> Result<CupRecipe> {
        let Build {
            skin,
            thickness,
            beneath,
            ..
        } = &self.build;
        // What is only ever weighed stays; a pigment that can be dropped is free, however it was measured.
        let is_dropped = |colorant: &Colorant| {
            let pigment = shelf.pigment(&colorant.pigment);
            pigment.is_ok_and(|pigment| pigment.drop_mass.is_some())
        };
        let weighed = (skin.mix.entries().iter()).filter(|(colorant, _)| !is_dropped(colorant));
        let dropped: Vec<&str> = (skin.mix.entries().iter())
            .filter(|(colorant, _)| is_dropped(colorant))
            .map(|(colorant, _)| colorant.pigment.as_str())
            .collect();
        let others = shelf
            .pigments
            .iter()
            .filter(|pigment| !dropped.contains(&pigment.name.as_str()));
        let mut order = Order {
            shelf,
            skin: OrderedCup {
                base: skin.base.clone(),
                base_mass: skin.base_mass,
            },
            thickness: *thickness,
            beneath: match beneath {
                Underlay::Backing { name, contact } => OrderedUnderlay::Backing {
                    name: name.clone(),
                    contact: *contact,
                },
                Underlay::Foam(foam) => OrderedUnderlay::Foam(OrderedCup {
                    base: foam.base.clone(),
                    base_mass: foam.base_mass,
                }),
            },
            paint: None,
            paint_tones: Vec::new(),
            in_the_skin: Mix::new(weighed.cloned().collect())?,
            colorants: None,
            must: Vec::new(),
            banned: others.map(|pigment| pigment.name.clone()).collect(),
            lights: vec![shelf.settings.viewing.illuminant.into()],
            tolerance: self.tolerance,
            limits: self.limits,
        };
        order.limits = self.limits_of_next(order.limits_of(&Cup::pour(shelf, skin)?));
        let any = Order {
            banned: Vec::new(),
            ..order.clone()
        };
        if dropped.is_empty() {
            return any.skin_over(target, beneath.clone(), any_by);
        }
        let same = order.skin_over(target, beneath.clone(), same_by)?;
        if same.best().delta_e <= WORTH_OTHER_PIGMENTS {
            return Ok(same);
        }
        let any = any.skin_over(target, beneath.clone(), any_by)?;
        let gains = any.best().delta_e < same.best().delta_e - WORTH_OTHER_PIGMENTS;
        Ok(if gains { any } else { same })
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

    /// What to add to the cup on the bench, the best found by `deadline`.
    fn additions(
        &self,
        shelf: &Shelf,
        learnt: &Learnt<'_>,
        target: &Target,
        weights: &TristimulusWeights,
        deadline: Option<Instant>,
    ) -> Result<Additions> {
        let casting = Casting::new(shelf, &self.build)?;
        let mut cup = Cup::pour(shelf, &self.build.skin)?;
        for (portion, poured) in cup.portions.iter_mut().zip(learnt.skin().portions.iter()) {
            portion.mass = poured.mass;
        }
        let mut colorants: Vec<Colorant> = shelf
            .pigments
            .iter()
            .filter(|pigment| pigment.drop_mass.is_some())
            .map(|pigment| Colorant::neat(&pigment.name))
            .collect();
        // Let-downs that stand on the bench already.
        let poured = &self.build.skin;
        let in_it = poured.mix.entries().iter().map(|(colorant, _)| colorant);
        let mut let_downs = shelf.let_downs_for(&poured.base);
        let_downs.retain(|ready| in_it.clone().all(|colorant| colorant != ready));
        let_downs.extend(in_it.filter(|colorant| colorant.let_down > 1.0).cloned());
        colorants.extend(let_downs);
        let question = Question {
            shelf,
            cup,
            place: Place::Film {
                thickness_mm: self.build.thickness.0,
                over: Vec::new(),
                beneath: casting.beneath(),
            },
            aims: vec![Aim {
                weights: weights.clone(),
                lab: target.lab,
            }],
            must: Vec::new(),
            contrast: None,
            let_downs: false,
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
        let answer = question.search()?;
        let best = answer.recipes.into_iter().next();
        let (add, delta_e_after) = best.map_or((Vec::new(), f64::INFINITY), |best| {
            (best.drops, best.delta_e)
        });
        Ok(Additions {
            add,
            delta_e_after,
            gap: answer.gap,
        })
    }
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
            for (place, doubt) in doubts.iter().enumerate() {
                let step = (seen(&doubt.applied(&here, NUDGE)) - at) / NUDGE;
                slopes.set_column(place, &step);
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
        // A casting to be corrected has one film, without paint.
        &self.casting.films[self.casting.films.len() - 1].cup
    }

    /// `shelf` with what was learnt of its materials.
    fn shelf(&self, shelf: &Shelf) -> Shelf {
        let mut learnt = shelf.clone();
        for (doubt, sds) in &self.off {
            if doubt.is_of_calibration() {
                doubt.alter(&mut learnt, &shelf.moves, *sds);
            }
        }
        learnt
    }
}
