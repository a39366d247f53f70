//! How see-through a skin is to be.
//!
//! Half of the look. A window that was asked for binds. Where none was, a skin over foam is to be a veil, or as a casting was
//! whose tone is matched; and where no skin like that has the tone, the nearest to it that has.

use super::filling::{NOT_SEEN, SkinLook};
use super::order::{Order, OrderedUnderlay};
use crate::error::Result;
use crate::tone::Target;

/// Contrast ratios of a veil: deep enough to look into, veiled enough that the foam's cells and a thin spot don't show. Our own
/// choice, no source.
pub const VEIL: (f64, f64) = (0.25, 0.5);

/// How far from a casting's contrast ratio a skin that is to be like it may lie. Common practice, no source.
const LIKE_IT: f64 = 0.05;

/// How finely the distance from a wished window is told.
const STEP: f64 = 1.0 / 32.0;

/// How far a window is widened at most: no skin is far from the veil by more.
const FARTHEST: f64 = 0.75;

impl Order<'_> {
    /// Between which contrast ratios the skin's is to lie, if the tone can be had there.
    pub fn window(&self, target: &Target) -> Option<(f64, f64)> {
        let over_foam = !matches!(self.beneath, OrderedUnderlay::Backing { .. });
        let like = target.translucency.map(|seen| {
            let ratio = seen.contrast_ratio;
            (ratio - LIKE_IT, ratio + LIKE_IT)
        });
        (self.limits.contrast_ratio)
            .or(like)
            .or(over_foam.then_some(VEIL))
    }

    /// Between which contrast ratios the skin is sought over what `look` looks at it over: those wished, or as few more as let
    /// it have the tone within tolerance, or as near as any skin has it.
    pub(super) fn window_over(
        &self,
        target: &Target,
        look: &SkinLook<'_>,
    ) -> Result<Option<(f64, f64)>> {
        let wished = self.window(target);
        let Some((least, most)) = wished.filter(|_| self.limits.contrast_ratio.is_none()) else {
            return Ok(wished);
        };
        let glance = |window| look.delta_e(window, true);
        let nearest = glance(None)?;
        if nearest.is_infinite() {
            return Ok(wished);
        }
        let enough = self.tolerance_for(target).max(nearest + NOT_SEEN);
        if glance(wished)? <= enough {
            return Ok(wished);
        }
        let widened = |by: f64| Some((least - by, most + by));
        // The least distance in whole steps at which it is had, by halving.
        let (mut too_near, mut far_enough) = (0.0, FARTHEST);
        while far_enough - too_near > STEP {
            let between = ((too_near + far_enough) / 2.0 / STEP).floor() * STEP;
            if glance(widened(between))? <= enough {
                far_enough = between;
            } else {
                too_near = between;
            }
        }
        Ok(widened(far_enough))
    }
}
