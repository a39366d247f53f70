//! `dropwise part`: the parts that are kept by name.

#[cfg(feature = "page")]
use std::path::PathBuf;
use std::time::{Duration, Instant};

use super::bar::Bar;
use super::commands::{Kept, correct_command, next_commands, poured_command};
use super::day_of::DayOf;
#[cfg(feature = "page")]
use super::forced::Forced;
use super::interrupt::watched_from_the_keyboard;
use super::typed::{count_to, not_negative, time_limit};
use super::{Everywhere, Outcome};
use crate::batch::Shift;
use crate::book::Book;
use crate::error::Result;
use crate::jobs::batching::Size;
use crate::jobs::parts::{self, Keeping, Pots};
use crate::jobs::patching::{self, Patch};
#[cfg(feature = "page")]
use crate::jobs::plotting;
use crate::jobs::test_pieces::TestPiece;
use crate::jobs::{pouring, scheduling};
use crate::materials::Grams;
use crate::report::{NextCommands, PartReport, left, part, parts as report, schedule, test_piece};

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
    /// Take what a part was poured of off its jars, stocks and bottles, and say what runs out first
    Poured(Emptied),
    /// Show what tinted part B is left, or say how much is
    Left(Standing),
    /// Work out a small cup that repairs a casting: to what was read of it, not to what was aimed at
    Patch(Patched),
    /// Plan a day's casting of a part: who mixes what when, so that nothing overlaps a pot life
    Clock(Clock),
    /// Draw a part: its tone and castings, a drop more or less, what is in doubt, thickness, where its tones lie; one SVG file
    #[cfg(feature = "page")]
    Plot(Plotted),
    /// Write a part's mix sheet to print: one HTML file, A5
    #[cfg(feature = "page")]
    Sheet(Printed),
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

#[derive(Debug, clap::Args)]
struct Emptied {
    #[command(flatten)]
    named: Named,
    /// How many times the part's recipe was poured
    #[arg(long, value_name = "N", value_parser = not_negative, default_value_t = 1.0)]
    times: f64,
    /// Mass of skin that was poured, instead
    #[arg(long, value_name = "MASS", conflicts_with = "times")]
    to: Option<Grams>,
    /// Each of several pots was tinted for itself
    #[arg(long)]
    pot_by_pot: bool,
    /// What is left of the skin's tinted part B: it is kept for the next of that tone
    #[arg(long, value_name = "MASS")]
    left_part_b_g: Option<Grams>,
    /// All part B was tinted anew, though some was left from before
    #[arg(long)]
    all_fresh: bool,
}

#[derive(Debug, clap::Args)]
struct Standing {
    /// A part, to say what is left of its tinted part B
    #[arg(value_name = "NAME", requires = "part_b_g")]
    name: Option<String>,
    /// What is left of it now; 0 where it was thrown away
    #[arg(long, value_name = "MASS", requires = "name")]
    part_b_g: Option<Grams>,
}

#[derive(Debug, clap::Args)]
struct Clock {
    #[command(flatten)]
    named: Named,
    /// How many pieces
    #[arg(long, value_name = "N", value_parser = count_to::<u32>(Shift::MOST))]
    pieces: u32,
    /// On how many moulds
    #[arg(long, value_name = "N", value_parser = count_to::<u32>(Shift::MOST), default_value_t = 1)]
    moulds: u32,
    /// By how many people
    #[arg(long, value_name = "N", value_parser = count_to::<u32>(Shift::MOST), default_value_t = 1)]
    people: u32,
    /// Fill thin spots of the foam by a second small pour
    #[arg(long)]
    second_foam: bool,
    /// Minutes within which all must be done
    #[arg(long, value_name = "MIN", value_parser = not_negative)]
    within_min: Option<f64>,
    /// Temperature of the room, by which all sets faster or slower: a rule of thumb
    #[arg(long, value_name = "°C", value_parser = not_negative, default_value_t = Shift::SHEET_C)]
    room_c: f64,
    /// Write the same as a picture of bars too: one SVG file
    #[cfg(feature = "page")]
    #[arg(long, value_name = "FILE")]
    bars: Option<PathBuf>,
    #[cfg(feature = "page")]
    #[command(flatten)]
    forced: Forced,
}

