//! What a reading tells beside all other swatches, learnt before a search that can't wait long.

use std::time::Instant;

use super::thinning::thinned;
use crate::book::Book;
use crate::characterise::calibrate;
use crate::error::{Error, Result};
use crate::materials::{Shelf, Swatch};

/// What was learnt before a search.
pub(super) enum Learnt {
    /// What the reading and all other swatches tell.
    All(Box<Shelf>),
    /// They tell less than the book knows: swatches that a calibration had are no longer there.
    Less,
    /// The time was over first. Half of what they tell would pass for more than it is, so none of it counts.
    Late,
}

impl Learnt {
    /// The shelf to go by.
    pub(super) fn shelf<'a>(&'a self, book: &'a Book) -> &'a Shelf {
        match self {
            Self::All(shelf) => shelf,
            Self::Less | Self::Late => book.shelf(),
        }
    }
}

/// Share of the time within which all is learnt or nothing: to find good recipes takes some of it, too.
pub(super) const LEARNING: f64 = 0.75;

/// What `reading` and all other swatches tell, if it is learnt by `deadline`.
pub(super) fn learnt(
    book: &Book,
    reading: &Swatch,
    deadline: Option<Instant>,
    progress: &mut dyn FnMut(f64),
) -> Result<Learnt> {
    let mut swatches = thinned(book.swatches()?).swatches;
    if !swatches.iter().any(|swatch| is_it(swatch, reading)) {
        swatches.push(reading.clone());
    }
    let first = book.first_guesses()?;
    let (mut is_late, mut before) = (false, Instant::now());
    let found = calibrate(&first, &swatches, &mut |share| {
        progress(share);
        // A step that would take as long as the last one is not begun where it would not be done.
        let now = Instant::now();
        let step = now - std::mem::replace(&mut before, now);
        is_late = deadline.is_some_and(|deadline| deadline.saturating_duration_since(now) <= step);
        match is_late {
            true => Err(Error::out_of_reach("the time is over")),
            false => Ok(()),
        }
    });
    if is_late {
        return Ok(Learnt::Late);
    }
    let found = found?;
    let shelf = found.shelf(&first);
    let calibrated = book.shelf().joint_directions.first().into_iter();
    let mut calibrated = calibrated.flat_map(|each| &each.steps);
    let tells_all = calibrated.all(|step| shelf.is_calibrated(&step.material));
    Ok(match tells_all {
        true => Learnt::All(Box::new(shelf)),
        false => Learnt::Less,
    })
}

/// Whether `swatch` is this reading: another casting may read the same on another day.
pub(super) fn is_it(swatch: &Swatch, reading: &Swatch) -> bool {
    swatch.date == reading.date && swatch.repeats(reading)
}
