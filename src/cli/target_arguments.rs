//! Where a target comes from: typed, off a photograph, off readings.

use std::path::{Path, PathBuf};

#[cfg(feature = "photo")]
use super::forced::Forced;
#[cfg(feature = "photo")]
use super::photo::PhotoArguments;
use super::typed::TypedLab;
use crate::colour::Viewing;
use crate::error::{Error, Result};
use crate::jobs::targeting;
use crate::materials::Settings;
use crate::tone::{FarOff, Target};

/// Readings of an instrument, from files.
#[derive(Debug, clap::Args)]
pub(super) struct Readings {
    /// Readings of an instrument, averaged; once for each file: CGATS text, or CSV with wavelength_nm,r or with one row a reading
    #[arg(long = "reading", value_name = "FILE", conflicts_with = "target")]
    #[cfg_attr(feature = "photo", arg(conflicts_with_all = ["photo", "region", "card", "card_lab", "tones"]))]
    readings: Vec<PathBuf>,
    /// Of three readings or more, leave out one that lies far from all others; it is named either way
    #[arg(long, requires = "readings")]
    leave_out_far: bool,
}

impl Readings {
    /// Whether none is named.
    pub(super) fn is_empty(&self) -> bool {
        self.readings.is_empty()
    }

    pub(super) fn files(&self) -> &[PathBuf] {
        &self.readings
    }

    /// The target that they make; `None` where no file is named.
    pub(super) fn target(&self, settings: &Settings) -> Result<Option<Target>> {
        if self.readings.is_empty() {
            return Ok(None);
        }
        let far_off = match self.leave_out_far {
            true => FarOff::LeftOut,
            false => FarOff::Kept,
        };
        targeting::from_readings(&self.readings, settings, far_off).map(Some)
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
    pub(super) fn photos(
        &self,
        paths: &[PathBuf],
        settings: &Settings,
        forced: Forced,
    ) -> Result<Target> {
        self.photo.read(paths, settings, forced)
    }

    pub(super) fn with_flush(&self, target: Target) -> Result<Target> {
        match self.flush {
            Some(TypedLab(flush)) => target.with_flush(flush),
            None => Ok(target),
        }
    }
}

/// Whether what was `typed` is no file that is there, nor a colour, which has commas.
pub(super) fn names_no_file(typed: &str) -> bool {
    !typed.contains(',') && !Path::new(typed).exists()
}

/// A target typed as a colour, or as the file that keeps it.
pub(super) fn typed_target(typed: &str, viewing: Viewing) -> Result<Target> {
    match typed.parse() {
        Ok(TypedLab(lab)) => Target::from_lab(lab, viewing),
        // With a comma it is a faulty colour rather than the name of a missing file.
        Err(faulty) if typed.contains(',') && !Path::new(typed).exists() => Err(faulty),
        Err(_) if names_no_file(typed) => {
            let finding = format!(
                "\"{}\" is neither a colour nor a file that is there",
                typed.escape_debug()
            );
            Err(Error::input(finding).mend(
                "write a colour as L,a,b, such as 65,11,14, or name a file kept by `target --save`",
            ))
        }
        Err(_) => Target::read(Path::new(typed)),
    }
}
