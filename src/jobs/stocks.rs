//! The stocks of the shelf: made, taken from, listed, taken out.

use jiff::civil::Date;

use crate::book::Book;
use crate::error::{Error, Result};
use crate::materials::{Grams, Mix, Pigment, Rounded, Stock, StockBottle};
use crate::recipe::{Request, StockPlan};
use crate::tone::{Target, as_targets, dark_skins, measured_skins, skins_of_lightness};

/// A stock that was, or is to be, weighed together.
#[derive(Clone, Debug)]
pub struct NewStock {
    /// What it is to be called.
    pub name: String,
    /// Grams of pigments, neat from their bottles, and of a carrier.
    pub mix: Mix,
    /// How much is made of that proportion, each amount as the book's scale shows it; just these grams where `None`.
    pub mass: Option<Grams>,
    /// The day on which it is made.
    pub made: Date,
}

/// A stock as it stands on the shelf.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct StandingStock {
    /// The bottle.
    pub bottle: StockBottle,
    /// What it is as a pigment.
    pub pigment: Pigment,
}

/// A stock that was made.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct MadeStock {
    /// As it stands on the shelf.
    pub standing: StandingStock,
    /// The amounts that the scale can't show, and what is weighed instead.
    pub rounded: Vec<Rounded>,
}

/// For which tones a plan is made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum PlanFor {
    /// Measured skins of people (see [`measured_skins`]); how dark ones come out, of which hardly any was measured, is told apart.
    MeasuredSkins,
    /// Skins from the first L* to the second, measured or invented: see [`skins_of_lightness`].
    Lightness(f64, f64),
    /// The parts that the book keeps.
    Parts,
}

/// Stocks that a shop should keep, and the tones that they were planned for, by name.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Planned {
    /// The stocks, and how each tone comes out.
    pub plan: StockPlan,
    /// What the tones are called, in their order: those that it was planned for, then the others.
    pub names: Vec<String>,
}

/// Designs `count` stocks for the part of `request`, whose tones are those that it is planned `for_tones` of.
///
/// # Errors
/// As [`Order::plan_stocks`](crate::recipe::Order::plan_stocks); no skin of that lightness; no part that is kept; one that can't
/// be read.
pub fn plan(book: &Book, count: usize, for_tones: PlanFor, request: &Request) -> Result<Planned> {
    let settings = &book.shelf().settings;
    let [tones, apart]: [Vec<(String, Target)>; 2] = match for_tones {
        PlanFor::MeasuredSkins => [
            as_targets(measured_skins(), settings)?,
            as_targets(dark_skins(), settings)?,
        ],
        PlanFor::Lightness(least, most) => {
            let skins = skins_of_lightness((least, most), settings)?;
            if skins.is_empty() {
                let finding = format!("no skin is known of L* {least} to {most}");
                return Err(Error::input(finding).mend("skins lie between L* 25 and 75"));
            }
            [skins, Vec::new()]
        }
        PlanFor::Parts => {
            let part = |name: String| {
                let target = book.part(&name)?.target;
                Ok((name, target))
            };
            let parts = book.part_names()?.into_iter().map(part);
            [parts.collect::<Result<_>>()?, Vec::new()]
        }
    };
    let planned_for = tones.len();
    let (names, targets): (Vec<String>, Vec<Target>) = tones.into_iter().chain(apart).unzip();
    let (targets, apart) = targets.split_at(planned_for);
    let order = request.order(book.shelf())?;
    let plan = order.plan_stocks(count, targets, apart)?;
    Ok(Planned { plan, names })
}

/// Puts `new` into `book`.
///
/// # Errors
/// As [`Stock::of_mix`], [`Stock::weighed_to`] and [`Book::add_stock`]; no mass.
pub fn make(book: &mut Book, new: &NewStock) -> Result<MadeStock> {
    let shelf = book.shelf();
    let stock = Stock::of_mix(&new.name, &new.mix, shelf)?;
    let (stock, rounded) = match new.mass {
        Some(mass) if mass.0 > 0.0 => stock.weighed_to(mass, shelf.settings.scale_resolution)?,
        Some(_) => {
            return Err(
                Error::input("no mass of the stock").mend("write how much is made, such as 30")
            );
        }
        None => (stock, Vec::new()),
    };
    book.add_stock(&StockBottle {
        left: stock.mass(),
        stock,
        made: new.made,
        has_own_curves: false,
    })?;
    let standing = list(book).into_iter();
    let standing = standing.last().expect("it was put there just now");
    Ok(MadeStock { standing, rounded })
}

/// Takes `used` off what is left of the stock called `name`, and returns it as it now is.
///
/// # Errors
/// As [`Book::take_stock`]; no mass.
pub fn take(book: &mut Book, name: &str, used: Grams) -> Result<StandingStock> {
    if used.0 <= 0.0 {
        let finding = format!("{used} are nothing to take");
        return Err(Error::input(finding).mend("write what was used, such as 0.5"));
    }
    book.take_stock(name, used)?;
    let mut stocks = list(book).into_iter();
    let taken = stocks.find(|standing| standing.bottle.stock.name == name);
    Ok(taken.expect("it was taken from just now"))
}

/// Takes the stock called `name` off the shelf, and returns what it was.
///
/// # Errors
/// As [`Book::remove_stock`].
pub fn remove(book: &mut Book, name: &str) -> Result<StockBottle> {
    book.remove_stock(name)
}

/// What stands in the book, in its order.
pub fn list(book: &Book) -> Vec<StandingStock> {
    let standing = |bottle: &StockBottle| {
        let pigment = book.shelf().pigment(&bottle.stock.name);
        Some(StandingStock {
            bottle: bottle.clone(),
            pigment: pigment.ok()?.clone(),
        })
    };
    book.shelf().stocks.iter().filter_map(standing).collect()
}
