//! `dropwise match`: from a target to cups.

use std::path::PathBuf;
use std::time::Instant;

use super::commands::{Kept, next_commands};
use super::day_of::DayOf;
#[cfg(any(feature = "page", feature = "photo"))]
use super::forced::Forced;
use super::interrupt::{best_so_far, watched_from_the_keyboard};
use super::like::Like;
use super::part_arguments::PartArguments;
use super::progress::Progress;
use super::search_arguments::SearchArguments;
use super::target_arguments::{Reading, Readings, typed_target};
use super::typed::TypedLab;
use super::{Everywhere, Outcome};
use crate::book::Book;
use crate::error::{Error, Result};
#[cfg(feature = "page")]
use crate::jobs::plotting;
use crate::jobs::{matching, parts};
use crate::materials::{Settings, check_name};
use crate::recipe::Part;
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
    /// Keep the answer in the book under this name; alone, work a part that is kept out again and say what would change
    #[arg(long = "part", id = "kept_part", value_name = "NAME")]
    kept: Option<String>,
    /// Put the answer in the place of what the part keeps; the old recipe goes into its history
    #[arg(long, requires = "kept_part")]
    replace: bool,
    /// What the part is called, on its sheet [default: its name]
    #[arg(long, value_name = "WORDS")]
    title: Option<String>,
    #[command(flatten)]
    day_of: DayOf,
    /// Give the reasons too: doubts, proof, other thicknesses, how let-downs are made, the command that logs the casting
    #[arg(long)]
    why: bool,
    /// Write a mix sheet to print: one HTML file, A5
    #[cfg(feature = "page")]
    #[arg(long, value_name = "FILE")]
    sheet: Option<PathBuf>,
    #[cfg(any(feature = "page", feature = "photo"))]
    #[command(flatten)]
    forced: Forced,
}

pub(super) fn run(options: &Options, everywhere: &Everywhere) -> Result<Outcome> {
    let begun = Instant::now();
    let mut book = everywhere.open_book()?;
    let name = options.kept.as_deref();
    let kept =
        name.map(|name| parts::before_match(&book, name, options.has_target(), options.replace));
    let kept = kept.transpose()?.flatten();
    if kept.is_none() {
        options.check_whole()?;
    }
    let (target, from) = options.read_target(&book, kept.as_ref())?;
    let asked = kept.as_ref().map(|part| &part.request);
    let target = match options.part.tone_of_paint_alone()? {
        Some(role) => target.aimed_at(role)?,
        None => target,
    };
    let mut request = options.part.request(asked, &book, options.day_of.day())?;
    options
        .search
        .ask(&mut request, watched_from_the_keyboard())?;
    if name.is_some() {
        parts::check_lights(&request)?;
    }
    let progress = Progress::begin(still_looking);
    let matched = matching::run(&book, &target, &request)?;
    drop(progress);
    let kept_title = kept.as_ref().map(|part| part.title.clone());
    let title = (options.title.clone()).or(kept_title.or(options.kept.clone()));
    let title = title.as_deref().unwrap_or("Part");
    check_name("the title", title)?;
    let to_keep = name.map(|name| {
        let kept_name = kept.as_ref().map(|part| part.name.clone());
        let found = parts::Found {
            name: &kept_name.unwrap_or_else(|| name.to_owned()),
            title,
            from: &from,
            request: &request,
            matched: &matched,
        };
        parts::to_keep(&book, kept, found, options.replace)
    });
    let keeping = to_keep.as_ref().map(|to_keep| &to_keep.keeping);
    let report = PartReport {
        title,
        commands: next_commands(&matched, book.folder(), kept_as(keeping, &book))?,
        naming: super::naming::option,
        matched: &matched,
        keeping,
    };
    #[cfg(feature = "page")]
    if let Some(file) = &options.sheet {
        let ladder = plotting::ladder(&request.serving(book.shelf()), &matched)?;
        let sheet = crate::report::sheet::part(&report, &ladder);
        options.forced.write(file, sheet)?;
    }
    // Last, once nothing else can fail: who is told of an error finds the name free.
    if let Some(to_keep) = &to_keep {
        to_keep.write(&mut book)?;
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

/// How far the search has come, for whoever waits.
fn still_looking() -> String {
    match best_so_far() {
        Some((kind, delta_e)) => {
            format!("{kind} ΔE00 {delta_e:.2}, still looking; Ctrl-C keeps it")
        }
        None => "still looking; Ctrl-C keeps the best so far".to_owned(),
    }
}

/// By what name the answer is kept, or what keeps it.
fn kept_as<'a>(keeping: Option<&'a parts::Keeping>, book: &Book) -> Kept<'a> {
    match keeping {
        Some(keeping) if keeping.is_kept() => Kept::As(&keeping.part.name),
        Some(_) => Kept::Not { keep: "--replace" },
        None if book.folder().is_none() => Kept::Not {
            keep: "--book DIR --part NAME",
        },
        None => Kept::Not {
            keep: "--part NAME",
        },
    }
}

impl Options {
    /// Whether a tone was typed, or is to be read.
    fn has_target(&self) -> bool {
        let is_read = !self.photos().is_empty() || !self.readings.is_empty();
        self.target.is_some() || is_read || self.like.is_given()
    }

    /// That nothing is missing where nothing is kept; of several things all are named at once.
    fn check_whole(&self) -> Result<()> {
        let tone = (!self.has_target()).then_some(if cfg!(feature = "photo") {
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

    /// What is to be matched, and where it comes from; that of the part that is `kept` where nothing was typed.
    fn read_target(&self, book: &Book, kept: Option<&Part>) -> Result<(Target, String)> {
        let settings = &book.shelf().settings;
        let viewing = settings.viewing;
        let from_file = |files: &[PathBuf]| {
            let names = files.iter().map(|file| file.display().to_string());
            names.collect::<Vec<_>>().join(", ")
        };
        let (target, from) = if let Some(target) = self.readings.target(settings)? {
            (
                target,
                format!("readings {}", from_file(self.readings.files())),
            )
        } else if let Some(target) = self.like.target(book)? {
            (target, format!("swatch {}", self.like.name()))
        } else if let Some(read) = self.read_photos(settings)? {
            (read, format!("photograph {}", from_file(self.photos())))
        } else if let Some(typed) = &self.target {
            let from = match typed.parse::<TypedLab>() {
                Ok(_) => "typed".to_owned(),
                Err(_) => format!("file {typed}"),
            };
            (typed_target(typed, viewing)?, from)
        } else if let Some(part) = kept {
            (part.target.clone(), part.target_from.clone())
        } else {
            return Err(nothing_to_match());
        };
        Ok((self.reading.with_flush(target)?, from))
    }

    #[cfg(feature = "photo")]
    fn photos(&self) -> &[PathBuf] {
        &self.photos
    }

    #[cfg(not(feature = "photo"))]
    fn photos(&self) -> &[PathBuf] {
        &[]
    }

    /// The tone off the photographs; `None` where none is named.
    fn read_photos(&self, settings: &Settings) -> Result<Option<Target>> {
        #[cfg(feature = "photo")]
        if !self.photos.is_empty() {
            let read = self.reading.photos(&self.photos, settings, self.forced);
            return read.map(Some);
        }
        let _ = settings;
        Ok(None)
    }
}

fn nothing_to_match() -> Error {
    Error::input("nothing to match").mend(if cfg!(feature = "photo") {
        "give a colour or a saved target with --target, a photograph with --photo, readings with --reading, or a swatch of the book with --like"
    } else {
        "give a colour or a saved target with --target, readings with --reading, or a swatch of the book with --like"
    })
}
