//! `dropwise target`: read a skin tone.

use std::path::PathBuf;

use super::input::{Lights, TypedLab};
use super::like::Like;
#[cfg(feature = "photo")]
use super::photo::PhotoArguments;
use super::{Everywhere, Outcome};
use crate::book::{read_readings, write_document};
#[cfg(feature = "photo")]
use crate::colour::Viewing;
use crate::error::{Error, Result};
use crate::materials::Settings;
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
}

/// Readings of an instrument, from files.
#[derive(Debug, clap::Args)]
pub(super) struct Readings {
    /// Readings of an instrument, averaged; once for each file: CGATS text, or CSV with wavelength_nm,r or with one row a reading
    #[arg(long = "reading", value_name = "FILE", conflicts_with = "target")]
    #[cfg_attr(feature = "photo", arg(conflicts_with_all = ["photo", "region", "card", "card_lab", "tones"]))]
    readings: Vec<PathBuf>,
}

impl Readings {
    /// The target that they make; `None` where no file is named.
    pub(super) fn target(&self, settings: &Settings) -> Result<Option<Target>> {
        if self.readings.is_empty() {
            return Ok(None);
        }
        let mut readings = Vec::new();
        for path in &self.readings {
            readings.extend(read_readings(path, settings.viewing)?);
        }
        // Several files have no one name to blame.
        let target = Target::from_readings(&readings, settings);
        match self.readings.as_slice() {
            [only] => target.map_err(|error| error.in_file(only)),
            _ => target,
        }
        .map(Some)
    }
}

/// How a tone is read off a photograph, and what is added by hand; beside an argument `target`, by which the
/// tone is typed instead.
#[derive(Debug, clap::Args)]
pub(super) struct Reading {
    #[cfg(feature = "photo")]
    #[command(flatten)]
    photo: PhotoArguments,
    /// The flush tone, by hand: what the paint is tinted to
    #[arg(long, value_name = "L,a,b", allow_hyphen_values = true)]
    flush: Option<TypedLab>,
}

impl Reading {
    #[cfg(feature = "photo")]
    pub(super) fn photos(&self, paths: &[PathBuf], viewing: Viewing) -> Result<Target> {
        self.photo.read(paths, viewing)
    }

    pub(super) fn with_flush(&self, target: Target) -> Result<Target> {
        match self.flush {
            Some(TypedLab(flush)) => target.with_flush(flush),
            None => Ok(target),
        }
    }
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
            options.reading.photos(&options.photos, viewing)?
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
        write_document(file, &report::target::json(&document))?;
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
