//! A small cup that repairs a casting of a kept part: to what was read of it, not to what was aimed at.
//!
//! A casting is not its aim: drops scatter, and bottles are not what the book has them to be. So what a reading of it tells is
//! learnt first, with the rest of the log, and what is learnt serves this cup alone; `calibrate` keeps it. Over what lies beneath, a
//! bare spot shows the foam as it was poured.

use std::time::{Duration, Instant};

use jiff::civil::Date;

use super::learning::{LEARNING, Learnt, learnt};
use super::matching::{Answer, Matched, Note, poured};
use super::parts::shelf_for;
use super::targeting;
use crate::batch::Scale;
use crate::book::Book;
use crate::error::{Error, Result};
use crate::materials::{Grams, LargestPots, Swatch};
use crate::recipe::{Beneath, KeptCup, Part, Reach, Request, WantedCup};
use crate::search::Watch;

/// What is asked for.
#[derive(Clone, Debug)]
pub struct Patch<'a> {
    /// The part.
    pub part: &'a str,
    /// The casting that is repaired, by its swatch; the part's last one that was read unpainted where `None`.
    pub casting: Option<&'a str>,
    /// Mass of mixed skin.
    pub mass: Grams,
    /// How long is searched; without end where `None`.
    pub time_limit: Option<Duration>,
    /// Who watches the search.
    pub watch: Watch,
    /// The day.
    pub day: Date,
}

/// The cup that repairs a casting.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Patched {
    /// The part.
    pub part: Part,
    /// The casting, by its swatch.
    pub casting: String,
    /// The cup.
    pub matched: Matched,
}

/// Answers `patch`; `progress` hears the share (0–1) of what is learnt before the search.
///
/// # Errors
/// No such part, or none of its castings was read unpainted; no mass; as [`Order::search`](crate::recipe::Order::search) and
/// [`calibrate`](crate::characterise::calibrate).
pub fn run(book: &Book, patch: &Patch<'_>, progress: &mut dyn FnMut(f64)) -> Result<Patched> {
    let begun = Instant::now();
    let part = book.part_to_pour(patch.part)?;
    let reading = casting(book, &part, patch.casting)?;
    let target = targeting::like(book, &reading.id, None)?;
    let deadline = (patch.time_limit).and_then(|limit| begun.checked_add(limit.mul_f64(LEARNING)));
    let learnt = learnt(book, reading, deadline, progress)?;
    let serving = shelf_for(learnt.shelf(book), &part, patch.day)?;
    let mut request = request(&part, patch.mass, patch.day);
    request.limits.time_limit = patch.time_limit;
    request.limits.watch = patch.watch;
    request.limits.time_limit = request.limits.time_left_since(begun);
    let order = request.order(&serving)?.short_listed(&target)?;
    let answer = Answer {
        recipe: order.search(&target)?,
        one_tint: None,
        reach: Reach::default(),
    };
    let one_pot = |_| {
        Ok(Scale {
            factor: 1.0,
            largest_pot: None,
        })
    };
    let mut matched = poured(book, &target, &request, &order, answer, one_pot)?;
    if matches!(learnt, Learnt::Late) {
        matched.notes.push(Note::NoTimeToLearn);
    }
    Ok(Patched {
        casting: reading.id.clone(),
        part,
        matched,
    })
}

/// What is asked of the skin alone: the part's limits, `mass` of its base with its share of the fibre, over what was poured.
fn request(part: &Part, mass: Grams, day: Date) -> Request {
    let mut request = part.request.clone();
    let share = mass.0 / request.skin.base_mass.0;
    request.fibre = request.fibre * share;
    request.skin.base_mass = mass;
    request.with.clear();
    request.paint = None;
    request.largest_pots = LargestPots::default();
    request.one_tint = false;
    request.stock = None;
    request.day = day;
    if let Some(KeptCup { poured: foam, .. }) = &part.recipe.foam {
        request.beneath = Beneath::PouredFoam {
            cup: WantedCup {
                base: Some(foam.base.clone()),
                base_mass: foam.base_mass,
            },
            mix: foam.mix.clone(),
        };
    }
    request
}

/// The reading of the casting called `name`, or of the last of `part` that was read unpainted.
fn casting<'a>(book: &'a Book, part: &Part, name: Option<&str>) -> Result<&'a Swatch> {
    let is_of_it = |swatch: &&Swatch| part.castings.contains(&swatch.id);
    let is_meant = |swatch: &&Swatch| name.is_none_or(|name| swatch.id == name);
    let mut readings = book.swatches()?.iter().rev().filter(is_of_it);
    let found = readings.find(|swatch| is_meant(swatch) && swatch.build.paint.is_none());
    found.ok_or_else(|| {
        let whose = part.name.escape_debug();
        let finding = match name {
            Some(name) => format!(
                "`{}` is no casting of `{whose}` that was read unpainted",
                name.escape_debug()
            ),
            None => format!("no casting of `{whose}` was read unpainted"),
        };
        Error::input(finding).mend(
            "log a reading of it with `dropwise swatch add`; without one, what was kept back of its tinted part B is of one \
             colour with it, and so is the same recipe made small",
        )
    })
}
