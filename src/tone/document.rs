//! A target as JSON: what is printed, and what is read back from a file.

use std::path::Path;

use serde::{Deserialize, Serialize};
use serde_json::{Map, Value, json};

use super::{
    BesidePublished, ChartReport, Instrument, InstrumentKind, Photographed, SpectrumSource, Target,
    Tone, ToneRole, surface_spectrum,
};
use crate::colour::{Lab, Light, Spectrum, Translucency, Viewing, delta_e_2000};
use crate::error::{Error, FileKind, Result, read};
use crate::materials::{Geometry, check_range, check_seen};

/// How far, in ΔE00, the colour of a file's `r` may lie from its `L`, `a`, `b`: more than rounding to three
/// decimals makes, less than an edit by hand.
const SPECTRUM_MISMATCH: f64 = 0.25;

/// Most that a coordinate may scatter by, one sd: whoever knows no more than that knows nothing of a tone of skin.
const MOST_SPREAD: f64 = 50.0;

/// A [`Target`] in the form of its JSON document.
///
/// Only `L`, `a` and `b` must be there when a document is read; unknown keys are passed over. What is
/// derived (`skin_angle`, `skin_class`, `under`) is written for the reader and worked out anew on reading.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TargetDocument {
    /// L*.
    #[serde(rename = "L")]
    pub l: f64,
    /// a*.
    pub a: f64,
    /// b*.
    pub b: f64,
    /// Standard deviation of L*.
    #[serde(rename = "L_sd", default)]
    pub l_sd: f64,
    /// Standard deviation of a*.
    #[serde(default)]
    pub a_sd: f64,
    /// Standard deviation of b*.
    #[serde(default)]
    pub b_sd: f64,
    /// CIE name of the light that all the document's colours are for.
    #[serde(default = "usual_illuminant")]
    pub illuminant: String,
    /// The observer's field, `2` or `10` degrees.
    #[serde(default = "usual_observer")]
    pub observer: String,
    /// Skin-tone angle, degrees; `null` where it has no meaning.
    #[serde(default)]
    pub skin_angle: Option<f64>,
    /// Class of the skin-tone angle; `null` where there is no angle.
    #[serde(default)]
    pub skin_class: Option<String>,
    /// The tones, the base first.
    #[serde(default)]
    pub tones: Vec<ToneDocument>,
    /// Reflectance, 380–730 nm by 10, 0–1.
    #[serde(default)]
    pub r: Option<Spectrum>,
    /// Where the reflectance comes from.
    #[serde(default)]
    pub r_from: SpectrumSource,
    /// What it was seen by: `contact` or `non-contact`; `null` where that is not known.
    #[serde(default)]
    pub seen_by: Option<InstrumentKind>,
    /// Whether a reader counted the mirrored light, `included`, `excluded` or `45/0`; `null` where that is not known.
    #[serde(default)]
    pub specular: Option<String>,
    /// Diameter of the spot that a reader saw, mm; `null` where that is not known.
    #[serde(default)]
    pub aperture_mm: Option<f64>,
    /// Y over black by Y over white; `null` where that was not read.
    #[serde(default)]
    pub contrast_ratio: Option<f64>,
    /// ΔE*ab over black to over white, likewise.
    #[serde(default)]
    pub tp_ab: Option<f64>,
    /// ΔE00 over black to over white, likewise.
    #[serde(default)]
    pub tp_00: Option<f64>,
    /// `[L*, a*, b*]` under other lights, by the light's CIE name, or by what the lamp is called.
    #[serde(default)]
    pub under: Map<String, Value>,
    /// Published colours of skin beside the target, where they were asked for; not read back.
    #[serde(skip_deserializing, skip_serializing_if = "Option::is_none")]
    pub published: Option<Vec<BesidePublished>>,
    /// What the user must know.
    #[serde(default)]
    pub notes: Vec<String>,
    /// How each chart in the shots served; not written where there was none.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub charts: Vec<ChartReport>,
    /// How it was read off photographs; not written where it was not.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub photographs: Vec<Photographed>,
}

/// A [`Tone`] in the form of its JSON document.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ToneDocument {
    /// L*.
    #[serde(rename = "L")]
    pub l: f64,
    /// a*.
    pub a: f64,
    /// b*.
    pub b: f64,
    /// Share of the pixels that were read, 0–1.
    #[serde(default)]
    pub share: f64,
    /// What the tone is on a body.
    #[serde(default)]
    pub role: ToneRole,
}

fn usual_illuminant() -> String {
    Viewing::D65_10.illuminant.to_string()
}

