//! `dropwise correct`: a cup that came out wrong, and the next one.

use std::time::Duration;

use super::bar::Bar;
use super::cast::Cast;
use super::commands::take_commands;
use super::contrast_arguments::ContrastArguments;
use super::day_of::DayOf;
use super::interrupt::watched_from_the_keyboard;
use super::seen::Seen;
use super::target_arguments::typed_target;
use super::typed::{not_negative, time_limit};
use super::{Everywhere, Outcome};
use crate::error::{Error, Result};
use crate::jobs::correcting::{self, Replacing, Request};
use crate::jobs::part_cups::PartCup;
use crate::recipe::Correction;
use crate::report::{RemedyReport, remedy};
use crate::search::Limits;

#[derive(Debug, clap::Args)]
pub(super) struct Options {
    /// The tone that was aimed at: L*,a*,b*, or a file that `dropwise target --save` wrote
    #[arg(
        long,
        value_name = "L,a,b|FILE",
        allow_hyphen_values = true,
        required_unless_present = "part",
        conflicts_with = "part"
    )]
    target: Option<String>,
    #[command(flatten)]
    seen: Seen,
    #[command(flatten)]
    cast: Cast,
    /// Put the next cup's recipe in the place of the one that the part keeps, which goes into its history
    #[arg(long, requires = "part", conflicts_with = "no_log")]
    replace: bool,
    /// Leave the book as it is; without this the reading is logged in it, as by `swatch add`, even where no recipe answers it
    #[arg(long)]
    no_log: bool,
    /// Most drops to add to the cup on the bench; 0 leaves it as it is, and answers for the next cup alone. The next cup may
    /// take the usual 40 drops of one pigment and 60 in all (more above 600 g or in a foam), or what this one would then
    /// hold where that is more
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(0..=1000), default_value_t = Correction::MAX_ADD)]
    max_add: u32,
    /// Minutes since its parts A and B came together
    #[arg(long, value_name = "MIN", value_parser = not_negative)]
    mixed_since_min: Option<f64>,
    /// Stop when no recipe can be nearer by more than this ΔE00
    #[arg(long, value_name = "GAP", value_parser = not_negative)]
    within: Option<f64>,
    /// Give the best found after this many seconds of searching, for both answers together; so does Ctrl-C
    #[arg(long, value_name = "S", value_parser = time_limit, default_value = "2")]
    time_limit: Duration,
    /// ΔE00 up to which the skin passes [default: by lightness, 0.59 for light skin to 1.75 for dark]
    #[arg(long, value_name = "ΔE00", value_parser = not_negative)]
    tolerance: Option<f64>,
    #[command(flatten)]
    contrast: ContrastArguments,
    /// Let the contrast ratio go where it will; else a correction keeps in the window of its part, or within 0.1 of what was poured
    #[arg(long, conflicts_with_all = ["min_contrast", "max_contrast", "see_through"])]
    any_contrast: bool,
    #[command(flatten)]
    day_of: DayOf,
}

pub(super) fn run(options: Options, everywhere: &Everywhere) -> Result<Outcome> {
    let mut book = everywhere.open_book()?;
    let day = options.day_of.day();
    let kept = options.cast.of_part();
    let mut kept = kept.map(|of| PartCup::of(&book, of, day)).transpose()?;
    let build = match &kept {
        Some(kept) => kept.build.clone(),
        None => options.cast.build(&book, None, day)?,
    };
    let mut build = options.seen.poured_into(build);
    let target = match (&options.target, &kept) {
        (Some(typed), _) => typed_target(typed, book.shelf().settings.viewing)?,
        (None, Some(kept)) => kept.part.target.clone(),
        (None, None) => return Err(Error::input("no tone").mend("give it with --target")),
    };
    let is_running = options.mixed_since_min.is_some();
    let read_thickness = kept.as_ref().and_then(|kept| kept.read_thickness);
    let stage = (options.seen).stage(&build, is_running, read_thickness)?;
    let (evidence, photographed) = options.seen.evidence(&book, &build)?;
    if let Some(kept) = &mut kept {
        let told = correcting::told_by(&evidence, &stage, &build.skin.mix);
        build = options
            .seen
            .poured_into(kept.as_told(&book, &evidence, &told, day)?);
    }
    let mut request = Request::of(build, stage, evidence, day);
    request.mixed_since_min = options.mixed_since_min;
    request.photographed = photographed;
    request.log = !options.no_log;
    request.is_contrast_free = options.any_contrast;
    request.max_add = options.max_add;
    request.tolerance = options.tolerance;
    request.limits = Limits {
        within: options.within,
        time_limit: Some(options.time_limit),
        contrast_ratio: options.contrast.window(),
        watch: watched_from_the_keyboard(),
        ..Limits::default()
    };
    if let Some(kept) = &kept {
        let replacing = match options.replace {
            true => Replacing::Yes,
            false => Replacing::No,
        };
        kept.settle(&mut request, replacing);
    }
    let mut bar = Bar::new("learning from swatches");
    let corrected = correcting::run(&mut book, &target, &request, &mut |share| bar.show(share))?;
    bar.clear();
    let bench = &corrected.bench;
    let used = [(bench.base.as_str(), bench.called_for.as_slice())];
    let report = RemedyReport {
        corrected: &corrected,
        take_commands: take_commands(used, day, book.folder()),
        naming: super::naming::option,
    };
    Ok(Outcome {
        text: if everywhere.json {
            remedy::json(&report)
        } else {
            remedy::text(&report)
        },
        code: u8::from(!corrected.passes()),
    })
}
