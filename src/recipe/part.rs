//! How a part is worked out, cup after cup: the foam, the skin over it, the paints over both.

use std::time::Instant;

use super::order::{Order, OrderedUnderlay};
use crate::colour::Lab;
use crate::error::Result;
use crate::forecast::Budget;
use crate::forecast::Pair;
use crate::forecast::Prediction;
use crate::materials::{Build, Colorant, Grams, Poured, Underlay};
use crate::tone::{Target, Tone, ToneRole};

/// The recipes for a part.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct PartRecipe {
    /// The skin, aimed at the base tone.
    pub skin: CupRecipe,
    /// The foam behind it, if one was to be tinted, aimed at the base tone as it is seen bare, or at a lighter one.
    pub foam: Option<CupRecipe>,
    /// The paints over both, each aimed at one of the target's tones; none if not ordered, or the target has no such tone.
    pub paints: Vec<(ToneRole, CupRecipe)>,
    /// The part with the best of each, unpainted.
    pub build: Build,
}

/// The recipes for one cup, and what they give.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct CupRecipe {
    /// The colour aimed at, under the book's viewing.
    pub aim: Lab,
    /// Recipes, the best first; at least one.
    pub choices: Vec<Choice>,
    /// How far each of the nearest may be from the best of its rank, in ΔE00; infinite where nobody knows, such as where bottles
    /// or strengths were passed over.
    pub gap: f64,
    /// Whether that gap is at most what was asked for, with nothing passed over.
    pub proven: bool,
    /// Mean ΔE00 from the aims of the nearest recipe, whatever it asks of the hands.
    pub nearest_delta_e: f64,
    /// What the recipe to mix asks of the hands: one for each dose, a twentieth for each drop beyond ten, two for each let-down
    /// that is to be made first.
    pub effort: f64,
    /// How much more than the least of those that are near enough that may be, infinite where nobody knows; `None` where the
    /// nearest was asked for.
    pub effort_gap: Option<f64>,
    /// How many strengths of its pigments were passed over, since there are more ways to dose them than can be looked at.
    pub strengths_left_out: usize,
}

/// One recipe for a cup.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Choice {
    /// What goes into the cup.
    pub poured: Poured,
    /// Its drops, none of them zero.
    pub drops: Vec<(Colorant, u32)>,
    /// What is weighed on a fine scale instead of dropped, each pigment once.
    pub weighed: Vec<(Colorant, Grams)>,
    /// Mean ΔE00 from the aims.
    pub delta_e: f64,
    /// The aim and what comes out, under each light that was matched under.
    pub under: Vec<Pair>,
    /// What comes out.
    pub prediction: Prediction,
    /// The chance (0–1) that what comes out lies within the tolerance of the true tone, as far as drops, scale,
    /// thickness, curves, foam, model and target are known.
    pub chance: f64,
    /// CIELAB of a foam before it has risen.
    pub before_rise: Option<Lab>,
    /// Where the spread comes from, and what would narrow it.
    pub budget: Budget,
}

impl CupRecipe {
    /// The recipe to mix.
    pub fn best(&self) -> &Choice {
        &self.choices[0]
    }

    /// Whether no recipe that is near enough asks less of the hands.
    pub fn is_least_effort(&self) -> bool {
        self.effort_gap == Some(0.0)
    }

    /// The let-downs that the recipe to mix draws on.
    fn let_downs(&self) -> impl Iterator<Item = &Colorant> {
        let drops = self.best().drops.iter();
        drops
            .map(|(colorant, _)| colorant)
            .filter(|colorant| colorant.let_down > 1.0)
    }
}

