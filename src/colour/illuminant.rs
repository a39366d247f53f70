//! The CIE illuminants that a casting may be seen under.

use std::fmt;
use std::str::FromStr;

#[cfg(feature = "photo")]
use super::Spectrum;
use super::data::cie_illuminants as table;
use super::observer::POWERS;
use crate::error::Error;

macro_rules! illuminants {
    ($($variant:ident, $name:literal, $table:ident, $doc:literal;)*) => {
        /// A light, by its CIE name.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum Illuminant {
            $(#[doc = $doc] $variant,)*
        }

        impl Illuminant {
            /// Every illuminant, in the order of CIE 015:2018.
            pub const ALL: &[Self] = &[$(Self::$variant,)*];

            /// The CIE's name, such as `D65` or `LED-B3`.
            pub const fn name(self) -> &'static str {
                match self { $(Self::$variant => $name,)* }
            }

            /// Relative power from 380 to 780 nm by 5.
            const fn power(self) -> &'static [f64; 81] {
                match self { $(Self::$variant => &table::$table,)* }
            }
        }
    };
}

illuminants! {
    A, "A", A, "Tungsten filament, 2856 K.";
    D50, "D50", D50, "Daylight, 5003 K: the light of print and of ICC profiles.";
    D65, "D65", D65, "Daylight, 6504 K: the light of colour readings.";
    Fl2, "FL2", FL2, "Cool white fluorescent lamp.";
    Fl7, "FL7", FL7, "Broad-band daylight fluorescent lamp.";
    Fl11, "FL11", FL11, "Narrow-band (three-line) white fluorescent lamp.";
    LedB1, "LED-B1", LED_B1, "Phosphor-converted blue LED, 2733 K.";
    LedB2, "LED-B2", LED_B2, "Phosphor-converted blue LED, 2998 K.";
    LedB3, "LED-B3", LED_B3, "Phosphor-converted blue LED, 4103 K.";
    LedB4, "LED-B4", LED_B4, "Phosphor-converted blue LED, 5109 K.";
    LedB5, "LED-B5", LED_B5, "Phosphor-converted blue LED, 6598 K.";
    LedBh1, "LED-BH1", LED_BH1, "Blue LED with phosphor and a red LED, 2851 K.";
    LedRgb1, "LED-RGB1", LED_RGB1, "Red, green and blue LEDs, 2840 K.";
    LedV1, "LED-V1", LED_V1, "Phosphor-converted violet LED, 2724 K.";
    LedV2, "LED-V2", LED_V2, "Phosphor-converted violet LED, 4070 K.";
}

impl Illuminant {
    /// Relative power at the samples of a [`Spectrum`], each averaged by a triangle 10 nm to either side, so
    /// that no line of a lamp falls between two samples.
    #[cfg(feature = "photo")]
    pub(crate) fn power_by_sample(self) -> Spectrum {
        let power = self.power();
        Spectrum::from_fn(|band| {
            let middle = 2 * band;
            let before = power[middle.saturating_sub(1)];
            0.25 * before + 0.5 * power[middle] + 0.25 * power[middle + 1]
        })
    }

    /// Relative power at 360, 361, … 830 nm: straight lines between the table's values, held beyond them.
    pub(super) fn power_by_nm(self) -> [f64; POWERS] {
        let table = self.power();
        std::array::from_fn(|index| {
            // The table begins at 380 nm.
            let (five, within) = (index.saturating_sub(20) / 5, index.saturating_sub(20) % 5);
            let low = five.min(table.len() - 1);
            let high = (low + 1).min(table.len() - 1);
            let share = if five == low {
                within as f64 / 5.0
            } else {
                0.0
            };
            table[low] + (table[high] - table[low]) * share
        })
    }
}

impl fmt::Display for Illuminant {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

impl FromStr for Illuminant {
    type Err = Error;

    /// Takes the CIE's name, in capitals or not.
    fn from_str(text: &str) -> Result<Self, Error> {
        let found = Self::ALL
            .iter()
            .find(|light| light.name().eq_ignore_ascii_case(text.trim()));
        found.copied().ok_or_else(|| {
            Error::unknown_name(
                "illuminant",
                text,
                Self::ALL.iter().map(|light| light.name()),
            )
        })
    }
}
