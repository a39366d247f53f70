//! `dropwise target`: read a skin tone.

use std::path::PathBuf;

use super::forced::Forced;
use super::lights::Lights;
use super::like::Like;
use super::target_arguments::{Reading, Readings};
use super::typed::TypedLab;
use super::{Everywhere, Outcome};
use crate::error::{Error, Result};
use crate::report;
use crate::tone::{BesidePublished, Target, TargetDocument};

#[derive(Debug, clap::Args)]
pub(super) struct Options {
    /// A photograph, or several of one person: JPEG, PNG, TIFF or WebP
    #[cfg(feature = "photo")]
    #[arg(id = "photo", value_name = "PHOTO", conflicts_with = "target")]
    photos: Vec<PathBuf>,
    /// A colour, under the book's light and observer, instead of a photograph
    #[arg(
        id = "target",
        long = "lab",
        value_name = "L,a,b",
        allow_hyphen_values = true
    )]
    lab: Option<TypedLab>,
    #[command(flatten)]
    readings: Readings,
    #[command(flatten)]
    like: Like,
    #[command(flatten)]
    reading: Reading,
    #[command(flatten)]
    lights: Lights,
    /// Show published colours of living skin beside the target
    #[arg(long)]
    published: bool,
    /// Keep the target in a file, for `match --target FILE`
    #[arg(long, value_name = "FILE")]
    save: Option<PathBuf>,
    #[command(flatten)]
    forced: Forced,
}

pub(super) fn run(options: &Options, everywhere: &Everywhere) -> Result<Outcome> {
    let book = everywhere.open_book()?;
    let settings = &book.shelf().settings;
    let viewing = settings.viewing;
    let measured = match options.readings.target(settings)? {
        Some(target) => Some(target),
        None => options.like.target(&book)?,
    };
    let target = match (options.lab, measured) {
        (Some(TypedLab(lab)), _) => Target::from_lab(lab, viewing)?,
        (None, Some(target)) => target,
        #[cfg(feature = "photo")]
        (None, None) if !options.photos.is_empty() => {
            options
                .reading
                .photos(&options.photos, settings, options.forced)?
        }
        (None, None) => return Err(nothing_to_read()),
    };
    let target = options.reading.with_flush(target)?;
    let lights = options.lights.or_of(viewing)?;
    let published = options.published.then(|| BesidePublished::all(&target));
    let document = TargetDocument {
        published: published.clone(),
        ..TargetDocument::new(&target, &lights)
    };
    if let Some(file) = &options.save {
        options
            .forced
            .write(file, report::target::json(&document))?;
    }
    Ok(Outcome::done(if everywhere.json {
        report::target::json(&document)
    } else {
        report::target::text(&target, &lights, published.as_deref().unwrap_or_default())
    }))
}

fn nothing_to_read() -> Error {
    Error::input("nothing to read a tone from").mend(if cfg!(feature = "photo") {
        "name a photograph, a file of readings with --reading, a swatch with --like, or a colour with --lab"
    } else {
        "name a file of readings with --reading, a swatch with --like, or give a colour with --lab"
    })
}
