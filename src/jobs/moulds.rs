//! What moulds take: how much of each base fills them.

use super::bases::base_name;
use super::batching::Size;
use crate::book::Book;
use crate::error::{Error, Result};
use crate::materials::{Grams, Kind, Millimetres, Mould, Shelf};

/// What one piece of `mould` takes of the book's bases.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Takes {
    /// The mould.
    pub mould: Mould,
    /// Mixed skin and what it is called, where the mould tells.
    pub skin: Option<(String, Grams)>,
    /// Mixed foam and what it is called, likewise.
    pub foam: Option<(String, Grams)>,
}

/// How thick a skin is where neither mould nor maker says.
const USUAL_THICKNESS: Millimetres = Millimetres(2.0);

/// What each mould of `book` takes of its first skin and its first foam.
///
/// # Errors
/// As [`Book::moulds`].
pub fn list(book: &Book) -> Result<Vec<Takes>> {
    let moulds = book.moulds()?;
    Ok(moulds.into_iter().map(|mould| takes(book, mould)).collect())
}

/// What one piece of `mould` takes of the first skin and the first foam of `book`.
pub fn takes(book: &Book, mould: Mould) -> Takes {
    let of = |kind| {
        let name = base_name(book.shelf(), None, kind).ok()?;
        let mass = mass(book.shelf(), &mould, (Some(&name), kind), None).ok()?;
        Some((name, mass))
    };
    Takes {
        skin: of(Kind::Skin),
        foam: of(Kind::Foam),
        mould,
    }
}

/// What one piece of `mould` takes of the base of that name, or of the first of that kind on `shelf`, at the skin's `thickness` or,
/// where none is given, at the mould's own.
///
/// # Errors
/// No such base; a mould that doesn't tell what it takes of it.
pub fn mass(
    shelf: &Shelf,
    mould: &Mould,
    (base, kind): (Option<&str>, Kind),
    thickness: Option<Millimetres>,
) -> Result<Grams> {
    let base = shelf.base(&base_name(shelf, base, kind)?)?;
    let thickness = thickness.or(mould.thickness);
    mould.takes(base, thickness.unwrap_or(USUAL_THICKNESS))
}

/// What `pieces` of each of the moulds called `names` take of the kept part called `part`, one tone across all of them: its
/// own bases, at its own thickness.
///
/// # Errors
/// No such part or mould; a part without skin; a mould that doesn't tell what it takes of skin, or of the part's foam.
pub fn fill_of_part(book: &Book, names: &[String], pieces: u32, part: &str) -> Result<Size> {
    let part = book.part_to_pour(part)?;
    let recipe = &part.recipe;
    let of = |base: &str| all(book, names, pieces, base, Some(part.request.thickness));
    Ok(Size::Fill {
        skin: of(&recipe.skin.poured.base)?,
        foam: (recipe.foam.as_ref())
            .map(|foam| of(&foam.poured.base))
            .transpose()?,
    })
}

/// What `pieces` of each of the moulds called `names` take of the one base called `base`.
///
/// # Errors
/// No such base or mould; a mould that doesn't tell what it takes of it.
pub fn fill_of_base(book: &Book, names: &[String], pieces: u32, base: &str) -> Result<Size> {
    Ok(Size::Fill {
        skin: all(book, names, pieces, base, None)?,
        foam: None,
    })
}

fn all(
    book: &Book,
    names: &[String],
    pieces: u32,
    base: &str,
    thickness: Option<Millimetres>,
) -> Result<Grams> {
    let masses = names.iter().map(|name| {
        let mould = book.mould(name)?;
        mass(book.shelf(), &mould, (Some(base), Kind::Skin), thickness)
    });
    let one_of_each: Grams = masses.collect::<Result<Vec<_>>>()?.into_iter().sum();
    Ok(one_of_each * f64::from(pieces))
}

/// Writes down what the mould called `name` took; see [`Book::mark_mould`].
///
/// # Errors
/// Nothing to write down; as [`Book::mark_mould`].
pub fn mark(
    book: &mut Book,
    name: &str,
    skin: Option<Grams>,
    foam: Option<Grams>,
) -> Result<Mould> {
    if skin.is_none() && foam.is_none() {
        return Err(Error::input("nothing to write on the mould")
            .mend("say how much mixed skin it took, or how much mixed foam, in g"));
    }
    book.mark_mould(name, skin, foam)
}
