//! Swatches into curves, drops on a scale into drop masses, and new bottles onto the shelf.

use jiff::civil::Date;

use super::thinning::{Thinned, thinned};
use crate::book::{Book, KeptBottles, KeptCalibration, KeptCurves, NewBottles};
use crate::characterise::{Calibration, calibrate};
use crate::colour::Lab;
use crate::error::{Error, Result};
use crate::materials::{Shelf, Swatch, Weighed, Weighing};

/// What is to be learnt.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Request {
    /// Whether the book is left as it is.
    pub dry_run: bool,
    /// Runs of drops on a scale, to be logged first.
    pub runs: Vec<Weighing>,
    /// New bottles, to be put on the shelf before that.
    pub new_lots: Vec<NewLot>,
    /// The day.
    pub day: Date,
}

impl Request {
    /// To learn from the swatches alone, on the day `day`.
    pub fn on(day: Date) -> Self {
        Self {
            dry_run: false,
            runs: Vec::new(),
            new_lots: Vec::new(),
            day,
        }
    }
}

/// A new bottle of a pigment.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewLot {
    /// The pigment that it is another lot of.
    pub of: String,
    /// The lot.
    pub lot: String,
}

/// What was done to the shelf before anything was learnt.
#[derive(Clone, Debug, Default)]
#[non_exhaustive]
pub struct Bottles {
    /// The names of the new lots.
    pub lots: Vec<String>,
    /// Those of them that are weighed into a cup, and not dropped.
    pub lots_by_mass: Vec<String>,
    /// The pigments whose drops were weighed.
    pub weighed: Vec<Weighed>,
}

impl Bottles {
    /// Those that `book` has `kept`.
    fn of(kept: KeptBottles, book: &Book) -> Result<Self> {
        let mut lots_by_mass = Vec::new();
        for name in &kept.lots {
            if book.shelf().pigment(name)?.drop_mass.is_none() {
                lots_by_mass.push(name.clone());
            }
        }
        Ok(Self {
            lots: kept.lots,
            lots_by_mass,
            weighed: kept.weighed,
        })
    }

    /// Whether nothing was done.
    pub fn is_empty(&self) -> bool {
        self.lots.is_empty() && self.weighed.is_empty()
    }
}

/// What was learnt.
#[derive(Debug)]
#[non_exhaustive]
pub struct Calibrated {
    /// New bottles and weighed drops.
    pub bottles: Bottles,
    /// The curves; `None` where bottles were all that there was to log.
    pub found: Option<Calibration>,
    /// The readings that were learnt from, in the order of the judgements, and how many were left out of a long log.
    pub learnt_from: Thinned,
    /// Readings off photographs that were read again by what was learnt, as they stood, each with its new colour.
    pub read_again: Vec<(Swatch, Lab)>,
    /// Readings that can't be right.
    pub doubtful: Vec<Error>,
}

/// Learns what `request` says, and writes it to `book`; `progress` hears the share (0–1) that is done.
///
/// # Errors
/// Bottles that the book doesn't know; as [`calibrate`] and the writers of [`Book`].
pub fn run(
    book: &mut Book,
    request: &Request,
    progress: &mut dyn FnMut(f64),
) -> Result<Calibrated> {
    request.check_bottles(book)?;
    let lots: Vec<(&str, &str)> = (request.new_lots.iter())
        .map(|new| (new.of.as_str(), new.lot.as_str()))
        .collect();
    let new = NewBottles {
        lots: &lots,
        runs: &request.runs,
    };
    let has_bottles = !lots.is_empty() || !request.runs.is_empty();
    // What fails does so before anything is written: who is told of an error weighs again, and no run may count twice.
    let supposed = if has_bottles {
        book.supposing(new, request.day)?
    } else {
        book.clone()
    };
    if book.swatches()?.is_empty() && has_bottles {
        return Ok(Calibrated {
            bottles: Bottles::of(book.keep_bottles(new, request.day)?, book)?,
            found: None,
            learnt_from: thinned(&[]),
            read_again: Vec::new(),
            doubtful: Vec::new(),
        });
    }
    let first = supposed.first_guesses()?;
    let mut learnt_from = thinned(supposed.swatches()?);
    let (found, read_again) = learn(&supposed, &first, &mut learnt_from.swatches, progress)?;
    let mut bottles = Bottles::default();
    if !request.dry_run {
        let kept = keep(book, new, &found, &read_again, request.day)?;
        bottles = Bottles::of(kept, book)?;
    }
    Ok(Calibrated {
        bottles,
        found: Some(found),
        learnt_from,
        read_again,
        doubtful: book.doubtful_readings()?,
    })
}

/// Learns from `swatches` of `book`, and reads those off photographs again by what was learnt; gives these as they stood, with
/// their new colours, and leaves them so in `swatches`.
#[cfg_attr(
    not(feature = "photo"),
    expect(unused_variables, reason = "without photographs nothing is read again")
)]
fn learn(
    book: &Book,
    first: &Shelf,
    swatches: &mut [Swatch],
    progress: &mut dyn FnMut(f64),
) -> Result<(Calibration, Vec<(Swatch, Lab)>)> {
    let mut heard = |share| {
        progress(share);
        Ok(())
    };
    #[cfg(feature = "photo")]
    if let Some(photographs) = super::reading_again::Photographs::of(book, swatches)? {
        let stood = swatches.to_vec();
        let found = photographs.calibrate(first, swatches, &mut heard)?;
        let moved = super::reading_again::moved(&stood, swatches);
        return Ok((found, moved));
    }
    Ok((calibrate(first, swatches, &mut heard)?, Vec::new()))
}

/// Writes the `new` bottles, the curves, and what was read again, to the book.
fn keep(
    book: &mut Book,
    new: NewBottles<'_>,
    found: &Calibration,
    read_again: &[(Swatch, Lab)],
    day: Date,
) -> Result<KeptBottles> {
    let curves = found.curves.iter().map(|curves| KeptCurves {
        material: curves.material.clone(),
        coefficients: curves.coefficients,
        spread: curves.spread,
        foam: curves.foam.map(|found| [found.first, found.foam]),
    });
    let curves: Vec<KeptCurves> = curves.collect();
    let left_over = found.left_over.as_ref();
    let kept = KeptCalibration {
        curves: &curves,
        moves: &found.joint_directions,
        left_over: left_over.map(|found| (&found.law, &found.castings[..])),
        specular: found.specular,
        read_again,
    };
    book.keep_calibration(new, &kept, day)
}

impl Request {
    /// Refuses bottles that the book doesn't know, by what was typed.
    fn check_bottles(&self, book: &Book) -> Result<()> {
        for new in &self.new_lots {
            book.shelf().pigment(&new.of)?;
        }
        for Weighing { pigment: name, .. } in &self.runs {
            let is_new = |new: &&NewLot| format!("{} {}", new.of, new.lot) == *name;
            // The drops of a new bottle are taken for those of the old one until they are weighed.
            let known = self
                .new_lots
                .iter()
                .find(is_new)
                .map_or(name, |new| &new.of);
            book.shelf().pigment(known)?.check_weighable()?;
        }
        Ok(())
    }
}
