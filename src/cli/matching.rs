//! `dropwise match`: from a target to cups.

use std::path::Path;
#[cfg(any(feature = "photo", feature = "page"))]
use std::path::PathBuf;
use std::time::{Duration, Instant};

use super::input::{TypedLab, count_to, not_negative};
use super::target::Reading;
use super::{Everywhere, Outcome};
use crate::batch::{Pour, Scale, pour};
use crate::book::Book;
use crate::colour::Illuminant;
use crate::error::{Error, Result};
use crate::materials::{
    Amount, Base, BaseKind, Build, Colorant, Contact, Cup, Grams, Kind, Millimetres, Mix, Shelf,
    Underlay,
};
use crate::optics::Foam;
use crate::recipe::{CupRecipe, Limits, Order, OrderedCup, OrderedUnderlay, PartRecipe, tolerance};
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
    /// The largest pot that you can use up within the pot life; more is split into pots alike
    #[arg(long, value_name = "MASS", help_heading = "The part")]
    largest_pot: Option<Grams>,
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
    /// Most drops of one pigment in a cup [default: 40, and more in a cup above 600 g or in a foam]
    #[arg(long, value_name = "N", value_parser = count_to::<u32>(10_000), help_heading = "The search")]
    max_drops: Option<u32>,
    /// Most drops in a cup [default: 60, and more in a cup above 600 g or in a foam]
    #[arg(long, value_name = "N", value_parser = count_to::<u32>(10_000), help_heading = "The search")]
    max_total_drops: Option<u32>,
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

/// Contrast ratio below which a skin is as good as clear.
const CLEAR_SKIN: f64 = 0.15;

pub(super) fn run(options: &Options, everywhere: &Everywhere) -> Result<Outcome> {
    let begun = Instant::now();
    let book = everywhere.open_book()?;
    let shelf = book.shelf();
    let viewing = shelf.settings.viewing;
    let target = options.read_target(&book)?;
    let lights = match options.illuminants.as_slice() {
        [] => vec![viewing.illuminant],
        lights => lights.to_vec(),
    };
    let order = options.order(shelf, &target, &lights)?;
    let recipe = order.search(&target)?;

    let notes = notes(options, &book, &recipe);
    let poured = |recipe: CupRecipe, aims_at: &'static str| -> Result<PouredRecipe> {
        let cup = Cup::pour(shelf, &recipe.best().poured)?;
        let scale = Scale {
            factor: 1.0,
            largest_pot: options.largest_pot,
        };
        let pour = pour(&cup, scale, &shelf.settings)?;
        let apply = apply(&cup.base, options);
        Ok(PouredRecipe {
            recipe,
            pour,
            aims_at,
            apply,
        })
    };
    let date = jiff::Zoned::now().date().to_string();
    let foam_aims_at = |foam: &CupRecipe| {
        if foam.aim.l > target.lab.l {
            "the base tone, seen bare, lightened so that the skin has room; its own difference matters little, since \
             the skin is worked out over what comes out"
        } else {
            "the base tone, seen bare; its own difference matters little, since the skin is worked out over what \
             comes out"
        }
    };
    let mut report = PartReport {
        title: &options.title,
        date: &date,
        book: &shelf.settings.name,
        target: &target,
        skin: poured(recipe.skin, "the base tone")?,
        foam: match recipe.foam {
            Some(foam) => {
                let aims_at = foam_aims_at(&foam);
                Some(poured(foam, aims_at)?)
            }
            None => None,
        },
        paint: match recipe.paint {
            Some(paint) => Some(poured(paint, "the flush tone, over the finished skin")?),
            None => None,
        },
        tolerance: order.tolerance,
        notes,
        log_command: String::new(),
    };
    report.log_command = log_command(&report, &recipe.build, options, book.folder())?;
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

/// What the maker should know of this match beside its numbers.
fn notes(options: &Options, book: &Book, recipe: &PartRecipe) -> Vec<String> {
    let mut notes = Vec::new();
    let skin = recipe.skin.best();
    let [l_sd, ..] = skin.prediction.spread();
    if l_sd > GUESS_L_SD {
        notes.push(format!(
            "what this book knows leaves L* uncertain by ±{l_sd:.1}: cast a small test piece of the skin before the \
             part, read it and log it"
        ));
    }
    if skin.prediction.contrast_ratio < CLEAR_SKIN {
        let underlay = if recipe.foam.is_some() {
            "foam"
        } else {
            "backing"
        };
        notes.push(format!(
            "this skin is nearly clear: the {underlay} behind it carries the colour, and shows (fibre makes it denser)"
        ));
    }
    if options.paint_g.is_some() && recipe.paint.is_none() {
        notes.push(
            "no paint recipe: the target has no flush tone (add one with --flush L,a,b)".to_owned(),
        );
    }
    if book.folder().is_none() {
        notes.push("from the built-in demo book, whose materials are invented: begin your own with `dropwise new DIR`".to_owned());
    }
    notes
}

