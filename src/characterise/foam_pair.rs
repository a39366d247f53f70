//! What a foam is learnt from that no swatch tells of: one light tint, foamed and unfoamed.

use super::hand_mixes::{jars_of, measured};
use crate::error::Result;
use crate::materials::{Grams, Kind, Millimetres, Mix, Poured, Shelf, Swatch};

/// One mix in a clear skin and in a foam. What the two share is the pigment's; where they differ, it is the foam's cells, and
/// how much more they make it absorb.
#[derive(Clone, Debug, PartialEq)]
pub struct FoamPair {
    /// The chip of skin.
    pub skin: Poured,
    /// The slice of foam.
    pub foam: Poured,
    /// What both are read over, wetted.
    pub backings: [&'static str; 2],
}

impl FoamPair {
    /// Thickness of the slice: thin enough for the card to show, thick enough to cut.
    pub const SLICE: Millimetres = Millimetres(3.0);
}

/// A pair for each foam of the shelf that no swatch is made of, with the skin `base`; none where no pigment of the shelf shows
/// what foam does. A skin over foam hardly tells of it: it is too opaque for its cells and its gain to be told apart.
///
/// # Errors
/// A base that is not on the shelf.
pub fn foam_pairs(
    shelf: &Shelf,
    swatches: &[Swatch],
    base: &str,
    base_mass: Grams,
) -> Result<Vec<FoamPair>> {
    let skin = &shelf.base(base)?.name;
    let mix = tint(shelf, base_mass)?;
    if mix.entries().is_empty() {
        return Ok(Vec::new());
    }
    let is_read = |foam: &str| (swatches.iter()).any(|swatch| swatch.build.skin.base == foam);
    let foams = shelf
        .bases
        .iter()
        .filter(|base| base.kind.kind() == Kind::Foam);
    let unread = foams.filter(|foam| !is_read(&foam.name));
    let poured = |base: &str| Poured {
        base: base.to_owned(),
        base_mass,
        mix: mix.clone(),
    };
    Ok(unread
        .map(|foam| FoamPair {
            skin: poured(skin),
            foam: poured(&foam.name),
            backings: [Shelf::WHITE_CARD, Shelf::BLACK_CARD],
        })
        .collect())
}

/// A tint that absorbs enough to show through the white of the cells: the first two pigments of the shelf that have a colour
/// and can be measured, no more than one of them let down. White would hide what the cells do.
fn tint(shelf: &Shelf, base_mass: Grams) -> Result<Mix> {
    const DEPTH: f64 = 0.8;
    const PIGMENTS: usize = 2;
    let coloured = shelf.pigments.iter().filter(|pigment| {
        pigment.drop_mass.is_some() && pigment.lot_of.is_empty() && !pigment.is_white()
    });
    let mut mix = Mix::default();
    for entry in coloured.filter_map(|pigment| measured(shelf, pigment, DEPTH, base_mass)) {
        let entries = mix.entries().iter().cloned();
        let with = Mix::new(entries.chain([entry]).collect())?;
        if jars_of(&with).count() <= 1 {
            mix = with;
        }
        if mix.entries().len() == PIGMENTS {
            break;
        }
    }
    Ok(mix)
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;
    use crate::materials::fixtures::shelf;
    use crate::materials::{Build, Contact, Geometry, Grams, Underlay};

    #[test]
    fn a_foam_is_read_by_a_slice_and_not_through_a_skin() {
        let shelf = shelf();
        let poured = |base: &str| Poured {
            base: base.to_owned(),
            base_mass: Grams(100.0),
            mix: Mix::default(),
        };
        let swatch = |skin: &str, beneath| Swatch {
            id: "S001".to_owned(),
            date: date(2026, 3, 9),
            build: Build {
                skin: poured(skin),
                thickness: Millimetres(2.0),
                beneath,
                paint: None,
            },
            lab: None,
            reflectance: None,
            geometry: Geometry::default(),
            batch: String::new(),
            photo: String::new(),
            common_errors: Vec::new(),
            note: String::new(),
        };
        let card = Underlay::Backing {
            name: Shelf::WHITE_CARD.to_owned(),
            contact: Contact::default(),
        };
        let pairs = |swatch| {
            let pairs = foam_pairs(&shelf, &[swatch], "skin", Grams(100.0)).expect("a skin");
            pairs.len()
        };
        let covered = swatch("skin", Underlay::Foam(poured("foam")));
        assert_eq!(pairs(covered), 1, "the skin hides it");
        assert_eq!(pairs(swatch("foam", card)), 0, "a slice tells");
    }

    #[test]
    fn without_a_coloured_pigment_there_is_nothing_to_foam() {
        let mut shelf = shelf();
        shelf.pigments.retain(|pigment| pigment.name != "red");
        let pairs = foam_pairs(&shelf, &[], "skin", Grams(100.0)).expect("a skin");
        assert_eq!(pairs, [], "white hides what the cells do");
    }
}
