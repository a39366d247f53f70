//! Which foam goes under a skin.

use std::time::Instant;

use super::filling::{NOT_SEEN, OF_THE_TOLERANCE};
use super::order::{Order, OrderedCup, OrderedUnderlay};
use super::part::{CupRecipe, share_until};
use crate::error::Result;
use crate::materials::Underlay;
use crate::search::Limits;
use crate::tone::Target;

/// How much lighter than the base tone the foam is made, in L*, until a skin over it passes: it leaves room for
/// pigment in the skin, where the same pigment gives more chroma than in foam. In this project's trials on skin
/// tones of L* 45 to 78, twelve was enough wherever any was.
const FOAM_LIGHTER: [f64; 4] = [0.0, 4.0, 8.0, 12.0];

/// What a lighter foam must gain for the skin, in ΔE00, to be taken: under a skin that hides it, it gains nothing.
const WORTH_A_LIGHTER_FOAM: f64 = 0.05;

/// Beyond so many times the tolerance no foam that is just so brings a skin within it.
const HOPELESS: f64 = 2.0;

/// A foam, and what the best skin that is found at once misses by over it, ΔE00; infinite where there is none.
struct Candidate {
    foam: CupRecipe,
    /// Of a skin as see-through as is wished.
    wished: f64,
    /// Of any skin that is not ruled out.
    any: f64,
}

impl Order<'_> {
    /// The foam under the skin: the first, from as light as the base tone up, over which a skin passes that needs no new jar; if
    /// none, over which any passes that is as see-through as is wished; if none, over which any passes at all; if none,
    /// over which it comes nearest. A handy foam goes before one that is just so.
    ///
    /// How light a foam is wanted good recipes of the skin tell as well as proven ones, and much sooner. The foam itself has its
    /// share of the time until `deadline`, with so many `cups` to come.
    pub(super) fn foam_for(
        &self,
        cup: &OrderedCup,
        target: &Target,
        deadline: Option<Instant>,
        cups: usize,
    ) -> Result<CupRecipe> {
        let lighter = match &self.beneath {
            OrderedUnderlay::FoamAtTheTone(_) => &FOAM_LIGHTER[..1],
            _ => &FOAM_LIGHTER[..],
        };
        let tolerance = self.tolerance_for(target);
        let is_handy = self.limits.within.is_none();
        let filled = |order: &Order<'_>, lighter: f64| {
            let foam = order.fill_foam(cup, target, lighter, share_until(deadline, cups))?;
            self.candidate(foam, target)
        };

        let mut handy: Vec<Candidate> = Vec::new();
        for lighter in lighter {
            let candidate = filled(self, *lighter)?;
            if candidate.any <= tolerance {
                let is_enough = if is_handy {
                    let neat = self.over(&candidate.foam, target, self.window(target), false)?;
                    neat <= OF_THE_TOLERANCE * tolerance
                } else {
                    candidate.wished <= tolerance
                };
                if is_enough {
                    return Ok(candidate.foam);
                }
            }
            handy.push(candidate);
        }
        let passes_as_wished = |candidate: &Candidate| candidate.wished <= tolerance;
        let passes = |candidate: &Candidate| candidate.any <= tolerance;
        let nearest = handy
            .iter()
            .map(|each| each.any)
            .fold(f64::INFINITY, f64::min);
        let mut just_so: Vec<Candidate> = Vec::new();
        if is_handy && !handy.iter().any(passes_as_wished) && nearest <= HOPELESS * tolerance {
            let exact = Order {
                limits: Limits {
                    within: Some(NOT_SEEN),
                    ..self.limits
                },
                ..self.clone()
            };
            for lighter in lighter {
                just_so.push(filled(&exact, *lighter)?);
            }
        }
        let tests: [&dyn Fn(&Candidate) -> bool; 2] = [&passes_as_wished, &passes];
        for test in tests {
            for candidates in [&mut handy, &mut just_so] {
                if let Some(index) = candidates.iter().position(test) {
                    return Ok(candidates.swap_remove(index).foam);
                }
            }
        }
        let mut best = (f64::INFINITY, 0);
        for (index, candidate) in handy.iter().enumerate() {
            if candidate.any < best.0 - WORTH_A_LIGHTER_FOAM {
                best = (candidate.any, index);
            }
        }
        Ok(handy.swap_remove(best.1).foam)
    }

    /// `foam`, and what skins over it miss by.
    fn candidate(&self, foam: CupRecipe, target: &Target) -> Result<Candidate> {
        let bound = self.limits.contrast_ratio;
        let any = self.over(&foam, target, bound, true)?;
        let window = self.window(target);
        // What no skin has, none has in the window.
        let wished = if window == bound || any > self.tolerance_for(target) {
            any
        } else {
            self.over(&foam, target, window, true)?
        };
        Ok(Candidate { foam, wished, any })
    }

    /// ΔE00 of the best skin that is found at once over `foam`; infinite where there is none.
    fn over(
        &self,
        foam: &CupRecipe,
        target: &Target,
        window: Option<(f64, f64)>,
        let_downs: bool,
    ) -> Result<f64> {
        let beneath = Underlay::Foam(foam.best().poured.clone());
        let found = self.glance(target, beneath, window, let_downs)?;
        Ok(found.unwrap_or(f64::INFINITY))
    }
}