impl Order<'_> {
    /// Finds the recipes for `target`.
    ///
    /// The foam is tinted to the base tone, as it is seen bare, and the skin over that foam; where no such skin
    /// passes, over a lighter foam.
    ///
    /// # Errors
    /// As [`check`](Self::check); a mass or a thickness out of range; what is in the skin's cup already above its limit; no
    /// recipe that keeps to what is asked of the cup.
    pub fn search(&self, target: &Target) -> Result<PartRecipe> {
        self.check(target)?;
        self.find(target)
    }

    /// [`search`](Self::search) of an order that is checked, or was made from one that is.
    pub(super) fn find(&self, target: &Target) -> Result<PartRecipe> {
        let deadline = self.deadline();
        let (foam, build, skin) = self.skin_over_its_underlay(target, deadline)?;
        Ok(PartRecipe {
            skin,
            foam,
            paints: self.paints(&build, target, deadline)?,
            build,
        })
    }

    /// The paints over `build`, for those of the ordered tones that the target has.
    pub(super) fn paints(
        &self,
        build: &Build,
        target: &Target,
        deadline: Option<Instant>,
    ) -> Result<Vec<(ToneRole, CupRecipe)>> {
        let Some((cup, dry)) = &self.paint else {
            return Ok(Vec::new());
        };
        let to_come = (1..=self.painted_tones(target).count()).rev();
        let mut paints: Vec<(ToneRole, CupRecipe)> = Vec::new();
        for (tone, to_come) in self.painted_tones(target).zip(to_come) {
            let before = paints.iter().flat_map(|(_, paint)| paint.let_downs());
            let opened = before.cloned().collect();
            let deadline = share_until(deadline, to_come);
            let recipe = self.fill_paint((cup, *dry), build, target, tone.lab, opened, deadline)?;
            paints.push((tone.role, recipe));
        }
        Ok(paints)
    }

    /// The tones that are painted.
    fn painted_tones<'a>(&'a self, target: &'a Target) -> impl Iterator<Item = &'a Tone> {
        let tones = self.paint_tones.iter().filter(|_| self.paint.is_some());
        tones.filter_map(|role| target.tone(*role))
    }

    fn skin_over_its_underlay(
        &self,
        target: &Target,
        deadline: Option<Instant>,
    ) -> Result<(Option<CupRecipe>, Build, CupRecipe)> {
        let skin_and_paints = 1 + self.painted_tones(target).count();
        let (foam, beneath, look) = match &self.beneath {
            OrderedUnderlay::Foam(cup) | OrderedUnderlay::FoamAtTheTone(cup) => {
                let (foam, look) = self.foam_for(cup, target, deadline, 1 + skin_and_paints)?;
                let beneath = Underlay::Foam(foam.best().poured.clone());
                (Some(foam), beneath, look)
            }
            OrderedUnderlay::PouredFoam(_) | OrderedUnderlay::Backing { .. } => {
                let beneath = self.beneath.untinted();
                (None, beneath.clone(), self.look_at_skins(target, beneath)?)
            }
        };
        let deadline = share_until(deadline, skin_and_paints);
        let window = self.window_over(target, &look)?;
        let skin = self.fill_skin(&self.unfilled(beneath.clone()), target, window, deadline)?;
        let build = Build {
            skin: skin.best().poured.clone(),
            ..self.unfilled(beneath)
        };
        Ok((foam, build, skin))
    }

    /// The skin's recipe over what lies beneath it already, the best found by `deadline`.
    ///
    /// # Errors
    /// As [`search`](Self::search).
    pub(super) fn skin_over(
        &self,
        target: &Target,
        beneath: Underlay,
        deadline: Option<Instant>,
    ) -> Result<CupRecipe> {
        let look = self.look_at_skins(target, beneath.clone())?;
        let window = self.window_over(target, &look)?;
        self.fill_skin(&self.unfilled(beneath), target, window, deadline)
    }
}

/// When the next of so many cups `to_come` has had its share of the time until `deadline`.
pub(super) fn share_until(deadline: Option<Instant>, to_come: usize) -> Option<Instant> {
    let cups = u32::try_from(to_come.max(1)).unwrap_or(u32::MAX);
    deadline.map(|deadline| {
        let now = Instant::now();
        now + deadline.saturating_duration_since(now) / cups
    })
}
