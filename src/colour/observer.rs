//! The two CIE standard observers.

use std::fmt;
use std::str::FromStr;

use super::data::cie_observers as table;
use crate::error::Error;

/// Number of powers that a light has: 360, 361, … 830 nm, as far as an observer sees.
pub(super) const POWERS: usize = 471;

/// A CIE standard colorimetric observer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Observer {
    /// CIE 1931, for fields of about 2°: what photographs and screens are made for.
    Cie1931,
    /// CIE 1964, for fields of about 10°: what colour readings of surfaces are given for.
    Cie1964,
}

impl Observer {
    /// Wavelength of the first tabulated value, nm; the tables go on by 5 nm. A light's powers begin there too.
    pub(super) const FIRST_NM: f64 = 360.0;

    /// x̄, ȳ, z̄ from 360 to 830 nm by 5.
    pub(super) fn matching_functions(self) -> [&'static [f64; 95]; 3] {
        match self {
            Self::Cie1931 => [&table::X_2_DEGREE, &table::Y_2_DEGREE, &table::Z_2_DEGREE],
            Self::Cie1964 => [
                &table::X_10_DEGREE,
                &table::Y_10_DEGREE,
                &table::Z_10_DEGREE,
            ],
        }
    }
}

impl fmt::Display for Observer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Cie1931 => "2",
            Self::Cie1964 => "10",
        })
    }
}

impl FromStr for Observer {
    type Err = Error;

    /// Takes the field's size in degrees: `2` or `10`.
    fn from_str(text: &str) -> Result<Self, Error> {
        match text {
            "2" => Ok(Self::Cie1931),
            "10" => Ok(Self::Cie1964),
            _ => Err(Error::unknown_name("observer", text, ["2", "10"])),
        }
    }
}
