//! What comes out of a recipe that is kept: it is told as if it had just been found, and nothing is searched.

use super::filling::held_drops;
use super::goal::{Found, Goal};
use super::kept_part::{KeptCup, KeptRecipe, KeptStock};
use super::one_tint::{Cost, OneTint};
use super::order::Order;
use super::part::{CupRecipe, PartRecipe};
use crate::colour::delta_e_2000;
use crate::error::Result;
use crate::forecast::Doubts;
use crate::materials::{Build, Casting, Millimetres, Poured, Shelf, Underlay};
use crate::tone::Target;

/// ΔE00 by which a recipe may come out otherwise than its search said, and still be what was searched.
const SAME_DELTA_E: f64 = 1e-6;

impl Order<'_> {
    /// What comes out of `kept` for `target`, over what this order says lies beneath; the shelf has the part's stock.
    ///
    /// What the search said of a cup holds while its colour is what the search found: where the book's curves or the recipe have
    /// changed since, it is not proven, its gaps are infinite, and what the nearest is and how handy this one are no numbers.
    ///
    /// # Errors
    /// A target under another viewing than the book's; names that are not on the shelf; amounts out of range.
    pub fn told(&self, target: &Target, kept: &KeptRecipe) -> Result<PartRecipe> {
        self.check_viewing(target)?;
        let foam = kept.foam.as_ref().map(|foam| {
            let goal = self.goal(target, foam.lighter);
            self.told_cup(foam, goal, target, |poured| {
                Casting::bare_foam(self.shelf, poured)
            })
        });
        let foam = foam.transpose()?;
        let build = Build {
            skin: kept.skin.poured.clone(),
            thickness: self.thickness,
            beneath: self.beneath_kept(kept),
            paint: None,
        };
        let skin = self.told_cup(&kept.skin, self.goal(target, 0.0), target, |_| {
            Casting::new(self.shelf, &build)
        })?;
        let dry_thickness = (self.paint.as_ref()).map_or(Millimetres::default(), |(_, dry)| *dry);
        let paints = kept.paints.iter().map(|(role, paint)| {
            let lab = target.tone(*role).map_or(target.lab, |tone| tone.lab);
            let told = self.told_cup(paint, self.goal_of_paint(lab), target, |poured| {
                Casting::new(self.shelf, &build.painted(poured.clone(), dry_thickness))
            });
            Ok((*role, told?))
        });
        let paints = paints.collect::<Result<_>>()?;
        Ok(PartRecipe {
            skin,
            foam,
            paints,
            build,
        })
    }

    /// What lies beneath the skin of `kept`: its foam, or what this order says.
    pub(crate) fn beneath_kept(&self, kept: &KeptRecipe) -> Underlay {
        match &kept.foam {
            Some(foam) => Underlay::Foam(foam.poured.clone()),
            None => self.beneath.untinted(),
        }
    }

    /// What comes out of `kept`, cast by `cast` and aimed at `goal`.
    fn told_cup<'a>(
        &self,
        kept: &KeptCup,
        goal: Goal,
        target: &Target,
        cast: impl FnOnce(&Poured) -> Result<Casting<'a>>,
    ) -> Result<CupRecipe> {
        let casting = cast(&kept.poured)?;
        let weights = self.shelf.settings.viewing.weights();
        let prediction = casting.predict(&weights, Doubts::All);
        let delta_e = goal.delta_e(&prediction);
        let found = Found {
            drops: held_drops(&kept.poured.mix).collect(),
            delta_e,
            poured: kept.poured.clone(),
        };
        let choice = self.choice(found, (&casting, prediction), &goal, target, true);
        let holds = (kept.search).filter(|search| (search.delta_e - delta_e).abs() <= SAME_DELTA_E);
        Ok(CupRecipe {
            aim: goal.aim,
            choices: vec![choice],
            gap: holds.map_or(f64::INFINITY, |search| search.gap),
            proven: holds.is_some_and(|search| search.proven),
            nearest_delta_e: holds.map_or(f64::NAN, |search| search.nearest_delta_e),
            effort: holds.map_or(f64::NAN, |search| search.effort),
            effort_gap: match holds {
                Some(search) => search.effort_gap,
                None => Some(f64::INFINITY),
            },
            strengths_left_out: 0,
        })
    }
}

impl KeptStock {
    /// Whether the stock stands on `shelf`; else it is to be made.
    pub fn stands_on(&self, shelf: &Shelf) -> bool {
        shelf.stock(&self.stock.name).is_some()
    }

    /// `shelf`, with the stock as one more pigment where it doesn't stand there.
    ///
    /// # Errors
    /// As [`Stock::pigment`](crate::materials::Stock::pigment).
    pub fn on(&self, shelf: &Shelf) -> Result<Shelf> {
        let mut stocked = shelf.clone();
        if !self.stands_on(shelf) {
            stocked.pigments.push(self.stock.pigment(shelf)?);
        }
        Ok(stocked)
    }

    /// What the stock costs `part`, which is tinted with it on `shelf`.
    pub fn costing(&self, part: &PartRecipe, shelf: Shelf, target: &Target) -> OneTint {
        let foam = part.foam.as_ref().zip(self.foam_free_delta_e);
        OneTint {
            stands: self.stands_on(&shelf),
            stock: self.stock.clone(),
            part: part.clone(),
            skin: Cost {
                delta_e: part.skin.best().delta_e,
                free_delta_e: self.skin_free_delta_e,
            },
            foam: foam.map(|(foam, free_delta_e)| Cost {
                delta_e: delta_e_2000(target.lab, foam.best().prediction.lab),
                free_delta_e,
            }),
            shelf,
        }
    }
}
