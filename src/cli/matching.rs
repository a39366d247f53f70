//! `dropwise match`: from a target to cups.

use std::path::Path;
#[cfg(any(feature = "photo", feature = "page"))]
use std::path::PathBuf;
use std::time::{Duration, Instant};

use super::input::{TypedLab, count_to, not_negative};
use super::target::Reading;
use super::{Everywhere, Outcome};
use crate::batch::{Scale, pour};
use crate::book::Book;
use crate::colour::Illuminant;
use crate::error::{Error, Result};
use crate::materials::{
    Amount, Build, Colorant, Contact, Cup, Grams, Millimetres, Mix, Poured, Shelf, Underlay,
};
use crate::recipe::{CupRecipe, Limits, Order, OrderedCup, OrderedUnderlay, tolerance};
use crate::report::{PartReport, PouredRecipe, json, terminal};
use crate::target::Target;

#[derive(Debug, clap::Args)]
pub(super) struct Options {
    /// The tone to match: L*,a*,b* under the book's light and observer, or a file kept by `target --save`
    #[arg(long, value_name = "L,a,b|FILE", allow_hyphen_values = true)]
    #[cfg_attr(feature = "photo", arg(conflicts_with = "photo"))]
    target: Option<String>,
    /// The tone to match, off a photograph: JPEG, PNG, TIFF or WebP
    #[cfg(feature = "photo")]
    #[arg(long, value_name = "PHOTO")]
    photo: Option<PathBuf>,
    #[command(flatten)]
    reading: Reading,

    /// The skin's base [default: the book's first skin]
    #[arg(long, value_name = "NAME", help_heading = "The part")]
    base: Option<String>,
    /// Mass of mixed skin (A + B)
    #[arg(long, value_name = "MASS", help_heading = "The part")]
    base_g: Grams,
    /// Thickness of the skin
    #[arg(
        long,
        value_name = "MM",
        default_value = "2",
        help_heading = "The part"
    )]
    thickness_mm: Millimetres,
    /// Weighed fibre in the skin's cup
    #[arg(
        long,
        value_name = "MASS",
        default_value = "0",
        help_heading = "The part"
    )]
    fibre_g: Grams,
    /// Mass of mixed foam (A + B) behind the skin, to be tinted too
    #[arg(
        long,
        value_name = "MASS",
        help_heading = "The part",
        conflicts_with = "backing"
    )]
    foam_g: Option<Grams>,
    /// The foam [default: the book's first foam]
    #[arg(
        long,
        value_name = "NAME",
        requires = "foam_g",
        help_heading = "The part"
    )]
    foam: Option<String>,
    /// What the skin is bonded to instead of foam: a backing of the book
    #[arg(long, value_name = "NAME", help_heading = "The part")]
    backing: Option<String>,
    /// Mass of clear paint to tint to the flush tone
    #[arg(long, value_name = "MASS", help_heading = "The part")]
    paint_g: Option<Grams>,
    /// The paint [default: the book's first paint]
    #[arg(
        long,
        value_name = "NAME",
        requires = "paint_g",
        help_heading = "The part"
    )]
    paint: Option<String>,
    /// Dry thickness of all coats of paint together
    #[arg(
        long,
        value_name = "MM",
        default_value = "0.03",
        requires = "paint_g",
        help_heading = "The part"
    )]
    paint_mm: Millimetres,
    /// What the part is called, on its sheet
    #[arg(
        long,
        value_name = "WORDS",
        default_value = "Part",
        help_heading = "The part"
    )]
    title: String,

    /// Only these pigments, let-downs as `name 1:10` [default: all that are dropped, and a let-down of those
    /// of which one drop is too much]
    #[arg(
        long,
        value_name = "NAME,…",
        value_delimiter = ',',
        help_heading = "The search"
    )]
    pigments: Option<Vec<Colorant>>,
    /// Most drops of one pigment in a cup; a foam takes as many times more as it rises
    #[arg(long, value_name = "N", value_parser = count_to::<u32>(10_000), default_value_t = Limits::default().max_drops, help_heading = "The search")]
    max_drops: u32,
    /// Most drops in a cup; in a foam, the same
    #[arg(long, value_name = "N", value_parser = count_to::<u32>(10_000), default_value_t = Limits::default().max_total_drops, help_heading = "The search")]
    max_total_drops: u32,
    /// Most different pigments in a cup
    #[arg(long, value_name = "N", value_parser = count_to::<usize>(1000), default_value_t = Limits::default().max_pigments, help_heading = "The search")]
    max_pigments: usize,
    /// Match under these lights at once: the mean ΔE00 is made least [default: the book's light]
    #[arg(
        long,
        value_name = "LIGHT,…",
        value_delimiter = ',',
        help_heading = "The search"
    )]
    illuminants: Vec<Illuminant>,
    /// How many recipes to give for each cup
    #[arg(
        long,
        value_name = "N",
        value_parser = count_to::<usize>(1000),
        default_value_t = 1,
        help_heading = "The search"
    )]
    top: usize,
    /// Call a recipe proven when no other can be nearer by more than this ΔE00; so far that is known only
    /// of a recipe whose own ΔE00 is no more
    #[arg(long, value_name = "GAP", value_parser = not_negative, default_value_t = Limits::default().within, help_heading = "The search")]
    within: f64,
    /// Give the best found after this many seconds; the answer then depends on the machine
    #[arg(long, value_name = "S", value_parser = not_negative, help_heading = "The search")]
    time_limit: Option<f64>,
    /// ΔE00 up to which the skin passes [default: by lightness, 0.59 for light skin to 1.75 for dark]
    #[arg(long, value_name = "ΔE00", value_parser = not_negative, help_heading = "The search")]
    tolerance: Option<f64>,

    /// Write a mix sheet to print: one HTML file, A5
    #[cfg(feature = "page")]
    #[arg(long, value_name = "FILE")]
    sheet: Option<PathBuf>,
}