#[derive(Debug, clap::Args)]
struct Patched {
    #[command(flatten)]
    named: Named,
    /// Mass of mixed skin (A + B) that the patch takes
    #[arg(long = "g", value_name = "MASS")]
    mass: Grams,
    /// The casting, by its swatch [default: the part's last that was read unpainted]
    #[arg(long, value_name = "ID")]
    casting: Option<String>,
    /// Give the best found after this many seconds; so does Ctrl-C
    #[arg(long, value_name = "S", value_parser = time_limit, default_value = "2")]
    time_limit: Duration,
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

#[cfg(feature = "page")]
#[derive(Debug, clap::Args)]
struct Printed {
    #[command(flatten)]
    sheet: Sheet,
    /// Tint each of several pots for itself, in whole drops, instead of part B of all at once
    #[arg(long)]
    pot_by_pot: bool,
}

#[cfg(feature = "page")]
#[derive(Debug, clap::Args)]
struct Plotted {
    #[command(flatten)]
    sheet: Sheet,
    #[command(flatten)]
    of_photo: super::tone_photo::TonePhoto,
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
        Action::Clock(clock) => clock.show(&book, everywhere),
        Action::Poured(emptied) => emptied.note(&mut book, everywhere),
        Action::Left(standing) => standing.show(&mut book, everywhere),
        Action::Patch(patched) => patched.show(&book, everywhere),
        #[cfg(feature = "page")]
        Action::Sheet(Printed {
            sheet:
                Sheet {
                    named,
                    file,
                    forced,
                },
            pot_by_pot,
        }) => named.cups().tinted(*pot_by_pot).report(&book, |told| {
            let shelf = book.shelf().on_the_day(told.matched.day);
            let ladder = plotting::ladder(&shelf, told.matched)?;
            forced.write(file, crate::report::sheet::part(told, &ladder))?;
            let part = told.keeping.map(|keeping| &keeping.part);
            Ok(Outcome::done(match part {
                Some(part) if everywhere.json => report::written_json(part, "sheet", file),
                _ => format!("the sheet stands in {}\n", file.display()),
            }))
        }),
        #[cfg(feature = "page")]
        Action::Plot(Plotted {
            sheet:
                Sheet {
                    named,
                    file,
                    forced,
                },
            of_photo,
        }) => {
            let mut plot = plotting::run(&book, &named.name, named.day_of.day())?;
            plot.tone_map = of_photo.read(&plot.part.target)?;
            forced.write(file, crate::report::plot::picture(&plot))?;
            Ok(Outcome::done(if everywhere.json {
                report::written_json(&plot.part, "picture", file)
            } else {
                let map = plot.tone_map.as_ref();
                let blank = map.and_then(|(_, map)| crate::report::plot::blank(map));
                let blank = blank.map_or_else(String::new, |blank| format!("; {blank}"));
                format!("the picture stands in {}{blank}\n", file.display())
            }))
        }
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
            pots: Pots::default(),
            offers_more: true,
            day_of: &self.day_of,
        }
    }
}

impl Emptied {
    fn note(&self, book: &mut Book, everywhere: &Everywhere) -> Result<Outcome> {
        let day = self.named.day_of.day();
        let size = self.to.map_or(Size::Times(self.times), Size::To);
        let poured = pouring::Request {
            part: &self.named.name,
            size,
            pot_by_pot: self.pot_by_pot,
            all_fresh: self.all_fresh,
            left_part_b: self.left_part_b_g,
            day,
        };
        let left = pouring::run(book, &poured)?;
        Ok(Outcome::done(match everywhere.json {
            true => left::json(&self.named.name, &left),
            false => left::text(&self.named.name, &left),
        }))
    }
}

impl Standing {
    fn show(&self, book: &mut Book, everywhere: &Everywhere) -> Result<Outcome> {
        if let (Some(name), Some(left)) = (&self.name, self.part_b_g) {
            book.set_left_part_b(name, left)?;
        }
        let standing = book.left_part_b()?;
        Ok(Outcome::done(match everywhere.json {
            true => left::part_b_json(&standing),
            false => left::part_b_text(&standing),
        }))
    }
}

impl Clock {
    fn show(&self, book: &Book, everywhere: &Everywhere) -> Result<Outcome> {
        let shift = Shift {
            pieces: self.pieces,
            moulds: self.moulds,
            people: self.people,
            second_foam: self.second_foam,
            within_min: self.within_min,
            room_c: self.room_c,
        };
        let scheduled = scheduling::run(book, &self.named.name, shift, self.named.day_of.day())?;
        #[cfg(feature = "page")]
        if let Some(file) = &self.bars {
            self.forced.write(file, schedule::picture(&scheduled))?;
        }
        Ok(Outcome::done(match everywhere.json {
            true => schedule::json(&scheduled),
            false => schedule::text(&scheduled),
        }))
    }
}

impl Patched {
    fn show(&self, book: &Book, everywhere: &Everywhere) -> Result<Outcome> {
        let begun = Instant::now();
        let patch = Patch {
            part: &self.named.name,
            casting: self.casting.as_deref(),
            mass: self.mass,
            time_limit: Some(self.time_limit),
            watch: watched_from_the_keyboard(),
            day: self.named.day_of.day(),
        };
        let mut bar = Bar::new("learning from swatches");
        let patched = patching::run(book, &patch, &mut |share| bar.show(share))?;
        bar.clear();
        let matched = &patched.matched;
        // It is a repair: nothing of it is logged, or made again.
        let commands = NextCommands {
            log: String::new(),
            again: None,
            ..next_commands(matched, book.folder(), Kept::As(&patched.part.name))?
        };
        let report = PartReport {
            title: &format!(
                "patch of {} as {} was read",
                patched.part.title, patched.casting
            ),
            commands,
            naming: super::naming::option,
            matched,
            keeping: None,
        };
        let text = if everywhere.json {
            part::json(&report, begun.elapsed().as_secs_f64())?
        } else {
            part::text(&report)
        };
        let code = u8::from(!matched.passes());
        Ok(Outcome { text, code })
    }
}

/// The cups of a part, at a size.
pub(super) struct Cups<'a> {
    pub(super) name: &'a str,
    pub(super) size: Size,
    pub(super) pots: Pots,
    /// Whether more of it is what may be wanted next.
    pub(super) offers_more: bool,
    pub(super) day_of: &'a DayOf,
}

impl Cups<'_> {
    /// The same, each of several pots tinted for itself where that is so.
    #[cfg(feature = "page")]
    fn tinted(mut self, pot_by_pot: bool) -> Self {
        self.pots.pot_by_pot = pot_by_pot;
        self
    }

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
        let (part, matched) = parts::to_pour(book, self.name, self.size, self.pots, day)?;
        let keeping = Keeping::shown(part);
        let part = &keeping.part;
        let mut commands = next_commands(&matched, book.folder(), Kept::As(&part.name))?;
        if !self.offers_more || part.corrected_cup().is_some() {
            commands.again = None;
        }
        if !commands.take.is_empty() {
            let poured = poured_command(&part.name, self.size, book.folder());
            commands.take = poured.map_or(commands.take, |poured| vec![poured]);
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
