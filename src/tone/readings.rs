//! A target from an instrument's readings.

use super::{
    Instrument, InstrumentKind, SpectrumSource, Target, Tone, ToneRole, reflectance_of,
    spectrum_note, surface_spectrum,
};
use crate::colour::{Lab, Spectrum, TristimulusWeights, Viewing, delta_e_2000};
use crate::error::{Error, Result};
use crate::materials::{Geometry, Reading, Settings};

/// A reading further than this from the middle of the others, ΔE00, and further than [`FAR_OFF`] times as far as they
/// lie in the middle, is pointed out. Common practice, no source.
const POINTED_OUT: f64 = 3.0;
const FAR_OFF: f64 = 3.0;

impl Target {
    /// The mean of `readings`, as the book of `settings` sees it.
    ///
    /// The spread is the standard deviation of the readings, not of their mean: a tone differs from place to place, and
    /// a part is compared with any of them. Where some have a spectrum, these alone count; where none has, the CIELABs
    /// are brought to the book's light and observer by way of a spectrum, and averaged there. Of three or more, one that lies far
    /// from all others is named, and `far_off` says whether it counts.
    ///
    /// # Errors
    ///
    /// An input error where there is no reading, where specular light is counted in some and left out of others, or
    /// where a CIELAB is no colour of a surface.
    pub fn from_readings(
        readings: &[Reading],
        settings: &Settings,
        far_off: FarOff,
    ) -> Result<Self> {
        let viewing = settings.viewing;
        let weights = viewing.weights();
        let geometry = Geometry::common(readings.iter().map(|reading| reading.geometry))?;
        let spectra: Vec<Spectrum> = readings
            .iter()
            .filter_map(|reading| reading.reflectance)
            .collect();
        let mut notes = Vec::new();
        let (labs, lab, spectrum, spectrum_from) = if spectra.is_empty() {
            let labs: Vec<Lab> = readings
                .iter()
                .map(|reading| seen_under(reading, &weights, viewing))
                .collect::<Result<_>>()?;
            let lab = mean(&labs).ok_or_else(no_reading)?;
            let (spectrum, source) = surface_spectrum(lab, viewing)?;
            notes.extend(brought_note(readings, viewing));
            notes.extend(spectrum_note(lab, source));
            (labs, lab, spectrum, source)
        } else {
            let labs: Vec<Lab> = spectra
                .iter()
                .map(|spectrum| weights.lab(spectrum))
                .collect();
            let mut spectrum = Spectrum::constant(0.0);
            for one in &spectra {
                spectrum.add_scaled(1.0 / spectra.len() as f64, one);
            }
            let left_out = readings.len() - spectra.len();
            if left_out > 0 {
                notes.push(format!(
                    "{left_out} of {} readings left out: they have no spectrum",
                    readings.len()
                ));
            }
            let lab = weights.lab(&spectrum);
            (labs, lab, spectrum, SpectrumSource::Reading)
        };
        let spread = standard_deviation(&labs);
        let named = readings
            .iter()
            .filter(|reading| spectra.is_empty() || reading.reflectance.is_some());
        let named: Vec<&Reading> = named.collect();
        let far = outliers(&labs);
        if far_off == FarOff::LeftOut && !far.is_empty() {
            return Self::without(&far, &named, settings);
        }
        notes.extend(far.iter().map(|(index, apart)| {
            let name = named[*index].name.escape_debug();
            format!("the reading `{name}` lies {apart:.1} ΔE00 from the mean of the others: read it again, or leave it out")
        }));
        notes.push(count_note(labs.len(), spread));
        notes.extend(specular_note(&geometry, settings));
        Ok(Self {
            lab,
            spread,
            viewing,
            tones: vec![Tone {
                role: ToneRole::Base,
                lab,
                share: 1.0,
            }],
            spectrum,
            spectrum_from,
            instrument: Instrument {
                kind: Some(InstrumentKind::Contact),
                geometry,
            },
            translucency: None,
            notes,
            charts: Vec::new(),
            photographs: Vec::new(),
        })
    }
}

impl Target {
    /// The mean of `named` without those that lie `far` off, which it names.
    fn without(far: &[(usize, f64)], named: &[&Reading], settings: &Settings) -> Result<Self> {
        let is_near = |index: usize| far.iter().all(|(of, _)| *of != index);
        let near = (0..named.len()).filter(|index| is_near(*index));
        let near: Vec<Reading> = near.map(|index| named[index].clone()).collect();
        let mut target = Self::from_readings(&near, settings, FarOff::Kept)?;
        let left_out = far.iter().map(|(index, apart)| {
            let name = named[*index].name.escape_debug();
            format!("left out: the reading `{name}`, {apart:.1} ΔE00 from the mean of the others")
        });
        target.notes.splice(0..0, left_out);
        Ok(target)
    }
}