/// Standard deviation of the predicted L* from which a test piece is worth more than the prediction.
const GUESS_L_SD: f64 = 1.0;

pub(super) fn run(options: &Options, everywhere: &Everywhere) -> Result<Outcome> {
    let begun = Instant::now();
    let book = everywhere.open_book()?;
    let shelf = book.shelf();
    let viewing = shelf.settings.viewing;
    let target = options.read_target(&book)?;
    let lights = if options.illuminants.is_empty() {
        vec![viewing.illuminant]
    } else {
        options.illuminants.clone()
    };
    let recipe = options.order(shelf, &lights)?.search(&target)?;

    let mut notes = Vec::new();
    let [l_sd, ..] = recipe.skin.best().prediction.spread;
    if l_sd > GUESS_L_SD {
        notes.push(format!(
            "the curves in this book leave L* uncertain by ±{l_sd:.1}: cast a small test piece of the skin before the \
             part, read it and log it"
        ));
    }
    if options.paint_g.is_some() && recipe.paint.is_none() {
        notes.push(
            "no paint recipe: the target has no flush tone (add one with --flush L,a,b)".to_owned(),
        );
    }
    let poured = |recipe: CupRecipe, aims_at: &'static str| -> Result<PouredRecipe> {
        let best = &recipe.best().poured;
        let cup = Cup::pour(shelf, &best.base, best.base_mass, &best.mix)?;
        let pour = pour(&cup, Scale::ONE, &shelf.settings)?;
        Ok(PouredRecipe {
            recipe,
            pour,
            aims_at,
        })
    };
    let date = jiff::Zoned::now().date().to_string();
    let finished = recipe.painted.as_ref().unwrap_or(&recipe.build);
    let report = PartReport {
        title: &options.title,
        date: &date,
        book: &shelf.settings.name,
        target: &target,
        log_command: log_command(finished, book.folder()),
        foam: recipe
            .foam
            .map(|foam| {
                let aims_at = foam_aims_at(&foam, &target);
                poured(foam, aims_at)
            })
            .transpose()?,
        skin: poured(recipe.skin, "the base tone")?,
        paint: recipe
            .paint
            .map(|paint| poured(paint, "the flush tone, over the finished skin"))
            .transpose()?,
        tolerance: options.tolerance.unwrap_or_else(|| tolerance(target.lab)),
        notes,
    };
    #[cfg(feature = "page")]
    if let Some(file) = &options.sheet {
        crate::book::write_whole(file, crate::report::sheet::part(&report).as_bytes())?;
    }
    let text = if everywhere.json {
        json::part(
            &report,
            &viewing.weights(),
            &lights,
            begun.elapsed().as_secs_f64(),
        )
    } else {
        terminal::part(&report)
    };
    Ok(Outcome {
        text,
        code: u8::from(!report.passes()),
    })
}

impl Options {
    fn read_target(&self, book: &Book) -> Result<Target> {
        let viewing = book.shelf().settings.viewing;
        #[cfg(feature = "photo")]
        if let Some(photo) = &self.photo {
            return self.reading.with_flush(self.reading.photo(photo, viewing)?);
        }
        let Some(typed) = &self.target else {
            return Err(nothing_to_match());
        };
        let target = match typed.parse() {
            Ok(TypedLab(lab)) => Target::from_lab(lab, viewing)?,
            // With a comma it is a faulty colour rather than the name of a missing file.
            Err(faulty) if typed.contains(',') && !Path::new(typed).exists() => return Err(faulty),
            Err(_) => Target::read(Path::new(typed))?,
        };
        self.reading.with_flush(target)
    }

