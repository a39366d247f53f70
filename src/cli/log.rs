//! `dropwise swatch find`, `mend`, `remove` and `undo`: the log looked through and put right.

use jiff::civil::Date;

use super::day_of::{day, today};
use super::show_all::ShowAll;
use super::typed::{TypedLab, not_negative};
use super::{Everywhere, Outcome};
use crate::book::{Book, Change, Undone};
use crate::error::Result;
use crate::jobs::finding;
use crate::jobs::mending::{self, Mending};
use crate::materials::{Grams, Millimetres, Mix};
use crate::report::found;

/// Arguments of `swatch find`.
#[derive(Debug, clap::Args)]
pub(super) struct Find {
    #[command(flatten)]
    sought: Sought,
    /// How far from that colour it may have read, ΔE00
    #[arg(
        long,
        value_name = "ΔE00",
        default_value = "2",
        requires = "near",
        value_parser = not_negative
    )]
    within: f64,
    #[command(flatten)]
    all: ShowAll,
}

/// What a swatch is to be.
#[derive(Debug, clap::Args)]
#[group(required = true, multiple = true)]
struct Sought {
    /// A colour that it read, under the book's light and observer
    #[arg(long, value_name = "L,a,b", allow_hyphen_values = true)]
    near: Option<TypedLab>,
    /// A pigment that is in it
    #[arg(long, value_name = "NAME")]
    pigment: Option<String>,
    /// The first day on which it may have been read
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = day)]
    since: Option<Date>,
    /// A part that it is a casting of
    #[arg(long, value_name = "NAME")]
    part: Option<String>,
}

impl Find {
    pub(super) fn run(&self, book: &Book, everywhere: &Everywhere) -> Result<Outcome> {
        let Self {
            sought,
            within,
            all,
        } = self;
        let request = finding::Request {
            near: sought.near.map(|TypedLab(lab)| (lab, *within)),
            pigment: sought.pigment.as_deref(),
            since: sought.since,
            part: sought.part.as_deref(),
            most: all.most().filter(|_| !everywhere.json),
        };
        let found = finding::run(book, &request)?;
        Ok(Outcome::done(if everywhere.json {
            found::json(&found)
        } else {
            found::text(&found, ShowAll::OPTION)
        }))
    }
}

/// Arguments of `swatch mend`.
#[derive(Debug, clap::Args)]
pub(super) struct Mend {
    /// The swatch
    #[arg(value_name = "SWATCH")]
    swatch: String,
    #[command(flatten)]
    right: Right,
}

/// What is right.
#[derive(Debug, clap::Args)]
#[group(required = true, multiple = true)]
struct Right {
    /// The reading, under the book's light and observer
    #[arg(long, value_name = "L,a,b", allow_hyphen_values = true)]
    lab: Option<TypedLab>,
    /// Of a chip that was read over several backings: over which that was
    #[arg(long, value_name = "NAME", requires = "lab")]
    backing: Option<String>,
    /// The day of the reading
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = day)]
    date: Option<Date>,
    /// Its base
    #[arg(long, value_name = "NAME")]
    base: Option<String>,
    /// Mass of its mixed base (A + B)
    #[arg(long, value_name = "MASS")]
    base_g: Option<Grams>,
    /// What went in, all of it, as in "iron oxide red 3; fibre 12.5 g"
    #[arg(long, value_name = "MIX")]
    mix: Option<Mix>,
    /// Its thickness
    #[arg(long, value_name = "MM")]
    thickness_mm: Option<Millimetres>,
    /// The batch that it came from
    #[arg(long, value_name = "WORDS")]
    batch: Option<String>,
    /// Anything worth keeping
    #[arg(long, value_name = "WORDS")]
    note: Option<String>,
}

impl Mend {
    pub(super) fn run(self, book: &mut Book, everywhere: &Everywhere) -> Result<Outcome> {
        let Right {
            lab,
            backing,
            date,
            base,
            base_g,
            mix,
            thickness_mm,
            batch,
            note,
        } = self.right;
        let mending = Mending {
            lab: lab.map(|TypedLab(lab)| lab),
            over: backing,
            date,
            base,
            base_mass: base_g,
            mix,
            thickness: thickness_mm,
            batch,
            note,
        };
        let readings = mending::mend(book, &self.swatch, &mending, today())?;
        Ok(changed(&self.swatch, readings, Change::Mended, everywhere))
    }
}

/// Arguments of `swatch remove`.
#[derive(Debug, clap::Args)]
pub(super) struct Remove {
    /// The swatch, all its readings
    #[arg(value_name = "SWATCH")]
    swatch: String,
}

impl Remove {
    pub(super) fn run(&self, book: &mut Book, everywhere: &Everywhere) -> Result<Outcome> {
        let readings = book.remove_swatch(&self.swatch, today())?;
        Ok(changed(&self.swatch, readings, Change::Removed, everywhere))
    }
}

fn changed(swatch: &str, readings: usize, change: Change, everywhere: &Everywhere) -> Outcome {
    let did = change.to_string();
    Outcome::done(if everywhere.json {
        found::changed_json(swatch, readings, &did)
    } else {
        found::changed_text(swatch, readings, &did)
    })
}

/// Runs `swatch undo`.
pub(super) fn undo(book: &mut Book, everywhere: &Everywhere) -> Result<Outcome> {
    let Undone {
        swatch,
        rows,
        change,
    } = book.undo_change()?;
    let did = change.to_string();
    Ok(Outcome::done(if everywhere.json {
        found::undone_json(&swatch, rows, &did)
    } else {
        found::undone_text(&swatch, rows, &did)
    }))
}
