//! `dropwise swatch`: the log of what came out of the mould.

use std::path::PathBuf;

use super::day_of::today;
use super::forced::Forced;
use super::reading::Reading;
use super::{Everywhere, Outcome, log};
use crate::book::Book;
use crate::error::Result;
use crate::jobs::{comparing, logging};
use crate::materials::{Casting, Swatch};
use crate::report::swatches;

#[derive(Debug, clap::Args)]
pub(super) struct Options {
    #[command(subcommand)]
    action: Action,
}

#[derive(Debug, clap::Subcommand)]
enum Action {
    /// Log a reading of a chip or part, and show it beside the prediction
    Add(Box<Reading>),
    /// Read a board of chips off one photograph, beside a colour chart, and log all of them
    #[cfg(feature = "photo")]
    Read(Box<super::board::Read>),
    /// Show every logged reading
    List(List),
    /// Look for swatches by colour, pigment, day or part; the nearest colour first
    Find(log::Find),
    /// Put a logged swatch right; how it stood is kept in history.csv
    Mend(Box<log::Mend>),
    /// Take a swatch out of the log; how it stood is kept in history.csv
    Remove(log::Remove),
    /// Take back the last mending or removal
    Undo,
    /// Write every logged reading to a file that other programs read: CGATS.17 text
    Export(Export),
}

#[derive(Debug, clap::Args)]
struct List {
    /// Show beside each what the book predicts of it; of thousands that takes a while
    #[arg(long)]
    predicted: bool,
}

#[derive(Debug, clap::Args)]
struct Export {
    /// The file to write; an earlier export of that name is replaced
    #[arg(value_name = "FILE")]
    file: PathBuf,
    #[command(flatten)]
    forced: Forced,
}

pub(super) fn run(options: Options, everywhere: &Everywhere) -> Result<Outcome> {
    let mut book = everywhere.open_book()?;
    let (first, doubtful) = match options.action {
        Action::List(List { predicted: false }) => return list(&book, everywhere),
        Action::List(List { predicted: true }) => (0, book.doubtful_readings()?),
        Action::Export(asked) => return export(&book, asked, everywhere),
        #[cfg(feature = "photo")]
        Action::Read(read) => return read.run(&mut book, everywhere),
        Action::Find(find) => return find.run(&book, everywhere),
        Action::Mend(mend) => return mend.run(&mut book, everywhere),
        Action::Remove(remove) => return remove.run(&mut book, everywhere),
        Action::Undo => return log::undo(&mut book, everywhere),
        Action::Add(reading) => {
            let (swatch, photographed) = reading.clone().into_swatch(&book)?;
            let photographed = photographed.as_ref();
            let doubtful = logging::run(&mut book, &swatch, photographed, reading.of_part())?;
            (book.swatches()?.len().saturating_sub(1), doubtful)
        }
    };
    let logged = comparing::logged(&book, first)?;
    Ok(Outcome::done(if everywhere.json {
        swatches::json(&logged, &doubtful)
    } else {
        swatches::text(&logged, &doubtful)
    }))
}

/// The row that `options`, which are to add one, would log in `book`.
pub(super) fn to_be_logged(options: Options, book: &Book) -> Result<Swatch> {
    let Action::Add(reading) = options.action else {
        unreachable!("only who adds a swatch is asked for one");
    };
    let (swatch, _) = reading.into_swatch(book)?;
    // As when it is written.
    Casting::new(book.shelf(), &swatch.build)?;
    Ok(swatch)
}

/// Shows all of the log as it was read.
fn list(book: &Book, everywhere: &Everywhere) -> Result<Outcome> {
    Ok(Outcome::done(if everywhere.json {
        let mut listing = swatches::ListingJson::default();
        let doubtful = comparing::listed(book, |read| listing.add(read))?;
        listing.json(&doubtful)
    } else {
        let mut listing = swatches::Listing::default();
        let doubtful = comparing::listed(book, |read| listing.add(read))?;
        listing.text(&doubtful)
    }))
}

fn export(
    book: &Book,
    Export { file, forced }: Export,
    everywhere: &Everywhere,
) -> Result<Outcome> {
    forced.write(&file, &book.cgats(today())?)?;
    let count = book.swatches()?.len();
    Ok(Outcome::done(if everywhere.json {
        swatches::exported_json(&file, count)
    } else {
        swatches::exported_text(&file, count)
    }))
}