/// How a cup of `base` is put on.
fn apply(base: &Base, options: &Options) -> String {
    match base.kind {
        BaseKind::Skin => format!("brush it {} thick", options.thickness_mm),
        BaseKind::Foam(Foam { expansion, .. }) => {
            format!("pour it behind the skin; it rises to {expansion} times its volume")
        }
        BaseKind::Paint { solids } => {
            let Millimetres(dry_mm) = options.paint_mm;
            // 100 cm² of a film 1 mm thick are 10 ml; the dried film is taken as dense as the paint.
            let wet_g = dry_mm * 10.0 * base.density_g_ml / solids;
            format!("spray thin coats, {dry_mm} mm dry in all: about {wet_g:.1} g on 100 cm²")
        }
    }
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

    fn order<'shelf>(
        &self,
        shelf: &'shelf Shelf,
        target: &Target,
        lights: &[Illuminant],
    ) -> Result<Order<'shelf>> {
        let cup = |name: &Option<String>, kind: Kind, base_mass| {
            Ok(OrderedCup {
                base: base_name(shelf, name.as_deref(), kind)?,
                base_mass,
            })
        };
        let beneath = match (self.foam_g, &self.backing) {
            (Some(mass), _) => OrderedUnderlay::Foam(cup(&self.foam, Kind::Foam, mass)?),
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
            skin: cup(&self.base, Kind::Skin, self.base_g)?,
            thickness: self.thickness_mm,
            beneath,
            paint: match self.paint_g {
                Some(mass) => Some((cup(&self.paint, Kind::Paint, mass)?, self.paint_mm)),
                None => None,
            },
            in_the_skin: Mix::new(fibre)?,
            colorants: self.pigments.clone(),
            lights: lights.to_vec(),
            tolerance: self.tolerance.unwrap_or_else(|| tolerance(target.lab)),
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

/// The base called `name`, or the shelf's first of that kind.
fn base_name(shelf: &Shelf, name: Option<&str>, kind: Kind) -> Result<String> {
    if let Some(name) = name {
        return Ok(shelf.base(name)?.name.clone());
    }
    let first = shelf.bases.iter().find(|base| base.kind.kind() == kind);
    first.map(|base| base.name.clone()).ok_or_else(|| {
        Error::input(format!("this book has no {kind} base")).mend("add one to bases.csv")
    })
}

/// The `swatch add` that logs a reading of what was poured for `report`, but for what is written in capitals.
fn log_command(
    report: &PartReport<'_>,
    build: &Build,
    options: &Options,
    book: Option<&Path>,
) -> Result<String> {
    let poured = |option: &str, cup: &PouredRecipe| -> Result<String> {
        let Pour { base, base_g, .. } = &cup.pour;
        let [base, mix] = [base, &cup.pour.mix()?.to_string()].map(|text| quoted(text));
        Ok(match option {
            "base" => format!("--base {base} --base-g {base_g} --mix {mix}"),
            _ => format!("--{option} {base} --{option}-g {base_g} --{option}-mix {mix}"),
        })
    };
    let book = match book {
        // The demo is never written to.
        None => " --book DIR".to_owned(),
        Some(here) if here == Path::new(".") => String::new(),
        Some(folder) => format!(" --book {}", quoted(&folder.display().to_string())),
    };
    let mut words = vec![
        format!("dropwise swatch add{book}"),
        poured("base", &report.skin)?,
        format!("--thickness-mm {}", options.thickness_mm.0),
    ];
    match (&report.foam, &build.beneath) {
        (Some(foam), _) => words.push(poured("foam", foam)?),
        (None, Underlay::Backing { name, .. }) => words.push(format!("--backing {}", quoted(name))),
        (None, Underlay::Foam(_)) => {}
    }
    if let Some(paint) = &report.paint {
        words.push(poured("paint", paint)?);
        words.push(format!("--paint-mm {}", options.paint_mm.0));
    }
    words.push("--lab L,a,b".to_owned());
    Ok(words.join(" "))
}

/// `text` as one word of a shell's.
fn quoted(text: &str) -> String {
    let escaped = text.chars().flat_map(|letter| {
        let escape = "\\\"$`".contains(letter).then_some('\\');
        escape.into_iter().chain([letter])
    });
    format!("\"{}\"", escaped.collect::<String>())
}
