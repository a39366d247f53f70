//! `dropwise swatch`: the log of what came out of the mould.

use std::path::PathBuf;

use super::day_of::today;
use super::forced::Forced;
use super::reading::Reading;
use super::{Everywhere, Outcome, log, show_all::ShowAll};
use crate::book::Book;
use crate::error::Result;
use crate::jobs::comparing::{self, Listed};
use crate::jobs::logging;
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
    /// Show the newest logged readings, or all of them; all are checked
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
    #[command(flatten)]
    all: ShowAll,
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
        Action::List(asked) => return list(&book, &asked, everywhere),
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

/// Shows the log.
fn list(book: &Book, asked: &List, everywhere: &Everywhere) -> Result<Outcome> {
    if asked.predicted {
        return list_predicted(book, asked, everywhere);
    }
    Ok(Outcome::done(if everywhere.json {
        let mut listing = swatches::ListingJson::default();
        let listed = comparing::listed(book, None, |read| listing.add(read))?;
        listing.json(&listed.doubtful)
    } else {
        let mut listing = swatches::Listing::default();
        let Listed { readings, doubtful } =
            comparing::listed(book, asked.all.most(), |read| listing.add(read))?;
        listing.text(readings, &doubtful, ShowAll::OPTION)
    }))
}

/// Shows the log beside what the book predicts of it.
fn list_predicted(book: &Book, asked: &List, everywhere: &Everywhere) -> Result<Outcome> {
    let (doubtful, readings) = (book.doubtful_readings()?, book.swatches()?.len());
    Ok(Outcome::done(if everywhere.json {
        swatches::json(&comparing::logged(book, 0)?, &doubtful)
    } else {
        let most = asked.all.most().unwrap_or(readings);
        let mut listing = swatches::Listing::default();
        (comparing::logged(book, readings.saturating_sub(most))?.iter())
            .for_each(|logged| listing.add_predicted(logged));
        listing.text(readings, &doubtful, ShowAll::OPTION)
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
