//! `dropwise calibrate`: swatches into curves, drops on a scale into drop masses, and new bottles onto the shelf.

use std::str::FromStr;

use super::bar::Bar;
use super::day_of::today;
use super::naming::option;
use super::{Everywhere, Outcome};
use crate::error::{Error, Result, Setting};
use crate::jobs::calibrating::{self, NewLot, Request};
use crate::materials::Weighing;
use crate::report::calibration;

#[derive(Debug, clap::Args)]
pub(super) struct Options {
    /// Show what the swatches tell, and leave the book as it is
    #[arg(long, conflicts_with_all = ["weigh", "new_lot"])]
    dry_run: bool,
    /// Give the reasons too: every reading, every material, what each foam is now taken for
    #[arg(long)]
    why: bool,
    /// First log a run of drops on a scale, as in "iron oxide red 20 drops 0.61 g"; weigh three runs of a bottle
    #[arg(long, value_name = "RUN")]
    weigh: Vec<Weighing>,
    /// First put a new bottle on the shelf beside the old one, as in "iron oxide red=B7" for its lot B7
    #[arg(long, value_name = "PIGMENT=LOT")]
    new_lot: Vec<TypedLot>,
}

/// A new bottle as it is typed.
#[derive(Clone, Debug)]
struct TypedLot(NewLot);

impl FromStr for TypedLot {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self> {
        let parts = text
            .rsplit_once('=')
            .map(|(of, lot)| (of.trim(), lot.trim()));
        match parts {
            Some((of, lot)) if !of.is_empty() && !lot.is_empty() => Ok(Self(NewLot {
                of: of.to_owned(),
                lot: lot.to_owned(),
            })),
            _ => {
                let finding = format!(
                    "\"{}\" names no pigment and its new lot",
                    text.escape_debug()
                );
                Err(Error::input(finding).mend("write both, as in \"iron oxide red=B7\""))
            }
        }
    }
}

pub(super) fn run(options: &Options, everywhere: &Everywhere) -> Result<Outcome> {
    let mut book = everywhere.open_book()?;
    let request = Request {
        dry_run: options.dry_run,
        runs: options.weigh.clone(),
        new_lots: (options.new_lot.iter())
            .map(|TypedLot(new)| new.clone())
            .collect(),
        day: today(),
    };
    let mut bar = Bar::new("learning from swatches");
    let calibrated = calibrating::run(&mut book, &request, &mut |share| bar.show(share))?;
    bar.clear();
    Ok(Outcome::done(if everywhere.json {
        calibration::json(&calibrated)
    } else {
        calibration::text(&calibrated, (!options.why).then_some(&option(Setting::Why)))
    }))
}
