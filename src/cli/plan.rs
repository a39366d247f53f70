//! `dropwise plan`: the chips to cast next.

#[cfg(feature = "page")]
use std::path::PathBuf;

use super::bar::Bar;
use super::day_of::today;
#[cfg(feature = "page")]
use super::forced::Forced;
use super::naming::option;
use super::target_arguments::typed_target;
use super::typed::count_to;
use super::{Everywhere, Outcome};
use crate::error::{Result, Setting};
use crate::jobs::planning::{self, Request};
use crate::materials::Grams;
use crate::report::plan;

#[derive(Debug, clap::Args)]
pub(super) struct Options {
    /// How many chips
    #[arg(long, value_name = "N", value_parser = count_to::<usize>(100), default_value_t = 4)]
    count: usize,
    /// A tone that is to be made: L*,a*,b*, or a file kept by `target --save` [default: skin of all tones]
    #[arg(long, value_name = "L,a,b|FILE", allow_hyphen_values = true)]
    target: Option<String>,
    /// The skin that chips are cast of [default: the book's first]
    #[arg(long, value_name = "NAME")]
    base: Option<String>,
    /// Mass of each chip's mixed base (A + B) [default: 100 g]
    #[arg(long, value_name = "MASS")]
    base_g: Option<Grams>,
    /// Give the reasons too: how much each chip tells, how let-downs are made
    #[arg(long)]
    why: bool,
    /// Write where to lay the chips for one photograph, to print on A4 or Letter: one HTML file, with the list that `swatch
    /// read` asks for
    #[cfg(feature = "page")]
    #[arg(long, value_name = "FILE")]
    board: Option<PathBuf>,
    #[cfg(feature = "page")]
    #[command(flatten)]
    forced: Forced,
}

pub(super) fn run(options: &Options, everywhere: &Everywhere) -> Result<Outcome> {
    let book = everywhere.open_book()?;
    let viewing = book.shelf().settings.viewing;
    let tone = options
        .target
        .as_deref()
        .map(|typed| typed_target(typed, viewing))
        .transpose()?;
    let request = Request {
        count: options.count,
        tone: tone.map(|target| target.lab),
        base: options.base.clone(),
        base_mass: options.base_g,
        day: today(),
    };
    let mut bar = Bar::new("weighing chips against each other");
    let planned = planning::run(&book, &request, &mut |share| bar.show(share))?;
    bar.clear();
    #[cfg(feature = "page")]
    if let Some(file) = &options.board {
        let layout = crate::report::board_sheet::layout(&planned.chips, request.day);
        options.forced.write(file, &layout)?;
    }
    Ok(Outcome::done(if everywhere.json {
        plan::json(&planned)
    } else {
        plan::text(&planned, (!options.why).then_some(&option(Setting::Why)))
    }))
}
