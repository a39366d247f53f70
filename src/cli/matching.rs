//! `dropwise match`: from a target to cups.

use std::path::Path;
#[cfg(any(feature = "photo", feature = "page"))]
use std::path::PathBuf;
use std::time::Instant;

use super::commands::{naming, quoted, take_commands};
use super::input::{DayOf, TypedLab};
use super::interrupt::{is_interrupted, stop_at_interrupt};
use super::like::Like;
use super::ordering::{self, PartArguments, SearchArguments};
use super::target::{Reading, Readings};
use super::{Everywhere, Outcome};
use crate::batch::{Pour, Scale, pour};
use crate::book::Book;
use crate::colour::Viewing;
use crate::error::{Error, Result};
use crate::forecast::wet_g_per_100_cm2;
use crate::materials::{BaseKind, Build, Casting, Cup, Grams, Kind, Mix, Poured, Underlay};
use crate::optics::Foam;
use crate::recipe::{CupRecipe, OneTint, Order, PartRecipe, Reach};
use crate::report::{PartReport, PouredRecipe, part};
use crate::tone::{SpectrumSource, Target, ToneRole};

#[derive(Debug, clap::Args)]
pub(super) struct Options {
    /// The tone to match: L*,a*,b* under the book's light and observer, or a file kept by `target --save`
    #[arg(long, value_name = "L,a,b|FILE", allow_hyphen_values = true)]
    #[cfg_attr(feature = "photo", arg(conflicts_with = "photo"))]
    target: Option<String>,
    /// The tone to match, off a photograph: JPEG, PNG, TIFF or WebP; given again, off several
    #[cfg(feature = "photo")]
    #[arg(long = "photo", id = "photo", value_name = "PHOTO")]
    photos: Vec<PathBuf>,
    #[command(flatten)]
    readings: Readings,
    #[command(flatten)]
    like: Like,
    #[command(flatten)]
    reading: Reading,
    #[command(flatten)]
    part: PartArguments,
    #[command(flatten)]
    search: SearchArguments,
    /// What the part is called, on its sheet
    #[arg(long, value_name = "WORDS", default_value = "Part")]
    title: String,
    #[command(flatten)]
    day_of: DayOf,
    /// Write a mix sheet to print: one HTML file, A5
    #[cfg(feature = "page")]
    #[arg(long, value_name = "FILE")]
    sheet: Option<PathBuf>,
}

/// Standard deviation of the predicted L* from which a test piece is worth more than the prediction.
const GUESS_L_SD: f64 = 1.0;

/// Contrast ratio below which a skin is as good as clear.
const CLEAR_SKIN: f64 = 0.15;

