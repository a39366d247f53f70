//! `stocks.csv`: the stocks that stand on the shelf, one row a bottle.

use super::columns::{DROP_G, DROP_G_SD, FIRST_GUESS, KS_FILE};
use super::files::{Files, STOCKS};
use super::names::check_stands_in_a_mix;
use super::number::Number;
use super::spectra;
use super::table::{Columns, Row, Table};
use crate::error::{Error, Result};
use crate::materials::{CurveSource, Grams, Shelf, Stock, StockBottle};

pub(super) const STOCK_COLUMNS: Columns = Columns {
    required: &["stock", "made", "mix", MASS_G.name],
    optional: &[DROP_G.name, DROP_G_SD.name, "lot", KS_FILE, FIRST_GUESS],
};

/// What is left in the bottle.
pub(super) const MASS_G: Number = Number {
    name: "mass_g",
    range: (0.0, 100_000.0),
    example: "30",
};

/// Puts the stocks of a book whose other materials stand on `shelf` beside them.
///
/// # Errors
/// The first thing that is wrong, with its place.
pub(super) fn read(files: &Files, shelf: &mut Shelf) -> Result<()> {
    let Some(text) = files.find(STOCKS)? else {
        return Ok(());
    };
    let table = Table::read(&files.label(STOCKS), &text, &STOCK_COLUMNS)?;
    table.check_names("stock")?;
    table.rows().try_for_each(|row| put(files, row, shelf))
}

fn put(files: &Files, row: Row<'_>, shelf: &mut Shelf) -> Result<()> {
    let name = row.filled("stock", "what the stock is called")?;
    row.at("stock", check_stands_in_a_mix(name))?;
    if shelf.ingredient(name).is_ok() {
        let error = Error::input(format!("`{}` is a pigment already", name.escape_debug()));
        return Err(row.fault("stock", error.mend("give one of the two another name")));
    }
    let mix = row.at("mix", row.text("mix").parse())?;
    let mut stock = row.at("mix", Stock::of_mix(name, &mix, shelf))?;
    let drop_mass = row.optional_number(&DROP_G)?.map(Grams);
    stock.drop_mass = drop_mass.or(stock.drop_mass);
    let curves = spectra::coefficients(files, row, KS_FILE)?;
    shelf.put_stock(StockBottle {
        stock,
        made: row.day("made")?,
        left: Grams(row.number(&MASS_G)?),
        has_own_curves: curves.is_some(),
    })?;
    let pigment = shelf
        .pigments
        .last_mut()
        .expect("it was put there just now");
    pigment.lot = row.text("lot").to_owned();
    pigment.drop_mass_sd = row.optional_number(&DROP_G_SD)?.map(Grams);
    if let Some((coefficients, spread)) = curves {
        (pigment.coefficients, pigment.spread) = (coefficients, spread);
        pigment.curve_source = CurveSource::Read;
    }
    Ok(())
}

/// Gives each stock of `first` the curves that it had before its first calibration: those of its ingredients as they then
/// were, and as they are where it was never calibrated.
pub(super) fn first_guesses(files: &Files, first: &mut Shelf) -> Result<()> {
    let Some(text) = files.find(STOCKS)? else {
        return Ok(());
    };
    let table = Table::read(&files.label(STOCKS), &text, &STOCK_COLUMNS)?;
    for row in table.rows() {
        if let Some(curves) = spectra::coefficients(files, row, FIRST_GUESS)? {
            let mut pigments = first.pigments.iter_mut();
            if let Some(stock) = pigments.find(|each| each.name == row.text("stock")) {
                (stock.coefficients, stock.spread) = curves;
            }
        }
    }
    Ok(())
}
