//! How far a handful of fibre more moves a skin: it goes in by feel.

use crate::colour::{Lab, TristimulusWeights, delta_e_2000};
use crate::error::Result;
use crate::materials::{Amount, Build, Casting, Colorant, Grams, Mix, Poured, Shelf};

/// A skin with a handful of fibre more.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct MoreFibre {
    /// How much more.
    pub more: Grams,
    /// What then comes out.
    pub lab: Lab,
    /// How far that is from the skin as it is, ΔE00.
    pub delta_e: f64,
}

/// A handful beside what is in the cup, as a share of it: as much as is in doubt where it goes in by feel. Our own choice,
/// no source.
const HANDFUL: f64 = 0.2;

impl MoreFibre {
    /// What a handful more makes of `build`; `None` where no fibre is in its skin.
    ///
    /// # Errors
    /// As [`Casting::new`].
    pub(super) fn of(
        shelf: &Shelf,
        build: &Build,
        weights: &TristimulusWeights,
    ) -> Result<Option<Self>> {
        let is_fibre = |colorant: &Colorant| {
            let pigment = shelf.pigment(&colorant.pigment);
            pigment.is_ok_and(crate::materials::Pigment::is_fibre)
        };
        let mut more = Grams(0.0);
        let entries = build.skin.mix.entries().iter();
        let entries = entries.map(|(colorant, amount)| match amount {
            Amount::Mass(mass) if is_fibre(colorant) => {
                let handful = *mass * HANDFUL;
                more = more + handful;
                (colorant.clone(), Amount::Mass(*mass + handful))
            }
            Amount::Mass(_) | Amount::Drops(_) => (colorant.clone(), *amount),
        });
        let mix = Mix::new(entries.collect())?;
        if more.0 == 0.0 {
            return Ok(None);
        }
        let fuller = Build {
            skin: Poured {
                mix,
                ..build.skin.clone()
            },
            ..build.clone()
        };
        let seen = |build: &Build| -> Result<Lab> {
            Ok(weights.lab(&Casting::new(shelf, build)?.reading()))
        };
        let lab = seen(&fuller)?;
        Ok(Some(Self {
            more,
            lab,
            delta_e: delta_e_2000(seen(build)?, lab),
        }))
    }
}
