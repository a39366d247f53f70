//! `dropwise calibrate`: swatches into curves, drops on a scale into drop masses, and new bottles onto the shelf.

use std::str::FromStr;

use jiff::civil::Date;

use super::input::{Bar, today};
use super::{Everywhere, Outcome};
use crate::book::{Book, KeptCurves};
use crate::characterise::calibrate;
use crate::error::{Error, Result};
use crate::materials::Weighing;
use crate::report::{Bottles, calibration};

#[derive(Debug, clap::Args)]
pub(super) struct Options {
    /// Show what the swatches tell, and leave the book as it is
    #[arg(long, conflicts_with_all = ["weigh", "new_lot"])]
    dry_run: bool,
    /// First log a run of drops on a scale, as in "iron oxide red 20 drops 0.61 g"; weigh three runs of a bottle
    #[arg(long, value_name = "RUN")]
    weigh: Vec<Weighing>,
    /// First put a new bottle on the shelf beside the old one, as in "iron oxide red=B7" for its lot B7
    #[arg(long, value_name = "PIGMENT=LOT")]
    new_lot: Vec<NewLot>,
}

/// A new bottle as it is typed.
#[derive(Clone, Debug)]
struct NewLot {
    of: String,
    lot: String,
}

impl FromStr for NewLot {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self> {
        let parts = text
            .rsplit_once('=')
            .map(|(of, lot)| (of.trim(), lot.trim()));
        match parts {
            Some((of, lot)) if !of.is_empty() && !lot.is_empty() => Ok(Self {
                of: of.to_owned(),
                lot: lot.to_owned(),
            }),
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
    check_bottles(options, &book)?;
    let lots: Vec<(&str, &str)> = (options.new_lot.iter())
        .map(|new| (new.of.as_str(), new.lot.as_str()))
        .collect();
    let has_bottles = !lots.is_empty() || !options.weigh.is_empty();
    let today = today();
    // What fails does so before anything is written: who is told of an error weighs again, and no run may count twice.
    let supposed = if has_bottles {
        book.supposing(&lots, &options.weigh, today)?
    } else {
        book.clone()
    };
    if book.swatches().is_empty() && has_bottles {
        let bottles = kept(&mut book, &lots, options, today)?;
        return Ok(Outcome::done(if everywhere.json {
            calibration::bottles_json(&bottles)
        } else {
            calibration::bottles_text(&bottles)
        }));
    }
    let first = supposed.first_guesses()?;
    let mut bar = Bar::new("learning from swatches");
    let found = calibrate(&first, supposed.swatches(), &mut |share| bar.show(share))?;
    bar.clear();
    let mut bottles = Bottles::default();
    if !options.dry_run {
        let curves: Vec<KeptCurves> = found
            .curves
            .iter()
            .map(|curves| KeptCurves {
                material: curves.material.clone(),
                coefficients: curves.coefficients,
                spread: curves.spread,
                foam: curves.foam.map(|found| found.foam),
            })
            .collect();
        bottles = kept(&mut book, &lots, options, today)?;
        book.keep_calibration(&curves, &found.joint_directions, found.specular, today)
            .map_err(|error| {
                if has_bottles {
                    error.within("the new bottles and runs stand in the book; name them no more when you calibrate again")
                } else {
                    error
                }
            })?;
    }
    let doubtful = book.doubtful_readings()?;
    Ok(Outcome::done(if everywhere.json {
        calibration::json(&found, book.swatches(), &bottles, &doubtful)
    } else {
        calibration::text(&found, book.swatches(), &bottles, &doubtful)
    }))
}

/// Refuses bottles that the book doesn't know, by what was typed.
fn check_bottles(options: &Options, book: &Book) -> Result<()> {
    for new in &options.new_lot {
        book.shelf().pigment(&new.of)?;
    }
    for Weighing { pigment: name, .. } in &options.weigh {
        let is_new = |new: &&NewLot| format!("{} {}", new.of, new.lot) == *name;
        // The drops of a new bottle are taken for those of the old one until they are weighed.
        let known = options
            .new_lot
            .iter()
            .find(is_new)
            .map_or(name, |new| &new.of);
        book.shelf().pigment(known)?.check_drops()?;
    }
    Ok(())
}

/// New bottles onto the shelf, then runs of drops, of new ones too, into the book; what they tell.
fn kept(book: &mut Book, lots: &[(&str, &str)], options: &Options, today: Date) -> Result<Bottles> {
    let mut bottles = Bottles::default();
    for (of, lot) in lots {
        let name = book.add_lot(of, lot)?;
        if book.shelf().pigment(&name)?.drop_mass.is_none() {
            bottles.lots_by_mass.push(name.clone());
        }
        bottles.lots.push(name);
    }
    if !options.weigh.is_empty() {
        bottles.weighed = book.weigh(&options.weigh, today)?;
    }
    Ok(bottles)
}
