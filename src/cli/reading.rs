//! A reading of a casting, as it is typed.

use std::path::PathBuf;

use jiff::civil::Date;

use super::cast::Cast;
#[cfg(feature = "photo")]
use super::chip_photo::ChipPhoto;
use super::day_of::{day, today};
use super::typed::{TypedLab, aperture_mm};
use crate::book::{Book, PhotographedChip, read_reflectance};
use crate::error::Result;
use crate::jobs::logging::OfPart;
use crate::materials::{Geometry, Mix, Swatch};
use crate::optics::Specular;

#[derive(Clone, Debug, clap::Args)]
pub(super) struct Reading {
    /// Name of the chip; the same name again is a second reading of it [default: the next number]
    #[arg(long, value_name = "NAME")]
    swatch: Option<String>,
    /// The part's casting that was read once more, as under its paint: a swatch's name, as in S012; its cups are as they are
    /// logged [default: the cup that was corrected last, else a new one by the part's recipe]
    #[arg(long, value_name = "SWATCH", requires = "part")]
    casting: Option<String>,
    /// What really went into its skin, all of it, where that was not what the recipe says
    #[arg(long, value_name = "MIX", requires = "part")]
    poured: Option<Mix>,
    /// The day of the reading [default: today]
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = day)]
    date: Option<Date>,
    #[command(flatten)]
    cast: Cast,
    #[command(flatten)]
    read: Read,
}

/// What was read of it.
#[derive(Clone, Debug, clap::Args)]
#[command(next_help_heading = "What was read")]
struct Read {
    /// The reading, under the book's light and observer
    #[arg(long, value_name = "L,a,b", allow_hyphen_values = true)]
    #[cfg_attr(not(feature = "photo"), arg(required_unless_present = "r_file"))]
    #[cfg_attr(feature = "photo", arg(required_unless_present_any = ["r_file", "chip_photo"], conflicts_with = "chip_photo"))]
    lab: Option<TypedLab>,
    /// The reading as a spectrum: CGATS text, or a CSV file with wavelength_nm,r; several of one chip are averaged
    #[arg(long, value_name = "FILE")]
    #[cfg_attr(feature = "photo", arg(conflicts_with = "chip_photo"))]
    r_file: Option<PathBuf>,
    #[cfg(feature = "photo")]
    #[command(flatten)]
    photo: ChipPhoto,
    /// Whether the light mirrored at the surface was counted [default: as the file says, or else book.toml]
    #[arg(long, value_name = "included|excluded|45/0")]
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

impl Reading {
    /// The part that it is a reading of, where one is named.
    pub(super) fn of_part(&self) -> Option<OfPart<'_>> {
        self.cast.of_part()
    }

    /// The row of the log that it makes, and what the camera gave where it is read off a photograph.
    pub(super) fn into_swatch(self, book: &Book) -> Result<(Swatch, Option<PhotographedChip>)> {
        let Self {
            swatch,
            casting,
            poured,
            date,
            cast,
            read,
        } = self;
        let Read {
            lab,
            r_file,
            #[cfg(feature = "photo")]
            photo,
            specular,
            aperture_mm,
            batch,
            note,
        } = read;
        let (reflectance, stated) = match r_file.as_deref().map(read_reflectance).transpose()? {
            Some((reflectance, stated)) => (Some(reflectance), stated),
            None => (None, Geometry::default()),
        };
        let date = date.unwrap_or_else(today);
        let mut build = cast.build(book, casting.as_deref(), date)?;
        if let Some(poured) = poured {
            build.skin.mix = poured;
        }
        #[cfg(feature = "photo")]
        if let Some(chip) = photo.read(book, &build, specular)? {
            let swatch = Swatch {
                id: swatch.unwrap_or_default(),
                geometry: chip.geometry,
                batch,
                photo: chip.photographed.photo.clone(),
                note,
                ..Swatch::of(build, chip.lab, date)
            };
            return Ok((swatch, Some(chip.photographed)));
        }
        let swatch = Swatch {
            // Without a name it takes the next number.
            id: swatch.unwrap_or_default(),
            date,
            build,
            lab: lab.map(|TypedLab(lab)| lab),
            reflectance,
            geometry: Geometry {
                specular: specular.or(stated.specular),
                aperture_mm: aperture_mm.or(stated.aperture_mm),
            },
            batch,
            photo: String::new(),
            common_errors: Vec::new(),
            note,
        };
        Ok((swatch, None))
    }
}
