//! `dropwise swatch`: the log of what came out of the mould.

use std::path::{Path, PathBuf};

use jiff::civil::Date;

use super::input::{TypedLab, aperture_mm, day, today};
use super::{Everywhere, Outcome};
use crate::book::{Book, read_reflectance, write_document};
use crate::colour::{Lab, Viewing};
use crate::error::{Error, Result};
use crate::forecast::Doubts;
use crate::materials::Casting;
use crate::materials::{
    Build, Coat, Contact, Geometry, Grams, Kind, Millimetres, Mix, Poured, Swatch, Underlay,
};
use crate::optics::Specular;
use crate::report::{Logged, swatches};

#[derive(Debug, clap::Args)]
pub(super) struct Options {
    #[command(subcommand)]
    action: Action,
}

#[derive(Debug, clap::Subcommand)]
enum Action {
    /// Log a reading of a chip or part, and show it beside the prediction
    Add(Box<Reading>),
    /// Show every logged reading beside its prediction
    List,
    /// Write every logged reading to a file that other programs read: CGATS.17 text
    Export(Export),
}

#[derive(Debug, clap::Args)]
struct Export {
    /// The file to write; one of that name is replaced
    #[arg(value_name = "FILE")]
    file: PathBuf,
}

#[derive(Debug, clap::Args)]
struct Reading {
    /// Name of the chip; the same name again is a second reading of it [default: the next number]
    #[arg(long, value_name = "NAME")]
    swatch: Option<String>,
    /// The day of the reading [default: today]
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = day)]
    date: Option<Date>,
    #[command(flatten)]
    cast: Cast,
    #[command(flatten)]
    read: Read,
}

/// What was cast.
#[derive(Debug, clap::Args)]
#[command(next_help_heading = "What was cast")]
pub(super) struct Cast {
    /// The skin's base, or that of a one-layer chip
    #[arg(long, value_name = "NAME")]
    base: String,
    /// Mass of its mixed base (A + B)
    #[arg(long, value_name = "MASS")]
    base_g: Grams,
    /// What went in, as in "iron oxide red 3; fibre 12.5 g"
    #[arg(
        long,
        value_name = "MIX",
        default_value = "",
        hide_default_value = true
    )]
    mix: Mix,
    /// Its thickness, measured
    #[arg(long, value_name = "MM")]
    thickness_mm: Millimetres,
    /// The card or backing behind it
    #[arg(long, value_name = "NAME", conflicts_with = "foam")]
    backing: Option<String>,
    /// bonded: cast on the backing or wetted to it; dry: laid on it, with air between
    #[arg(long, value_name = "bonded|dry", default_value_t = Contact::Bonded, requires = "backing")]
    contact: Contact,
    /// The foam behind it
    #[arg(long, value_name = "NAME", requires = "foam_g")]
    foam: Option<String>,
    /// Mass of the mixed foam
    #[arg(long, value_name = "MASS", requires = "foam")]
    foam_g: Option<Grams>,
    /// What went into the foam
    #[arg(
        long,
        value_name = "MIX",
        requires = "foam",
        default_value = "",
        hide_default_value = true
    )]
    foam_mix: Mix,
    /// The paint over it
    #[arg(long, value_name = "NAME", requires_all = ["paint_g", "paint_mm"])]
    paint: Option<String>,
    /// Mass of the paint's clear base
    #[arg(long, value_name = "MASS", requires = "paint")]
    paint_g: Option<Grams>,
    /// What went into the paint
    #[arg(
        long,
        value_name = "MIX",
        requires = "paint",
        default_value = "",
        hide_default_value = true
    )]
    paint_mix: Mix,
    /// Dry thickness of all its coats
    #[arg(long, value_name = "MM", requires = "paint")]
    paint_mm: Option<Millimetres>,
}

/// What was read of it.
#[derive(Debug, clap::Args)]
#[command(next_help_heading = "What was read")]
struct Read {
    /// The reading, under the book's light and observer
    #[arg(
        long,
        required_unless_present = "r_file",
        value_name = "L,a,b",
        allow_hyphen_values = true
    )]
    lab: Option<TypedLab>,
    /// The reading as a spectrum: CGATS text, or a CSV file with wavelength_nm,r; several of one chip are averaged
    #[arg(long, value_name = "FILE")]
    r_file: Option<PathBuf>,
    /// Whether the light mirrored at the surface was counted [default: as the file says, or else book.toml]
    #[arg(long, value_name = "included|excluded")]
    specular: Option<Specular>,
    /// Diameter of the spot that was read [default: as the file says]; a small one loses light at its edge
    #[arg(long, value_name = "MM", value_parser = aperture_mm)]
    aperture_mm: Option<f64>,
    /// The batch that it came from
    #[arg(
        long,
        value_name = "WORDS",
        default_value = "",
        hide_default_value = true
    )]
    batch: String,
    /// Anything worth keeping
    #[arg(
        long,
        value_name = "WORDS",
        default_value = "",
        hide_default_value = true
    )]
    note: String,
}

pub(super) fn run(options: Options, everywhere: &Everywhere) -> Result<Outcome> {
    let mut book = everywhere.open_book()?;
    let (first, doubtful) = match options.action {
        Action::List => (0, book.doubtful_readings()?),
        Action::Export(Export { file }) => return export(&book, &file, everywhere),
        Action::Add(reading) => {
            let swatch = reading.into_swatch()?;
            check_one_reading(&swatch, book.shelf().settings.viewing)?;
            // What the model can't tell is not logged: the log could then not be shown beside it.
            let casting = Casting::new(book.shelf(), &swatch.build)?;
            let slips = slips(&swatch, &casting, &book)?;
            book.add_swatch(&swatch)?;
            (book.swatches().len().saturating_sub(1), slips)
        }
    };
    let logged = beside_predictions(&book, first)?;
    Ok(Outcome::done(if everywhere.json {
        swatches::json(&logged, &doubtful)
    } else {
        swatches::text(&logged, &doubtful)
    }))
}

