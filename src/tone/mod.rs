//! What to match: a colour with its spread, its tones and a spectrum.
//!
//! A [`Target`] comes from a typed colour ([`Target::from_lab`]), from an instrument's readings
//! ([`Target::from_readings`]), from a file that an earlier run wrote ([`Target::read`]) or, with the feature `photo`,
//! from a photograph (`Target::from_photo`). However it
//! came, it says under which light and for which observer it holds, how far it can be trusted, and what its
//! user must know. This room knows nothing of pigments and recipes.
//!
//! # Spread
//!
//! A target's spread is that of its readings and not of their mean: a tone differs over a body, and a part is compared
//! with any spot of it. A note tells how well the mean is known. Several photographs hardly narrow the spread, since the
//! same chart, camera and skin err alike in each.
//!
//! # Through a spectrum
//!
//! Pictures speak D50/2°, books mostly D65/10°. Taking the numbers over errs by about 3.8 ΔE00 on skin, and the smoothest
//! spectrum hardly helps (3.4). The one that departs most smoothly from 60 measured skins, their mean and the three ways
//! in which they differ most, errs by 0.27 (each left out in turn; the test `left_out` of `skin` prints it). One solver
//! serves both: a way costs little, a slope much, and with no ways and a flat mean the smoothest curve is left. Skin darker
//! than was measured fades into that.
//!
//! # Card
//!
//! Its balance is done in cone responses. Dividing the picture's own channels was worse under every lamp tried: under
//! LED-B3 a mean of 3.8 ΔE00 over 60 skins against 1.4.
//!
//! # Chart
//!
//! Twenty-four patches can't fix the 108 weights by which a lamp and a camera see, and a 3 × 3 matrix fitted to paint
//! does not know what blood does under a lamp's lines. So lamps and cameras are made up, and what each leaves after its
//! best matrix is the prior of that departure. Matrix, departure and the light's slope come out of one generalised least
//! squares with a covariance (`chart/fit.rs`). Then the skin is sought that would be seen as it is: again a matrix, but
//! one that knows that it looks at skin. Plain matrices are tried beside it and compared by leaving patches out.
//!
//! With measured cameras and chart spectra (not shipped) the mean over seven lamps is 1.1 ΔE00, against 2.5 for the
//! matrix; with the patches' own measured spectra in the values file it is 0.8. The ignored
//! trial of `tests/target_photo` prints the one that is shipped, a harder one, over charts, cards and nothing.
//!
//! # Shading
//!
//! On a limb lit from the side k-means makes a light tone, a dark one and no true one, so shading is taken out first. Two
//! marks tell a smooth surface of light from tones: an edge is no polynomial, and a flush changes colour as well. What
//! light is the right one nobody knows, so the middle is taken, the doubt is added, and a note says so.

#[cfg(feature = "photo")]
mod blocks;
#[cfg(feature = "photo")]
mod board;
#[cfg(feature = "photo")]
mod card;
#[cfg(feature = "photo")]
mod chart;
mod chart_report;
#[cfg(feature = "photo")]
mod connection;
mod convention;
mod dark;
mod document;
#[cfg(feature = "photo")]
mod find;
#[cfg(feature = "photo")]
mod format;
mod instrument;
#[cfg(feature = "photo")]
mod jpeg;
#[cfg(feature = "photo")]
mod jpeg_scan;
mod linear;
#[cfg(feature = "photo")]
mod marked;
mod measured;
#[cfg(feature = "photo")]
mod packed;
#[cfg(feature = "photo")]
mod photo;
mod photographed;
#[cfg(feature = "photo")]
mod picture;
#[cfg(feature = "photo")]
mod pooled;
mod published;
mod readings;
#[cfg(feature = "photo")]
mod region;
#[cfg(feature = "photo")]
mod roles;
#[cfg(feature = "photo")]
mod shading;
mod skin;
mod smooth;
#[cfg(feature = "photo")]
mod sorted;
mod tone_map;
#[cfg(feature = "photo")]
mod tones;
#[cfg(feature = "photo")]
mod view;
#[cfg(feature = "photo")]
mod webp_scan;
#[cfg(feature = "photo")]
mod window;
#[cfg(feature = "photo")]
mod zones;

use serde::{Deserialize, Serialize};