fn no_reading() -> Error {
    Error::input("no reading to make a target of").mend("name a file with one at least")
}

/// The CIELAB of a reading without spectrum under `viewing`, whose weights are `weights`.
fn seen_under(reading: &Reading, weights: &TristimulusWeights, viewing: Viewing) -> Result<Lab> {
    let (lab, own) = reading.lab.ok_or_else(no_reading)?;
    if own == viewing {
        return Ok(lab);
    }
    let (reflectance, _) = reflectance_of(lab, &own.weights()).ok_or_else(|| {
        let [l, a, b] = [lab.l, lab.a, lab.b];
        Error::input(format!(
            "L*,a*,b* {l},{a},{b} of the reading `{}` is out of the range of real surfaces under {own}",
            reading.name.escape_debug()
        ))
        .mend("check the numbers, and the light that they were read for")
    })?;
    Ok(weights.lab(&reflectance))
}

fn brought_note(readings: &[Reading], viewing: Viewing) -> Option<String> {
    let brought = readings.iter().filter_map(|reading| reading.lab);
    let (_, own) = brought.into_iter().find(|(_, own)| *own != viewing)?;
    Some(format!(
        "its L*,a*,b* are for {own}, brought to {viewing} by way of a spectrum: on skin that errs by 0.3 ΔE00 in the \
         mean; a reading with its spectrum would not"
    ))
}

fn mean(labs: &[Lab]) -> Option<Lab> {
    let count = labs.len() as f64;
    let sum = labs
        .iter()
        .copied()
        .reduce(|one, other| Lab::new(one.l + other.l, one.a + other.a, one.b + other.b))?;
    Some(Lab::new(sum.l / count, sum.a / count, sum.b / count))
}

/// Standard deviation of L*, a* and b*, with n − 1; 0 of one.
fn standard_deviation(labs: &[Lab]) -> [f64; 3] {
    let Some(mean) = mean(labs).filter(|_| labs.len() > 1) else {
        return [0.0; 3];
    };
    let of = |axis: fn(&Lab) -> f64| {
        let squares: f64 = labs
            .iter()
            .map(|lab| (axis(lab) - axis(&mean)).powi(2))
            .sum();
        (squares / (labs.len() - 1) as f64).sqrt()
    };
    [of(|lab| lab.l), of(|lab| lab.a), of(|lab| lab.b)]
}

/// What becomes of a reading, of three or more, that lies far from all others.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum FarOff {
    /// It is named, and stays in the mean.
    #[default]
    Kept,
    /// It is named, and left out.
    LeftOut,
}

/// The readings that lie far from all others, by their index, with how far they lie from the mean of the rest, ΔE00.
///
/// Each is judged by its median distance to the others: a mean would be drawn to the one that is off, so that of three or four none
/// would look far.
fn outliers(labs: &[Lab]) -> Vec<(usize, f64)> {
    // Of two it can't be said which is off, of three hardly.
    if labs.len() < 3 {
        return Vec::new();
    }
    let middle = |mut distances: Vec<f64>| {
        distances.sort_by(f64::total_cmp);
        distances[(distances.len() - 1) / 2]
    };
    let from_others = |index: usize| {
        let others = (0..labs.len()).filter(|other| *other != index);
        middle(
            others
                .map(|other| delta_e_2000(labs[index], labs[other]))
                .collect(),
        )
    };
    let apart: Vec<f64> = (0..labs.len()).map(from_others).collect();
    let usual = middle(apart.clone());
    let is_far = |index: usize| apart[index] > POINTED_OUT.max(FAR_OFF * usual);
    let (far, near): (Vec<usize>, Vec<usize>) = (0..labs.len()).partition(|index| is_far(*index));
    let near: Vec<Lab> = near.into_iter().map(|index| labs[index]).collect();
    let from_near = |index: usize| mean(&near).map_or(0.0, |mean| delta_e_2000(labs[index], mean));
    far.into_iter()
        .map(|index| (index, from_near(index)))
        .collect()
}

fn count_note(count: usize, spread: [f64; 3]) -> String {
    if count == 1 {
        return "one reading: its spread is not known (read three places or more, into one file)"
            .to_owned();
    }
    let [l, a, b] = spread.map(|sd| sd / (count as f64).sqrt());
    format!("the mean of {count} readings; the mean itself is known to ±{l:.1} ±{a:.1} ±{b:.1}")
}

/// That a reading and the book count mirrored light in different ways.
fn specular_note(geometry: &Geometry, settings: &Settings) -> Option<String> {
    let (read, book) = (geometry.specular?, settings.surface.specular());
    let worth = read.worth_beside(book);
    (read != book).then(|| {
        format!(
            "read with the specular light {read}, and this book has it {book}: that alone is worth some {worth} ΔE00 on a \
             smooth surface (read it the other way, or change specular in book.toml)"
        )
    })
}
