//! A reading of a casting, as the swatch book keeps it.

use std::fmt;
use std::str::FromStr;

use jiff::civil::Date;

use super::Build;
use crate::colour::{Lab, Spectrum, TristimulusWeights};
use crate::error::{Error, Result};

/// One reading of one chip or part; a chip read over two backings is two of these with the same `id`.
#[derive(Clone, Debug, PartialEq)]
pub struct Swatch {
    /// The chip's name in the book.
    pub id: String,
    /// The day it was read.
    pub date: Date,
    /// What it was made of.
    pub build: Build,
    /// CIELAB as read, under the book's viewing; at least one of this and `reflectance` is there.
    pub lab: Option<Lab>,
    /// Reflectance as read, 0–1.
    pub reflectance: Option<Spectrum>,
    /// The batch it came from; may be empty.
    pub batch: String,
    /// Free words.
    pub note: String,
}

impl Swatch {
    /// The colour as read: CIELAB where it was given, else that of the reflectance.
    pub fn measured(&self, weights: &TristimulusWeights) -> Option<Lab> {
        self.lab.or_else(|| {
            self.reflectance
                .as_ref()
                .map(|reflectance| weights.lab(reflectance))
        })
    }
}

/// How a film lies on its backing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Contact {
    /// Cast on it, or wetted to it.
    #[default]
    Bonded,
    /// Laid on it, with air between.
    Dry,
}

impl fmt::Display for Contact {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Bonded => "bonded",
            Self::Dry => "dry",
        })
    }
}

impl FromStr for Contact {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self> {
        match text {
            "bonded" => Ok(Self::Bonded),
            "dry" => Ok(Self::Dry),
            _ => Err(Error::unknown_name("contact", text, ["bonded", "dry"])),
        }
    }
}
