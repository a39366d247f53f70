//! A reading of a casting, as the swatch book keeps it.

use jiff::civil::Date;

use super::{Amount, Build, Geometry};
use crate::colour::{Lab, Spectrum, TristimulusWeights, delta_e_2000};

/// One reading of one chip or part; a chip read over two backings is two of these with the same `id`.
#[derive(Clone, Debug, PartialEq)]
pub struct Swatch {
    /// The chip's name in the book.
    pub id: String,
    /// The day it was read.
    pub date: Date,
    /// What it was made of.
    pub build: Build,
    /// CIELAB as read, under the book's viewing; at least one of this and `reflectance` is there.
    pub lab: Option<Lab>,
    /// Reflectance as read, 0–1.
    pub reflectance: Option<Spectrum>,
    /// How it was read; where the convention is not stated, it is that of the book.
    pub geometry: Geometry,
    /// The batch it came from; may be empty.
    pub batch: String,
    /// The photograph that it was read off, by its name; empty where an instrument read it.
    pub photo: String,
    /// What L*, a*, b* are off by with each thing that all readings of that photograph are off by together, at one standard
    /// deviation each, as many for each of them; none where only the log is known of it.
    pub common_errors: Vec<[f64; 3]>,
    /// Free words.
    pub note: String,
}

impl Swatch {
    /// `build`, which read `lab` under the book's viewing on the day `date`; without a name it takes the next number.
    pub fn of(build: Build, lab: Lab, date: Date) -> Self {
        Self {
            id: String::new(),
            date,
            build,
            lab: Some(lab),
            reflectance: None,
            geometry: Geometry::default(),
            batch: String::new(),
            photo: String::new(),
            common_errors: Vec::new(),
            note: String::new(),
        }
    }

    /// The colour as read: CIELAB where it was given, else that of the reflectance.
    pub fn measured(&self, weights: &TristimulusWeights) -> Option<Lab> {
        self.lab.or_else(|| {
            self.reflectance
                .as_ref()
                .map(|reflectance| weights.lab(reflectance))
        })
    }
}

impl Swatch {
    /// How far (ΔE00) its CIELAB lies from that of its own reflectance, where it has both and they lie too far apart to be
    /// one reading: more than 1, where rounding and another way of summing make some tenths. Common practice, no source.
    pub fn contradicts_itself(&self, weights: &TristimulusWeights) -> Option<f64> {
        const ONE_READING: f64 = 1.0;
        let apart = delta_e_2000(self.lab?, weights.lab(self.reflectance.as_ref()?));
        (apart > ONE_READING).then_some(apart)
    }

    /// Whether it says what `other` says, whatever the two are called: the same casting with the same numbers read.
    pub fn repeats(&self, other: &Self) -> bool {
        self.build == other.build && self.lab == other.lab && self.reflectance == other.reflectance
    }

    /// Whether drops of `pigment`, neat or let down, were counted into any of its cups.
    pub fn counts_drops_of(&self, pigment: &str) -> bool {
        self.build
            .poured()
            .flat_map(|poured| poured.mix.entries())
            .any(|(colorant, amount)| {
                colorant.pigment == pigment && matches!(amount, Amount::Drops(_))
            })
    }

    /// Whether its aperture is so small that light which should come back is lost beside it, if the casting is
    /// translucent: light spreads within a film by about its thickness.
    ///
    /// An aperture of less than three thicknesses is small. Common practice, no source.
    pub fn loses_light_at_the_edge(&self) -> bool {
        const WIDE_ENOUGH: f64 = 3.0;
        let paint = self.build.paint.as_ref();
        let thickness_mm = self.build.thickness.0 + paint.map_or(0.0, |coat| coat.dry_thickness.0);
        let aperture_mm = self.geometry.aperture_mm;
        aperture_mm.is_some_and(|aperture_mm| aperture_mm < WIDE_ENOUGH * thickness_mm)
    }
}
