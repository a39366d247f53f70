//! The books that the program carries: the demo, and the starter, which is the demo without its swatches.

use super::files::Files;
use super::table::{Columns, Table};
use super::{shelf, spectra};
use crate::error::{Error, Result};
use crate::materials::CoefficientSpread;
use crate::optics::Coefficients;

/// What `Book::create` begins a book with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Starter {
    /// The demo's bases, pigments and backings, and no swatch.
    Materials,
    /// The whole demo.
    Demo,
}

/// Names, each with the content of that file in `swatches/`.
macro_rules! carried {
    ($($name:literal,)*) => {
        &[$(($name, include_bytes!(concat!("../../swatches/", $name)))),*]
    };
}

/// What every new book begins with.
pub(super) const MATERIALS: &[(&str, &[u8])] = carried![
    "book.toml",
    "bases.csv",
    "pigments.csv",
    "backings.csv",
    "spectra/SOURCES.md",
    "spectra/base-clear-paint.csv",
    "spectra/base-clear-skin.csv",
    "spectra/base-flexible-foam.csv",
    "spectra/black-card.csv",
    "spectra/blue.csv",
    "spectra/carbon-black.csv",
    "spectra/fibre.csv",
    "spectra/iron-oxide-black.csv",
    "spectra/iron-oxide-red.csv",
    "spectra/iron-oxide-yellow.csv",
    "spectra/titanium-white.csv",
    "spectra/umber.csv",
    "spectra/white-card.csv",
];

/// What the demo has besides.
pub(super) const DEMO: &[(&str, &[u8])] = carried![
    "swatches.csv",
    "reference-photo.jpg",
    "lights/amber-gel.csv",
    "lights/gallery-lamp.csv",
];

/// The content of the demo's file `name`.
pub(super) fn demo_file(name: &str) -> Option<&'static [u8]> {
    let mut all = MATERIALS.iter().chain(DEMO);
    all.find(|(each, _)| *each == name)
        .map(|(_, content)| *content)
}

/// Pigments that no bottle stands for in a new book, but whose curves it carries, for one that is `like` them.
const FURTHER: &str = "pigment,ks_file\niron oxide black,spectra/iron-oxide-black.csv\n";

/// K and S of the starter's pigment called `name`, or of one of the [`FURTHER`] ones.
///
/// # Errors
/// No such pigment; the nearest name is suggested.
pub(super) fn pigment_curves(name: &str) -> Result<(Coefficients, CoefficientSpread)> {
    const COLUMNS: Columns = Columns {
        required: &["pigment", "ks_file"],
        optional: &[],
    };
    let files = Files::Demo;
    let label = files.label(shelf::PIGMENTS);
    let bottles = Table::read(&label, &files.text(shelf::PIGMENTS)?, &COLUMNS)?;
    let further = Table::read(&label, FURTHER, &COLUMNS)?;
    let rows = || bottles.rows().chain(further.rows());
    let unknown = || {
        Error::unknown_name(
            "starter pigment",
            name,
            rows().map(|row| row.text("pigment")),
        )
    };
    let row = rows().find(|row| row.text("pigment") == name);
    spectra::coefficients(&files, row.ok_or_else(unknown)?, "ks_file")?.ok_or_else(unknown)
}
