//! `dropwise predict`: the colours of many builds.

use std::path::PathBuf;

use super::lights::Lights;
use super::{Everywhere, Outcome};
use crate::error::Result;
use crate::forecast::Doubts;
use crate::jobs::comparing;
use crate::report::predictions;

#[derive(Debug, clap::Args)]
pub(super) struct Options {
    /// CSV with the columns build, base, base_g, mix, thickness_mm, then backing or foam, foam_g, foam_mix;
    /// and paint, paint_g, paint_mix, paint_mm where there is paint
    #[arg(long, value_name = "FILE")]
    builds: PathBuf,
    #[command(flatten)]
    lights: Lights,
    /// Leave the scatter of drops, weighing and thickness out of the spread
    #[arg(long)]
    calibration_only: bool,
}

pub(super) fn run(options: &Options, everywhere: &Everywhere) -> Result<Outcome> {
    let book = everywhere.open_book()?;
    let viewing = book.shelf().settings.viewing;
    let lights = options.lights.read()?;
    let doubts = if options.calibration_only {
        Doubts::Calibration
    } else {
        Doubts::All
    };
    let predicted = comparing::builds(&book, &options.builds, doubts)?;
    Ok(Outcome::done(if everywhere.json {
        predictions::json(&predicted, viewing.observer, &lights)
    } else {
        let left_over = book.shelf().left_over.as_deref();
        predictions::text(&predicted, viewing, &lights, left_over)
    }))
}
