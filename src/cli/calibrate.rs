//! `dropwise calibrate`: swatches into curves.

use super::input::Bar;
use super::{Everywhere, Outcome};
use crate::book::KeptCurves;
use crate::characterise::calibrate;
use crate::error::Result;
use crate::report::calibration;

#[derive(Debug, clap::Args)]
pub(super) struct Options {
    /// Show what the swatches tell, and leave the book as it is
    #[arg(long)]
    dry_run: bool,
}

pub(super) fn run(options: &Options, everywhere: &Everywhere) -> Result<Outcome> {
    let mut book = everywhere.open_book()?;
    let first = book.first_guesses()?;
    let mut bar = Bar::new("learning from swatches");
    let found = calibrate(&first, book.swatches(), &mut |share| bar.show(share))?;
    bar.clear();
    if !options.dry_run {
        let curves: Vec<KeptCurves> = found
            .curves
            .iter()
            .map(|curves| (curves.material.clone(), curves.coefficients, curves.spread))
            .collect();
        let today = jiff::Zoned::now().date();
        book.keep_calibration(&curves, &found.moves, found.specular, today)?;
    }
    Ok(Outcome::done(if everywhere.json {
        calibration::json(&found, book.swatches())
    } else {
        calibration::text(&found, book.swatches())
    }))
}
