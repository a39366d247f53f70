//! `dropwise stock`: pigments weighed together once, and dropped like one.

use jiff::civil::Date;

use super::day_of::{day, today};
use super::{Everywhere, Outcome};
use crate::error::Result;
use crate::jobs::stocks::{self, NewStock};
use crate::materials::{Grams, Mix};
use crate::report::stocks as report;

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
