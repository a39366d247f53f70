//! `dropwise part`: the parts that are kept by name.

#[cfg(feature = "page")]
use std::path::PathBuf;
use std::time::Instant;

use super::commands::{Kept, correct_command, next_commands};
use super::day_of::DayOf;
#[cfg(feature = "page")]
use super::forced::Forced;
use super::{Everywhere, Outcome};
use crate::book::Book;
use crate::error::Result;
use crate::jobs::batching::Size;
use crate::jobs::parts::{self, Keeping};
use crate::jobs::test_pieces::TestPiece;
use crate::materials::Grams;
use crate::report::{PartReport, part, parts as report, test_piece};

#[derive(Debug, clap::Args)]
pub(super) struct Options {
    #[command(subcommand)]
    action: Action,
}

#[derive(Debug, clap::Subcommand)]
enum Action {
    /// Show all parts: tone, cups, last casting
    List,
    /// Show a part as its match answered; nothing is searched
    Show(Named),
    /// Show what explains a part: doubts, proof, other thicknesses, its history
    Why(Named),
    /// Draw a test piece from a part's tinted part B, so that what remains can still be corrected
    Test(Test),
    /// Write a part's mix sheet to print: one HTML file, A5
    #[cfg(feature = "page")]
    Sheet(Sheet),
    /// Take a part off the book; its castings stay in the log
    Remove(Removed),
}

#[derive(Debug, clap::Args)]
struct Named {
    /// The part
    #[arg(value_name = "NAME")]
    name: String,
    #[command(flatten)]
    day_of: DayOf,
}

#[derive(Debug, clap::Args)]
struct Test {
    #[command(flatten)]
    named: Named,
    /// Mass of mixed skin (A + B) that the test piece takes
    #[arg(long = "g", value_name = "MASS")]
    mass: Grams,
}

#[cfg(feature = "page")]
#[derive(Debug, clap::Args)]
struct Sheet {
    #[command(flatten)]
    named: Named,
    /// The file to write
    #[arg(value_name = "FILE")]
    file: PathBuf,
    #[command(flatten)]
    forced: Forced,
}

#[derive(Debug, clap::Args)]
struct Removed {
    /// The part
    #[arg(value_name = "NAME")]
    name: String,
}

pub(super) fn run(options: &Options, everywhere: &Everywhere) -> Result<Outcome> {
    let mut book = everywhere.open_book()?;
    match &options.action {
        Action::List => {
            let listed = parts::list(&book)?;
            Ok(Outcome::done(if everywhere.json {
                report::list_json(&listed)
            } else {
                report::list_text(&listed)
            }))
        }
        Action::Show(named) => named.cups().show(&book, everywhere),
        Action::Why(named) => {
            if everywhere.json {
                return named.cups().show(&book, everywhere);
            }
            named.cups().report(&book, |told| {
                let history = told
                    .keeping
                    .map(|keeping| report::history_text(&keeping.part));
                Ok(Outcome::done(
                    part::why(told) + &history.unwrap_or_default(),
                ))
            })
        }
        Action::Test(Test { named, mass }) => {
            let piece = TestPiece::of(&book, &named.name, *mass, named.day_of.day())?;
            let correct = correct_command(&piece.part.name, *mass, book.folder());
            Ok(Outcome::done(if everywhere.json {
                test_piece::json(&piece, &correct)
            } else {
                test_piece::text(&piece, &correct)
            }))
        }
        #[cfg(feature = "page")]
        Action::Sheet(Sheet {
            named,
            file,
            forced,
        }) => named.cups().report(&book, |told| {
            forced.write(file, crate::report::sheet::part(told))?;
            let part = told.keeping.map(|keeping| &keeping.part);
            Ok(Outcome::done(match part {
                Some(part) if everywhere.json => report::sheet_json(part, file),
                _ => format!("the sheet stands in {}\n", file.display()),
            }))
        }),
        Action::Remove(Removed { name }) => {
            let part = book.remove_part(name)?;
            Ok(Outcome::done(if everywhere.json {
                report::removed_json(&part)
            } else {
                report::removed_text(&part)
            }))
        }
    }
}

impl Named {
    fn cups(&self) -> Cups<'_> {
        Cups {
            name: &self.name,
            size: Size::Times(1.0),
            largest_pot: None,
            offers_more: true,
            is_pot_by_pot: false,
            day_of: &self.day_of,
        }
    }
}

/// The cups of a part, at a size.
pub(super) struct Cups<'a> {
    pub(super) name: &'a str,
    pub(super) size: Size,
    pub(super) largest_pot: Option<Grams>,
    /// Whether each of several pots is tinted for itself.
    pub(super) is_pot_by_pot: bool,
    /// Whether more of it is what may be wanted next.
    pub(super) offers_more: bool,
    pub(super) day_of: &'a DayOf,
}

impl Cups<'_> {
    /// The answer that a match gave, told by the book as it is now.
    pub(super) fn show(&self, book: &Book, everywhere: &Everywhere) -> Result<Outcome> {
        let begun = Instant::now();
        self.report(book, |told| {
            let text = if everywhere.json {
                part::json(told, begun.elapsed().as_secs_f64())?
            } else {
                part::text(told)
            };
            let code = u8::from(!told.matched.passes());
            Ok(Outcome { text, code })
        })
    }

    fn report(
        &self,
        book: &Book,
        answer: impl FnOnce(&PartReport<'_>) -> Result<Outcome>,
    ) -> Result<Outcome> {
        let day = self.day_of.day();
        let (part, mut matched) =
            parts::to_pour(book, self.name, self.size, self.largest_pot, day)?;
        if self.is_pot_by_pot {
            matched = matched.pot_by_pot();
        }
        let keeping = Keeping::shown(part);
        let part = &keeping.part;
        let mut commands = next_commands(&matched, book.folder(), Kept::As(&part.name))?;
        if !self.offers_more || part.corrected_cup().is_some() {
            commands.again = None;
        }
        answer(&PartReport {
            title: &part.title,
            commands,
            naming: super::naming::option,
            matched: &matched,
            keeping: Some(&keeping),
        })
    }
}