use crate::colour::{
    Illuminant, Lab, Light, SkinAngle, Spectrum, Translucency, TristimulusWeights, Viewing,
};
use crate::error::{Error, Result};

#[cfg(feature = "photo")]
pub use board::{
    Board, ChipInPicture, Field, FieldRead, KeptChart, Likely, ReadAgain, Way, read_board,
    read_chip,
};
#[cfg(feature = "photo")]
pub use card::Card;
#[cfg(feature = "photo")]
pub use chart::{Chart, ChartPatch, ChartValues, Corners};
pub use chart_report::{ChartFound, ChartReport, PatchLeftOut};
pub use dark::{dark_skins, skins_of_lightness};
pub use document::{TargetDocument, ToneDocument};
pub use instrument::{Instrument, InstrumentKind};
pub use linear::{LinearField, LinearPatch};
#[cfg(feature = "photo")]
pub use marked::{Mark, marked};
pub use measured::{as_targets, measured_skins};
#[cfg(feature = "photo")]
pub use photo::{DEFAULT_TONES, PhotoRequest, corrected, find_card, read_marks};
pub use photographed::Photographed;
pub use published::{BesidePublished, GEOMETRY_CAUTION, PublishedSkin};
pub use readings::FarOff;
#[cfg(feature = "photo")]
pub use region::Region;
pub use smooth::smooth_spectrum;
pub use tone_map::ToneMap;

/// A colour to match, and what is known about it.
#[derive(Clone, Debug, PartialEq)]
pub struct Target {
    /// The colour, under [`viewing`](Self::viewing).
    pub lab: Lab,
    /// Standard deviation of L*, a* and b*; 0 for a colour that is taken as exact.
    pub spread: [f64; 3],
    /// The light and the observer that every colour here is for.
    pub viewing: Viewing,
    /// The tones, the base first, then by falling share.
    pub tones: Vec<Tone>,
    /// A reflectance, 0–1, that has the colour.
    pub spectrum: Spectrum,
    /// Where the reflectance comes from.
    pub spectrum_from: SpectrumSource,
    /// What it was seen by.
    pub instrument: Instrument,
    /// What it shows of black and white, where it was read over both.
    pub translucency: Option<Translucency>,
    /// What the user must know, a sentence each: a missing card, pixels left out, and so on.
    pub notes: Vec<String>,
    /// How each chart in the shots served, in the order of the photographs.
    pub charts: Vec<ChartReport>,
    /// How it was read off photographs, region by region; none where an instrument or a hand gave it.
    pub photographs: Vec<Photographed>,
}

/// One of the tones that make up a target.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tone {
    /// What the tone is on a body.
    pub role: ToneRole,
    /// The tone's colour, under the target's viewing.
    pub lab: Lab,
    /// Share of the pixels that were read, 0–1; 0 for a tone added by hand.
    pub share: f64,
}

/// What a tone is on a body.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ToneRole {
    /// The tone that covers most: what the skin is tinted to.
    Base,
    /// The redder tone, where blood shows: what paint is tinted to.
    Flush,
    /// The darker tone, in folds or out of the light.
    Shadow,
    /// Any other.
    #[default]
    Other,
}

impl std::str::FromStr for ToneRole {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self> {
        match text {
            "base" => Ok(Self::Base),
            "flush" => Ok(Self::Flush),
            "shadow" => Ok(Self::Shadow),
            _ => Err(Error::unknown_name(
                "tone",
                text,
                ["base", "flush", "shadow"],
            )),
        }
    }
}

impl std::fmt::Display for ToneRole {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(match self {
            Self::Base => "base",
            Self::Flush => "flush",
            Self::Shadow => "shadow",
            Self::Other => "other",
        })
    }
}

/// Where a target's reflectance comes from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum SpectrumSource {
    /// An instrument's, as read.
    Reading,
    /// The shape of measured skin, brought to the colour with the least slope; toward the edge of what can
    /// be skin, and in skin darker than was measured, it fades into the smoothest curve.
    Skin,
    /// The smoothest curve that has the colour ([`smooth_spectrum`]).
    #[default]
    Smooth,
}

