//! `dropwise swatch add` by itself: what the row needs is asked for, and what the program knows already is offered.
//!
//! The answers become the options of the very command that somebody else would have typed, which alone checks and writes them; it
//! is shown, so that it can be typed, or typed again where the machine fails.

use std::ffi::OsString;
use std::io::{BufRead, Write};
use std::path::{Path, PathBuf};

use super::asking::Asking;
use super::day_of::{day, today};
use super::naming;
use super::shown::shown;
use super::swatch;
use super::typed::TypedLab;
use super::{Arguments, Command, parse, refused, run};
use crate::book::{Book, read_reflectance};
use crate::error::{Error, Result};
use crate::jobs::logging::{CupOf, OfPart};
use crate::materials::{
    Build, Coat, Cup, Grams, Kind, Millimetres, Mix, Portion, Shelf, Swatch, Underlay, check_range,
    parse_number,
};
use crate::recipe::Part;
use crate::report::swatches;
use crate::tone::ToneRole;

/// What is said for a chip, which is no part.
const CHIP: &str = "chip";
/// What is said for a casting that is not logged yet.
const NEW: &str = "new";
/// What is said for nothing.
const NOTHING: &str = "nothing";

/// The options for `swatch add`, each with its value.
type Typed = Vec<(&'static str, String)>;

/// The command that `arguments` are, if they say `swatch add` and nothing about a swatch: at most, in which book.
pub(super) fn bare(arguments: &[OsString]) -> Option<Bare> {
    let mut book = None;
    let mut words = Vec::new();
    let mut rest = arguments.iter().skip(1);
    while let Some(argument) = rest.next() {
        let text = argument.to_string_lossy();
        if text == "--book" {
            book = Some(PathBuf::from(rest.next()?));
        } else if let Some(named) = text.strip_prefix("--book=") {
            book = Some(PathBuf::from(named));
        } else {
            words.push(text);
        }
    }
    (words == ["swatch", "add"]).then_some(Bare { book })
}

/// `swatch add` without more.
pub(super) struct Bare {
    /// The folder of the book, where one is named.
    book: Option<PathBuf>,
}

impl Bare {
    /// With what was `typed`.
    fn with(&self, typed: &Typed) -> Vec<OsString> {
        let words = ["dropwise", "swatch", "add"].map(OsString::from);
        let option = |(option, value): &(&str, String)| format!("--{option}={value}").into();
        let book = self.book.as_ref().map(|book| {
            let mut argument = OsString::from("--book=");
            argument.push(book);
            argument
        });
        let typed = typed.iter().map(option);
        words.into_iter().chain(book).chain(typed).collect()
    }
}

/// Asks for a swatch, and logs it; the exit code.
pub(super) fn converse(
    bare: &Bare,
    input: &mut dyn BufRead,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> u8 {
    let asked = ask(bare, &mut Asking::of(input, out));
    match asked {
        Ok(arguments) => run(arguments, out, err),
        Err(error) => refused(&error, None, out, err),
    }
}

/// All that is to be asked, until somebody says yes.
fn ask(bare: &Bare, asking: &mut Asking<'_>) -> Result<Vec<OsString>> {
    let book = Book::open_or_demo(bare.book.as_deref())?;
    book.check_own()?;
    asking.say("An empty answer takes what stands in brackets; Ctrl-C ends without a trace.\n")?;
    loop {
        let arguments = bare.with(&questions(&book, asking)?);
        let swatch = match to_be_logged(&arguments, &book) {
            Ok(swatch) => swatch,
            Err(error) => {
                asking.say(&format!("  {}\n", shown(&error.worded(naming::option))))?;
                continue;
            }
        };
        asking.say(&format!(
            "To be written:\n{}by\n  {}\n",
            swatches::as_read_text(&swatch, &book.shelf().settings),
            in_words(&arguments)
        ))?;
        if asking.agrees("Write it, yes or no")? {
            return Ok(arguments);
        }
    }
}

/// The row that `arguments` make, as far as it can be told before it is written.
fn to_be_logged(arguments: &[OsString], book: &Book) -> Result<Swatch> {
    let arguments: Arguments =
        parse(arguments.to_vec()).map_err(|error| Error::input(error.to_string()))?;
    match arguments.command {
        Command::Swatch(options) => swatch::to_be_logged(options, book),
        _ => unreachable!("the words are those of `swatch add`"),
    }
}

/// `arguments` as they are typed.
fn in_words(arguments: &[OsString]) -> String {
    let words = arguments.iter().map(|argument| {
        let word = argument.to_string_lossy().into_owned();
        match word.split_once('=') {
            Some((option, value)) if value.contains([' ', ';']) => format!("{option}=\"{value}\""),
            _ => word,
        }
    });
    words.collect::<Vec<_>>().join(" ")
}

fn questions(book: &Book, asking: &mut Asking<'_>) -> Result<Typed> {
    let latest = latest_part(book)?;
    let mut typed = match &latest {
        None => chip(book, asking)?,
        Some(latest) => {
            let question = "Which part was cast, or `chip` for what is none";
            let known = |name: &str| match name {
                CHIP => Ok(None),
                name => book.part_to_pour(name).map(Some),
            };
            match asking.ask(question, Some(latest.as_str()), known)?.1 {
                None => chip(book, asking)?,
                Some(part) => of_part(book, &part, asking)?,
            }
        }
    };
    let reading = asking.ask(
        "It read, L*,a*,b* or a file with its spectrum",
        None,
        reading,
    )?;
    typed.push((if reading.1 { "r-file" } else { "lab" }, reading.0));
    let now = today().to_string();
    typed.push(("date", asking.ask("Day of the reading", Some(&now), day)?.0));
    let note = asking.ask("Anything worth keeping", Some(NOTHING), |note| {
        Ok(note.to_owned())
    })?;
    if note.0 != NOTHING {
        typed.push(("note", note.0));
    }
    Ok(typed)
}

/// The part that something was done with last.
fn latest_part(book: &Book) -> Result<Option<String>> {
    let mut latest: Option<(jiff::civil::Date, String)> = None;
    for name in book.part_names()? {
        let part = book.part(&name)?;
        let events = part.history.iter().map(|event| event.date);
        let last = events.chain([part.recipe.date]).max();
        let last = (last.unwrap_or(part.recipe.date), name);
        if latest.as_ref().is_none_or(|latest| *latest <= last) {
            latest = Some(last);
        }
    }
    Ok(latest.map(|(_, name)| name))
}

/// Of a casting of `part`: which, under what, of what and how thick.
fn of_part(book: &Book, part: &Part, asking: &mut Asking<'_>) -> Result<Typed> {
    let mut typed: Typed = vec![("part", part.name.clone())];
    if !part.recipe.paints.is_empty() {
        let question = "Read on which tone: base (unpainted), flush or shadow";
        let is_painted = |tone: &str| {
            let tone: ToneRole = tone.parse()?;
            let of = OfPart {
                name: &part.name,
                tone: Some(tone),
                thickness: None,
                cup: CupOf::Bench,
            };
            of.build(book, today()).map(|_| ())
        };
        let (tone, ()) = asking.ask(question, Some("base"), is_painted)?;
        if tone != "base" {
            typed.push(("tone", tone));
        }
    }
    let mut again = None;
    if let Some(last) = part.castings.last() {
        let question = "A `new` casting, or which of its castings read once more";
        let known = |id: &str| match id {
            NEW => Ok(()),
            id if part.castings.iter().any(|known| known == id) => Ok(()),
            id => Err(Error::unknown_name(
                "casting of this part",
                id,
                [last.as_str(), NEW],
            )),
        };
        let (id, ()) = asking.ask(question, Some(NEW), known)?;
        again = (id != NEW).then_some(id);
    }
    let of = OfPart {
        name: &part.name,
        tone: None,
        thickness: None,
        cup: again.as_deref().map_or(CupOf::Bench, CupOf::Casting),
    };
    let mut build = of.build(book, today())?;
    if let Some(id) = again {
        let mut logged = book.swatches()?.iter().rev();
        if let Some(logged) = logged.find(|swatch| swatch.id == id) {
            build.thickness = logged.build.thickness;
        }
        typed.push(("casting", id));
    } else {
        let as_poured = build.skin.mix.to_string();
        let question = "Into the skin went";
        let (mix, _) = asking.ask(question, Some(&as_poured), |mix| mix_of(book.shelf(), mix))?;
        if mix != as_poured {
            typed.push(("poured", mix));
        }
    }
    typed.push(thickness(book, &build, asking)?);
    Ok(typed)
}

/// Of a chip: its name, what it is of, how thick it is, and on what it lay.
fn chip(book: &Book, asking: &mut Asking<'_>) -> Result<Typed> {
    const NEXT: &str = "the next number";
    let question =
        "Name of the chip; that of one that is logged, for its reading over another card";
    let (name, ()) = asking.ask(question, Some(NEXT), |_| Ok(()))?;
    let log = book.swatches()?;
    let same = log.iter().rev().find(|swatch| swatch.id == name);
    let last = same.or(log.last()).map(|swatch| &swatch.build);
    let mut typed: Typed = Vec::new();
    if name != NEXT {
        typed.push(("swatch", name.clone()));
    }
    if let Some(same) = same {
        let skin = &same.build.skin;
        typed.extend([
            ("base", skin.base.clone()),
            ("base-g", skin.base_mass.0.to_string()),
            ("mix", skin.mix.to_string()),
            ("thickness-mm", same.build.thickness.0.to_string()),
        ]);
    } else {
        let shelf = book.shelf();
        let base = last.map(|last| last.skin.base.as_str());
        let of_base = |name: &str| shelf.base(name).map(|base| base.name.clone());
        let (_, base) = asking.ask("It is cast of which base", base, of_base)?;
        typed.push(("base", base));
        let mass = last.map(|last| last.skin.base_mass.0.to_string());
        let (mass, _) = asking.ask(
            "Mass of its mixed base, A and B, g",
            mass.as_deref(),
            mass_of,
        )?;
        typed.push(("base-g", mass));
        let question = "What went in, as in umber 4; titanium white 6";
        let (mix, _) = asking.ask(question, Some(NOTHING), |mix| mix_of(shelf, mix))?;
        if mix != NOTHING {
            typed.push(("mix", mix));
        }
        match last {
            Some(last) => typed.push(thickness(book, last, asking)?),
            None => typed.push(("thickness-mm", asking.ask(THICKNESS, None, thickness_of)?.0)),
        }
    }
    beneath(book, last, asking, &mut typed)?;
    Ok(typed)
}

/// On what a chip lay.
fn beneath(
    book: &Book,
    last: Option<&Build>,
    asking: &mut Asking<'_>,
    typed: &mut Typed,
) -> Result<()> {
    let shelf = book.shelf();
    let known = last.map_or(Shelf::WHITE_CARD, |last| last.beneath.name());
    let is_foam = |name: &str| match shelf.base(name) {
        Ok(base) if base.kind.kind() == Kind::Foam => Ok(true),
        _ => shelf.backing(name).map(|_| false),
    };
    let (name, is_foam) = asking.ask(
        "It lay on which card, or over which foam",
        Some(known),
        is_foam,
    )?;
    if !is_foam {
        typed.push(("backing", name));
        return Ok(());
    }
    typed.push(("foam", name));
    let foam = last.and_then(|last| match &last.beneath {
        Underlay::Foam(foam) => Some(foam.base_mass.0.to_string()),
        Underlay::Backing { .. } => None,
    });
    let (mass, _) = asking.ask("Mass of the mixed foam, g", foam.as_deref(), mass_of)?;
    typed.push(("foam-g", mass));
    let (mix, _) = asking.ask("What went into the foam", Some(NOTHING), |mix| {
        mix_of(shelf, mix)
    })?;
    if mix != NOTHING {
        typed.push(("foam-mix", mix));
    }
    Ok(())
}

const THICKNESS: &str = "Its thickness where it was read, mm";

fn thickness(
    book: &Book,
    build: &Build,
    asking: &mut Asking<'_>,
) -> Result<(&'static str, String)> {
    let is_paint =
        (book.shelf().base(&build.skin.base)).is_ok_and(|base| base.kind.kind() == Kind::Paint);
    let known = (!is_paint).then(|| build.thickness.0.to_string());
    let (thickness, _) = asking.ask(THICKNESS, known.as_deref(), thickness_of)?;
    Ok(("thickness-mm", thickness))
}

fn thickness_of(text: &str) -> Result<Millimetres> {
    let thickness = parse_number(text)?;
    let range = (Coat::DRY_THICKNESS_MM.0, Build::THICKNESS_MM.1);
    check_range("the thickness", thickness, range, "mm")?;
    Ok(Millimetres(thickness))
}

fn mass_of(text: &str) -> Result<Grams> {
    let mass: Grams = text.parse()?;
    check_range("the mass", mass.0, Cup::BASE_MASS_G, "g")?;
    Ok(mass)
}

/// The mix that `text` is, all of whose pigments stand on `shelf`.
fn mix_of(shelf: &Shelf, text: &str) -> Result<Mix> {
    let mix: Mix = if text == NOTHING {
        Mix::default()
    } else {
        text.parse()?
    };
    for (colorant, amount) in mix.entries() {
        Portion::new(shelf, colorant, *amount)?;
    }
    Ok(mix)
}

/// Whether `text` is a file with a spectrum, and no colour.
fn reading(text: &str) -> Result<bool> {
    if Path::new(text).is_file() {
        return read_reflectance(Path::new(text)).map(|_| true);
    }
    let TypedLab(lab) = text.parse()?;
    check_range("L*", lab.l, (0.0, 100.0), "units")?;
    for (name, value) in [("a*", lab.a), ("b*", lab.b)] {
        check_range(name, value, (-150.0, 150.0), "units")?;
    }
    Ok(false)
}
