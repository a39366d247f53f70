//! How a part is worked out, cup after cup: the foam, the skin over it, the paints over both.

use std::time::Instant;

use super::order::{Order, OrderedUnderlay};
use crate::colour::Lab;
use crate::error::Result;
use crate::forecast::Budget;
use crate::forecast::Pair;
use crate::forecast::Prediction;
use crate::materials::{Build, Colorant, Poured, Underlay};
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
    /// How far each may be from the best of its rank, in ΔE00.
    pub gap: f64,
    /// Whether that gap is at most what was asked for.
    pub proven: bool,
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
        let paints = self
            .painted_tones(target)
            .zip(to_come)
            .map(|(tone, to_come)| {
                let deadline = share_until(deadline, to_come);
                let recipe = self.fill_paint(cup, *dry, build, target, tone.lab, deadline)?;
                Ok((tone.role, recipe))
            });
        paints.collect()
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
        let over = |beneath: Underlay, deadline| -> Result<(Build, CupRecipe)> {
            let unfilled = self.unfilled(beneath);
            let deadline = share_until(deadline, skin_and_paints);
            let skin = self.fill_skin(&unfilled, target, deadline)?;
            Ok((
                Build {
                    skin: skin.best().poured.clone(),
                    ..unfilled
                },
                skin,
            ))
        };
        let (cup, lighter): (_, &[f64]) = match &self.beneath {
            OrderedUnderlay::Foam(cup) => (cup, &FOAM_LIGHTER),
            OrderedUnderlay::FoamAtTheTone(cup) => (cup, &[0.0]),
            OrderedUnderlay::PouredFoam(_) | OrderedUnderlay::Backing { .. } => {
                let (build, skin) = over(self.beneath.untinted(), deadline)?;
                return Ok((None, build, skin));
            }
        };
        let over_foam = |lighter, deadline| -> Result<(CupRecipe, Build, CupRecipe)> {
            let foam_deadline = share_until(deadline, 1 + skin_and_paints);
            let foam = self.fill_foam(cup, target, lighter, foam_deadline)?;
            let beneath = Underlay::Foam(foam.best().poured.clone());
            let (build, skin) = over(beneath, deadline)?;
            Ok((foam, build, skin))
        };
        // How light a foam is wanted good recipes tell as well as proven ones, and much sooner.
        let no_proof = Some(Instant::now());
        let mut best = (f64::INFINITY, 0.0);
        for &lighter in lighter {
            let delta_e = match over_foam(lighter, no_proof) {
                Ok((.., skin)) => skin.best().delta_e,
                // None was found at once; the proof may find one.
                Err(error) if error.is_out_of_reach() => continue,
                Err(error) => return Err(error),
            };
            if delta_e < best.0 - WORTH_A_LIGHTER_FOAM {
                best = (delta_e, lighter);
            }
            if delta_e <= self.tolerance_for(target) {
                break;
            }
        }
        let (foam, build, skin) = over_foam(best.1, deadline)?;
        Ok((Some(foam), build, skin))
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
        self.fill_skin(&self.unfilled(beneath), target, deadline)
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
