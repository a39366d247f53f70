//! `dropwise correct`: a cup that came out wrong, and the next one.

use std::time::Duration;

use super::input::{Bar, DayOf, TypedLab, count_to, not_negative, time_limit};
use super::interrupt::stop_at_interrupt;
use super::matching::typed_target;
use super::swatch::Cast;
use super::{Everywhere, Outcome};
use crate::book::Book;
use crate::characterise::calibrate;
use crate::error::{Error, Result};
use crate::materials::{Cup, Geometry, Shelf, Swatch};
use crate::recipe::{Correction, Limits, tolerance};
use crate::report::LetDowns;
use crate::report::remedy::{self, Logging};
use crate::target::Target;

#[derive(Debug, clap::Args)]
pub(super) struct Options {
    /// The tone that was aimed at: L*,a*,b*, or a file that `dropwise target --save` wrote
    #[arg(long, value_name = "L,a,b|FILE", allow_hyphen_values = true)]
    target: String,
    /// How the casting read, under the book's light and observer
    #[arg(long, value_name = "L,a,b", allow_hyphen_values = true)]
    measured: TypedLab,
    #[command(flatten)]
    cast: Cast,
    /// Leave the book as it is; without this the reading is logged in it, as by `swatch add`
    #[arg(long)]
    no_log: bool,
    /// Most drops to add to the cup on the bench; the next cup may take as many as this one would then hold
    #[arg(long, value_name = "N", value_parser = count_to::<u32>(1000), default_value_t = 12)]
    max_add: u32,
    /// Minutes since its parts A and B came together
    #[arg(long, value_name = "MIN", value_parser = not_negative)]
    mixed_since_min: Option<f64>,
    /// Stop when no recipe can be nearer by more than this ΔE00
    #[arg(long, value_name = "GAP", value_parser = not_negative, default_value_t = Limits::default().within)]
    within: f64,
    /// Give the best found after this many seconds of searching, for both answers together; so does Ctrl-C
    #[arg(long, value_name = "S", value_parser = time_limit, default_value = "2")]
    time_limit: Duration,
    /// ΔE00 up to which the skin passes [default: by lightness, 0.59 for light skin to 1.75 for dark]
    #[arg(long, value_name = "ΔE00", value_parser = not_negative)]
    tolerance: Option<f64>,
    #[command(flatten)]
    day_of: DayOf,
}

pub(super) fn run(options: Options, everywhere: &Everywhere) -> Result<Outcome> {
    let mut book = everywhere.open_book()?;
    let day = options.day_of.day();
    let target = typed_target(&options.target, book.shelf().settings.viewing)?;
    let build = options.cast.into_build()?;
    if build.paint.is_some() {
        return Err(
            Error::input("a painted casting tells of its skin through the paint")
                .mend("read the skin before it is painted, and leave --paint out"),
        );
    }
    let pot_life_min = book.shelf().base(&build.skin.base)?.pot_life_min;
    let measured = options.measured.0;
    // A colour that none can be is refused as for a target.
    Target::from_lab(measured, book.shelf().settings.viewing)?;
    let reading = Swatch {
        id: String::new(),
        date: day,
        build: build.clone(),
        lab: Some(measured),
        reflectance: None,
        geometry: Geometry::default(),
        batch: String::new(),
        note: "read for a correction".to_owned(),
    };
    let learnt = learnt(&book, &reading)?;
    let shelf = &(learnt.as_ref().unwrap_or(book.shelf())).on_the_day(day);
    let tolerance = options.tolerance.unwrap_or_else(|| tolerance(target.lab));
    let correction = Correction {
        shelf,
        taught: learnt.is_some(),
        build,
        measured,
        max_add: options.max_add,
        tolerance,
        limits: Limits {
            within: options.within,
            time_limit: Some(options.time_limit),
            stop: stop_at_interrupt(),
            ..Limits::default()
        },
    };
    let found = correction.remedy(&target)?;
    let logged = if options.no_log {
        Logging::NotAsked
    } else if book.folder().is_none() {
        Logging::Demo
    } else {
        log(&mut book, &reading)?
    };
    let time = remedy::PotLife {
        whole_min: pot_life_min,
        since_min: options.mixed_since_min,
    };
    let next_cup = Cup::pour(shelf, &found.next.best().poured)?;
    let called_for = LetDowns::of_cup("next cup", &next_cup, book.shelf(), day);
    let code = u8::from(found.next.best().delta_e > tolerance);
    Ok(Outcome {
        text: if everywhere.json {
            remedy::json(&found, &time, called_for.as_ref(), &logged)
        } else {
            remedy::text(&found, &time, called_for, &logged)
        },
        code,
    })
}

/// Logs the casting, unless it is in the book already.
fn log(book: &mut Book, reading: &Swatch) -> Result<Logging> {
    if let Some(swatch) = book
        .swatches()
        .iter()
        .find(|swatch| swatch.repeats(reading))
    {
        return Ok(Logging::Before(swatch.id.clone()));
    }
    book.add_swatch(reading)?;
    let last = book.swatches().last();
    Ok(Logging::Now(
        last.map(|swatch| swatch.id.clone()).unwrap_or_default(),
    ))
}

/// The shelf as `reading` and all other swatches tell it; `None` where swatches that a calibration had are no longer in the
/// book, so that it knows more than they tell.
fn learnt(book: &Book, reading: &Swatch) -> Result<Option<Shelf>> {
    let mut swatches = book.swatches().to_vec();
    if !swatches.iter().any(|swatch| swatch.repeats(reading)) {
        swatches.push(reading.clone());
    }
    let first = book.first_guesses()?;
    let mut bar = Bar::new("learning from swatches");
    let found = calibrate(&first, &swatches, &mut |share| bar.show(share))?;
    bar.clear();
    let shelf = found.shelf(&first);
    let calibrated = book.shelf().moves.first().into_iter();
    let mut calibrated = calibrated.flat_map(|each| &each.steps);
    Ok(calibrated
        .all(|step| shelf.is_calibrated(&step.material))
        .then_some(shelf))
}
