//! Predictions: of builds that nobody has cast, and beside readings of what was.

use std::path::Path;

use crate::book::{Book, read_builds};
use crate::colour::Lab;
use crate::error::{Error, Result};
use crate::forecast::{Doubts, Prediction};
use crate::materials::{Casting, Swatch};

/// A logged swatch beside what the model says of it.
#[derive(Clone, Copy, Debug)]
pub struct Logged<'a> {
    /// The swatch.
    pub swatch: &'a Swatch,
    /// As read.
    pub measured: Lab,
    /// As predicted.
    pub predicted: Lab,
}

/// A logged swatch as it was read.
#[derive(Clone, Copy, Debug)]
pub struct Read<'a> {
    /// The swatch.
    pub swatch: &'a Swatch,
    /// As read.
    pub measured: Lab,
}

/// What a look through all of the log told.
#[derive(Debug)]
pub struct Listed {
    /// How many readings it holds.
    pub readings: usize,
    /// What is doubtful in it.
    pub doubtful: Vec<Error>,
}

/// Has `take` take the log, or the `newest` so many of it, one reading after the other, with nothing predicted, since a prediction
/// takes longer than a thousand rows do to read. All of it is looked at for what is wrong or doubtful.
///
/// # Errors
/// As [`Book::swatches`].
pub fn listed(
    book: &Book,
    newest: Option<usize>,
    mut take: impl FnMut(Read<'_>),
) -> Result<Listed> {
    let weights = book.shelf().settings.viewing.weights();
    let mut readings = 0;
    let doubtful = book.look_through(|swatch, later| {
        readings += 1;
        // A reading without colour does not pass the book's reading.
        if newest.is_none_or(|newest| later < newest)
            && let Some(measured) = swatch.measured(&weights)
        {
            take(Read { swatch, measured });
        }
    })?;
    Ok(Listed { readings, doubtful })
}

/// What comes out of each build of the table `file`, by its name.
///
/// # Errors
/// As [`read_builds`] and [`Casting::new`]; a cup that would not cure.
pub fn builds(book: &Book, file: &Path, doubts: Doubts) -> Result<Vec<(String, Prediction)>> {
    let shelf = book.shelf();
    let weights = shelf.settings.viewing.weights();
    let builds = read_builds(file, shelf)?.into_iter();
    let predicted = builds.map(|(name, build)| {
        let casting = Casting::new(shelf, &build);
        let casting = casting.and_then(|casting| casting.check_loads().map(|()| casting));
        match casting {
            Ok(casting) => Ok((name, casting.predict(&weights, doubts))),
            Err(error) => Err(error.within(format_args!("build `{name}`")).in_file(file)),
        }
    });
    predicted.collect()
}

/// The logged swatches from the one at `first` on, each beside its prediction.
///
/// # Errors
/// As [`Book::swatches`] and [`Casting::of_swatch`].
pub fn logged(book: &Book, first: usize) -> Result<Vec<Logged<'_>>> {
    let weights = book.shelf().settings.viewing.weights();
    let logged = book.swatches()?[first..].iter().map(|swatch| {
        let casting = Casting::of_swatch(book.shelf(), swatch)?;
        let predicted = weights.lab(&casting.reading());
        // A reading without colour does not pass the book's reading.
        Ok(Logged {
            swatch,
            measured: swatch.measured(&weights).unwrap_or(predicted),
            predicted,
        })
    });
    logged.collect()
}
