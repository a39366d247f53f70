//! What a calibration makes of each reading that it was fitted to.

use super::calibration::Judged;
use super::knowledge::Knowledge;
use super::suspicion;
use crate::error::Result;
use crate::materials::{Shelf, Swatch};

/// Judges each of `swatches`, in their order, by the first guesses in `first` and by the curves in `fitted`.
///
/// # Errors
/// A swatch that names what is not on the shelf.
pub(super) fn judge(
    first: &Shelf,
    fitted: &Shelf,
    swatches: &[Swatch],
    known: &Knowledge,
) -> Result<Vec<Judged>> {
    let weights = &known.weights;
    let mut judged = Vec::with_capacity(swatches.len());
    for swatch in swatches {
        judged.push(Judged {
            before: suspicion::miss(first, swatch, weights)?,
            after: suspicion::miss(fitted, swatch, weights)?,
            trust: 1.0,
            suspicion: None,
        });
    }
    for (chip, trust) in known.chips.iter().zip(&known.state.trust) {
        for (reading, trust) in chip.readings.iter().zip(trust) {
            judged[reading.swatch].trust = *trust;
        }
    }
    let mut misses: Vec<f64> = judged.iter().map(|judged| judged.after).collect();
    misses.sort_by(f64::total_cmp);
    // None stand out where there are none.
    let usual = misses.get(misses.len() / 2).copied().unwrap_or_default();
    for (swatch, judged) in swatches.iter().zip(&mut judged) {
        if suspicion::stands_out(judged.after, judged.trust, usual) {
            judged.suspicion = Some(suspicion::of(fitted, swatch, weights, judged.after)?);
        }
    }
    Ok(judged)
}
