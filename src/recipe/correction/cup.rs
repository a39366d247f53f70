//! The cup of a casting that is corrected: the skin's, which is the only film.

use crate::error::Result;
use crate::materials::{Amount, Casting, Colorant, Cup, Portion};

/// The cup of a casting to be corrected, which has one film, without paint.
pub(super) fn skin<'a, 'shelf>(casting: &'a Casting<'shelf>) -> &'a Cup<'shelf> {
    &casting.films[casting.films.len() - 1].cup
}

pub(super) fn skin_mut<'a, 'shelf>(casting: &'a mut Casting<'shelf>) -> &'a mut Cup<'shelf> {
    let last = casting.films.len() - 1;
    &mut casting.films[last].cup
}

/// Leaves this share (0–1) of the cup: what is not drawn from it holds its pigments as before.
pub(super) fn leave(casting: &mut Casting<'_>, share: f64) {
    let cup = skin_mut(casting);
    cup.base_mass = cup.base_mass * share;
    for portion in &mut cup.portions {
        portion.mass = portion.mass * share;
    }
}

/// `casting` with these drops more in its cup.
pub(super) fn with_drops<'shelf>(
    casting: &Casting<'shelf>,
    drops: &[(Colorant, u32)],
) -> Result<Casting<'shelf>> {
    let mut casting = casting.clone();
    for (colorant, count) in drops {
        let portion = Portion::new(casting.shelf, colorant, Amount::Drops((*count).into()))?;
        skin_mut(&mut casting).portions.push(portion);
    }
    Ok(casting)
}
