//! What a shop would rather keep than stir the jars of an answer anew.

use crate::batch::JarUse;
use crate::error::Result;
use crate::materials::{Grams, Shelf, Stock};

/// A stock, or several, instead of jars in part B: a pigment in the carrier that it comes in keeps as it does, and goes into
/// every base.
#[derive(Clone, Debug, PartialEq)]
pub enum StockInstead {
    /// The one jar's pigment, thinned as far in the carrier.
    Thinned(Stock),
    /// The few that most skins are matched with.
    Planned,
}

/// How much of it is weighed: some hundred doses.
const MASS: Grams = Grams(30.0);

/// What would stand instead of the `jars` that are to be made; `None` where none is, or a shop keeps stocks already, or no
/// carrier stands on the `shelf`, or a jar is of a stock that is made for the part alone.
///
/// # Errors
/// As [`Stock::new`].
pub(super) fn stock_instead(shelf: &Shelf, jars: &[JarUse]) -> Result<Option<StockInstead>> {
    let new: Vec<&JarUse> = jars.iter().filter(|jar| jar.new).collect();
    let are_of_the_shelf = new.iter().all(|jar| shelf.pigment(&jar.pigment).is_ok());
    let is_wanted = are_of_the_shelf && shelf.stocks.is_empty();
    let Some(carrier) = shelf.carriers.first().filter(|_| is_wanted) else {
        return Ok(None);
    };
    Ok(match new.as_slice() {
        [] => None,
        [jar] => {
            let pigment = MASS * (1.0 / jar.ratio);
            let rest = Grams(MASS.0 - pigment.0);
            let grams = vec![(jar.pigment.clone(), pigment), (carrier.name.clone(), rest)];
            let stock = Stock::new(&format!("thin {}", jar.pigment), grams, shelf)?;
            Some(StockInstead::Thinned(stock))
        }
        _ => Some(StockInstead::Planned),
    })
}
