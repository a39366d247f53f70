//! How a part is worked out, cup after cup: the foam, the skin over it, the paints over both.

use std::time::Instant;

use super::filling::NOT_SEEN;
use super::order::{Order, OrderedCup, OrderedUnderlay};
use crate::colour::Lab;
use crate::error::Result;
use crate::forecast::Budget;
use crate::forecast::Pair;
use crate::forecast::Prediction;
use crate::materials::{Build, Colorant, Poured, Underlay};
use crate::search::Limits;
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
    /// How far each of the nearest may be from the best of its rank, in ΔE00.
    pub gap: f64,
    /// Whether that gap is at most what was asked for.
    pub proven: bool,
    /// Mean ΔE00 from the aims of the nearest recipe, whatever it asks of the hands.
    pub nearest_delta_e: f64,
    /// What the recipe to mix asks of the hands: one for each dose, a twentieth for each drop beyond ten, two for each let-down
    /// that is to be made first.
    pub effort: f64,
    /// How much more than the least of those that are near enough that may be; `None` where the nearest was asked for.
    pub effort_gap: Option<f64>,
}

/// One recipe for a cup.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Choice {
    /// What goes into the cup.
    pub poured: Poured,
    /// Its drops, none of them zero.
    pub drops: Vec<(Colorant, u32)>,
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

/// How much lighter than the base tone the foam is made, in L*, until a skin over it passes: it leaves room for
/// pigment in the skin, where the same pigment gives more chroma than in foam. In this project's trials on skin
/// tones of L* 45 to 78, twelve was enough wherever any was.
const FOAM_LIGHTER: [f64; 4] = [0.0, 4.0, 8.0, 12.0];

/// What a lighter foam must gain for the skin, in ΔE00, to be taken: under a skin that hides it, it gains nothing.
const WORTH_A_LIGHTER_FOAM: f64 = 0.05;

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
        let (foam, beneath) = match &self.beneath {
            OrderedUnderlay::Foam(cup) | OrderedUnderlay::FoamAtTheTone(cup) => {
                let foam = self.foam_for(cup, target, deadline, 1 + skin_and_paints)?;
                let beneath = Underlay::Foam(foam.best().poured.clone());
                (Some(foam), beneath)
            }
            OrderedUnderlay::PouredFoam(_) | OrderedUnderlay::Backing { .. } => {
                (None, self.beneath.untinted())
            }
        };
        let deadline = share_until(deadline, skin_and_paints);
        let skin = self.skin_over(target, beneath.clone(), deadline)?;
        let build = Build {
            skin: skin.best().poured.clone(),
            ..self.unfilled(beneath)
        };
        Ok((foam, build, skin))
    }

    /// The foam under the skin: the first, from as light as the base tone up, over which a skin passes that is as see-through as
    /// is wished; if none, over which any passes; if none, over which it comes nearest. A handy foam goes before one that
    /// is just so.
    fn foam_for(
        &self,
        cup: &OrderedCup,
        target: &Target,
        deadline: Option<Instant>,
        cups: usize,
    ) -> Result<CupRecipe> {
        let lighter: &[f64] = match &self.beneath {
            OrderedUnderlay::FoamAtTheTone(_) => &FOAM_LIGHTER[..1],
            _ => &FOAM_LIGHTER,
        };
        let exact = Order {
            limits: Limits {
                within: self.limits.within.or(Some(NOT_SEEN)),
                ..self.limits
            },
            ..self.clone()
        };
        let orders: &[&Order<'_>] = if self.limits.within.is_some() {
            &[self]
        } else {
            &[self, &exact]
        };
        let tolerance = self.tolerance_for(target);
        let mut foams: Vec<CupRecipe> = Vec::new();
        let windows = [self.window(target), self.limits.contrast_ratio];
        let windows = if windows[0] == windows[1] {
            &windows[1..]
        } else {
            &windows[..]
        };
        let mut best = (f64::INFINITY, 0);
        for window in windows {
            best = (f64::INFINITY, 0);
            let all = orders
                .iter()
                .flat_map(|order| lighter.iter().map(move |more| (*order, *more)));
            for (index, (order, lighter)) in all.enumerate() {
                if index == foams.len() {
                    let deadline = share_until(deadline, cups);
                    foams.push(order.fill_foam(cup, target, lighter, deadline)?);
                }
                let beneath = Underlay::Foam(foams[index].best().poured.clone());
                // How light a foam is wanted good recipes tell as well as proven ones, and much sooner.
                let Some(delta_e) = self.glance(target, beneath, *window)? else {
                    continue;
                };
                if delta_e < best.0 - WORTH_A_LIGHTER_FOAM {
                    best = (delta_e, index);
                }
                if delta_e <= tolerance {
                    return Ok(foams.swap_remove(index));
                }
            }
        }
        Ok(foams.swap_remove(best.1))
    }

    /// ΔE00 of the best skin that is found at once over `beneath` with its contrast ratio in `window`, if there is any.
    pub(super) fn glance(
        &self,
        target: &Target,
        beneath: Underlay,
        window: Option<(f64, f64)>,
    ) -> Result<Option<f64>> {
        let task = self.skin_task(&self.unfilled(beneath), target, window)?;
        let nearest = self.question(task, None)?.nearest_at_once()?;
        Ok(nearest.map(|nearest| nearest.delta_e))
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
        let window = self.window_over(target, &beneath)?;
        self.fill_skin(&self.unfilled(beneath), target, window, deadline)
    }
}

/// When the next of so many cups `to_come` has had its share of the time until `deadline`.
fn share_until(deadline: Option<Instant>, to_come: usize) -> Option<Instant> {
    let cups = u32::try_from(to_come.max(1)).unwrap_or(u32::MAX);
    deadline.map(|deadline| {
        let now = Instant::now();
        now + deadline.saturating_duration_since(now) / cups
    })
}
