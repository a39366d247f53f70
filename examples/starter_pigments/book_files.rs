//! The files of the starter book's `spectra` folder, as text.

use std::error::Error;

use crate::bases::{BASES, CARDS};
use crate::catalogue::DISPERSIONS;
use crate::dispersion::{Curves, Dispersion};
use crate::grid;
use crate::particles::Form;

/// Digits of every number: far finer than the spread, coarse enough to be the same on every
/// machine.
const SIGNIFICANT_DIGITS: i32 = 5;

/// One file: its name and its whole text.
#[derive(Debug)]
pub(crate) struct BookFile {
    pub(crate) name: String,
    pub(crate) text: String,
}

/// Every file: dispersions, bases, cards, then where they come from.
///
/// # Errors
/// If the data of a dispersion cannot be read.
pub(crate) fn all() -> Result<Vec<BookFile>, Box<dyn Error>> {
    let mut files = Vec::new();
    for dispersion in &DISPERSIONS {
        files.push(BookFile {
            name: format!("{}.csv", dispersion.file),
            text: coefficients_csv(&dispersion.curves()?),
        });
    }
    for base in &BASES {
        files.push(BookFile {
            name: format!("{}.csv", base.file),
            text: coefficients_csv(&base.curves()),
        });
    }
    for card in &CARDS {
        let mut text = String::from("wavelength_nm,r\n");
        for nm in grid::wavelengths_nm() {
            text += &format!("{nm},{}\n", number((card.reflectance)(nm)));
        }
        files.push(BookFile {
            name: format!("{}.csv", card.file),
            text,
        });
    }
    files.push(BookFile {
        name: "SOURCES.md".to_owned(),
        text: sources(),
    });
    Ok(files)
}

fn coefficients_csv(curves: &Curves) -> String {
    let mut text = String::from("wavelength_nm,k,s,k_sd,s_sd\n");
    for (i, nm) in grid::wavelengths_nm().into_iter().enumerate() {
        let row = [curves.k[i], curves.s[i], curves.k_sd[i], curves.s_sd[i]].map(number);
        text += &format!("{nm},{}\n", row.join(","));
    }
    text
}

/// A number above 0 in plain decimals, with five significant digits.
fn number(value: f64) -> String {
    let scientific = format!("{value:.4e}");
    let exponent: i32 = scientific
        .split_once('e')
        .and_then(|(_, exponent)| exponent.parse().ok())
        .unwrap_or(0);
    let decimals = usize::try_from(SIGNIFICANT_DIGITS - 1 - exponent).unwrap_or(0);
    format!("{value:.decimals$}")
}

/// Where every number comes from.
fn sources() -> String {
    let mut text = String::from(include_str!("data/sources_head.md"));
    for dispersion in &DISPERSIONS {
        let (file, note) = (dispersion.file, dispersion.note);
        text += &format!("- `{file}.csv`: {}\n  {note}\n", composition(dispersion));
    }
    text += "\n## Bases and cards\n\n";
    for base in &BASES {
        text += &format!("- `{}.csv`: {}\n", base.file, base.note);
    }
    for card in &CARDS {
        text += &format!("- `{}.csv`: {}\n", card.file, card.note);
    }
    text
}

fn composition(dispersion: &Dispersion) -> String {
    let size = match dispersion.form {
        Form::Grains(sizes) => format!(
            "median diameter {} µm by number, geometric standard deviation {}",
            sizes.median_um, sizes.geometric_sd
        ),
        Form::Aggregates(aggregate) => format!(
            "{} spheres of {} µm an aggregate",
            aggregate.spheres, aggregate.sphere_um
        ),
    };
    format!(
        "{:.0} % by mass, {} g/cm³, {size}; allowance {} in ln k, {} in ln s.",
        100.0 * dispersion.load,
        dispersion.density_g_cm3,
        dispersion.doubt.ln_k,
        dispersion.doubt.ln_s
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_have_five_digits_and_no_exponent() {
        for (value, text) in [
            (1234.567, "1234.6"),
            (123_456.7, "123457"),
            (0.012_345_67, "0.012346"),
            (9.999_99, "10.000"),
            (1.5, "1.5000"),
        ] {
            assert_eq!(number(value), text, "{value}");
        }
    }

    #[test]
    fn every_table_has_a_row_per_wavelength_and_no_comment() {
        let files = all().expect("the data are sound");
        for file in files.iter().filter(|file| file.name.ends_with(".csv")) {
            assert_eq!(file.text.lines().count(), 1 + grid::COUNT, "{}", file.name);
            assert!(file.text.starts_with("wavelength_nm,"), "{}", file.name);
            assert!(
                file.text
                    .lines()
                    .nth(1)
                    .is_some_and(|row| row.starts_with("380,")),
                "{}",
                file.name
            );
        }
    }
}
