//! What whole drops and the scale's step do to a recipe, as the eye sees it.

use crate::batch::Pour;
use crate::colour::{TristimulusWeights, delta_e_2000};
use crate::error::Result;
use crate::materials::{
    Build, Casting, Coat, Contact, Grams, Kind, Millimetres, Poured, Shelf, Underlay,
};

/// How far what is measured out lies from the recipe, ΔE00.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct OffRecipe {
    /// Where several pots are tinted at once; 0 where they can't be.
    pub at_once: f64,
    /// Where each pot is tinted for itself, or there is one.
    pub pot_by_pot: f64,
}

impl OffRecipe {
    /// That of `pour`, of a recipe of which `wanted` is one cup; `cast` tells how such a cup is seen.
    pub(super) fn of<'shelf>(
        pour: &Pour,
        wanted: &Poured,
        weights: &TristimulusWeights,
        cast: impl Fn(&Poured) -> Result<Casting<'shelf>>,
    ) -> Result<Self> {
        let off = |pour: &Pour| -> Result<f64> {
            let at_once = pour.at_once.as_ref();
            let doses = at_once.map_or(&pour.doses, |at_once| &at_once.doses);
            if doses.iter().all(|dose| dose.rounding.abs() < 1e-9) {
                return Ok(0.0);
            }
            let pots = f64::from(pour.pots);
            let base_g = match at_once {
                Some(at_once) => at_once.part_b_g + pots * at_once.part_a_g,
                None => pots * pour.base_g,
            };
            let measured = Poured {
                base: wanted.base.clone(),
                base_mass: Grams(base_g),
                mix: pour.mix_in_all()?,
            };
            apart(wanted, &measured, weights, &cast)
        };
        let pot_by_pot = Pour {
            at_once: None,
            ..pour.clone()
        };
        Ok(Self {
            at_once: match &pour.at_once {
                Some(_) => off(pour)?,
                None => 0.0,
            },
            pot_by_pot: off(&pot_by_pot)?,
        })
    }

    /// That of `pour` as its pots are tinted.
    pub fn as_tinted(self, pour: &Pour) -> f64 {
        match pour.at_once {
            Some(_) => self.at_once,
            None => self.pot_by_pot,
        }
    }
}

/// How far the two cups lie apart as `cast` casts them, ΔE00.
pub(super) fn apart<'shelf>(
    one: &Poured,
    other: &Poured,
    weights: &TristimulusWeights,
    cast: impl Fn(&Poured) -> Result<Casting<'shelf>>,
) -> Result<f64> {
    let seen = |poured| Ok::<_, crate::Error>(weights.lab(&cast(poured)?.reading()));
    Ok(delta_e_2000(seen(one)?, seen(other)?))
}

/// `poured` by itself, too thick to see through: how a recipe is seen of which nobody says where it goes.
pub(super) fn cast_thick<'shelf>(shelf: &'shelf Shelf, poured: &Poured) -> Result<Casting<'shelf>> {
    let thickest = match shelf.base(&poured.base)?.kind.kind() {
        Kind::Foam => return Casting::bare_foam(shelf, poured),
        Kind::Skin => Build::THICKNESS_MM.1,
        Kind::Paint => Coat::DRY_THICKNESS_MM.1,
    };
    let build = Build {
        skin: poured.clone(),
        thickness: Millimetres(thickest),
        beneath: Underlay::Backing {
            name: Shelf::WHITE_CARD.to_owned(),
            contact: Contact::default(),
        },
        paint: None,
    };
    Casting::new(shelf, &build)
}
