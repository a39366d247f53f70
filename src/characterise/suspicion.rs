//! What may be wrong with a chip that disagrees with all others.

use std::fmt;

use crate::colour::{TristimulusWeights, delta_e_2000};
use crate::error::Result;
use crate::materials::{Casting, Contact, Millimetres, Shelf, Swatch, Underlay};
use crate::optics::Specular;

/// The one slip that would best explain a reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Suspicion {
    /// It reads as if its thickness were this, mm.
    Thickness(Millimetres),
    /// It reads as if it lay on its card the other way.
    Contact(Contact),
    /// It reads as if the specular light were the other way.
    Specular(Specular),
    /// It reads as if it got this share of the light that the other chips of its photograph got.
    Light(f64),
    /// No one slip explains it.
    Unexplained,
}

impl fmt::Display for Suspicion {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Thickness(thickness) => {
                write!(f, "check its thickness: it reads as if it were {thickness:.2}")
            }
            Self::Contact(Contact::Dry) => {
                f.write_str("check whether it was wetted to the card: it reads as if it lay dry")
            }
            Self::Contact(Contact::Bonded) => {
                f.write_str("check its contact: it reads as if it were wetted to the card")
            }
            Self::Specular(specular) => write!(
                f,
                "check the instrument: it reads as with specular light {specular}"
            ),
            Self::Light(share) => {
                let what = if *share < 1.0 { "a shadow" } else { "shine" };
                write!(
                    f,
                    "check for {what} in its photograph: it reads as if it got {:.0} % of the others' light",
                    100.0 * share
                )
            }
            Self::Unexplained => f.write_str(
                "check its thickness, what went into its cup, and whether it was wetted to the card",
            ),
        }
    }
}

/// Whether a reading that is `off` by so much (ΔE00), and counted for `trust` (0–1), disagrees with the others, which miss by
/// `usual` ΔE00.
pub(super) fn stands_out(off: f64, trust: f64, usual: f64) -> bool {
    const WORTH_A_LOOK: f64 = 1.0;
    const TRUSTED_HALF: f64 = 0.5;
    off > WORTH_A_LOOK.max(5.0 * usual)
        || (trust < TRUSTED_HALF && off > WORTH_A_LOOK.max(3.0 * usual))
}

/// ΔE00 from the reading of `swatch` to what `shelf` predicts of it; none where it was not read.
///
/// # Errors
/// As for looking it up.
pub(super) fn miss(shelf: &Shelf, swatch: &Swatch, weights: &TristimulusWeights) -> Result<f64> {
    let predicted = weights.lab(&Casting::of_swatch(shelf, swatch)?.reading());
    let measured = swatch.measured(weights).unwrap_or(predicted);
    Ok(delta_e_2000(measured, predicted))
}

/// What would best explain `swatch`, which misses by `off` ΔE00.
///
/// # Errors
/// As for looking it up.
pub(super) fn of(
    shelf: &Shelf,
    swatch: &Swatch,
    weights: &TristimulusWeights,
    off: f64,
) -> Result<Suspicion> {
    /// A slip explains a reading that it brings within this share of what it missed by.
    const EXPLAINS: f64 = 0.35;
    let miss = |swatch: &Swatch| miss(shelf, swatch, weights);
    let mut best = (EXPLAINS * off, Suspicion::Unexplained);
    let mut offer = |off: f64, suspicion: Suspicion| {
        if off < best.0 {
            best = (off, suspicion);
        }
    };
    if let Underlay::Backing { contact, .. } = &swatch.build.beneath {
        let mut other = swatch.clone();
        let turned = match contact {
            Contact::Bonded => Contact::Dry,
            Contact::Dry => Contact::Bonded,
        };
        if let Underlay::Backing { contact, .. } = &mut other.build.beneath {
            *contact = turned;
        }
        offer(miss(&other)?, Suspicion::Contact(turned));
    }
    if swatch.photo.is_empty() {
        let read = swatch.geometry.specular;
        let read = read.unwrap_or(shelf.settings.surface.specular());
        for turned in Specular::ALL.into_iter().filter(|other| *other != read) {
            let mut other = swatch.clone();
            other.geometry.specular = Some(turned);
            offer(miss(&other)?, Suspicion::Specular(turned));
        }
    } else if let Some(measured) = swatch.measured(weights) {
        // All chips of a photograph are read by one convention, and each in a light of its own.
        let predicted = Casting::of_swatch(shelf, swatch)?.reading();
        for percent in (40..=130_u32)
            .step_by(3)
            .filter(|percent| percent.abs_diff(100) > 3)
        {
            let share = f64::from(percent) / 100.0;
            let lit = weights.lab(&predicted.map(|r| share * r));
            offer(delta_e_2000(measured, lit), Suspicion::Light(share));
        }
    }
    for percent in [60, 70, 80, 87, 93, 107, 115, 125, 140, 165, 200] {
        let mut other = swatch.clone();
        other.build.thickness.0 *= f64::from(percent) / 100.0;
        let thickness = other.build.thickness;
        offer(miss(&other)?, Suspicion::Thickness(thickness));
    }
    Ok(best.1)
}
