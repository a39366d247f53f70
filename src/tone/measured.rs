//! Measured skins of people, as readings: a range of tones that a shop is likely to be asked for.

use super::{FarOff, Target};
use crate::colour::{SAMPLES, Spectrum};
use crate::error::Result;
use crate::materials::{Geometry, Reading, Settings};

/// Forearms of 60 of 100 people, each the mean of three readings, 380–730 nm by 10, under a triangular window of 10 nm
/// half-width. One of them lies below L* 45.
///
/// Source: C. C. Cooksey, D. W. Allen, B. K. Tsai (2017), Journal of Research of the National Institute of Standards and
/// Technology 122:26; data doi 10.18434/M38597; in the public domain.
const SKINS: &str = include_str!("measured_skins.csv");

/// The 60 skins, by the numbers that their source gives the people.
pub fn measured_skins() -> Vec<Reading> {
    SKINS.lines().skip(1).map(reading).collect()
}

/// Each of `readings` as a target in the geometry of the book, by name.
///
/// # Errors
/// As [`Target::from_readings`].
pub fn as_targets(
    readings: impl IntoIterator<Item = Reading>,
    settings: &Settings,
) -> Result<Vec<(String, Target)>> {
    let target = |reading: Reading| {
        let target = Target::from_readings(std::slice::from_ref(&reading), settings, FarOff::Kept)?;
        Ok((
            reading.name,
            target.brought_to_book(reading.geometry, settings)?,
        ))
    };
    readings.into_iter().map(target).collect()
}

fn reading(row: &str) -> Reading {
    let mut cells = row.split(',');
    let subject = cells.next().unwrap_or_default();
    let values: Vec<f64> = cells
        .map(|cell| cell.trim().parse().expect("a number in our own table"))
        .collect();
    assert_eq!(values.len(), SAMPLES, "a reflectance for each wavelength");
    Reading {
        name: format!("measured skin {subject}"),
        reflectance: Some(Spectrum::from_fn(|band| values[band])),
        lab: None,
        geometry: Geometry::BY_A_SPHERE,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::Viewing;

    /// Source: Cooksey, Allen, Tsai (2017), as above; the darkest by L* 42.7 under D65/10°, as worked out from the same table
    /// by an outside program.
    #[test]
    fn the_skins_are_all_there_and_the_darkest_is_as_dark_as_was_read() {
        let weights = Viewing::D65_10.weights();
        let lightness: Vec<f64> = (measured_skins().iter())
            .filter_map(|skin| skin.reflectance.as_ref())
            .map(|reflectance| weights.lab(reflectance).l)
            .collect();
        assert_eq!(lightness.len(), 60, "people");
        let darkest = lightness.iter().copied().fold(f64::INFINITY, f64::min);
        assert!((darkest - 42.7).abs() < 0.05, "{darkest}");
    }
}
