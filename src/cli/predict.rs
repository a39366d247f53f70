//! `dropwise predict`: the colours of many builds.

use std::path::PathBuf;

use super::input::Lights;
use super::{Everywhere, Outcome};
use crate::book::read_builds;
use crate::error::Result;
use crate::forecast::Doubts;
use crate::materials::Casting;
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
    let shelf = book.shelf();
    let viewing = shelf.settings.viewing;
    let weights = viewing.weights();
    let lights = options.lights.read()?;
    let doubts = if options.calibration_only {
        Doubts::Calibration
    } else {
        Doubts::All
    };
    let builds = read_builds(&options.builds, shelf)?.into_iter();
    let predicted = builds.map(|(name, build)| {
        let casting = Casting::new(shelf, &build);
        let casting = casting.and_then(|casting| casting.check_loads().map(|()| casting));
        match casting {
            Ok(casting) => Ok((name, casting.predict(&weights, doubts))),
            Err(error) => Err(error
                .within(format_args!("build `{name}`"))
                .in_file(&options.builds)),
        }
    });
    let predicted: Vec<_> = predicted.collect::<Result<_>>()?;
    Ok(Outcome::done(if everywhere.json {
        predictions::json(&predicted, viewing.observer, &lights)
    } else {
        predictions::text(&predicted, viewing, &lights)
    }))
}
