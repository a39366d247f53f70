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

/// Between which contrast ratios a skin is sought.
type Window = Option<(f64, f64)>;

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
        let fill = |order: &Order<'_>, lighter: &f64| {
            order.fill_foam(cup, target, *lighter, share_until(deadline, cups))
        };
        let over = |foam: &CupRecipe, window: Window, let_downs: bool| {
            let beneath = Underlay::Foam(foam.best().poured.clone());
            self.glance(target, beneath, window, let_downs)
        };
        let tolerance = self.tolerance_for(target);
        let wished = self.window(target);
        let is_handy = self.limits.within.is_none();
        // What a skin may miss by to be taken over the first foam that serves it.
        let enough = if is_handy {
            OF_THE_TOLERANCE * tolerance
        } else {
            tolerance
        };

        let mut foams: Vec<CupRecipe> = Vec::new();
        for lighter in lighter {
            let foam = fill(self, lighter)?;
            let at_once = over(&foam, wished, !is_handy)?;
            if at_once.is_some_and(|delta_e| delta_e <= enough) {
                return Ok(foam);
            }
            foams.push(foam);
        }
        let mut windows = vec![wished, self.limits.contrast_ratio];
        windows.dedup();
        let exact = Order {
            limits: Limits {
                within: Some(NOT_SEEN),
                ..self.limits
            },
            ..self.clone()
        };
        let mut best = (f64::INFINITY, 0);
        for window in windows {
            best = (f64::INFINITY, 0);
            for (index, foam) in foams.iter().enumerate() {
                let Some(delta_e) = over(foam, window, true)? else {
                    continue;
                };
                if delta_e <= tolerance {
                    return Ok(foams.swap_remove(index));
                }
                if delta_e < best.0 - WORTH_A_LIGHTER_FOAM {
                    best = (delta_e, index);
                }
            }
            // One that is just so is worth its jars where a skin passes over it alone.
            for lighter in lighter.iter().filter(|_| is_handy) {
                let foam = fill(&exact, lighter)?;
                if over(&foam, window, true)?.is_some_and(|delta_e| delta_e <= tolerance) {
                    return Ok(foam);
                }
            }
        }
        Ok(foams.swap_remove(best.1))
    }
}
