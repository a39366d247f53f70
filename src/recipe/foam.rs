//! Which foam goes under a skin.

use std::time::Instant;

use super::filling::{NOT_SEEN, OF_THE_TOLERANCE, SkinLook};
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

/// A foam, and looks at skins over it.
struct Candidate<'shelf> {
    foam: CupRecipe,
    look: SkinLook<'shelf>,
}

impl<'shelf> Order<'shelf> {
    /// The foam under the skin: the first, from as light as the base tone up, over which a skin passes that needs no new jar; if
    /// none, over which any passes that is as see-through as is wished; if none, over which any passes at all; if none,
    /// over which it comes nearest. A handy foam goes before one that is just so.
    ///
    /// How light a foam is wanted good recipes of the skin tell as well as proven ones, and much sooner; after the first, others are
    /// tried until `deadline`. The foam itself has its share of the time until then, with so many `cups` to come. The looks at skins over it come along.
    pub(super) fn foam_for(
        &self,
        cup: &OrderedCup,
        target: &Target,
        deadline: Option<Instant>,
        cups: usize,
    ) -> Result<(CupRecipe, SkinLook<'shelf>)> {
        let lighter = match &self.beneath {
            OrderedUnderlay::FoamAtTheTone(_) => &FOAM_LIGHTER[..1],
            _ => &FOAM_LIGHTER[..],
        };
        let tolerance = self.tolerance_for(target);
        let is_handy = self.limits.within.is_none();
        let filled = |order: &Self, lighter: f64| -> Result<Candidate<'shelf>> {
            let foam = order.fill_foam(cup, target, lighter, share_until(deadline, cups))?;
            let beneath = Underlay::Foam(foam.best().poured.clone());
            let look = order.look_at_skins(target, beneath)?;
            Ok(Candidate { foam, look })
        };
        let bound = self.limits.contrast_ratio;
        let wished = self.window(target);
        // ΔE00 of any skin that is not ruled out, and of one as see-through as is wished: what no skin has, none has there.
        let any = |candidate: &Candidate<'_>| candidate.look.delta_e(bound, true);
        let as_wished = |candidate: &Candidate<'_>| -> Result<f64> {
            let any = any(candidate)?;
            if any > tolerance {
                return Ok(any);
            }
            candidate.look.delta_e(wished, true)
        };

        let mut handy: Vec<Candidate<'shelf>> = Vec::new();
        let mut nearest = f64::INFINITY;
        for lighter in lighter {
            if !handy.is_empty() && self.has_no_more_time(deadline) {
                break;
            }
            let candidate = filled(self, *lighter)?;
            let any = any(&candidate)?;
            if any <= tolerance {
                let is_enough = if is_handy {
                    candidate.look.delta_e(wished, false)? <= OF_THE_TOLERANCE * tolerance
                } else {
                    as_wished(&candidate)? <= tolerance
                };
                if is_enough {
                    return Ok(candidate.chosen());
                }
            }
            nearest = nearest.min(any);
            handy.push(candidate);
        }
        if let Some(index) = position(&handy, |each| Ok(as_wished(each)? <= tolerance))? {
            return Ok(handy.swap_remove(index).chosen());
        }
        let mut just_so: Vec<Candidate<'shelf>> = Vec::new();
        if is_handy && nearest <= HOPELESS * tolerance {
            let exact = Order {
                limits: Limits {
                    within: Some(NOT_SEEN),
                    ..self.limits
                },
                ..self.clone()
            };
            for lighter in lighter {
                if self.has_no_more_time(deadline) {
                    break;
                }
                let candidate = filled(&exact, *lighter)?;
                if as_wished(&candidate)? <= tolerance {
                    return Ok(candidate.chosen());
                }
                just_so.push(candidate);
            }
        }
        for candidates in [&mut handy, &mut just_so] {
            if let Some(index) = position(candidates, |each| Ok(any(each)? <= tolerance))? {
                return Ok(candidates.swap_remove(index).chosen());
            }
        }
        let chosen = nearest_of(&handy, any)?;
        Ok(handy.swap_remove(chosen).chosen())
    }
}

impl<'shelf> Candidate<'shelf> {
    fn chosen(self) -> (CupRecipe, SkinLook<'shelf>) {
        (self.foam, self.look)
    }
}

/// Index of the candidate of least `delta_e`; of the first where a lighter one gains nothing that is worth it.
fn nearest_of<'shelf>(
    candidates: &[Candidate<'shelf>],
    delta_e: impl Fn(&Candidate<'shelf>) -> Result<f64>,
) -> Result<usize> {
    let mut nearest = (f64::INFINITY, 0);
    for (index, candidate) in candidates.iter().enumerate() {
        let delta_e = delta_e(candidate)?;
        if delta_e < nearest.0 - WORTH_A_LIGHTER_FOAM {
            nearest = (delta_e, index);
        }
    }
    Ok(nearest.1)
}

/// Index of the first of `candidates` that is such, if any is.
fn position<'shelf>(
    candidates: &[Candidate<'shelf>],
    is_such: impl Fn(&Candidate<'shelf>) -> Result<bool>,
) -> Result<Option<usize>> {
    for (index, candidate) in candidates.iter().enumerate() {
        if is_such(candidate)? {
            return Ok(Some(index));
        }
    }
    Ok(None)
}