pub(super) fn run(options: &Options, everywhere: &Everywhere) -> Result<Outcome> {
    let begun = Instant::now();
    let book = everywhere.open_book()?;
    let day = options.day_of.day();
    // Let-downs that don't serve are named, and not dropped.
    let serving = book.shelf().on_the_day(day);
    let shelf = &serving;
    let viewing = shelf.settings.viewing;
    let target = options.read_target(&book)?;
    let lights = options.search.lights.or_of(viewing)?;
    let stop = stop_at_interrupt();
    let order = ordering::order(
        &options.part,
        &options.search,
        shelf,
        &target,
        &lights,
        stop,
    )?;
    let free = order.search(&target)?;
    let passes = free.skin.best().delta_e <= order.tolerance;
    let reach = if passes || is_interrupted() {
        Reach::default()
    } else {
        // The starter's pigments are those of the demo.
        order.reach(&target, &free, &Book::demo()?.shelf().pigments)?
    };
    let one_tint = (options.part.one_tint)
        .then(|| order.one_tint(&target, &free))
        .transpose()?;
    let (shelf, recipe) = match &one_tint {
        Some(OneTint { shelf, part, .. }) => (shelf, part.clone()),
        None => (shelf, free),
    };
    let order = Order { shelf, ..order };

    let hide_within = options.part.hide_within.unwrap_or(order.tolerance);
    let prospects = order.prospects(&recipe, options.part.thickest(), hide_within)?;
    let mut notes = notes(options, &book, &recipe);
    notes.extend(foam_as_it_is(&order, &recipe)?);
    notes.extend(translucency_note(&target, &recipe));
    let elsewhere = lights.iter().any(|light| *light != viewing.illuminant);
    notes.extend(guessed_spectrum(&target).filter(|_| elsewhere));
    // Each cup finds of the let-downs what those before it leave.
    let mut stock = book.shelf().clone();
    let mut poured = |layer: Kind,
                      name: String,
                      recipe: CupRecipe,
                      batch: Option<Grams>,
                      aims_at: &'static str|
     -> Result<PouredRecipe> {
        let cup = Cup::pour(shelf, &recipe.best().poured)?;
        // A recipe is that of one pot.
        let pots = batch.map_or(Ok(1), |batch| options.part.pots(batch))?;
        let scale = Scale {
            factor: f64::from(pots),
            largest_pot: options.part.largest_pot,
        };
        let pour = pour(&cup, scale, &stock, day)?;
        pour.take_let_downs(&mut stock, day);
        let apply = apply(&cup, layer, options);
        Ok(PouredRecipe {
            name,
            recipe,
            pour,
            aims_at,
            apply,
        })
    };
    let date = day.to_string();
    let foam_aims_at = |foam: &CupRecipe| {
        if foam.aim.l > target.lab.l {
            "the base tone, seen bare, lightened so that the skin has room; its own difference matters little, since \
             the skin is worked out over what comes out"
        } else {
            "the base tone, seen bare; its own difference matters little, since the skin is worked out over what \
             comes out"
        }
    };
    let mut report = PartReport {
        title: &options.title,
        date: &date,
        book: &shelf.settings.name,
        target: &target,
        skin: poured(
            Kind::Skin,
            Kind::Skin.to_string(),
            recipe.skin,
            Some(options.part.base_g),
            "the base tone",
        )?,
        foam: match recipe.foam {
            Some(foam) => {
                let aims_at = foam_aims_at(&foam);
                let batch = options.part.foam_g;
                Some(poured(
                    Kind::Foam,
                    Kind::Foam.to_string(),
                    foam,
                    batch,
                    aims_at,
                )?)
            }
            None => None,
        },
        paints: paints(recipe.paints, |layer, name, recipe, aims_at| {
            poured(layer, name, recipe, options.part.paint_g, aims_at)
        })?,
        one_tint: one_tint.as_ref(),
        prospects,
        tolerance: order.tolerance,
        reach,
        notes,
        log_command: String::new(),
        take_commands: Vec::new(),
        repeat_commands: Vec::new(),
    };
    report.log_command = log_command(&report, &recipe.build, options, book.folder())?;
    report.take_commands = take_commands(
        report.cups().map(|cup| cup.pour.called_for()),
        day,
        book.folder(),
    );
    report.repeat_commands = repeat_commands(&report, book.folder())?;
    #[cfg(feature = "page")]
    if let Some(file) = &options.sheet {
        crate::book::write_document(file, &crate::report::sheet::part(&report))?;
    }
    let text = if everywhere.json {
        part::json(
            &report,
            viewing.observer,
            &lights,
            begun.elapsed().as_secs_f64(),
        )?
    } else {
        part::text(&report)
    };
    Ok(Outcome {
        text,
        code: u8::from(!report.passes()),
    })
}

/// What the maker should know of this match beside its numbers.
fn notes(options: &Options, book: &Book, recipe: &PartRecipe) -> Vec<String> {
    let mut notes = Vec::new();
    let skin = recipe.skin.best();
    let [l_sd, ..] = skin.prediction.spread();
    if l_sd > GUESS_L_SD {
        notes.push(format!(
            "what this book knows leaves L* uncertain by ±{l_sd:.1}: cast a small test piece of the skin before the \
             part, read it and log it"
        ));
    }
    if skin.prediction.contrast_ratio < CLEAR_SKIN {
        let underlay = match recipe.build.beneath {
            Underlay::Foam(_) => "foam",
            Underlay::Backing { .. } => "backing",
        };
        notes.push(format!(
            "this skin is nearly clear: the {underlay} behind it carries the colour, and shows (fibre makes it denser)"
        ));
    }
    if options.part.paint_g.is_some() && recipe.paints.is_empty() {
        notes.push(
            "no paint recipe: the target has none of the tones asked for (add a flush with --flush L,a,b)"
                .to_owned(),
        );
    }
    if book.folder().is_none() {
        notes.push("from the built-in demo book, whose materials are invented: begin your own with `dropwise new DIR`".to_owned());
    }
    notes
}

