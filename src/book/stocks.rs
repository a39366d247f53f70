//! `stocks.csv`: the stocks that stand on the shelf, one row a bottle, read, added to, taken from and taken out.

use std::collections::HashMap;

use super::additions::{Cells, check_free, grams, supposing};
use super::columns::{FIRST_GUESS, KS_FILE};
use super::files::{Files, STOCKS};
use super::number::Number;
use super::shelf::{DROP_G, DROP_G_SD, check_stands_in_a_mix};
use super::table::{Columns, Row, Table, text_cell};
use super::{Book, spectra, write};
use crate::error::{Error, Result};
use crate::materials::{CurveSource, Grams, LetDown, Shelf, Stock, StockBottle};

pub(super) const STOCK_COLUMNS: Columns = Columns {
    required: &["stock", "made", "mix", MASS_G.name],
    optional: &[DROP_G.name, DROP_G_SD.name, "lot", KS_FILE, FIRST_GUESS],
};

const HEADER: [&str; 7] = [
    "stock",
    "made",
    "mix",
    MASS_G.name,
    DROP_G.name,
    DROP_G_SD.name,
    KS_FILE,
];

/// What is left in the bottle.
const MASS_G: Number = Number {
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

impl Book {
    /// Puts `bottle` on the shelf.
    ///
    /// # Errors
    /// The demo, which is never written to; a name that stands there already or cannot be told in a mix; what nobody can have
    /// weighed together; a failure of the machine. The table is then as it was.
    pub fn add_stock(&mut self, bottle: &StockBottle) -> Result<()> {
        self.change(|book, folder| {
            let StockBottle {
                stock, made, left, ..
            } = bottle;
            check_free(book.shelf(), &stock.name)?;
            let found = book.files.find(STOCKS)?;
            let text = found.unwrap_or_else(|| HEADER.join(",") + "\n");
            let table = Table::read(&book.files.label(STOCKS), &text, &STOCK_COLUMNS)?;
            let cells: Cells = vec![
                ("stock", text_cell(&stock.name).into_owned()),
                ("made", made.to_string()),
                ("mix", text_cell(&stock.mix().to_string()).into_owned()),
                (MASS_G.name, grams(*left)),
            ];
            let longer = table.with_row(&text, &[], |column| {
                let cell = cells.iter().find(|(of, _)| *of == column);
                cell.map_or_else(String::new, |(_, cell)| cell.clone())
            });
            let what = format!("the new stock `{}`", stock.name.escape_debug());
            supposing(folder, [(STOCKS, longer.clone())], &what)?;
            write::write_whole(&folder.join(STOCKS), longer.as_bytes())
        })
    }

    /// Takes `used` off what is left of the stock called `name`, and returns it as it now is.
    ///
    /// # Errors
    /// The demo, which is never written to; no such stock, or too little left of it; a failure of the machine. The table is
    /// then as it was.
    pub fn take_stock(&mut self, name: &str, used: Grams) -> Result<StockBottle> {
        self.change(|book, folder| {
            let (index, bottle) = standing(book.shelf(), name)?;
            let left = Grams(bottle.left.0 - used.0).rounded_to(LetDown::LEAST);
            if left.0 < 0.0 {
                let finding = format!(
                    "{} of `{name}` are left, and {used} are to be taken",
                    bottle.left
                );
                return Err(Error::input(finding).mend(
                    "take what is left of it, or mend mass_g in stocks.csv if more is there",
                ));
            }
            let text = book.files.text(STOCKS)?;
            let table = Table::read(&book.files.label(STOCKS), &text, &STOCK_COLUMNS)?;
            let edits = HashMap::from([((index, MASS_G.name), grams(left))]);
            let edited = table.edited(&text, &edits);
            write::write_whole(&folder.join(STOCKS), edited.as_bytes())?;
            Ok(StockBottle {
                left,
                ..bottle.clone()
            })
        })
    }

    /// Takes the stock called `name` off the shelf, and returns it as it was.
    ///
    /// # Errors
    /// The demo, which is never written to; no such stock; one that swatches, let-downs or another table of the book still
    /// name; a failure of the machine. The table is then as it was.
    pub fn remove_stock(&mut self, name: &str) -> Result<StockBottle> {
        self.change(|book, folder| {
            let (index, bottle) = standing(book.shelf(), name)?;
            let text = book.files.text(STOCKS)?;
            let table = Table::read(&book.files.label(STOCKS), &text, &STOCK_COLUMNS)?;
            let shorter = table.without_row(&text, index);
            // Nothing of the book may speak of what is no longer there.
            let what = format!("without `{}`", name.escape_debug());
            supposing(folder, [(STOCKS, shorter.clone())], &what).map_err(|error| {
                error.mend(
                    "the log still names it: keep its row, with mass_g 0 where it is used up, so that its readings still tell",
                )
            })?;
            write::write_whole(&folder.join(STOCKS), shorter.as_bytes())?;
            Ok(bottle.clone())
        })
    }
}

/// The stock called `name`, and its index among the stocks.
fn standing<'a>(shelf: &'a Shelf, name: &str) -> Result<(usize, &'a StockBottle)> {
    let mut all = shelf.stocks.iter().enumerate();
    all.find(|(_, bottle)| bottle.stock.name == name)
        .ok_or_else(|| {
            let names = shelf.stocks.iter().map(|bottle| bottle.stock.name.as_str());
            Error::unknown_name("stock", name, names)
        })
}
