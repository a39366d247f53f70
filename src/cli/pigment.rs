//! `dropwise pigment`: new pigments onto the shelf, and how bottles of one differ.

use super::day_of::DayOf;
use super::typed::fraction;
use super::{Everywhere, Outcome};
use crate::book::NewPigment;
use crate::error::Result;
use crate::jobs::bottles;
use crate::materials::{Grams, Weighing};
use crate::report::{drift, shelf};

#[derive(Debug, clap::Args)]
pub(super) struct Options {
    #[command(subcommand)]
    action: Action,
}

#[derive(Debug, clap::Subcommand)]
enum Action {
    /// Put a pigment on the shelf
    Add(Added),
    /// Show how each new lot of a pigment differs from the last: in strength, in hue, in drops
    Lots(Lots),
}

#[derive(Debug, clap::Args)]
struct Lots {
    /// The pigment, or any lot of it
    #[arg(value_name = "NAME")]
    name: String,
}

#[derive(Debug, clap::Args)]
struct Added {
    /// What it is called, in mixes and recipes
    #[arg(value_name = "NAME")]
    name: String,
    /// The starter pigment that it is like, whose curves serve until a chip tells of its own
    #[arg(long, value_name = "NAME")]
    like: Option<String>,
    /// Mass of one drop, where it is known; without it, it goes in by the gram until drops are weighed
    #[arg(long, value_name = "MASS", conflicts_with = "weigh")]
    drop_g: Option<Grams>,
    /// Drops on a scale, as in "20 drops 0.61 g"; weigh three runs
    #[arg(long, value_name = "RUN")]
    weigh: Vec<String>,
    /// The largest share of a cup, 0 to 1, that still cures well, by its maker's sheet
    #[arg(long, value_name = "SHARE", value_parser = fraction, default_value_t = FIRST_GUESS)]
    max_fraction: f64,
    /// The lot on its label
    #[arg(long, value_name = "LOT")]
    lot: Option<String>,
    #[command(flatten)]
    day_of: DayOf,
}

/// The share of a cup that most makers' sheets allow of a dispersion. Common practice, no source.
const FIRST_GUESS: f64 = 0.03;

pub(super) fn run(options: &Options, everywhere: &Everywhere) -> Result<Outcome> {
    match &options.action {
        Action::Add(typed) => add(typed, everywhere),
        Action::Lots(of) => {
            let book = everywhere.open_book()?;
            let lots = bottles::lots(&book, &of.name)?;
            Ok(Outcome::done(if everywhere.json {
                drift::json(&lots)
            } else {
                drift::text(&lots)
            }))
        }
    }
}

fn add(typed: &Added, everywhere: &Everywhere) -> Result<Outcome> {
    let name = typed.name.trim();
    let new = NewPigment {
        name: name.to_owned(),
        drop_mass: typed.drop_g,
        max_fraction: typed.max_fraction,
        lot: typed.lot.clone().unwrap_or_default(),
        like: typed.like.clone().unwrap_or_default(),
    };
    let runs = typed.weigh.iter().map(|run| run_of(name, run));
    let runs: Vec<Weighing> = runs.collect::<Result<_>>()?;
    let mut book = everywhere.open_book()?;
    let added = bottles::add_pigment(&mut book, &new, &runs, typed.day_of.day())?;
    Ok(Outcome::done(if everywhere.json {
        shelf::pigment_json(&added)
    } else {
        shelf::pigment_text(&added)
    }))
}

/// A run of drops, which need not say again of what.
fn run_of(name: &str, text: &str) -> Result<Weighing> {
    let text = text.trim();
    let is_bare = text.starts_with(|letter: char| letter.is_ascii_digit() || letter == '-');
    if is_bare && !text.starts_with(name) {
        format!("{name} {text}").parse()
    } else {
        text.parse()
    }
}