fn usual_observer() -> String {
    Viewing::D65_10.observer.to_string()
}

impl TargetDocument {
    /// The document of `target`, with its colour under each of `lights` beside it.
    pub fn new(target: &Target, lights: &[Light]) -> Self {
        let angle = target.skin_angle();
        let geometry = target.instrument.geometry;
        let under = lights.iter().map(|light| {
            let Lab { l, a, b, .. } = target.under(light);
            (light.name().to_owned(), json!([l, a, b]))
        });
        Self {
            l: target.lab.l,
            a: target.lab.a,
            b: target.lab.b,
            l_sd: target.spread[0],
            a_sd: target.spread[1],
            b_sd: target.spread[2],
            illuminant: target.viewing.illuminant.to_string(),
            observer: target.viewing.observer.to_string(),
            skin_angle: angle.map(|angle| angle.degrees()),
            skin_class: angle.map(|angle| angle.class().to_string()),
            tones: target.tones.iter().map(ToneDocument::new).collect(),
            r: Some(target.spectrum),
            r_from: target.spectrum_from,
            seen_by: target.instrument.kind,
            specular: geometry.specular.map(|specular| specular.to_string()),
            aperture_mm: geometry.aperture_mm,
            contrast_ratio: target.translucency.map(|seen| seen.contrast_ratio),
            tp_ab: target.translucency.map(|seen| seen.tp_ab),
            tp_00: target.translucency.map(|seen| seen.tp_00),
            under: under.collect(),
            published: None,
            notes: target.notes.clone(),
            charts: target.charts.clone(),
            photographs: target.photographs.clone(),
        }
    }

    /// The target that this document holds.
    ///
    /// # Errors
    ///
    /// An input error that names the key: a colour out of range or of no real surface, a spread or a share
    /// that can't be, an unknown light or observer, an `r` that does not have the colour.
    pub fn into_target(self) -> Result<Target> {
        let viewing = Viewing {
            illuminant: self.illuminant.parse()?,
            observer: self.observer.parse()?,
        };
        if let Some(mm) = self.aperture_mm {
            check_range("aperture_mm", mm, Geometry::APERTURE_RANGE_MM, "mm")?;
        }
        let instrument = Instrument {
            kind: self.seen_by,
            geometry: Geometry {
                specular: self.specular.as_deref().map(str::parse).transpose()?,
                aperture_mm: self.aperture_mm,
            },
        };
        let translucency = self.translucency()?;
        for note in &self.notes {
            check_seen("notes", note)?;
        }
        let lab = Lab::new(self.l, self.a, self.b);
        let spread = [self.l_sd, self.a_sd, self.b_sd];
        for (key, value) in ["L_sd", "a_sd", "b_sd"].into_iter().zip(spread) {
            if !(0.0..=MOST_SPREAD).contains(&value) {
                let finding =
                    format!("{key} is {value}; expected a number from 0 to {MOST_SPREAD}");
                return Err(Error::input(finding));
            }
        }
        let guessed = surface_spectrum(lab, viewing)?;
        let (spectrum, spectrum_from) = match self.r {
            None => guessed,
            Some(spectrum) => {
                check_spectrum(&spectrum, lab, viewing)?;
                (spectrum, self.r_from)
            }
        };
        let mut tones = Vec::with_capacity(self.tones.len() + 1);
        for (index, tone) in self.tones.iter().enumerate() {
            let tone = tone
                .tone(viewing)
                .map_err(|error| error.within(format!("tones[{index}]")))?;
            tones.push(tone);
        }
        if !tones.iter().any(|tone| tone.role == ToneRole::Base) {
            let named: f64 = tones.iter().map(|tone| tone.share).sum();
            let base = Tone {
                role: ToneRole::Base,
                lab,
                share: (1.0 - named).max(0.0),
            };
            tones.insert(0, base);
        }
        Ok(Target {
            lab,
            spread,
            viewing,
            tones,
            spectrum,
            spectrum_from,
            instrument,
            translucency,
            notes: self.notes,
            charts: self.charts,
            photographs: self.photographs,
        })
    }

