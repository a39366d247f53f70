//! The command line: one file a command, each of which parses, calls and reports.

mod asked_swatch;
mod asking;
mod backing;
mod bar;
mod base;
mod batch;
#[cfg(feature = "photo")]
mod board;
mod calibrate;
mod cast;
#[cfg(feature = "photo")]
mod chart_arguments;
#[cfg(feature = "photo")]
mod checked;
#[cfg(feature = "photo")]
mod chip_photo;
mod commands;
mod completions;
mod contrast_arguments;
mod correct;
mod day_of;
mod forced;
mod help;
mod interrupt;
mod let_down;
mod lights;
mod like;
mod log;
mod man;
mod matching;
mod mixed_units;
mod mould;
mod naming;
mod new;
mod part;
mod part_arguments;
#[cfg(feature = "photo")]
mod photo;
mod pigment;
mod plain;
mod plan;
mod predict;
mod progress;
mod reading;
mod search_arguments;
mod seen;
#[cfg(feature = "page")]
mod serve;
mod show_all;
mod shown;
mod stock;
mod swatch;
mod target;
mod target_arguments;
#[cfg(feature = "page")]
mod tone_photo;
mod typed;
mod usage;

use std::ffi::OsString;
use std::io::{self, BufRead, Write};
use std::path::PathBuf;

use clap::error::ErrorKind;
use clap::{CommandFactory, FromArgMatches, Parser, Subcommand};

pub use help::shows_in_pager;
pub use interrupt::attend;
pub use plain::Plain;
use shown::shown;
use usage::{taking_negatives, usage_line};

use crate::book::Book;
use crate::error::{Error, Result};
use crate::report::fault;

/// From a skin tone to cups: whole-drop tint recipes for cast urethane skin, foam and paint.
#[derive(Debug, Parser)]
#[command(version, about, max_term_width = 100, after_help = AFTER_HELP)]
struct Arguments {
    #[command(flatten)]
    everywhere: Everywhere,
    #[command(subcommand)]
    command: Command,
}

/// What every command takes.
#[derive(Debug, clap::Args)]
struct Everywhere {
    /// The swatch book: a folder [default: the current folder if it holds one, else the built-in demo]
    #[arg(long, global = true, value_name = "DIR", help_heading = "Any command")]
    book: Option<PathBuf>,
    /// Print one JSON document, for other programs, and nothing else
    #[arg(long, global = true, help_heading = "Any command")]
    json: bool,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Begin a swatch book, with generic materials
    New(new::Options),
    /// Read a skin tone, off a photo, a reading or an earlier casting
    Target(Box<target::Options>),
    /// Find whole-drop recipes for a tone, in skin, foam and paint
    Match(Box<matching::Options>),
    /// Predict colours of castings, from a CSV file
    Predict(predict::Options),
    /// Show parts that are kept by name, print or remove one
    Part(part::Options),
    /// Log what came out of the mould, beside its prediction
    Swatch(swatch::Options),
    /// Mend a cup that came out wrong, and the next one
    Correct(Box<correct::Options>),
    /// Keep let-downs in stock, by date and mass
    LetDown(let_down::Options),
    /// Put pigments on the shelf, by the weight of their drops
    Pigment(pigment::Options),
    /// Put bases on the shelf, skins, foams and paints
    Base(base::Options),
    /// Put backings on the shelf, cards and others
    Backing(backing::Options),
    /// Keep stocks, pigments weighed together once
    Stock(stock::Options),
    /// Keep moulds, by how much skin and foam each takes
    Mould(mould::Options),
    /// Choose the chips to cast next, by what each would tell
    Plan(plan::Options),
    /// Learn the materials' curves, from swatches and weighed drops
    Calibrate(calibrate::Options),
    /// Scale a recipe to any batch, in pots, grams and drops
    Batch(batch::Options),
    /// Open the page for the bench, in a browser on this machine
    #[cfg(feature = "page")]
    Serve(serve::Options),
    /// Print completions, for bash, zsh, fish and others
    Completions(completions::Options),
    /// Print a page for `man`, of the program or of a command
    Man(man::Options),
}

const AFTER_HELP: &str = "\
To begin: dropwise match --target 66,12,17 --base-g 600 --foam-g 300 --fibre-g 12

L*,a*,b* are a colour: how light, how red, how yellow; under the book's light and observer (D65/10° in a new \
book). ΔE00 is how far two colours lie apart: below about 1 it is hard to see. `iron oxide red 1:10` is a let-down: \
one part of the pigment in ten, the rest clear base. Masses take g (the default), kg, oz and lb, as in 600, 0.6kg \
or 8oz.

Exit codes: 0 done; 1 no recipe within tolerance; 2 bad input; 3 the machine failed.

Urethanes hold isocyanates, heat up as they set and burn; paint mist harms lungs. The safety data sheet of each \
material and the local code have the last word. Recipes are for props, not for wear on a body.";

/// What a command has to say.
struct Outcome {
    /// For standard output; colours included, which the caller strips where they are not wanted.
    text: String,
    /// The exit code, 0 or 1.
    code: u8,
}

impl Outcome {
    fn done(text: String) -> Self {
        Self { text, code: 0 }
    }
}

