//! `dropwise batch`: scale a recipe.

use super::commands::take_commands;
use super::day_of::DayOf;
use super::part::Cups;
use super::typed::{count_to, not_negative};
use super::{Everywhere, Outcome};
use crate::book::Book;
use crate::error::Result;
use crate::jobs::batching::{self, Size};
use crate::jobs::moulds;
use crate::jobs::parts::Pots;
use crate::materials::{Grams, LargestPots, Mix, Poured};
use crate::report::{self, let_downs};

#[derive(Debug, clap::Args)]
pub(super) struct Options {
    /// A part that is kept by `match --part`: all its cups are scaled alike
    #[arg(long, value_name = "NAME", conflicts_with_all = ["base", "base_g", "mix"])]
    part: Option<String>,
    /// Name of the base
    #[arg(long, value_name = "NAME", required_unless_present = "part")]
    base: Option<String>,
    /// Mass of the mixed base (A + B) that the recipe is for
    #[arg(long, value_name = "MASS", required_unless_present = "part")]
    base_g: Option<Grams>,
    /// The recipe, as in "iron oxide red 3; fibre 12.5 g"
    #[arg(
        long,
        value_name = "MIX",
        default_value = "",
        hide_default_value = true
    )]
    mix: Mix,
    /// Mass of the mixed base that is wanted; of a part, the mass of its skin
    #[arg(long, value_name = "MASS", conflicts_with_all = ["times", "pieces"])]
    to: Option<Grams>,
    /// A mould of the book that is to be filled; given again, several, in one tone
    #[arg(long = "mould", value_name = "NAME", conflicts_with_all = ["to", "times"])]
    moulds: Vec<String>,
    /// How many pieces are wanted: of each mould, or of the recipe where none is named
    #[arg(long, value_name = "N", value_parser = count_to::<u32>(100_000), conflicts_with = "times")]
    pieces: Option<u32>,
    /// How many times the recipe is wanted
    #[arg(long, value_name = "N", value_parser = not_negative, default_value_t = 1.0)]
    times: f64,
    /// The largest pot that you can use up within the pot life; more is split into pots alike
    #[arg(long, value_name = "MASS")]
    largest_pot: Option<Grams>,
    /// The same of foam, which sets sooner [default: as for the skin]
    #[arg(long, value_name = "MASS")]
    largest_foam_pot: Option<Grams>,
    /// Tint each pot for itself, in whole drops, instead of part B of all pots at once
    #[arg(long)]
    pot_by_pot: bool,
    #[command(flatten)]
    day_of: DayOf,
}

pub(super) fn run(options: &Options, everywhere: &Everywhere) -> Result<Outcome> {
    let book = everywhere.open_book()?;
    let size = options.size(&book)?;
    let largest_pots = LargestPots {
        any: options.largest_pot,
        foam: options.largest_foam_pot,
    };
    if let Some(name) = &options.part {
        let cups = Cups {
            name,
            size,
            pots: Pots {
                largest: largest_pots,
                pot_by_pot: options.pot_by_pot,
            },
            offers_more: false,
            day_of: &options.day_of,
        };
        return cups.show(&book, everywhere);
    }
    let recipe = Poured {
        // The arguments' rules ask for both where no part is named.
        base: options.base.clone().unwrap_or_default(),
        base_mass: options.base_g.unwrap_or_default(),
        mix: options.mix.clone(),
    };
    let day = options.day_of.day();
    let is_pot_by_pot = options.pot_by_pot;
    let batched = batching::run(&book, &recipe, size, largest_pots, is_pot_by_pot, day)?;
    Ok(Outcome::done(if everywhere.json {
        report::batch::json(&batched)
    } else {
        let take_commands = take_commands([batched.pour.called_for()], day, book.folder());
        report::batch::text(&batched) + &let_downs::taken_text(&take_commands)
    }))
}

impl Options {
    /// How much is wanted of `book`'s part, or of the recipe.
    fn size(&self, book: &Book) -> Result<Size> {
        if self.moulds.is_empty() {
            let times = self.pieces.map_or(self.times, f64::from);
            return Ok(self.to.map_or(Size::Times(times), Size::To));
        }
        let pieces = self.pieces.unwrap_or(1);
        match &self.part {
            Some(part) => moulds::fill_of_part(book, &self.moulds, pieces, part),
            None => {
                let base = self.base.as_deref().unwrap_or_default();
                moulds::fill_of_base(book, &self.moulds, pieces, base)
            }
        }
    }
}