    /// Its translucency: all three numbers or none.
    fn translucency(&self) -> Result<Option<Translucency>> {
        let (contrast_ratio, tp_ab, tp_00) = match (self.contrast_ratio, self.tp_ab, self.tp_00) {
            (None, None, None) => return Ok(None),
            (Some(contrast_ratio), Some(tp_ab), Some(tp_00)) => (contrast_ratio, tp_ab, tp_00),
            _ => {
                return Err(Error::input(
                    "contrast_ratio, tp_ab and tp_00 stand together, and one is missing",
                )
                .mend("give all three, or none"));
            }
        };
        for (key, value, most) in [
            ("contrast_ratio", contrast_ratio, 1.5),
            ("tp_ab", tp_ab, 150.0),
            ("tp_00", tp_00, 150.0),
        ] {
            if !(0.0..=most).contains(&value) {
                let finding = format!("{key} is {value}; expected a number from 0 to {most}");
                return Err(Error::input(finding));
            }
        }
        Ok(Some(Translucency {
            contrast_ratio,
            tp_ab,
            tp_00,
        }))
    }
}

impl ToneDocument {
    fn new(tone: &Tone) -> Self {
        Self {
            l: tone.lab.l,
            a: tone.lab.a,
            b: tone.lab.b,
            share: tone.share,
            role: tone.role,
        }
    }

    fn tone(&self, viewing: Viewing) -> Result<Tone> {
        let lab = Lab::new(self.l, self.a, self.b);
        surface_spectrum(lab, viewing)?;
        if !(0.0..=1.0).contains(&self.share) {
            let finding = format!("share is {}; expected a number from 0 to 1", self.share);
            return Err(Error::input(finding));
        }
        Ok(Tone {
            role: self.role,
            lab,
            share: self.share,
        })
    }
}

fn check_spectrum(spectrum: &Spectrum, lab: Lab, viewing: Viewing) -> Result<()> {
    if !(spectrum.min() >= 0.0 && spectrum.max() <= 1.0) {
        return Err(Error::input("r holds a value outside 0 to 1")
            .mend("reflectance is a fraction here, not percent"));
    }
    let miss = delta_e_2000(viewing.weights().lab(spectrum), lab);
    if miss > SPECTRUM_MISMATCH {
        return Err(Error::input(format!(
            "r has another colour than L, a, b: they are {miss:.1} ΔE00 apart under {viewing}"
        ))
        .mend("after changing L, a or b take the key r out, and it is worked out anew"));
    }
    Ok(())
}

impl Target {
    /// Reads a target from `text`, the JSON of a [`TargetDocument`].
    ///
    /// # Errors
    ///
    /// An input error with line and column where the text is not such a document; as
    /// [`TargetDocument::into_target`] otherwise.
    pub fn from_json(text: &str) -> Result<Self> {
        let document: TargetDocument = serde_json::from_str(text).map_err(|error| {
            let (line, column) = (error.line(), error.column());
            let message = error.to_string();
            let place = format!(" at line {line} column {column}");
            Error::input(format!(
                "this is not a target: {}",
                message.strip_suffix(&place).unwrap_or(&message)
            ))
            .at(line as u64, Some(column as u64))
            .mend("a target is the JSON that `dropwise target` prints or saves; it needs at least L, a and b")
        })?;
        document.into_target()
    }

    /// Reads a target from a file that holds the JSON of a [`TargetDocument`].
    ///
    /// # Errors
    ///
    /// As [`from_json`](Self::from_json), with the file named; an input error where there is no such file;
    /// the machine's where it can't be read.
    pub fn read(path: &Path) -> Result<Self> {
        let bytes = read(path, FileKind::Document)?;
        let text = std::str::from_utf8(&bytes)
            .map_err(|_| Error::input("this is not UTF-8 text; expected JSON").in_file(path))?;
        Self::from_json(text).map_err(|error| error.in_file(path))
    }
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;
    use crate::colour::Illuminant;

    /// JSON numbers are read back to the last digit or its neighbour.
    const LAST_DIGIT: f64 = 1e-12;

    fn flesh() -> Target {
        let mut target = Target::from_lab(Lab::new(64.2, 13.1, 17.9), Viewing::D65_10)
            .and_then(|target| target.with_flush(Lab::new(57.0, 20.5, 18.5)))
            .expect("a colour of skin");
        target.spread = [2.0, 1.5, 1.7];
        target.translucency = Some(Translucency {
            contrast_ratio: 0.6,
            tp_ab: 17.5,
            tp_00: 14.25,
        });
        target.notes.push("a \"quoted\" note, with °".to_owned());
        target
    }

    fn json(target: &Target) -> String {
        let document =
            TargetDocument::new(target, &[Illuminant::A.into(), Illuminant::LedB1.into()]);
        serde_json::to_string(&document).expect("plain data")
    }