/// What may be a slip of the pen in `swatch`, which `casting` is, beside what `book` has.
fn slips(swatch: &Swatch, casting: &Casting<'_>, book: &Book) -> Result<Vec<Error>> {
    /// Skins are cast 1 to 3 mm thick. Common practice, no source.
    const THICK_SKIN_MM: f64 = 10.0;
    let mut slips = Vec::new();
    if let Some(twin) = book.swatches().iter().find(|other| swatch.repeats(other)) {
        let finding = format!(
            "the same casting with the same reading is logged as `{}` already, and now counts twice",
            twin.id.escape_debug()
        );
        let mend = "take one of the two rows out of swatches.csv, if it was read once";
        slips.push(Error::input(finding).mend(mend));
    }
    let Millimetres(thickness_mm) = swatch.build.thickness;
    let base = book.shelf().base(&swatch.build.skin.base)?;
    if base.kind.kind() == Kind::Skin && thickness_mm > THICK_SKIN_MM {
        let finding = format!("a skin of {thickness_mm} mm is unusual");
        slips.push(Error::input(finding).mend("check the point of --thickness-mm"));
    }
    for cup in casting.cups() {
        slips.extend(cup.check_loads().err().map(|error| {
            error.mend("check the mass of the base, the point, and drops against grams; mend the row in swatches.csv")
        }));
    }
    Ok(slips)
}

/// Refuses a colour and a spectrum that are not of one reading: which of the two is wrong can't be told later.
fn check_one_reading(swatch: &Swatch, viewing: Viewing) -> Result<()> {
    let weights = viewing.weights();
    let of_spectrum = swatch
        .reflectance
        .map(|reflectance| weights.lab(&reflectance));
    let (Some(apart), Some(Lab { l, a, b, .. })) =
        (swatch.contradicts_itself(&weights), of_spectrum)
    else {
        return Ok(());
    };
    let finding = format!(
        "--lab lies ΔE00 {apart:.1} from the colour of the spectrum in --r-file: that is L*,a*,b* {l:.1},{a:.1},{b:.1} under {viewing}"
    );
    Err(Error::input(finding)
        .mend("check the numbers and the file; the spectrum is enough, without --lab"))
}

fn export(book: &Book, file: &Path, everywhere: &Everywhere) -> Result<Outcome> {
    write_document(file, &book.cgats(today())?)?;
    let count = book.swatches().len();
    Ok(Outcome::done(if everywhere.json {
        swatches::exported_json(file, count)
    } else {
        swatches::exported_text(file, count)
    }))
}

impl Reading {
    fn into_swatch(self) -> Result<Swatch> {
        let Self {
            swatch,
            date,
            cast,
            read,
        } = self;
        let Read {
            lab,
            r_file,
            specular,
            aperture_mm,
            batch,
            note,
        } = read;
        let (reflectance, stated) = match r_file.as_deref().map(read_reflectance).transpose()? {
            Some((reflectance, stated)) => (Some(reflectance), stated),
            None => (None, Geometry::default()),
        };
        Ok(Swatch {
            // Without a name it takes the next number.
            id: swatch.unwrap_or_default(),
            date: date.unwrap_or_else(today),
            build: cast.into_build()?,
            lab: lab.map(|TypedLab(lab)| lab),
            reflectance,
            geometry: Geometry {
                specular: specular.or(stated.specular),
                aperture_mm: aperture_mm.or(stated.aperture_mm),
            },
            batch,
            note,
        })
    }
}

impl Cast {
    pub(super) fn into_build(self) -> Result<Build> {
        let poured = |base: String, base_mass: Option<Grams>, mix: Mix| Poured {
            base,
            // The arguments' rules ask for a mass wherever a base is named.
            base_mass: base_mass.unwrap_or_default(),
            mix,
        };
        let beneath = match (self.foam, self.backing) {
            (Some(foam), _) => Underlay::Foam(poured(foam, self.foam_g, self.foam_mix)),
            (None, Some(name)) => Underlay::Backing {
                name,
                contact: self.contact,
            },
            (None, None) => {
                return Err(Error::input("nothing lies beneath the skin")
                    .mend("name a --backing or a --foam"));
            }
        };
        let paint = self.paint.map(|paint| Coat {
            paint: poured(paint, self.paint_g, self.paint_mix),
            dry_thickness: self.paint_mm.unwrap_or_default(),
        });
        Ok(Build {
            skin: poured(self.base, Some(self.base_g), self.mix),
            thickness: self.thickness_mm,
            beneath,
            paint,
        })
    }
}

fn beside_predictions(book: &Book, first: usize) -> Result<Vec<Logged<'_>>> {
    let weights = book.shelf().settings.viewing.weights();
    let logged = book.swatches()[first..].iter().map(|swatch| {
        let casting = Casting::of_swatch(book.shelf(), swatch)?;
        let predicted = casting.predict(&weights, Doubts::All).lab;
        // A reading without colour does not pass the book's reading.
        Ok(Logged {
            swatch,
            measured: swatch.measured(&weights).unwrap_or(predicted),
            predicted,
        })
    });
    logged.collect()
}