/// Over what foam the skin was worked out, where none was tinted.
fn foam_as_it_is(order: &Order<'_>, recipe: &PartRecipe) -> Result<Option<String>> {
    let (None, Underlay::Foam(poured)) = (&recipe.foam, &recipe.build.beneath) else {
        return Ok(None);
    };
    let weights = order.shelf.settings.viewing.weights();
    let bare = weights.lab(&Casting::bare_foam(order.shelf, poured)?.reading());
    let [l, a, b] = [bare.l, bare.a, bare.b];
    Ok(Some(format!(
        "the skin is worked out over the foam as it is, which is taken to look L* {l:.1}, a* {a:.1}, b* {b:.1} bare"
    )))
}

/// The paints, poured.
fn paints(
    recipes: Vec<(ToneRole, CupRecipe)>,
    mut poured: impl FnMut(Kind, String, CupRecipe, &'static str) -> Result<PouredRecipe>,
) -> Result<Vec<(ToneRole, PouredRecipe)>> {
    let aims_at = |role| match role {
        ToneRole::Base => "the base tone, over the finished skin",
        ToneRole::Flush => "the flush tone, over the finished skin",
        ToneRole::Shadow => "the shadow tone, over the finished skin",
        ToneRole::Other => "another tone, over the finished skin",
    };
    let paint = |(role, recipe)| {
        let name = format!("{role} {}", Kind::Paint);
        Ok((role, poured(Kind::Paint, name, recipe, aims_at(role))?))
    };
    recipes.into_iter().map(paint).collect()
}

/// That the skin is denser or more see-through than what was read of the target.
fn translucency_note(target: &Target, recipe: &PartRecipe) -> Option<String> {
    /// A difference of contrast ratio that is seen. Common practice, no source.
    const SEEN: f64 = 0.05;
    let aimed = target.translucency?.contrast_ratio;
    let made = recipe.skin.best().prediction.contrast_ratio;
    let how = match made - aimed {
        off if off.abs() < SEEN => return None,
        off if off > 0.0 => "denser: less fibre or a thinner skin is nearer",
        _ => "more see-through: more fibre or a thicker skin is nearer",
    };
    Some(format!(
        "the target's contrast ratio is {aimed:.2} and this skin's {made:.2}, {how}"
    ))
}

/// That the colours of `target` under other lights come from a spectrum that nobody read.
fn guessed_spectrum(target: &Target) -> Option<String> {
    let found = match target.spectrum_from {
        SpectrumSource::Reading => return None,
        SpectrumSource::Skin => {
            "the target's spectrum is skin's by its colour: under other lights it errs by some 0.3 ΔE00 on skin"
        }
        SpectrumSource::Smooth => {
            "the target's spectrum is the smoothest of its colour: under other lights it may err by several ΔE00"
        }
    };
    Some(format!(
        "{found}; a reading with its spectrum would not (--reading)"
    ))
}

/// How the cup of `layer` is put on. In the skin's place there may be a foam or a paint, which is matched by itself.
fn apply(cup: &Cup<'_>, layer: Kind, options: &Options) -> String {
    let PartArguments {
        thickness_mm,
        paint_mm,
        ..
    } = options.part;
    let is_skin = layer == Kind::Skin;
    match cup.base.kind {
        BaseKind::Skin => format!("brush it {thickness_mm} thick"),
        BaseKind::Foam(Foam { expansion, .. }) if is_skin => {
            format!("let it rise to {expansion} times its volume, {thickness_mm} thick")
        }
        BaseKind::Foam(Foam { expansion, .. }) => {
            format!("pour it behind the skin; it rises to {expansion} times its volume")
        }
        BaseKind::Paint { .. } => {
            let dry = if is_skin { thickness_mm } else { paint_mm };
            let wet_g = wet_g_per_100_cm2(cup, dry);
            format!("spray thin coats, {dry} dry in all: about {wet_g:.1} g on 100 cm²")
        }
    }
}

impl Options {
    fn read_target(&self, book: &Book) -> Result<Target> {
        let settings = &book.shelf().settings;
        let viewing = settings.viewing;
        if let Some(target) = self.readings.target(settings)? {
            return self.reading.with_flush(target);
        }
        if let Some(target) = self.like.target(book)? {
            return self.reading.with_flush(target);
        }
        #[cfg(feature = "photo")]
        if !self.photos.is_empty() {
            let target = self.reading.photos(&self.photos, viewing)?;
            return self.reading.with_flush(target);
        }
        let Some(typed) = &self.target else {
            return Err(nothing_to_match());
        };
        self.reading.with_flush(typed_target(typed, viewing)?)
    }
}

/// A target typed as a colour, or as the file that keeps it.
pub(super) fn typed_target(typed: &str, viewing: Viewing) -> Result<Target> {
    match typed.parse() {
        Ok(TypedLab(lab)) => Target::from_lab(lab, viewing),
        // With a comma it is a faulty colour rather than the name of a missing file.
        Err(faulty) if typed.contains(',') && !Path::new(typed).exists() => Err(faulty),
        Err(_) => Target::read(Path::new(typed)),
    }
}

fn nothing_to_match() -> Error {
    Error::input("nothing to match").mend(if cfg!(feature = "photo") {
        "give a colour or a saved target with --target, a photograph with --photo, readings with --reading, or a swatch of the book with --like"
    } else {
        "give a colour or a saved target with --target, readings with --reading, or a swatch of the book with --like"
    })
}

/// The `swatch add` that logs a reading of what was poured for `report`, but for what is written in capitals.
fn log_command(
    report: &PartReport<'_>,
    build: &Build,
    options: &Options,
    book: Option<&Path>,
) -> Result<String> {
    let words_of = |option: &str, base: &str, base_g: f64, mix: &Mix| {
        let [base, mix] = [base, &mix.to_string()].map(quoted);
        match option {
            "base" => format!("--base {base} --base-g {base_g} --mix {mix}"),
            _ => format!("--{option} {base} --{option}-g {base_g} --{option}-mix {mix}"),
        }
    };
    let poured = |option: &str, cup: &PouredRecipe| -> Result<String> {
        let Pour { base, base_g, .. } = &cup.pour;
        Ok(words_of(
            option,
            base,
            *base_g,
            &report.spelled_out(&cup.pour.mix()?)?,
        ))
    };
    let mut words = vec![
        format!("dropwise swatch add{}", naming(book)),
        poured("base", &report.skin)?,
        format!("--thickness-mm {}", options.part.thickness_mm.0),
    ];
    if let Some(foam) = &report.foam {
        words.push(poured("foam", foam)?);
    } else {
        words.push(match &build.beneath {
            Underlay::Backing { name, .. } => format!("--backing {}", quoted(name)),
            Underlay::Foam(Poured {
                base,
                base_mass,
                mix,
            }) => words_of("foam", base, base_mass.0, mix),
        });
    }
    // A swatch has one coat; where there are several paints, the others go on elsewhere.
    if let Some((_, paint)) = report.paints.first() {
        words.push(poured("paint", paint)?);
        words.push(format!("--paint-mm {}", options.part.paint_mm.0));
    }
    words.push("--lab L,a,b".to_owned());
    Ok(words.join(" "))
}

/// The `batch` that makes ten times what is tinted with one stock, which no book knows, a command for each cup.
fn repeat_commands(report: &PartReport<'_>, book: Option<&Path>) -> Result<Vec<String>> {
    let tinted = report
        .one_tint
        .map(|_| [Some(&report.skin), report.foam.as_ref()]);
    let commands = tinted.into_iter().flatten().flatten().map(|cup| {
        let Poured {
            base,
            base_mass,
            mix,
        } = &cup.recipe.best().poured;
        let [base, mix] = [base, &report.spelled_out(mix)?.to_string()].map(|text| quoted(text));
        // The demo is read without being named.
        let book = book.map_or(String::new(), |folder| naming(Some(folder)));
        let base_g = base_mass.0;
        Ok(format!(
            "dropwise batch{book} --base {base} --base-g {base_g} --mix {mix} --times 10"
        ))
    });
    commands.collect()
}
