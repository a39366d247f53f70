//! `dropwise match`: from a target to cups.

#[cfg(any(feature = "photo", feature = "page"))]
use std::path::PathBuf;
use std::time::Instant;

use super::commands::next_commands;
use super::day_of::DayOf;
use super::interrupt::stop_at_interrupt;
use super::like::Like;
use super::part_arguments::PartArguments;
use super::progress::Progress;
use super::search_arguments::SearchArguments;
use super::target_arguments::{Reading, Readings, typed_target};
use super::{Everywhere, Outcome};
use crate::book::Book;
use crate::error::{Error, Result};
use crate::jobs::matching;
use crate::report::{PartReport, part};
use crate::tone::Target;

#[derive(Debug, clap::Args)]
pub(super) struct Options {
    /// The tone to match: L*,a*,b* under the book's light and observer, or a file kept by `target --save`
    #[arg(long, value_name = "L,a,b|FILE", allow_hyphen_values = true)]
    #[cfg_attr(feature = "photo", arg(conflicts_with = "photo"))]
    target: Option<String>,
    /// The tone to match, off a photograph: JPEG, PNG, TIFF or WebP; given again, off several
    #[cfg(feature = "photo")]
    #[arg(long = "photo", id = "photo", value_name = "PHOTO")]
    photos: Vec<PathBuf>,
    #[command(flatten)]
    readings: Readings,
    #[command(flatten)]
    like: Like,
    #[command(flatten)]
    reading: Reading,
    #[command(flatten)]
    part: PartArguments,
    #[command(flatten)]
    search: SearchArguments,
    /// What the part is called, on its sheet
    #[arg(long, value_name = "WORDS", default_value = "Part")]
    title: String,
    #[command(flatten)]
    day_of: DayOf,
    /// Give the reasons too: doubts, proof, other thicknesses, how let-downs are made, the command that logs the casting
    #[arg(long)]
    why: bool,
    /// Write a mix sheet to print: one HTML file, A5
    #[cfg(feature = "page")]
    #[arg(long, value_name = "FILE")]
    sheet: Option<PathBuf>,
}

pub(super) fn run(options: &Options, everywhere: &Everywhere) -> Result<Outcome> {
    let begun = Instant::now();
    options.check_whole()?;
    let book = everywhere.open_book()?;
    let target = options.read_target(&book)?;
    let mut request = options.part.request(options.day_of.day())?;
    options.search.ask(&mut request, stop_at_interrupt())?;
    let progress = Progress::begin("still looking; Ctrl-C keeps the best so far".to_owned());
    let matched = matching::run(&book, &target, &request)?;
    drop(progress);
    let report = PartReport {
        title: &options.title,
        commands: next_commands(&matched, book.folder())?,
        naming: super::naming::option,
        matched: &matched,
    };
    #[cfg(feature = "page")]
    if let Some(file) = &options.sheet {
        crate::book::write_document(file, &crate::report::sheet::part(&report))?;
    }
    Ok(Outcome {
        text: if everywhere.json {
            part::json(&report, begun.elapsed().as_secs_f64())?
        } else if options.why {
            format!("{}\n{}", part::text(&report), part::why(&report))
        } else {
            part::text(&report)
        },
        code: u8::from(!matched.passes()),
    })
}

impl Options {
    /// That nothing is missing; of several things all are named at once.
    fn check_whole(&self) -> Result<()> {
        #[cfg(feature = "photo")]
        let has_photo = !self.photos.is_empty();
        #[cfg(not(feature = "photo"))]
        let has_photo = false;
        let has_target =
            self.target.is_some() || has_photo || !self.readings.is_empty() || self.like.is_given();
        let tone = (!has_target).then_some(if cfg!(feature = "photo") {
            "the tone (--target L,a,b or FILE, --photo PHOTO, --reading FILE or --like SWATCH)"
        } else {
            "the tone (--target L,a,b or FILE, --reading FILE or --like SWATCH)"
        });
        let lacking: Vec<&str> = tone.into_iter().chain(self.part.lacking()).collect();
        if lacking.len() < 2 {
            // One thing alone is told where it is needed.
            return Ok(());
        }
        Err(
            Error::input(format!("a match lacks {}", lacking.join("; "))).mend(
                "such as `dropwise match --target 65,11,14 --base-g 600 --foam-g 300 --fibre-g 12`",
            ),
        )
    }

    fn read_target(&self, book: &Book) -> Result<Target> {
        let settings = &book.shelf().settings;
        let viewing = settings.viewing;
        if let Some(target) = self.readings.target(settings)? {
            return self.reading.with_flush(target);
        }
        if let Some(target) = self.like.target(book)? {
            return self.reading.with_flush(target);
        }
        #[cfg(feature = "photo")]
        if !self.photos.is_empty() {
            let target = self.reading.photos(&self.photos, viewing)?;
            return self.reading.with_flush(target);
        }
        let Some(typed) = &self.target else {
            return Err(nothing_to_match());
        };
        self.reading.with_flush(typed_target(typed, viewing)?)
    }
}

fn nothing_to_match() -> Error {
    Error::input("nothing to match").mend(if cfg!(feature = "photo") {
        "give a colour or a saved target with --target, a photograph with --photo, readings with --reading, or a swatch of the book with --like"
    } else {
        "give a colour or a saved target with --target, readings with --reading, or a swatch of the book with --like"
    })
}