impl Target {
    /// A target of one colour, taken as exact.
    ///
    /// `lab` is for `viewing`: L* from 0 to 100, a* and b* from −128 to 128.
    ///
    /// # Errors
    ///
    /// An input error where a value is out of range, or where no reflectance between 0 and 1 has the
    /// colour.
    ///
    /// ```
    /// use dropwise::colour::{Lab, Viewing};
    /// use dropwise::tone::{Target, ToneRole};
    ///
    /// let target = Target::from_lab(Lab::new(65.0, 12.0, 17.0), Viewing::D65_10)?
    ///     .with_flush(Lab::new(58.0, 20.0, 18.0))?;
    /// assert_eq!(target.tone(ToneRole::Flush).map(|tone| tone.lab.a), Some(20.0));
    /// # Ok::<(), dropwise::Error>(())
    /// ```
    pub fn from_lab(lab: Lab, viewing: Viewing) -> Result<Self> {
        let base = Tone {
            role: ToneRole::Base,
            lab,
            share: 1.0,
        };
        let (spectrum, spectrum_from) = surface_spectrum(lab, viewing)?;
        Ok(Self {
            lab,
            spread: [0.0; 3],
            viewing,
            tones: vec![base],
            spectrum,
            spectrum_from,
            instrument: Instrument::default(),
            translucency: None,
            notes: spectrum_note(lab, spectrum_from).into_iter().collect(),
            charts: Vec::new(),
            photographs: Vec::new(),
        })
    }

    /// Adds the flush tone by hand, in place of any that is there.
    ///
    /// # Errors
    ///
    /// As [`from_lab`](Self::from_lab).
    pub fn with_flush(mut self, lab: Lab) -> Result<Self> {
        surface_spectrum(lab, self.viewing).map_err(|error| error.within("the flush tone"))?;
        self.tones.retain(|tone| tone.role != ToneRole::Flush);
        self.tones.push(Tone {
            role: ToneRole::Flush,
            lab,
            share: 0.0,
        });
        Ok(self)
    }

    /// The first tone that has `role`.
    pub fn tone(&self, role: ToneRole) -> Option<&Tone> {
        self.tones.iter().find(|tone| tone.role == role)
    }

    /// Its tone of `role` by itself, known as well as the whole.
    ///
    /// # Errors
    /// It has no such tone.
    pub fn aimed_at(self, role: ToneRole) -> Result<Self> {
        if role == ToneRole::Base {
            return Ok(self);
        }
        let Some(Tone { lab, .. }) = self.tone(role) else {
            return Err(Error::input(format!("the target has no {role} tone"))
                .mend("name one that it has, or type the tone itself"));
        };
        Ok(Self {
            spread: self.spread,
            ..Self::from_lab(*lab, self.viewing)?
        })
    }

    /// The skin-tone angle, from the target's spectrum under D65; `None` where b* is not positive there.
    pub fn skin_angle(&self) -> Option<SkinAngle> {
        SkinAngle::of(self.under(Illuminant::D65))
    }

    /// The colour of the target's spectrum under another light, for the same observer.
    pub fn under(&self, light: impl Into<Light>) -> Lab {
        let weights = light.into().weights(self.viewing.observer);
        weights.lab(&self.spectrum)
    }
}

/// A reflectance of `lab`, the more like skin's the more the colour is; `None` where no surface has the
/// colour.
fn reflectance_of(lab: Lab, weights: &TristimulusWeights) -> Option<(Spectrum, SpectrumSource)> {
    let likeness = skin::likeness(lab);
    let spectrum = smooth::least_departure(lab, weights, &skin::family(likeness))?;
    let source = if likeness >= skin::LIKE_SKIN {
        SpectrumSource::Skin
    } else {
        SpectrumSource::Smooth
    };
    Some((spectrum, source))
}

/// A reflectance of a painted patch of the colour `lab`, such as a chart's: where skin might have the colour, a
/// quarter of the way from the smoothest to skin's, since paints that look like skin copy a little of its shape.
/// Over four sets of chart spectra, measured and smooth ones, that did best on the whole.
#[cfg(feature = "photo")]
fn painted_reflectance_of(lab: Lab, weights: &TristimulusWeights) -> Option<Spectrum> {
    smooth::least_departure(lab, weights, &skin::family(0.25 * skin::likeness(lab)))
}

