//! The measured tables beside this program: optical constants and painted patches.

use std::error::Error;

use serde::Deserialize;

use crate::grid::{self, COUNT, Samples};

const PAINTED_PATCHES: &str = include_str!("data/painted_patches.csv");
/// First wavelength of a painted patch, nm.
pub(crate) const PATCH_FIRST_NM: f64 = 410.0;
/// Place of that wavelength in the grid.
const PATCH_STARTS_AT: usize = 3;

/// One row of a table of optical constants.
#[derive(Deserialize)]
struct Row {
    wavelength_nm: f64,
    n: f64,
    k: f64,
}

/// One painted patch: identifier, pigment, shade, and a reflectance per wavelength.
type Patch = (String, String, u8, Vec<f64>);

/// Refractive index and extinction coefficient at each wavelength, from the text of a table.
///
/// # Errors
/// If the text is not a table `wavelength_nm,n,k` of exactly the wavelengths of the grid.
pub(crate) fn optical_constants(csv_text: &str) -> Result<(Samples, Samples), Box<dyn Error>> {
    let rows: Vec<Row> = csv::Reader::from_reader(csv_text.as_bytes())
        .deserialize()
        .collect::<Result<_, _>>()?;
    let on_grid = rows.len() == COUNT
        && rows
            .iter()
            .zip(grid::wavelengths_nm())
            .all(|(row, nm)| (row.wavelength_nm - nm).abs() < 0.5);
    if !on_grid {
        return Err(
            "optical constants: expected one row per wavelength, 380 to 730 nm by 10".into(),
        );
    }
    Ok((
        std::array::from_fn(|i| rows[i].n),
        std::array::from_fn(|i| rows[i].k),
    ))
}

/// Reflectance of a painted patch by its identifier; below 410 nm, its value at 410 nm.
///
/// # Errors
/// If there is no such patch, or it lacks a wavelength.
pub(crate) fn patch_reflectance(identifier: &str) -> Result<Samples, Box<dyn Error>> {
    for patch in csv::Reader::from_reader(PAINTED_PATCHES.as_bytes()).deserialize() {
        let (name, _, _, read): Patch = patch?;
        if name != identifier {
            continue;
        }
        if read.len() + PATCH_STARTS_AT != COUNT {
            return Err(
                format!("painted patch `{identifier}`: expected 410 to 730 nm by 10").into(),
            );
        }
        return Ok(std::array::from_fn(|i| {
            read[i.saturating_sub(PATCH_STARTS_AT)]
        }));
    }
    Err(format!("no painted patch `{identifier}` in data/painted_patches.csv").into())
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn a_patch_is_read_at_its_own_wavelengths() {
        let yellow = patch_reflectance("IR_3_1_p3").expect("the patch is in the table");
        assert_relative_eq!(yellow[0], 0.0962, epsilon = 1e-12);
        assert_relative_eq!(grid::interpolate(&yellow, 430.0), 0.0793, epsilon = 1e-12);
        assert_relative_eq!(grid::interpolate(&yellow, 730.0), 0.2683, epsilon = 1e-12);
    }

    #[test]
    fn a_patch_that_is_not_there_is_named() {
        let message = patch_reflectance("XX_0")
            .expect_err("there is no such patch")
            .to_string();
        assert!(
            message.contains("XX_0"),
            "the message names no patch: {message}"
        );
    }
}
