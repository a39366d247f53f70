//! What whole drops and the scale's step do to a recipe, as the eye sees it.

use crate::batch::Pour;
use crate::colour::{TristimulusWeights, delta_e_2000};
use crate::error::Result;
use crate::materials::{
    Build, Casting, Coat, Contact, Grams, Kind, Millimetres, Poured, Shelf, Underlay,
};

/// How far what `pour` measures out lies from its recipe, of which `wanted` is one cup, ΔE00; `cast` tells how such a cup is seen.
pub(super) fn off_recipe<'shelf>(
    pour: &Pour,
    wanted: &Poured,
    weights: &TristimulusWeights,
    cast: impl Fn(&Poured) -> Result<Casting<'shelf>>,
) -> Result<f64> {
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
