//! `dropwise calibrate`: swatches into curves.

use std::io::{self, IsTerminal as _, Write as _};

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

/// A line on a terminal's standard error that tells how far long work has come; nothing elsewhere.
pub(super) struct Bar {
    what: &'static str,
    since: std::time::Instant,
    shown: bool,
}

impl Bar {
    /// Work that takes less than this is not told of.
    const PATIENCE: std::time::Duration = std::time::Duration::from_secs(1);

    pub(super) fn new(what: &'static str) -> Self {
        Self {
            what,
            since: std::time::Instant::now(),
            shown: false,
        }
    }

    /// Tells that `share` (0–1) is done.
    pub(super) fn show(&mut self, share: f64) {
        let mut err = io::stderr();
        if !err.is_terminal() || self.since.elapsed() < Self::PATIENCE {
            return;
        }
        self.shown = true;
        // A terminal that cannot be written to is no reason to stop.
        let _ = write!(err, "\r{} {:3.0} %", self.what, 100.0 * share);
        let _ = err.flush();
    }

    /// Takes the line away.
    pub(super) fn clear(&mut self) {
        if self.shown {
            let _ = write!(io::stderr(), "\r\x1b[2K");
        }
    }
}