/// What the user must know of where the reflectance comes from.
fn spectrum_note(lab: Lab, source: SpectrumSource) -> Option<String> {
    let how = match source {
        SpectrumSource::Reading => return None,
        SpectrumSource::Skin => "fades into a smooth one",
        SpectrumSource::Smooth => "is the smoothest of its colour",
    };
    skin::is_dark_skin(lab).then(|| {
        format!(
            "darker than every measured skin (L* {} and up), so its spectrum {how}: its colour under other lights is \
             unproven; a reading with a spectrum would tell",
            skin::DARKEST_MEASURED
        )
    })
}

/// The reflectance of a colour that a real surface can have, or an error that says why there is none.
fn surface_spectrum(lab: Lab, viewing: Viewing) -> Result<(Spectrum, SpectrumSource)> {
    let in_range = [
        ("L*", lab.l, 0.0, 100.0),
        ("a*", lab.a, -128.0, 128.0),
        ("b*", lab.b, -128.0, 128.0),
    ];
    for (name, value, low, high) in in_range {
        if !(low..=high).contains(&value) {
            let finding = format!("{name} is {value}; expected a number from {low} to {high}");
            return Err(Error::input(finding));
        }
    }
    reflectance_of(lab, &viewing.weights()).ok_or_else(|| {
        let [l, a, b] = [lab.l, lab.a, lab.b].map(|value| (value * 100.0).round() / 100.0);
        Error::input(format!(
            "L*,a*,b* {l},{a},{b} is out of the range of real surfaces under {viewing}"
        ))
        .mend("check the numbers, their order L*,a*,b*, and the light that they were read for")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_out_of_range_are_named_with_what_was_found() {
        let error = Target::from_lab(Lab::new(130.0, 0.0, 0.0), Viewing::D65_10);
        let line = error.expect_err("L* of 130").to_string();
        assert_eq!(line, "L* is 130; expected a number from 0 to 100", "range");
        let error = Target::from_lab(Lab::new(50.0, f64::NAN, 0.0), Viewing::D65_10);
        assert!(error.is_err_and(|error| error.is_input()), "not a number");
    }

    #[test]
    fn a_colour_that_no_surface_has_is_an_input_error() {
        let error = Target::from_lab(Lab::new(95.0, 60.0, 60.0), Viewing::D65_10)
            .expect_err("brighter than any surface so red");
        assert!(error.is_input(), "exit code 2");
        let line = error.to_string();
        assert!(line.contains("out of the range of real surfaces"), "{line}");
        assert!(line.contains("D65/10°"), "{line}");
    }

    #[test]
    fn skin_has_the_dips_of_blood_and_grey_has_none() {
        let skin = Target::from_lab(Lab::new(65.0, 9.0, 16.0), Viewing::D65_10).expect("skin");
        assert_eq!(skin.spectrum_from, SpectrumSource::Skin, "skin");
        assert!(skin.notes.is_empty(), "within the measured skins");
        let at = |nm: usize| skin.spectrum[(nm - 380) / 10];
        assert!(at(540) < at(510) && at(570) < at(600), "a dip in the green");
        let grey = Target::from_lab(Lab::new(65.0, 0.0, 1.0), Viewing::D65_10).expect("grey");
        assert_eq!(grey.spectrum_from, SpectrumSource::Smooth, "grey");
        let dark = Target::from_lab(Lab::new(30.0, 9.0, 10.0), Viewing::D65_10).expect("dark");
        assert_eq!(dark.spectrum_from, SpectrumSource::Smooth, "dark skin");
        assert!(
            dark.notes[0].contains("unproven"),
            "beyond the measured skins"
        );
    }

    #[test]
    fn a_flush_added_twice_is_there_once() {
        let target = Target::from_lab(Lab::new(65.0, 12.0, 17.0), Viewing::D65_10)
            .and_then(|target| target.with_flush(Lab::new(60.0, 20.0, 18.0)))
            .and_then(|target| target.with_flush(Lab::new(58.0, 22.0, 18.0)))
            .expect("colours of skin");
        assert_eq!(target.tones.len(), 2, "base and flush");
        let flush = target.tone(ToneRole::Flush).expect("added");
        assert_eq!(flush.lab, Lab::new(58.0, 22.0, 18.0), "the last one");
        assert!(target.tone(ToneRole::Shadow).is_none(), "none was added");
    }
}
