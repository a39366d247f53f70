//! The books that the program carries: the demo, and the starter, which is the demo without its swatches.

use super::files::{Files, PIGMENTS};
use super::spectra;
use super::table::{Columns, Table};
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
    let label = files.label(PIGMENTS);
    let bottles = Table::read(&label, &files.text(PIGMENTS)?, &COLUMNS)?;
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
