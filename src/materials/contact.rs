//! How a film lies on its backing.

use std::fmt;
use std::str::FromStr;

use crate::error::{Error, Result};

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
