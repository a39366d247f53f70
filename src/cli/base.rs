//! `dropwise base`: new bases onto the shelf.

use std::str::FromStr;

use super::typed::fraction;
use super::{Everywhere, Outcome};
use crate::book::NewBase;
use crate::error::{Error, Result};
use crate::jobs::bottles;
use crate::materials::{RatioBy, parse_number};
use crate::report::shelf;

#[derive(Debug, clap::Args)]
pub(super) struct Options {
    #[command(subcommand)]
    action: Action,
}

#[derive(Debug, clap::Subcommand)]
enum Action {
    /// Put a base on the shelf, by what its maker's sheet says
    Add(Box<Added>),
}

#[derive(Debug, clap::Args)]
struct Added {
    /// What it is called
    #[arg(value_name = "NAME")]
    name: String,
    /// What it is for
    #[arg(long, value_name = "skin|foam|paint|carrier")]
    kind: String,
    /// Density of the mixed liquid, g/ml
    #[arg(long, value_name = "G_ML", value_parser = parse_number)]
    density_g_ml: f64,
    /// Parts of A to parts of B, as in 1:1 or 50:100 [default: it comes as one part]
    #[arg(
        long,
        value_name = "A:B",
        default_value = "1:0",
        hide_default_value = true
    )]
    parts: Parts,
    /// What these are parts of
    #[arg(long, value_name = "mass|volume", default_value_t = RatioBy::Mass)]
    ratio_by: RatioBy,
    /// Minutes from mixing until it no longer flows well
    #[arg(long, value_name = "MIN", value_parser = parse_number)]
    pot_life_min: Option<f64>,
    /// Minutes from mixing until it gels
    #[arg(long, value_name = "MIN", value_parser = parse_number)]
    gel_min: Option<f64>,
    /// Minutes from mixing until it may leave the mould
    #[arg(long, value_name = "MIN", value_parser = parse_number)]
    demold_min: Option<f64>,
    /// How many times its volume a foam rises to
    #[arg(long, value_name = "TIMES", value_parser = parse_number)]
    expansion: Option<f64>,
    /// Width of a foam's cells
    #[arg(long, value_name = "MM", value_parser = parse_number)]
    cell_mm: Option<f64>,
    /// The share of a paint's mass, 0 to 1, that stays when it dries
    #[arg(long, value_name = "SHARE", value_parser = fraction)]
    solids: Option<f64>,
    /// The largest share of a cup, 0 to 1, that a carrier may be, by its maker's sheet [default: 0.03]
    #[arg(long, value_name = "SHARE", value_parser = fraction)]
    max_fraction: Option<f64>,
}

/// Parts of A and of B.
#[derive(Clone, Copy, Debug)]
struct Parts(f64, f64);

impl FromStr for Parts {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self> {
        let (part_a, part_b) = text.split_once(':').ok_or_else(|| {
            Error::input(format!("\"{}\" is no ratio", text.escape_debug()))
                .mend("write parts of A and of B, as in 1:1 or 50:100")
        })?;
        Ok(Self(
            parse_number(part_a.trim())?,
            parse_number(part_b.trim())?,
        ))
    }
}

pub(super) fn run(options: &Options, everywhere: &Everywhere) -> Result<Outcome> {
    let Action::Add(typed) = &options.action;
    let Parts(part_a, part_b) = typed.parts;
    let new = NewBase {
        name: typed.name.trim().to_owned(),
        kind: typed.kind.clone(),
        density_g_ml: typed.density_g_ml,
        parts: (part_a, part_b),
        by: typed.ratio_by,
        pot_life_min: typed.pot_life_min,
        gel_min: typed.gel_min,
        demold_min: typed.demold_min,
        expansion: typed.expansion,
        cell_mm: typed.cell_mm,
        solids: typed.solids,
        max_fraction: typed.max_fraction,
    };
    let mut book = everywhere.open_book()?;
    let added = bottles::add_base(&mut book, &new)?;
    Ok(Outcome::done(if everywhere.json {
        shelf::base_json(&added)
    } else {
        shelf::base_text(&added)
    }))
}
