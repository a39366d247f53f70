//! `dropwise let-down`: the let-downs that stand ready in the book.

use jiff::civil::Date;

use super::day_of::{DayOf, day};
use super::{Everywhere, Outcome};
use crate::error::Result;
use crate::jobs::let_downs::{self, Jars};
use crate::materials::Mix;
use crate::report;

#[derive(Debug, clap::Args)]
pub(super) struct Options {
    #[command(subcommand)]
    action: Action,
}

#[derive(Debug, clap::Subcommand)]
enum Action {
    /// Put let-downs that were made into the book: `match` and `correct` then take them first
    Add(Made),
    /// Take what was used off what is left of them
    Take(JarArguments),
    /// Show what is left of each, and whether it still serves
    List(Listed),
}

#[derive(Debug, clap::Args)]
struct Listed {
    /// Show those that are used up as well
    #[arg(long)]
    all: bool,
    #[command(flatten)]
    day_of: DayOf,
}

#[derive(Debug, clap::Args)]
struct Made {
    #[command(flatten)]
    jars: JarArguments,
    /// The last day on which they are good, as the material's sheet says [default: a week after they were made]
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = day)]
    keeps_until: Option<Date>,
}

/// Let-downs for one base.
#[derive(Debug, clap::Args)]
struct JarArguments {
    /// The let-downs and their masses, as in "iron oxide red 1:20 20 g; umber 1:10 10 g"
    #[arg(value_name = "MIX")]
    mix: Mix,
    /// The base that they are for, into whose part B they are stirred [default: the book's first skin]
    #[arg(long, value_name = "NAME")]
    base: Option<String>,
    #[command(flatten)]
    day_of: DayOf,
}

impl JarArguments {
    fn jars(&self) -> Jars {
        Jars {
            mix: self.mix.clone(),
            base: self.base.clone(),
            day: self.day_of.day(),
        }
    }
}

pub(super) fn run(options: &Options, everywhere: &Everywhere) -> Result<Outcome> {
    let mut book = everywhere.open_book()?;
    let (day, shown) = match &options.action {
        Action::List(Listed { all, day_of }) => (day_of.day(), let_downs::list(&book, *all)),
        Action::Add(Made { jars, keeps_until }) => {
            let jars = jars.jars();
            let made = let_downs::add(&mut book, &jars, *keeps_until)?;
            (jars.day, made)
        }
        Action::Take(jars) => {
            let jars = jars.jars();
            (jars.day, let_downs::take(&mut book, &jars)?)
        }
    };
    Ok(Outcome::done(if everywhere.json {
        report::let_downs::stocked_json(&shown, book.shelf(), day)
    } else {
        report::let_downs::stocked_text(&shown, book.shelf(), day)
    }))
}