    fn order<'shelf>(&self, shelf: &'shelf Shelf, lights: &[Illuminant]) -> Result<Order<'shelf>> {
        let cup = |name: &Option<String>, kind: &str, base_mass| {
            Ok(OrderedCup {
                base: base_name(shelf, name.as_deref(), kind)?,
                base_mass,
            })
        };
        let beneath = match (self.foam_g, &self.backing) {
            (Some(mass), _) => OrderedUnderlay::Foam(cup(&self.foam, "foam", mass)?),
            (None, Some(name)) => OrderedUnderlay::Backing {
                name: name.clone(),
                contact: Contact::Bonded,
            },
            (None, None) => {
                return Err(Error::input("nothing lies beneath the skin")
                    .mend("give the mass of foam with --foam-g, or name a --backing"));
            }
        };
        let fibre = match self.fibre_g {
            Grams(mass) if mass > 0.0 => {
                vec![(Colorant::neat("fibre"), Amount::Mass(self.fibre_g))]
            }
            _ => Vec::new(),
        };
        for Colorant { pigment, .. } in self.pigments.iter().flatten() {
            if shelf.pigment(pigment)?.drop_mass.is_none() {
                let finding = format!("`{pigment}` is weighed, and a search counts drops");
                return Err(Error::input(finding)
                    .mend("leave it out of --pigments, and weigh fibre with --fibre-g"));
            }
        }
        let time_limit = self.time_limit.map(Duration::try_from_secs_f64).transpose();
        let time_limit = time_limit.map_err(|_| {
            Error::input("--time-limit is no span of time").mend("write seconds, such as 2")
        })?;
        Ok(Order {
            shelf,
            skin: cup(&self.base, "skin", self.base_g)?,
            thickness: self.thickness_mm,
            beneath,
            paint: match self.paint_g {
                Some(mass) => Some((cup(&self.paint, "paint", mass)?, self.paint_mm)),
                None => None,
            },
            in_the_skin: Mix::new(fibre)?,
            colorants: self.pigments.clone(),
            lights: lights.to_vec(),
            limits: Limits {
                max_drops: self.max_drops,
                max_total_drops: self.max_total_drops,
                max_pigments: self.max_pigments,
                top: self.top,
                within: self.within,
                time_limit,
            },
        })
    }
}

fn nothing_to_match() -> Error {
    Error::input("nothing to match").mend(if cfg!(feature = "photo") {
        "give a colour or a saved target with --target, or a photograph with --photo"
    } else {
        "give a colour or a saved target with --target"
    })
}

fn foam_aims_at(foam: &CupRecipe, target: &Target) -> &'static str {
    if foam.aim.l > target.lab.l {
        "the base tone, seen bare, lightened so that the skin has room"
    } else {
        "the base tone, seen bare"
    }
}

/// The base called `name`, or the shelf's first of that kind.
fn base_name(shelf: &Shelf, name: Option<&str>, kind: &str) -> Result<String> {
    if let Some(name) = name {
        return Ok(shelf.base(name)?.name.clone());
    }
    let first = shelf.bases.iter().find(|base| base.kind.word() == kind);
    first.map(|base| base.name.clone()).ok_or_else(|| {
        Error::input(format!("this book has no {kind} base")).mend("add one to bases.csv")
    })
}

/// The `swatch add` that logs a reading of `build`, but for what is written in capitals.
fn log_command(build: &Build, book: Option<&Path>) -> String {
    let poured = |option: &str, poured: &Poured| {
        let [base, mix] = [&poured.base, &poured.mix.to_string()].map(|text| quoted(text));
        let mass = poured.base_mass.0;
        match option {
            "base" => format!("--base {base} --base-g {mass} --mix {mix}"),
            _ => format!("--{option} {base} --{option}-g {mass} --{option}-mix {mix}"),
        }
    };
    let book = match book {
        // The demo is never written to.
        None => " --book DIR".to_owned(),
        Some(here) if here == Path::new(".") => String::new(),
        Some(folder) => format!(" --book {}", quoted(&folder.display().to_string())),
    };
    let mut words = vec![
        format!("dropwise swatch add{book}"),
        poured("base", &build.skin),
        format!("--thickness-mm {}", build.thickness.0),
        match &build.beneath {
            Underlay::Foam(foam) => poured("foam", foam),
            Underlay::Backing { name, .. } => format!("--backing {}", quoted(name)),
        },
    ];
    if let Some(coat) = &build.paint {
        words.push(poured("paint", &coat.paint));
        words.push(format!("--paint-mm {}", coat.dry_thickness.0));
    }
    words.push("--lab L,a,b".to_owned());
    words.join(" ")
}

/// `text` as one word of a shell's.
fn quoted(text: &str) -> String {
    let escaped = text.chars().flat_map(|letter| {
        let escape = "\\\"$`".contains(letter).then_some('\\');
        escape.into_iter().chain([letter])
    });
    format!("\"{}\"", escaped.collect::<String>())
}
