//! A target from the book: match a part to one that was cast.

use crate::book::Book;
use crate::colour::{Lab, Translucency};
use crate::error::{Error, Result};
use crate::materials::{Geometry, Reading, Settings, Shelf, Swatch};
use crate::tone::Target;

/// An earlier casting, by its name in the book.
#[derive(Debug, clap::Args)]
pub(super) struct Like {
    /// An earlier casting of the book: its swatch's name, as in S012; its readings are averaged, and its translucency is
    /// taken where it was read over the white and the black card
    #[arg(long, value_name = "SWATCH", conflicts_with = "target")]
    #[cfg_attr(feature = "photo", arg(conflicts_with_all = ["photo", "readings"]))]
    #[cfg_attr(not(feature = "photo"), arg(conflicts_with = "readings"))]
    like: Option<String>,
    /// Which of its readings, where it was read over several backings
    #[arg(long, value_name = "BACKING", requires = "like")]
    like_over: Option<String>,
}

impl Like {
    /// The target that the swatch makes; `None` where none is named.
    pub(super) fn target(&self, book: &Book) -> Result<Option<Target>> {
        let Some(name) = &self.like else {
            return Ok(None);
        };
        let swatches = book.swatches();
        let of_it: Vec<&Swatch> = swatches.iter().filter(|row| row.id == *name).collect();
        if of_it.is_empty() {
            let names = swatches.iter().map(|row| row.id.as_str());
            return Err(Error::unknown_name("swatch", name, names));
        }
        let over = self.underlay(name, &of_it)?;
        let settings = &book.shelf().settings;
        let readings: Vec<Reading> = of_it
            .iter()
            .filter(|row| row.build.beneath.name() == over)
            .map(|row| reading(row, settings))
            .collect();
        let mut target = Target::from_readings(&readings, settings)
            .map_err(|error| error.within(format_args!("swatch `{name}`")))?;
        target.translucency = translucency(&of_it, settings);
        target
            .notes
            .insert(0, format!("as the swatch {name} was read, over {over}"));
        Ok(Some(target))
    }

    /// What lay under the readings that count.
    fn underlay<'a>(&'a self, name: &str, of_it: &[&'a Swatch]) -> Result<&'a str> {
        let mut underlays: Vec<&str> = of_it.iter().map(|row| row.build.beneath.name()).collect();
        underlays.sort_unstable();
        underlays.dedup();
        match (&self.like_over, underlays.as_slice()) {
            (Some(over), all) => {
                all.iter()
                    .find(|known| *known == over)
                    .copied()
                    .ok_or_else(|| {
                        Error::unknown_name("backing of that swatch", over, all.iter().copied())
                    })
            }
            (None, [only]) => Ok(*only),
            (None, several) => {
                let finding = format!(
                    "the swatch `{name}` was read over {}, and looks otherwise over each",
                    several.join(" and ")
                );
                Err(Error::input(finding)
                    .mend(format!("say which with --like-over \"{}\"", several[0])))
            }
        }
    }
}

/// A row of the book as the book's own instrument read it.
fn reading(swatch: &Swatch, settings: &Settings) -> Reading {
    Reading {
        name: format!("{} of {}", swatch.id, swatch.date),
        reflectance: swatch.reflectance,
        lab: swatch.lab.map(|lab| (lab, settings.viewing)),
        geometry: Geometry {
            specular: Some(settings.surface.specular()),
            aperture_mm: None,
        },
    }
}

/// What the chip shows of black and white, if it was read over both cards.
fn translucency(of_it: &[&Swatch], settings: &Settings) -> Option<Translucency> {
    let weights = settings.viewing.weights();
    let over = |card: &str| -> Option<Lab> {
        let labs: Vec<Lab> = of_it
            .iter()
            .filter(|row| row.build.beneath.name() == card)
            .filter_map(|row| row.measured(&weights))
            .collect();
        let count = labs.len() as f64;
        let sum = |axis: fn(&Lab) -> f64| labs.iter().map(axis).sum::<f64>() / count;
        (!labs.is_empty()).then(|| Lab::new(sum(|lab| lab.l), sum(|lab| lab.a), sum(|lab| lab.b)))
    };
    let (black, white) = (over(Shelf::BLACK_CARD)?, over(Shelf::WHITE_CARD)?);
    Some(Translucency::of(black, white, &weights))
}
