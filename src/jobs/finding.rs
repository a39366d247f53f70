//! Swatches of the log, by colour, pigment, day or part.

use std::collections::{HashSet, VecDeque};

use jiff::civil::Date;

use crate::book::{Book, Glance};
use crate::colour::{Lab, delta_e_2000};
use crate::error::{Error, Result};
use crate::materials::{Build, Swatch};

/// What is looked for; a swatch is found that is all of it.
#[derive(Clone, Debug, Default)]
pub struct Request<'a> {
    /// A colour, under the book's viewing, and how far (ΔE00) from it a swatch may have read.
    pub near: Option<(Lab, f64)>,
    /// A pigment, neat or let down, that is in any of its cups.
    pub pigment: Option<&'a str>,
    /// The first day on which it was read.
    pub since: Option<Date>,
    /// The part that it is a casting of.
    pub part: Option<&'a str>,
    /// Most swatches that are given: the nearest where a colour is looked for, else the newest; `None` for all.
    pub most: Option<usize>,
}

/// What a look through the log found.
#[derive(Clone, Debug)]
pub struct Findings {
    /// The swatches: the nearest first where a colour was looked for, else as they were logged.
    pub swatches: Vec<Found>,
    /// How many were found in all.
    pub all: usize,
}

/// A swatch that was found.
#[derive(Clone, Debug)]
pub struct Found {
    /// The swatch.
    pub swatch: Swatch,
    /// As read.
    pub measured: Lab,
    /// How far that lies from the colour that was looked for, ΔE00.
    pub apart: Option<f64>,
}

/// The swatches of `book` that are all that is asked.
///
/// # Errors
/// As [`Book::swatches`]; no such pigment or part, with the nearest name; an allowance below nothing.
pub fn run(book: &Book, request: &Request<'_>) -> Result<Findings> {
    if let Some(pigment) = request.pigment {
        book.shelf().pigment(pigment)?;
    }
    if let Some((_, within)) = request.near
        && !(within.is_finite() && within >= 0.0)
    {
        let finding = format!("a colour cannot be within ΔE00 {within}");
        return Err(Error::input(finding).mend("write a number such as 2"));
    }
    let part = request.part.map(|name| book.part(name)).transpose()?;
    let castings: Option<HashSet<&str>> =
        (part.as_ref()).map(|part| part.castings.iter().map(String::as_str).collect());
    let weights = book.shelf().settings.viewing.weights();
    let is_its_casting =
        |id: &str| (castings.as_ref()).is_none_or(|castings| castings.contains(id));
    let worth = |row: Glance<'_>| {
        let is_named =
            is_its_casting(row.id()) && request.pigment.is_none_or(|name| row.may_hold(name));
        if !is_named {
            return Ok(false);
        }
        if let Some(since) = request.since
            && row.date()? < since
        {
            return Ok(false);
        }
        Ok(match request.near {
            Some((lab, within)) => {
                (row.lab()?).is_none_or(|read| apart(lab, read, within).is_some())
            }
            None => true,
        })
    };
    let most = request.most.unwrap_or(usize::MAX);
    let (mut found, mut all) = (VecDeque::new(), 0);
    book.look_for(worth, |swatch| {
        if !(request.pigment).is_none_or(|name| holds(&swatch.build, name)) {
            return;
        }
        let Some(measured) = swatch.measured(&weights) else {
            return;
        };
        let apart = request
            .near
            .map(|(lab, within)| apart(lab, measured, within));
        if apart == Some(None) {
            return;
        }
        // Only of the nearest is the last not known before all are found.
        if request.near.is_none() && found.len() == most {
            found.pop_front();
        }
        all += 1;
        found.push_back(Found {
            swatch,
            measured,
            apart: apart.flatten(),
        });
    })?;
    let mut swatches = Vec::from(found);
    swatches.sort_by(|one, other| {
        let apart = |found: &Found| found.apart.unwrap_or(0.0);
        apart(one).total_cmp(&apart(other))
    });
    swatches.truncate(most);
    Ok(Findings { swatches, all })
}

/// How far the two lie apart, ΔE00; `None` where that is more than `within`.
fn apart(one: Lab, other: Lab, within: f64) -> Option<f64> {
    if is_out_of_lightness(one, other, within) {
        return None;
    }
    Some(delta_e_2000(one, other)).filter(|apart| *apart <= within)
}

/// Whether the two differ so much in lightness alone that ΔE00 is more than `within`, which takes longer to work out: ΔL* is
/// divided by 1.75 at most there, and hue and chroma together never take away from it.
fn is_out_of_lightness(one: Lab, other: Lab, within: f64) -> bool {
    const MOST_DIVIDED: f64 = 1.75;
    (one.l - other.l).abs() > MOST_DIVIDED * within
}

/// Whether `pigment` is in any cup of `build`, neat or let down.
fn holds(build: &Build, pigment: &str) -> bool {
    build
        .poured()
        .flat_map(|poured| poured.mix.entries())
        .any(|(colorant, _)| colorant.pigment == pigment)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_colour_that_is_left_out_by_its_lightness_is_near() {
        let lab = |draw: &mut dyn FnMut() -> f64| {
            Lab::new(100.0 * draw(), 80.0 * draw() - 40.0, 80.0 * draw() - 40.0)
        };
        let mut random = fastrand::Rng::with_seed(1976);
        let mut draw = || random.f64();
        for _ in 0..20_000 {
            let (one, other) = (lab(&mut draw), lab(&mut draw));
            let apart = delta_e_2000(one, other);
            assert!(!is_out_of_lightness(one, other, apart), "{one:?} {other:?}");
        }
    }
}
