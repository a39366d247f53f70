//! `dropwise correct`: a cup that came out wrong, and the next one.

use std::time::Duration;

use jiff::civil::Date;

use super::commands::take_commands;
use super::input::{Bar, DayOf, TypedLab, not_negative, time_limit};
use super::interrupt::stop_at_interrupt;
use super::matching::typed_target;
use super::ordering::ContrastArguments;
use super::swatch::Cast;
use super::{Everywhere, Outcome};
use crate::batch::let_downs;
use crate::book::Book;
use crate::characterise::calibrate;
use crate::error::{Error, Result};
use crate::forecast::tolerance;
use crate::materials::Casting;
use crate::materials::{Amount, Colorant, Cup, Geometry, Mix, Poured, Shelf, Standing, Swatch};
use crate::recipe::{Correction, Remedy};
use crate::report::LetDowns;
use crate::report::remedy::{self, Corrected, Logging, PotLife};
use crate::search::Limits;
use crate::tone::Target;

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
    /// Most drops to add to the cup on the bench; 0 leaves it as it is, and answers for the next cup alone. The next cup may
    /// take the usual 40 drops of one pigment and 60 in all (more above 600 g or in a foam), or what this one would then
    /// hold where that is more
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(0..=1000), default_value_t = 12)]
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
    contrast: ContrastArguments,
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
    let weights = book.shelf().settings.viewing.weights();
    let predicted = weights.lab(&Casting::new(book.shelf(), &build)?.reading());
    let window = options.contrast.window()?;
    let let_downs_at_hand = at_hand(book.shelf(), &build.skin, options.max_add, day)?;
    let learnt = learnt(&book, &reading)?;
    let shelf = &(learnt.as_ref().unwrap_or(book.shelf())).on_the_day(day);
    let tolerance = options.tolerance.unwrap_or_else(|| tolerance(target.lab));
    let correction = Correction {
        shelf,
        taught: learnt.is_some(),
        build: build.clone(),
        measured,
        max_add: options.max_add,
        let_downs: let_downs_at_hand,
        tolerance,
        limits: Limits {
            within: options.within,
            time_limit: Some(options.time_limit),
            contrast_ratio: window,
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
    let added = Cup::pour(shelf, &additions(&build.skin, &found)?)?;
    let used = let_downs(&added, book.shelf(), day);
    let next_cup = Cup::pour(shelf, &found.next.best().poured)?;
    let corrected = Corrected {
        remedy: &found,
        time: PotLife {
            whole_min: pot_life_min,
            since_min: options.mixed_since_min,
        },
        max_add: options.max_add,
        measured,
        predicted,
        is_contrast_held: window.is_some(),
        bench: LetDowns::of_cup("cup on the bench", &added, book.shelf(), day),
        take_commands: take_commands(
            [(added.base.name.as_str(), used.as_slice())],
            day,
            book.folder(),
        ),
        next: LetDowns::of_cup("next cup", &next_cup, book.shelf(), day),
        logged,
    };
    let code = u8::from(found.next.best().delta_e > tolerance);
    Ok(Outcome {
        text: if everywhere.json {
            remedy::json(&corrected)
        } else {
            remedy::text(&corrected)
        },
        code,
    })
}

/// What is added to the cup `poured`, as if it went into its base alone.
fn additions(poured: &Poured, found: &Remedy) -> Result<Poured> {
    let drops = found.add.iter();
    let drops = drops.map(|(colorant, count)| (colorant.clone(), Amount::Drops((*count).into())));
    Ok(Poured {
        mix: Mix::new(drops.collect())?,
        ..poured.clone()
    })
}

/// The let-downs that may go into the cup `poured`, which is on the bench on the day `day`. There is no time to make one, so
/// that a jar must hold as many drops as may be added; what went into the cup and is not kept in the book stands beside it.
fn at_hand(shelf: &Shelf, poured: &Poured, max_add: u32, day: Date) -> Result<Vec<Colorant>> {
    let base = shelf.base(&poured.base)?.name.as_str();
    let mut known = shelf.let_downs_for(base);
    let of_the_book = known.len();
    let in_it = poured.mix.entries().iter().map(|(colorant, _)| colorant);
    let unknown = in_it.filter(|each| each.let_down > 1.0 && !known.contains(each));
    let unknown: Vec<Colorant> = unknown.cloned().collect();
    known.extend(unknown);
    let mut at_hand = Vec::with_capacity(known.len());
    for (place, colorant) in known.into_iter().enumerate() {
        // What is only weighed is not dropped in either.
        let Some(drop) = shelf.pigment(&colorant.pigment)?.drop_mass else {
            continue;
        };
        let supply = shelf.supply(&colorant, base, drop * f64::from(max_add), day);
        let is_ready = supply.is_some_and(|supply| supply.standing == Standing::Ready);
        if place >= of_the_book || is_ready {
            at_hand.push(colorant);
        }
    }
    Ok(at_hand)
}

/// Whether `swatch` is this reading: another casting may read the same on another day.
fn is_it(swatch: &Swatch, reading: &Swatch) -> bool {
    swatch.date == reading.date && swatch.repeats(reading)
}

/// Logs the casting, unless it is in the book already.
fn log(book: &mut Book, reading: &Swatch) -> Result<Logging> {
    if let Some(swatch) = book.swatches().iter().find(|swatch| is_it(swatch, reading)) {
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
    if !swatches.iter().any(|swatch| is_it(swatch, reading)) {
        swatches.push(reading.clone());
    }
    let first = book.first_guesses()?;
    let mut bar = Bar::new("learning from swatches");
    let found = calibrate(&first, &swatches, &mut |share| bar.show(share))?;
    bar.clear();
    let shelf = found.shelf(&first);
    let calibrated = book.shelf().joint_directions.first().into_iter();
    let mut calibrated = calibrated.flat_map(|each| &each.steps);
    Ok(calibrated
        .all(|step| shelf.is_calibrated(&step.material))
        .then_some(shelf))
}