    #[test]
    fn a_target_comes_back_from_its_json() {
        let target = flesh();
        let back = Target::from_json(&json(&target)).expect("what was written");
        approx::assert_abs_diff_eq!(back.lab.l, target.lab.l, epsilon = LAST_DIGIT);
        approx::assert_abs_diff_eq!(back.lab.a, target.lab.a, epsilon = LAST_DIGIT);
        approx::assert_abs_diff_eq!(back.lab.b, target.lab.b, epsilon = LAST_DIGIT);
        for (one, other) in back.spectrum.values().iter().zip(target.spectrum.values()) {
            approx::assert_abs_diff_eq!(one, other, epsilon = LAST_DIGIT);
        }
        assert_eq!(back.spread, target.spread, "spread");
        assert_eq!(back.viewing, target.viewing, "viewing");
        assert_eq!(back.tones, target.tones, "tones");
        assert_eq!(back.translucency, target.translucency, "translucency");
        assert_eq!(back.notes, target.notes, "notes");
    }

    #[test]
    fn the_document_has_the_keys_that_are_agreed_and_the_lights_asked_for() {
        let value: Value = serde_json::from_str(&json(&flesh())).expect("JSON");
        for key in [
            "L",
            "a",
            "b",
            "L_sd",
            "a_sd",
            "b_sd",
            "tones",
            "r",
            "r_from",
            "under",
            "illuminant",
            "observer",
            "skin_angle",
            "skin_class",
            "notes",
        ] {
            assert!(value.get(key).is_some(), "{key} is missing");
        }
        assert_eq!(value["r"].as_array().map(Vec::len), Some(36), "samples");
        assert_eq!(value["r_from"], "skin", "where r comes from");
        assert_eq!(value["tones"][1]["role"], "flush", "role");
        let lights: Vec<&String> = value["under"].as_object().expect("map").keys().collect();
        assert_eq!(lights, ["A", "LED-B1"], "in the order asked for");
        assert_eq!(value["skin_class"], "intermediate", "angle of 38 degrees");
    }

    #[test]
    fn a_grey_has_no_skin_angle() {
        let grey = Target::from_lab(Lab::new(50.0, 0.0, -1.0), Viewing::D65_10).expect("grey");
        let value: Value = serde_json::from_str(&json(&grey)).expect("JSON");
        assert!(value["skin_angle"].is_null(), "no angle");
        assert!(value["skin_class"].is_null(), "no class");
    }

    #[test]
    fn three_numbers_are_a_target() {
        let target = Target::from_json(r#"{"L": 65, "a": 12, "b": 17}"#).expect("enough");
        assert_eq!(target.viewing, Viewing::D65_10, "the usual viewing");
        assert!(target.tone(ToneRole::Base).is_some(), "a base tone");
    }

    #[test]
    fn a_broken_file_is_named_with_line_and_column() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("face.json");
        fs::write(&path, "{\n  \"L\": 65,\n  \"a\": \"red\"\n}").expect("written");
        let error = Target::read(&path).expect_err("a word for a number");
        let line = error.to_string();
        assert!(error.is_input(), "{line}");
        assert!(
            line.contains("face.json:3:12: this is not a target"),
            "{line}"
        );
        assert!(!line.contains("at line"), "the place stands once: {line}");

        let missing = Target::read(&folder.path().join("none.json")).expect_err("missing");
        assert!(missing.is_input(), "exit code 2");
        assert!(missing.to_string().contains("none.json"), "{missing}");
    }

    #[test]
    fn what_can_not_be_is_refused_with_its_key() {
        let refused = |text: &str, word: &str| {
            let line = Target::from_json(text).expect_err(text).to_string();
            assert!(line.contains(word), "{line}");
        };
        refused(r#"{"L": 165, "a": 12, "b": 17}"#, "L* is 165");
        refused(r#"{"L": 65, "a": 12, "b": 17, "a_sd": -1}"#, "a_sd is -1");
        refused(
            r#"{"L": 65, "a": 12, "b": 17, "illuminant": "D64"}"#,
            "`D65`",
        );
        refused(r#"{"L": 65, "a": 12, "b": 17, "r": [0.5]}"#, "36 samples");
        refused(
            r#"{"L": 65, "a": 12, "b": 17, "tones": [{"L": 300, "a": 0, "b": 0}]}"#,
            "tones[0]",
        );
        refused(
            r#"{"L": 65, "a": 12, "b": 17, "contrast_ratio": 0.6}"#,
            "give all three",
        );
        refused(
            r#"{"L": 65, "a": 12, "b": 17, "contrast_ratio": 62, "tp_ab": 17, "tp_00": 14}"#,
            "contrast_ratio is 62",
        );
        let edited = json(&flesh()).replace("\"L\":64.2", "\"L\":70.2");
        refused(&edited, "take the key r out");
    }
}
