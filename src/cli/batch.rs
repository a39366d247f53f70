//! `dropwise batch`: scale a recipe.

use super::commands::take_commands;
use super::day_of::DayOf;
use super::typed::not_negative;
use super::{Everywhere, Outcome};
use crate::error::Result;
use crate::jobs::batching::{self, Size};
use crate::materials::{Grams, Mix, Poured};
use crate::report::{self, let_downs};

#[derive(Debug, clap::Args)]
pub(super) struct Options {
    /// Name of the base
    #[arg(long, value_name = "NAME")]
    base: String,
    /// Mass of the mixed base (A + B) that the recipe is for
    #[arg(long, value_name = "MASS")]
    base_g: Grams,
    /// The recipe, as in "iron oxide red 3; fibre 12.5 g"
    #[arg(
        long,
        value_name = "MIX",
        default_value = "",
        hide_default_value = true
    )]
    mix: Mix,
    /// Mass of the mixed base that is wanted
    #[arg(long, value_name = "MASS", conflicts_with = "times")]
    to: Option<Grams>,
    /// How many times the recipe is wanted
    #[arg(long, value_name = "N", value_parser = not_negative, default_value_t = 1.0)]
    times: f64,
    /// The largest pot that you can use up within the pot life; more is split into pots alike
    #[arg(long, value_name = "MASS")]
    largest_pot: Option<Grams>,
    #[command(flatten)]
    day_of: DayOf,
}

pub(super) fn run(options: &Options, everywhere: &Everywhere) -> Result<Outcome> {
    let book = everywhere.open_book()?;
    let recipe = Poured {
        base: options.base.clone(),
        base_mass: options.base_g,
        mix: options.mix.clone(),
    };
    let size = options.to.map_or(Size::Times(options.times), Size::To);
    let day = options.day_of.day();
    let pour = batching::run(&book, &recipe, size, options.largest_pot, day)?;
    Ok(Outcome::done(if everywhere.json {
        report::batch::json(&pour)
    } else {
        let take_commands = take_commands([pour.called_for()], day, book.folder());
        report::batch::text(&pour) + &let_downs::taken_text(&take_commands)
    }))
}
