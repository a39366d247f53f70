//! `dropwise target`: read a skin tone.

use std::path::PathBuf;

use super::input::{Lights, TypedLab};
use super::{Everywhere, Outcome};
use crate::book::write_whole;
#[cfg(feature = "photo")]
use crate::colour::Viewing;
use crate::error::{Error, Result};
use crate::report::{json, terminal};
#[cfg(feature = "photo")]
use crate::target::{Card, PhotoRequest, Region};
use crate::target::{Target, TargetDocument};

#[derive(Debug, clap::Args)]
pub(super) struct Options {
    /// A photograph: JPEG, PNG, TIFF or WebP
    #[cfg(feature = "photo")]
    #[arg(value_name = "PHOTO", conflicts_with = "target")]
    photo: Option<PathBuf>,
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
    #[command(flatten)]
    lights: Lights,
    /// Keep the target in a file, for `match --target FILE`
    #[arg(long, value_name = "FILE")]
    save: Option<PathBuf>,
}

/// How a tone is read off a photograph, and what is added by hand; beside an argument `target`, by which the
/// tone is typed instead.
#[derive(Debug, clap::Args)]
pub(super) struct Reading {
    /// Where the skin is: pixels from the top left of the upright picture [default: the whole]
    #[cfg(feature = "photo")]
    #[arg(
        long,
        value_name = "X,Y,W,H",
        allow_hyphen_values = true,
        conflicts_with = "target"
    )]
    region: Option<Region>,
    /// Where a white or grey card lies in the shot
    #[cfg(feature = "photo")]
    #[arg(
        long,
        value_name = "X,Y,W,H",
        allow_hyphen_values = true,
        requires = "card_lab",
        conflicts_with = "target"
    )]
    card: Option<Region>,
    /// Which card it is: grey (18 %), white, or its own L*,a*,b* under D50/2°
    #[cfg(feature = "photo")]
    #[arg(
        long,
        value_name = "grey|white|L,a,b",
        requires = "card",
        conflicts_with = "target"
    )]
    card_lab: Option<Card>,
    /// How many tones to part the region into, 1 to 8
    #[cfg(feature = "photo")]
    #[arg(long, value_name = "K", conflicts_with = "target", default_value_t = crate::target::DEFAULT_TONES)]
    tones: usize,
    /// The flush tone, by hand: what the paint is tinted to
    #[arg(long, value_name = "L,a,b", allow_hyphen_values = true)]
    flush: Option<TypedLab>,
}

impl Reading {
    #[cfg(feature = "photo")]
    pub(super) fn photo(&self, path: &std::path::Path, viewing: Viewing) -> Result<Target> {
        let request = PhotoRequest {
            path: path.to_owned(),
            region: self.region,
            card: self.card.zip(self.card_lab),
            tones: self.tones,
        };
        Target::from_photo(&request, viewing)
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
        None => match &options.photo {
            Some(photo) => options.reading.photo(photo, viewing)?,
            None => return Err(nothing_to_read()),
        },
        #[cfg(not(feature = "photo"))]
        None => return Err(nothing_to_read()),
    };
    let target = options.reading.with_flush(target)?;
    let lights = options.lights.or_of(viewing)?;
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
