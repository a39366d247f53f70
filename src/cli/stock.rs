//! `dropwise stock`: pigments weighed together once, and dropped like one.

use jiff::civil::Date;

use super::commands::make_stock;
use super::day_of::{day, today};
use super::progress::Progress;
use super::{Everywhere, Outcome};
use crate::error::Result;
use crate::jobs::matching::{Beneath, Request, WantedCup};
use crate::jobs::stocks::{self, NewStock, PlanFor};
use crate::materials::{Grams, Mix, parse_number};
use crate::report::{planned_stocks, stocks as report};

#[derive(Debug, clap::Args)]
pub(super) struct Options {
    #[command(subcommand)]
    action: Action,
}

#[derive(Debug, clap::Subcommand)]
enum Action {
    /// Put a stock on the shelf: then it is a bottle like any other, in mixes, recipes, let-downs and chips
    Make(Made),
    /// Take what was used off what is left of it
    Take {
        /// The stock
        #[arg(value_name = "NAME")]
        name: String,
        /// What was used of it
        #[arg(value_name = "MASS")]
        used: Grams,
    },
    /// Design the few stocks that a shop should keep, for measured skins of people or for the parts of the book
    Plan(PlannedStocks),
    /// Show what stands on the shelf, and what is left of it
    List,
    /// Take a stock off the shelf; one that swatches speak of stays
    Remove {
        /// The stock
        #[arg(value_name = "NAME")]
        name: String,
    },
}

#[derive(Debug, clap::Args)]
struct Made {
    /// What it is called, as on its label
    #[arg(value_name = "NAME")]
    name: String,
    /// What is weighed together, as in "iron oxide red 2 g; iron oxide yellow 6 g; clear carrier 22 g"
    #[arg(long, value_name = "MIX")]
    mix: Mix,
    /// How much is made in that proportion, each amount as the book's scale shows it [default: just what the mix says]
    #[arg(long, value_name = "MASS")]
    g: Option<Grams>,
    /// The day on which it is made [default: today]
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = day)]
    date: Option<Date>,
}

#[derive(Debug, clap::Args)]
struct PlannedStocks {
    /// How many stocks: one to four
    #[arg(long, value_name = "K", default_value_t = 2)]
    count: usize,
    /// For the tones of the parts that the book keeps, instead of measured skins of people
    #[arg(long)]
    parts: bool,
    /// For skins from the first to the second L*, measured or, below 45, invented; without it, for all that were measured
    #[arg(long, value_name = "L,L", value_parser = lightness, conflicts_with = "parts")]
    lightness: Option<(f64, f64)>,
    /// Mass of mixed skin (A + B) of a part
    #[arg(long, value_name = "MASS", default_value = "600")]
    base_g: Grams,
    /// Weighed fibre in it
    #[arg(long, value_name = "MASS", default_value = "12")]
    fibre_g: Grams,
    /// Mass of mixed foam (A + B) behind it
    #[arg(long, value_name = "MASS", default_value = "300")]
    foam_g: Grams,
    /// Pigments to leave out
    #[arg(long, value_name = "NAME,…", value_delimiter = ',')]
    without: Vec<String>,
}

impl PlannedStocks {
    fn request(&self) -> Request {
        let cup = |base_mass| WantedCup {
            base: None,
            base_mass,
        };
        let foam = Beneath::Foam {
            cup: cup(self.foam_g),
            at_the_tone: false,
        };
        let mut request = Request::new(cup(self.base_g), foam, today());
        request.fibre = self.fibre_g;
        request.without.clone_from(&self.without);
        request
    }
}

/// Two L*, the darker first.
fn lightness(text: &str) -> std::result::Result<(f64, f64), String> {
    let expected = || format!("`{text}` is no range of L*; expected two numbers, as in 25,45");
    let (least, most) = text.split_once(',').ok_or_else(expected)?;
    let number = |text: &str| parse_number(text.trim()).map_err(|_| expected());
    let (least, most) = (number(least)?, number(most)?);
    if least <= most {
        Ok((least, most))
    } else {
        Err(expected())
    }
}

pub(super) fn run(options: &Options, everywhere: &Everywhere) -> Result<Outcome> {
    let mut book = everywhere.open_book()?;
    let json = everywhere.json;
    let shown = |stocks: &[stocks::StandingStock]| {
        if json {
            report::json(stocks)
        } else {
            report::text(stocks)
        }
    };
    let text = match &options.action {
        Action::List => shown(&stocks::list(&book)),
        Action::Plan(plan) => {
            let for_tones = match (plan.parts, plan.lightness) {
                (true, _) => PlanFor::Parts,
                (false, Some((least, most))) => PlanFor::Lightness(least, most),
                (false, None) => PlanFor::MeasuredSkins,
            };
            let progress = Progress::begin(|| "trying stocks on every tone".to_owned());
            let planned = stocks::plan(&book, plan.count, for_tones, &plan.request())?;
            drop(progress);
            if json {
                planned_stocks::json(&planned)
            } else {
                planned_stocks::text(&planned, |stock| make_stock(stock, book.folder()))
            }
        }
        Action::Take { name, used } => shown(&[stocks::take(&mut book, name, *used)?]),
        Action::Remove { name } => {
            let removed = stocks::remove(&mut book, name)?;
            if json {
                report::removed_json(&removed)
            } else {
                report::removed_text(&removed)
            }
        }
        Action::Make(typed) => {
            let new = NewStock {
                name: typed.name.trim().to_owned(),
                mix: typed.mix.clone(),
                mass: typed.g,
                made: typed.date.unwrap_or_else(today),
            };
            let made = stocks::make(&mut book, &new)?;
            if json {
                report::made_json(&made)
            } else {
                report::made_text(&made)
            }
        }
    };
    Ok(Outcome::done(text))
}
