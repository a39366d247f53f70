//! New pigments, bases and backings onto the shelf, and how the lots of one differ.

use std::collections::HashSet;

use jiff::civil::Date;

use crate::book::{Book, NewBase, NewPigment};
use crate::characterise::{Drift, drift};
use crate::colour::{Lab, Spectrum};
use crate::error::{Error, Result};
use crate::materials::{Backing, Base, Pigment, Weighed, Weighing};
use crate::tone::smooth_spectrum;

/// A pigment that was put on the shelf.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct AddedPigment {
    /// As it stands there.
    pub pigment: Pigment,
    /// What its drops weigh, if some were weighed.
    pub weighed: Vec<Weighed>,
}

/// A backing that was put on the shelf.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct AddedBacking {
    /// As it stands there.
    pub backing: Backing,
    /// The file that holds its reflectance, from the book's folder.
    pub r_file: String,
}

/// What was read of a backing.
#[derive(Clone, Debug)]
pub enum BackingReading {
    /// Its reflectance, 0–1.
    Spectrum(Box<Spectrum>),
    /// Its colour under the book's light and observer; its reflectance is taken for the smoothest of that colour.
    Colour(Lab),
}

/// Puts `new` on the shelf of `book`, with `runs` of its drops, weighed on the day `day`.
///
/// # Errors
/// As [`Book::add_pigment`]; runs of another pigment.
pub fn add_pigment(
    book: &mut Book,
    new: &NewPigment,
    runs: &[Weighing],
    day: Date,
) -> Result<AddedPigment> {
    if let Some(other) = runs.iter().find(|run| run.pigment != new.name) {
        let finding = format!(
            "these drops are of `{}`, and the new pigment is `{}`",
            other.pigment.escape_debug(),
            new.name.escape_debug()
        );
        return Err(Error::input(finding)
            .mend("write how many drops and what they weigh, as in \"20 drops 0.61 g\""));
    }
    let weighed = book.add_pigment(new, runs, day)?;
    Ok(AddedPigment {
        pigment: book.shelf().pigment(&new.name)?.clone(),
        weighed,
    })
}

/// How the lots of the pigment called `name` differ, each from the one before it.
///
/// # Errors
/// As [`Book::swatches`] and [`drift`].
pub fn lots(book: &Book, name: &str) -> Result<Vec<Drift>> {
    let mut cast = HashSet::new();
    // A lot is called as its user pleases: all rows are worth it.
    book.look_for(
        |_| Ok(true),
        |swatch| {
            let poured = swatch.build.poured();
            for (colorant, _) in poured.flat_map(|poured| poured.mix.entries()) {
                if !cast.contains(&colorant.pigment) {
                    cast.insert(colorant.pigment.clone());
                }
            }
        },
    )?;
    drift(book.shelf(), name, |lot| cast.contains(lot))
}

/// A base, or a carrier, that was put on the shelf.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum AddedBase {
    /// What sets, and can be cast.
    Base(Base),
    /// What pigments are thinned in.
    Carrier(Pigment),
}

/// Puts `new` on the shelf of `book`.
///
/// # Errors
/// As [`Book::add_base`].
pub fn add_base(book: &mut Book, new: &NewBase) -> Result<AddedBase> {
    book.add_base(new)?;
    let mut carriers = book.shelf().carriers.iter();
    match carriers.find(|carrier| carrier.name == new.name) {
        Some(carrier) => Ok(AddedBase::Carrier(carrier.clone())),
        None => book.shelf().base(&new.name).cloned().map(AddedBase::Base),
    }
}

/// Puts the backing called `name` on the shelf of `book`.
///
/// # Errors
/// A colour that no surface has; as [`Book::add_backing`].
pub fn add_backing(book: &mut Book, name: &str, reading: &BackingReading) -> Result<AddedBacking> {
    let reflectance = match reading {
        BackingReading::Spectrum(reflectance) => **reflectance,
        BackingReading::Colour(lab) => {
            let weights = book.shelf().settings.viewing.weights();
            smooth_spectrum(*lab, &weights).ok_or_else(|| {
                let Lab { l, a, b, .. } = lab;
                Error::input(format!("no surface has the colour {l},{a},{b}"))
                    .mend("check the numbers, and the order L*,a*,b*")
            })?
        }
    };
    let r_file = book.add_backing(name, &reflectance)?;
    Ok(AddedBacking {
        backing: book.shelf().backing(name)?.clone(),
        r_file,
    })
}
