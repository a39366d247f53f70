//! `dropwise target`: read a skin tone.

use std::path::PathBuf;

use super::input::TypedLab;
#[cfg(feature = "photo")]
use super::photo::PhotoArguments;
use super::{Everywhere, Outcome};
use crate::book::write_whole;
use crate::colour::Illuminant;
#[cfg(feature = "photo")]
use crate::colour::Viewing;
use crate::error::{Error, Result};
use crate::report::{json, terminal};
use crate::target::{Target, TargetDocument};

#[derive(Debug, clap::Args)]
pub(super) struct Options {
    /// A photograph, or several of one person: JPEG, PNG, TIFF or WebP
    #[cfg(feature = "photo")]
    #[arg(value_name = "PHOTO", conflicts_with = "target")]
    photos: Vec<PathBuf>,
    /// A reading, under the book's light and observer, instead of a photograph
    #[arg(
        id = "target",
        long = "lab",
        value_name = "L,a,b",
        allow_hyphen_values = true
    )]
    lab: Option<TypedLab>,
    #[command(flatten)]
    reading: Reading,
    /// Show the target under these lights too, such as A,FL11,LED-B3
    #[arg(long, value_name = "LIGHT,…", value_delimiter = ',')]
    illuminants: Vec<Illuminant>,
    /// Keep the target in a file, for `match --target FILE`
    #[arg(long, value_name = "FILE")]
    save: Option<PathBuf>,
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
    let viewing = everywhere.open_book()?.shelf().settings.viewing;
    let target = match options.lab {
        Some(TypedLab(lab)) => Target::from_lab(lab, viewing)?,
        #[cfg(feature = "photo")]
        None if !options.photos.is_empty() => options.reading.photos(&options.photos, viewing)?,
        None => return Err(nothing_to_read()),
    };
    let target = options.reading.with_flush(target)?;
    let lights = if options.illuminants.is_empty() {
        vec![viewing.illuminant]
    } else {
        options.illuminants.clone()
    };
    let document = TargetDocument::new(&target, &lights);
    if let Some(file) = &options.save {
        write_whole(file, json::target(&document).as_bytes())?;
    }
    Ok(Outcome::done(if everywhere.json {
        json::target(&document)
    } else {
        terminal::target(&target, &lights)
    }))
}

fn nothing_to_read() -> Error {
    Error::input("nothing to read a tone from").mend(if cfg!(feature = "photo") {
        "name a photograph, or give a reading with --lab"
    } else {
        "give a reading with --lab"
    })
}
