//! The tone to match: off an instrument's files, or off an earlier casting of the book.

use std::path::PathBuf;

use crate::book::{Book, read_readings};
use crate::colour::{Lab, Spectrum, Translucency};
use crate::error::{Error, Mend, Result, Setting};
use crate::materials::{Backing, Geometry, Reading, Settings, Shelf, Swatch};
use crate::tone::{FarOff, Target};

/// The target that the readings in `files`, at least one, make: their mean.
///
/// # Errors
/// As [`read_readings`] and [`Target::from_readings`].
pub fn from_readings(files: &[PathBuf], settings: &Settings, far_off: FarOff) -> Result<Target> {
    let mut readings = Vec::new();
    for path in files {
        readings.extend(read_readings(path, settings.viewing)?);
    }
    // Several files have no one name to blame.
    let target = Target::from_readings(&readings, settings, far_off);
    match files {
        [only] => target.map_err(|error| error.in_file(only)),
        _ => target,
    }
}

/// The target that the swatch called `name` makes: the mean of its readings over `over`, which may be left out where there is
/// one underlay; its translucency too, where it was read over the white and the black card.
///
/// # Errors
/// A name that no swatch bears; several underlays, and none is named; readings that have no common mean.
pub fn like(book: &Book, name: &str, over: Option<&str>) -> Result<Target> {
    let swatches = book.swatches()?;
    let of_it: Vec<&Swatch> = swatches.iter().filter(|row| row.id == name).collect();
    if of_it.is_empty() {
        let names = swatches.iter().map(|row| row.id.as_str());
        return Err(Error::unknown_name("swatch", name, names));
    }
    let over = underlay(name, over, &of_it)?;
    let settings = &book.shelf().settings;
    let readings: Vec<Reading> = of_it
        .iter()
        .filter(|row| row.build.beneath.name() == over)
        .map(|row| reading(row, settings))
        .collect();
    let mut target = Target::from_readings(&readings, settings, FarOff::Kept)
        .map_err(|error| error.within(format_args!("swatch `{name}`")))?;
    target.translucency = translucency(&of_it, settings);
    target
        .notes
        .insert(0, format!("as the swatch {name} was read, over {over}"));
    Ok(target)
}

/// What is there already and reads as `target`, to be painted or cast over: a backing called `name`. Its surface goes under what
/// is put on it, so that what it mirrors is taken off.
pub fn beneath(name: &str, target: &Target, settings: &Settings) -> Backing {
    let within = |band| settings.surface.unread(target.spectrum[band]);
    Backing {
        name: name.to_owned(),
        reflectance: Spectrum::from_fn(|band| within(band).clamp(0.0, 1.0)),
    }
}

/// What lay under the readings that count.
fn underlay<'a>(name: &str, over: Option<&str>, of_it: &[&'a Swatch]) -> Result<&'a str> {
    let mut underlays: Vec<&str> = of_it.iter().map(|row| row.build.beneath.name()).collect();
    underlays.sort_unstable();
    underlays.dedup();
    match (over, underlays.as_slice()) {
        (Some(over), all) => {
            let known = all.iter().find(|known| **known == over);
            known.copied().ok_or_else(|| {
                Error::unknown_name("backing of that swatch", over, all.iter().copied())
            })
        }
        (None, [only]) => Ok(*only),
        (None, several) => {
            let finding = format!(
                "the swatch `{name}` was read over {}, and looks otherwise over each",
                several.join(" and ")
            );
            let mend = Mend::from("say which with ").set(Setting::LikeOver);
            Err(Error::input(finding).mend(mend.and(format!(" \"{}\"", several[0]))))
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
