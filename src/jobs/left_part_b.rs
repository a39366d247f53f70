//! Tinted part B that is left, where a pour of the same tone can use it.

use jiff::civil::Date;

use crate::batch::{Parts, Pour};
use crate::book::Book;
use crate::colour::{Lab, delta_e_2000};
use crate::error::{Error, Result};
use crate::materials::{
    Amount, Build, Casting, Colorant, Grams, LeftPartB, LetDown, Mix, Pigment, Poured, Shelf,
};

/// The share of a pour's part B below which what is left saves no work.
const LEAST_SHARE: f64 = 0.1;

/// What a pour can take of tinted part B that is left.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct LeftUse {
    /// What stands there: all of one recipe, the oldest first.
    pub standing: Vec<LeftPartB>,
    /// What is left of it.
    pub left: Grams,
    /// What the pour takes of it.
    pub used: Grams,
    /// How much part B is to be tinted besides, pigment and all.
    pub to_tint: Grams,
    /// The mixed base (A + B) whose part B that is.
    pub as_for: Grams,
    /// The day of the pour.
    pub day: Date,
}

impl LeftUse {
    /// The share of the skin's part B that is to be tinted anew, 0–1.
    pub fn share_to_tint(&self) -> f64 {
        let all = self.to_tint.0 + self.used.0;
        if all > 0.0 { self.to_tint.0 / all } else { 1.0 }
    }
}

/// What a skin poured by `pour`, which is to come out at `aim` within `tolerance`, can take of what is left in `book`: of its own recipe, or
/// else what would come out within tolerance too, in its place in `build`. `None` where nothing saves work.
///
/// # Errors
/// As [`Book::left_part_b`].
pub(super) fn usable(
    book: &Book,
    shelf: &Shelf,
    (pour, build): (&Pour, &Build),
    (aim, tolerance): (Lab, f64),
    day: Date,
) -> Result<Option<LeftUse>> {
    let Some(all) = tinted_part_b(pour, shelf) else {
        return Ok(None);
    };
    let left = book.left_part_b()?;
    let weights = shelf.settings.viewing.weights();
    let recipe = without_fibre(shelf, &build.skin);
    let serves = |left: &LeftPartB| -> Option<f64> {
        if left.poured == recipe {
            return Some(0.0);
        }
        if left.poured.base != build.skin.base {
            return None;
        }
        let cup = with_fibre_of(shelf, &left.poured, &build.skin)?;
        let instead = Build {
            skin: cup,
            ..build.clone()
        };
        // What has left the shelf can't be told.
        let casting = Casting::new(shelf, &instead).ok()?;
        let apart = delta_e_2000(weights.lab(&casting.reading()), aim);
        (apart <= tolerance).then_some(apart)
    };
    let nearest = left.iter().filter_map(|left| Some((serves(left)?, left)));
    let Some((_, nearest)) = nearest.min_by(|one, other| one.0.total_cmp(&other.0)) else {
        return Ok(None);
    };
    let standing: Vec<LeftPartB> = (left.iter())
        .filter(|each| each.poured == nearest.poured && each.part == nearest.part)
        .cloned()
        .collect();
    let left: Grams = standing.iter().map(|each| each.left).sum();
    let used = Grams(left.0.min(all.0)).rounded_to(LetDown::LEAST);
    if used.0 < LEAST_SHARE * all.0 {
        return Ok(None);
    }
    let to_tint = Grams((all.0 - used.0).max(0.0));
    let in_all = pour.base_g * f64::from(pour.pots);
    Ok(Some(LeftUse {
        standing,
        left,
        used,
        as_for: Grams(in_all * to_tint.0 / all.0),
        to_tint,
        day,
    }))
}

/// What stands there of `poured`, the skin's cup of the part called `name` as it was poured by `pour`, when `left` is left of its
/// tinted part B.
///
/// # Errors
/// A base that has no part B by the scale; more than was tinted.
pub(super) fn left_of(
    shelf: &Shelf,
    name: &str,
    (poured, pour): (&Poured, &Pour),
    left: Grams,
    day: Date,
) -> Result<LeftPartB> {
    let all = tinted_part_b(pour, shelf).ok_or_else(|| {
        let finding = format!("no part B of {} is weighed", pour.base);
        Error::input(finding).mend("leave out what is left of it")
    })?;
    if left.0 > all.0 {
        let finding = format!("{left} of tinted part B are left of {:.1} g", all.0);
        return Err(
            Error::input(finding).mend("say how much of it was not used, or how much was poured")
        );
    }
    Ok(LeftPartB {
        part: name.to_owned(),
        made: day,
        poured: without_fibre(shelf, poured),
        left,
    })
}

/// All part B of `pour`, tinted, without the fibre; `None` where it has none that is weighed.
fn tinted_part_b(pour: &Pour, shelf: &Shelf) -> Option<Grams> {
    let Parts::Weighed { part_b_g, .. } = pour.parts else {
        return None;
    };
    let doses = pour.doses.iter();
    let tint = doses.filter(|dose| !is_fibre(shelf, &dose.colorant));
    let tint: f64 = tint.map(|dose| dose.weighs_g).sum();
    Some(Grams(f64::from(pour.pots) * (part_b_g + tint)))
}

fn is_fibre(shelf: &Shelf, colorant: &Colorant) -> bool {
    shelf
        .pigment(&colorant.pigment)
        .is_ok_and(Pigment::is_fibre)
}

fn without_fibre(shelf: &Shelf, poured: &Poured) -> Poured {
    let entries = poured.mix.entries().iter();
    let tint = entries.filter(|(colorant, _)| !is_fibre(shelf, colorant));
    Poured {
        mix: mix_of(tint.cloned().collect()),
        ..poured.clone()
    }
}

/// `tint` with as much fibre as `cup` has, by mass of base; `None` where fibre is counted in drops.
fn with_fibre_of(shelf: &Shelf, tint: &Poured, cup: &Poured) -> Option<Poured> {
    let mut entries = tint.mix.entries().to_vec();
    for (colorant, amount) in cup.mix.entries() {
        if is_fibre(shelf, colorant) {
            let Amount::Mass(mass) = amount else {
                return None;
            };
            let share = mass.0 / cup.base_mass.0;
            entries.push((colorant.clone(), Amount::Mass(tint.base_mass * share)));
        }
    }
    Some(Poured {
        mix: Mix::new(entries).ok()?,
        ..tint.clone()
    })
}

fn mix_of(entries: Vec<(Colorant, Amount)>) -> Mix {
    Mix::new(entries).expect("entries of a mix, which names none twice")
}
