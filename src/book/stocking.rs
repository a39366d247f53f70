//! Stocks put on the shelf, taken from and taken out.

use std::collections::HashMap;

use super::additions::{Cells, check_free, grams, supposing};
use super::changes::Changes;
use super::columns::{DROP_G, DROP_G_SD, KS_FILE};
use super::files::STOCKS;
use super::stocks::{MASS_G, STOCK_COLUMNS};
use super::table::{Table, text_cell};
use super::{Book, write};
use crate::error::{Error, Result};
use crate::materials::{Grams, LetDown, Shelf, StockBottle};

const HEADER: [&str; 7] = [
    "stock",
    "made",
    "mix",
    MASS_G.name,
    DROP_G.name,
    DROP_G_SD.name,
    KS_FILE,
];

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
            let mut changes = Changes::of(folder);
            let taken = take(&mut changes, book.shelf(), name, used)?;
            changes.write(folder).map(|()| taken)
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
                    "the book still speaks of it: keep its row, with mass_g 0 where it is used up, so that its readings still tell",
                )
            })?;
            write::write_whole(&folder.join(STOCKS), shorter.as_bytes())?;
            Ok(bottle.clone())
        })
    }
}

/// Takes `used` off what is left in `changes` of the stock called `name`, and returns it as it now is.
///
/// # Errors
/// No such stock, or too little left of it.
pub(super) fn take(
    changes: &mut Changes,
    shelf: &Shelf,
    name: &str,
    used: Grams,
) -> Result<StockBottle> {
    let (index, bottle) = standing(shelf, name)?;
    let left = Grams(bottle.left.0 - used.0).rounded_to(LetDown::LEAST);
    if left.0 < 0.0 {
        let finding = format!(
            "{} of `{name}` are left, and {used} are to be taken",
            bottle.left
        );
        return Err(Error::input(finding)
            .mend("take what is left of it, or mend mass_g in stocks.csv if more is there"));
    }
    let text = changes.files.text(STOCKS)?;
    let table = Table::read(&changes.files.label(STOCKS), &text, &STOCK_COLUMNS)?;
    let edits = HashMap::from([((index, MASS_G.name), grams(left))]);
    changes.put(STOCKS, table.edited(&text, &edits));
    Ok(StockBottle {
        left,
        ..bottle.clone()
    })
}

/// The stock called `name`, and its index among the stocks.
fn standing<'a>(shelf: &'a Shelf, name: &str) -> Result<(usize, &'a StockBottle)> {
    let bottle = shelf.named_stock(name)?;
    let mut all = shelf.stocks.iter();
    let index = all.position(|each| each.stock.name == name);
    Ok((index.expect("it was found just now"), bottle))
}