impl Everywhere {
    fn open_book(&self) -> Result<Book> {
        Book::open_or_demo(self.book.as_deref())
    }
}

/// Runs one command with `arguments` (the program's name first) and returns its exit code.
///
/// The answer goes to `out` and errors, one line each, to `err`; a closed pipe is not an error. Where JSON is asked for, an
/// error goes to `out` too, as a document.
pub fn run(
    arguments: impl IntoIterator<Item = OsString>,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> u8 {
    let arguments: Vec<OsString> = arguments.into_iter().collect();
    if let Some(page) = help::page(&arguments) {
        return ended(
            out.write_all(page.as_bytes()).and_then(|()| out.flush()),
            0,
            err,
        );
    }
    let is_json = arguments.iter().any(|argument| argument == "--json");
    let mixed_units = mixed_units::mixed_units(&arguments).filter(|_| !is_json);
    let (written, code) = match parse(arguments) {
        Ok(Arguments {
            everywhere,
            command,
        }) => match command.run(&everywhere, out) {
            Ok(Outcome { text, code }) => {
                let text = text + mixed_units.as_deref().unwrap_or_default();
                let written = out.write_all(text.as_bytes()).and_then(|()| out.flush());
                (written, code)
            }
            Err(error) => {
                let document = is_json.then(|| fault::json(&error, naming::option));
                return refused(&error, document, out, err);
            }
        },
        Err(asked) => match asked.kind() {
            ErrorKind::DisplayHelp | ErrorKind::DisplayVersion => {
                (write!(out, "{}", asked.render().ansi()), 0)
            }
            ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand => {
                (write!(err, "{}", asked.render().ansi()), 2)
            }
            _ => {
                let line = usage_line(&asked);
                let message = line.strip_prefix("error: ").unwrap_or(&line);
                let document = is_json.then(|| fault::usage_json(message));
                (tell(&line, document, out, err), 2)
            }
        },
    };
    ended(written, code, err)
}

/// As [`run`], where somebody sits at a terminal who can be asked, and answers on `input`: a bare `swatch add` asks for what it
/// needs.
pub fn run_asking(
    arguments: Vec<OsString>,
    input: &mut dyn BufRead,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> u8 {
    match asked_swatch::bare(&arguments) {
        Some(bare) => asked_swatch::converse(&bare, input, out, err),
        None => run(arguments, out, err),
    }
}

/// Tells of `error`, with its `document` where other programs read; the exit code.
fn refused(
    error: &Error,
    document: Option<String>,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> u8 {
    let code = if error.is_out_of_reach() {
        1
    } else if error.is_machine() {
        3
    } else {
        2
    };
    let line = format!("error: {}", error.worded(naming::option));
    let written = tell(&line, document, out, err);
    ended(written, code, err)
}

/// Writes an error's `line`, and its `document` where other programs read.
fn tell(
    line: &str,
    document: Option<String>,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> io::Result<()> {
    writeln!(err, "{}", shown(line))?;
    out.write_all(document.unwrap_or_default().as_bytes())?;
    out.flush()
}

/// The exit code of a run that was to end in `code`, by how its answer was `written`.
fn ended(written: io::Result<()>, code: u8, err: &mut dyn Write) -> u8 {
    written.map(|()| code).unwrap_or_else(|failed| {
        if failed.kind() == io::ErrorKind::BrokenPipe {
            return 0;
        }
        // Where not even this can be told, the exit code tells it.
        let _ = writeln!(err, "error: cannot write the answer: {failed}");
        3
    })
}

fn parse(arguments: impl IntoIterator<Item = OsString>) -> clap::error::Result<Arguments> {
    let matches = taking_negatives(Arguments::command()).try_get_matches_from(arguments)?;
    Arguments::from_arg_matches(&matches)
}

impl Command {
    /// Runs it; what is to be read before it ends goes to `out`.
    #[cfg_attr(
        not(feature = "page"),
        expect(unused_variables, reason = "the page alone speaks before it ends")
    )]
    fn run(self, everywhere: &Everywhere, out: &mut dyn Write) -> Result<Outcome> {
        match self {
            Self::New(options) => new::run(&options, everywhere),
            Self::Target(options) => target::run(&options, everywhere),
            Self::Match(options) => matching::run(&options, everywhere),
            Self::Predict(options) => predict::run(&options, everywhere),
            Self::Part(options) => part::run(&options, everywhere),
            Self::Swatch(options) => swatch::run(options, everywhere),
            Self::Correct(options) => correct::run(*options, everywhere),
            Self::LetDown(options) => let_down::run(&options, everywhere),
            Self::Pigment(options) => pigment::run(&options, everywhere),
            Self::Base(options) => base::run(&options, everywhere),
            Self::Backing(options) => backing::run(&options, everywhere),
            Self::Stock(options) => stock::run(&options, everywhere),
            Self::Mould(options) => mould::run(&options, everywhere),
            Self::Plan(options) => plan::run(&options, everywhere),
            Self::Calibrate(options) => calibrate::run(&options, everywhere),
            Self::Batch(options) => batch::run(&options, everywhere),
            #[cfg(feature = "page")]
            Self::Serve(options) => serve::run(&options, everywhere, out),
            Self::Completions(options) => completions::run(&options),
            Self::Man(options) => man::run(&options),
        }
    }
}
