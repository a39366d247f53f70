//! `dropwise mould`: the moulds of the shop, and how much each takes.

#[cfg(feature = "page")]
use std::path::PathBuf;

#[cfg(feature = "page")]
use super::forced::Forced;
use super::typed::not_negative;
use super::{Everywhere, Outcome};
use crate::error::Result;
use crate::jobs::moulds;
use crate::materials::{Grams, Millimetres, Mould};
use crate::report::moulds as report;

#[derive(Debug, clap::Args)]
pub(super) struct Options {
    #[command(subcommand)]
    action: Action,
}

#[derive(Debug, clap::Subcommand)]
enum Action {
    /// Write a mould down, by what it is known to take or by what it measures
    Add(Box<Added>),
    /// Show all moulds, and what each takes
    List,
    /// Write down what a mould took, as with a marker on its back
    Mark {
        /// The mould
        #[arg(value_name = "NAME")]
        name: String,
        /// Mixed skin (A + B) that it took
        #[arg(long, value_name = "MASS")]
        skin_g: Option<Grams>,
        /// Mixed foam (A + B) that it took
        #[arg(long, value_name = "MASS")]
        foam_g: Option<Grams>,
    },
    /// Write a card to print and keep with the mould: one HTML file
    #[cfg(feature = "page")]
    Card {
        /// The mould
        #[arg(value_name = "NAME")]
        name: String,
        /// The file to write
        #[arg(value_name = "FILE")]
        file: PathBuf,
        #[command(flatten)]
        forced: Forced,
    },
    /// Take a mould out of the book
    Remove {
        /// The mould
        #[arg(value_name = "NAME")]
        name: String,
    },
}

#[derive(Debug, clap::Args)]
struct Added {
    /// What it is called
    #[arg(value_name = "NAME")]
    name: String,
    /// Mixed skin (A + B) that it is known to take, waste included
    #[arg(long, value_name = "MASS")]
    skin_g: Option<Grams>,
    /// The area that skin is brushed on
    #[arg(long, value_name = "CM2", value_parser = not_negative)]
    skin_area_cm2: Option<f64>,
    /// How thick its skin is wanted [default: 2]
    #[arg(long, value_name = "MM")]
    thickness_mm: Option<Millimetres>,
    /// Mixed foam (A + B) that it is known to take, waste included
    #[arg(long, value_name = "MASS")]
    foam_g: Option<Grams>,
    /// The room that risen foam fills: the water that it holds behind the skin
    #[arg(long, value_name = "ML", value_parser = not_negative)]
    cavity_ml: Option<f64>,
    /// How many times as much foam is poured as would just fill that room
    #[arg(long, value_name = "N", value_parser = not_negative, default_value_t = 1.0)]
    packing: f64,
    /// What stays in the cup and on the brush, as a share of what the measures give
    #[arg(long, value_name = "SHARE", value_parser = not_negative, default_value_t = Mould::USUAL_WASTE)]
    waste: f64,
    /// What else is written on it
    #[arg(
        long,
        value_name = "WORDS",
        default_value = "",
        hide_default_value = true
    )]
    note: String,
}

impl Added {
    fn mould(&self) -> Mould {
        Mould {
            name: self.name.trim().to_owned(),
            skin_mass: self.skin_g,
            skin_area_cm2: self.skin_area_cm2,
            thickness: self.thickness_mm,
            foam_mass: self.foam_g,
            cavity_ml: self.cavity_ml,
            packing: self.packing,
            waste: self.waste,
            note: self.note.clone(),
        }
    }
}

pub(super) fn run(options: &Options, everywhere: &Everywhere) -> Result<Outcome> {
    let mut book = everywhere.open_book()?;
    let shown = |moulds: &[moulds::Takes]| match everywhere.json {
        true => report::json(moulds),
        false => report::text(moulds),
    };
    Ok(Outcome::done(match &options.action {
        Action::List => shown(&moulds::list(&book)?),
        Action::Add(added) => {
            let mould = added.mould();
            book.add_mould(&mould)?;
            shown(&[moulds::takes(&book, mould)])
        }
        Action::Mark {
            name,
            skin_g,
            foam_g,
        } => {
            let mould = moulds::mark(&mut book, name, *skin_g, *foam_g)?;
            shown(&[moulds::takes(&book, mould)])
        }
        #[cfg(feature = "page")]
        Action::Card { name, file, forced } => {
            let takes = moulds::takes(&book, book.mould(name)?);
            forced.write(file, report::card(&takes))?;
            match everywhere.json {
                true => shown(&[takes]),
                false => format!("the card stands in {}\n", file.display()),
            }
        }
        Action::Remove { name } => {
            let removed = book.remove_mould(name)?;
            match everywhere.json {
                true => report::removed_json(&removed),
                false => report::removed_text(&removed),
            }
        }
    }))
}
