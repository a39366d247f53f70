//! `dropwise backing`: new cards and other backings onto the shelf.

use std::path::PathBuf;

use super::typed::TypedLab;
use super::{Everywhere, Outcome};
use crate::book::read_reflectance;
use crate::error::Result;
use crate::jobs::bottles::{self, BackingReading};
use crate::report::shelf;

#[derive(Debug, clap::Args)]
pub(super) struct Options {
    #[command(subcommand)]
    action: Action,
}

#[derive(Debug, clap::Subcommand)]
enum Action {
    /// Put a card or another backing on the shelf, by a reading of it
    Add(Added),
}

#[derive(Debug, clap::Args)]
#[command(group(clap::ArgGroup::new("reading").required(true)))]
struct Added {
    /// What it is called
    #[arg(value_name = "NAME")]
    name: String,
    /// Its reflectance: CGATS text, or a CSV file with wavelength_nm,r; several readings are averaged
    #[arg(long, value_name = "FILE", group = "reading")]
    r_file: Option<PathBuf>,
    /// Its colour under the book's light and observer, where there is no spectrum: the smoothest of it is taken
    #[arg(
        long,
        value_name = "L,a,b",
        group = "reading",
        allow_hyphen_values = true
    )]
    lab: Option<TypedLab>,
}

pub(super) fn run(options: &Options, everywhere: &Everywhere) -> Result<Outcome> {
    let Action::Add(typed) = &options.action;
    let reading = match (&typed.r_file, typed.lab) {
        (_, Some(TypedLab(lab))) => BackingReading::Colour(lab),
        (Some(file), None) => BackingReading::Spectrum(Box::new(read_reflectance(file)?.0)),
        (None, None) => unreachable!("one of the two is required"),
    };
    let mut book = everywhere.open_book()?;
    let added = bottles::add_backing(&mut book, typed.name.trim(), &reading)?;
    Ok(Outcome::done(if everywhere.json {
        shelf::backing_json(&added)
    } else {
        shelf::backing_text(&added)
    }))
}
