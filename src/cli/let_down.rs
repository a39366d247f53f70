//! `dropwise let-down`: the let-downs that stand ready in the book.

use jiff::civil::Date;

use super::input::{DayOf, day};
use super::ordering::base_name;
use super::{Everywhere, Outcome};
use crate::error::{Error, Result};
use crate::materials::{Amount, Colorant, Grams, Kind, LetDown, Mix, Shelf};
use crate::report::let_downs;

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
    Take(Jars),
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
    jars: Jars,
    /// The last day on which they are good, as the material's sheet says [default: a week after they were made]
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = day)]
    keeps_until: Option<Date>,
}

/// Let-downs for one base.
#[derive(Debug, clap::Args)]
struct Jars {
    /// The let-downs and their masses, as in "iron oxide red 1:20 20 g; umber 1:10 10 g"
    #[arg(value_name = "MIX")]
    mix: Mix,
    /// The base that they are for, into whose part B they are stirred [default: the book's first skin]
    #[arg(long, value_name = "NAME")]
    base: Option<String>,
    #[command(flatten)]
    day_of: DayOf,
}

impl Jars {
    /// Each let-down with its mass.
    fn masses(&self) -> Result<Vec<(Colorant, Grams)>> {
        let mass = |(colorant, amount): &(Colorant, Amount)| match amount {
            Amount::Mass(mass) if mass.0 > 0.0 => Ok((colorant.clone(), *mass)),
            Amount::Mass(_) => Err(Error::input(format!("no mass of `{colorant}`"))
                .mend(format!("write grams, as in `{colorant} 20 g`"))),
            Amount::Drops(count) => {
                let finding = format!("`{colorant} {count}` counts drops, and a jar is weighed");
                Err(Error::input(finding)
                    .mend(format!("write grams, as in `{colorant} {count} g`")))
            }
        };
        for (colorant, _) in self.mix.entries() {
            LetDown::check_ratio(colorant)?;
        }
        let masses: Vec<_> = self.mix.entries().iter().map(mass).collect::<Result<_>>()?;
        if masses.is_empty() {
            let finding = "no let-down is named";
            return Err(Error::input(finding).mend("write one as in \"iron oxide red 1:20 20 g\""));
        }
        Ok(masses)
    }

    fn base(&self, shelf: &Shelf) -> Result<String> {
        base_name(shelf, self.base.as_deref(), Kind::Skin)
    }
}

pub(super) fn run(options: &Options, everywhere: &Everywhere) -> Result<Outcome> {
    let mut book = everywhere.open_book()?;
    let (day, shown) = match &options.action {
        Action::List(Listed { all, day_of }) => {
            let mut shown = book.shelf().let_downs.clone();
            shown.retain(|jar| *all || jar.mass.0 > 0.0);
            (day_of.day(), shown)
        }
        Action::Add(Made { jars, keeps_until }) => {
            let made = jars.day_of.day();
            let base = jars.base(book.shelf())?;
            let let_down = |(colorant, mass): (Colorant, Grams)| {
                let lot = book.shelf().pigment(&colorant.pigment)?.lot.clone();
                Ok(LetDown {
                    colorant,
                    lot,
                    base: base.clone(),
                    made,
                    mass,
                    keeps_until: keeps_until.unwrap_or_else(|| LetDown::usual_end(made)),
                })
            };
            let masses = jars.masses()?.into_iter();
            let let_downs: Vec<LetDown> = masses.map(let_down).collect::<Result<_>>()?;
            book.add_let_downs(&let_downs)?;
            (made, let_downs)
        }
        Action::Take(jars) => {
            let day = jars.day_of.day();
            let base = jars.base(book.shelf())?;
            (day, book.take_let_downs(&jars.masses()?, &base, day)?)
        }
    };
    Ok(Outcome::done(if everywhere.json {
        let_downs::stocked_json(&shown, book.shelf(), day)
    } else {
        let_downs::stocked_text(&shown, book.shelf(), day)
    }))
}
