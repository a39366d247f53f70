//! What the model predicts of a build: its colour, how sure that is, and what it shows of what is behind it.
//!
//! Every document that holds a prediction has it in the same keys.

use std::fmt::{self, Write as _};

use serde::Serialize;
use serde_json::{Map, Value};

use super::colours::{Numbers, Patch, Seen, SeenJson, Steps};
use super::document::{document, triple};
use super::lights::name_width;
use super::text::{HEADING, counted, never, write_wrapped};
use crate::colour::{Light, Observer, Spectrum, Viewing};
use crate::forecast::Prediction;
use crate::materials::LeftOver;

/// Predicted builds by their names, for a terminal: under the light of `viewing`, and under each other of `lights`.
/// Where readings no longer tell of what is `left_over`, that is said at the end.
pub fn text(
    builds: &[(String, Prediction)],
    viewing: Viewing,
    lights: &[Light],
    left_over: Option<&LeftOver>,
) -> String {
    let mut text = String::new();
    write_predictions(&mut text, builds, viewing, lights).unwrap_or_else(never);
    if let Some(left_over) = left_over.filter(|left| left.stale() > 0) {
        let words = format!(
            "{} no longer {} of what the physics leaves over: curves, cards or settings have changed since; \
             `dropwise calibrate` learns it anew",
            counted(left_over.stale(), "reading"),
            if left_over.stale() == 1 {
                "tells"
            } else {
                "tell"
            }
        );
        write_wrapped(&mut text, "", &words).unwrap_or_else(never);
    }
    text
}

/// The answer of `predict`: `{"builds": [{"build": …, "L": …, "a": …, "b": …, "r": […], "under": {…}, …}]}`.
///
/// `L`, `a`, `b` are under the book's light; `under` is as `observer` sees it under each of `lights`.
pub fn json(builds: &[(String, Prediction)], observer: Observer, lights: &[Light]) -> String {
    /// A build under its name.
    #[derive(Serialize)]
    struct Built<'a> {
        /// What the build is called.
        build: &'a str,
        /// What comes out of it, in the keys that every prediction has.
        #[serde(flatten)]
        predicted: Predicted,
        /// Mean L*, a*, b* of what may come out, to second order; left out where the colour itself says it.
        #[serde(skip_serializing_if = "Option::is_none")]
        mean: Option<[f64; 3]>,
    }
    #[derive(Serialize)]
    struct Document<'a> {
        /// In the order in which they were asked for.
        builds: Vec<Built<'a>>,
    }
    let built = builds.iter().map(|(build, prediction)| Built {
        build,
        predicted: Predicted::new(prediction, observer, lights),
        mean: prediction.mean_apart().map(triple),
    });
    document(&Document {
        builds: built.collect(),
    })
}

/// A build each: what comes out, how sure that is, what it shows of black and white, and how it looks under each other light.
fn write_predictions(
    out: &mut String,
    builds: &[(String, Prediction)],
    viewing: Viewing,
    lights: &[Light],
) -> fmt::Result {
    let width = name_width(lights);
    for (build, prediction) in builds {
        writeln!(out, "{HEADING}{build}{HEADING:#}")?;
        write_made(out, prediction)?;
        if let Some(mean) = prediction.mean_apart() {
            writeln!(out, "  on average      {}  {}", Numbers(mean), Patch(mean))?;
        }
        writeln!(out, "  {}", Seen(prediction.translucency))?;
        for light in lights.iter().filter(|light| **light != viewing.illuminant) {
            let lab = prediction.under(light, viewing.observer);
            writeln!(
                out,
                "  under {light:<width$}  {}  {}",
                Numbers(lab),
                Patch(lab)
            )?;
        }
    }
    Ok(())
}

/// What comes out, how sure that is, and what of it is carried from castings like it, where that is worth a word.
pub(super) fn write_made(out: &mut String, prediction: &Prediction) -> fmt::Result {
    /// Less than this, in L*, a* or b*, is not worth a word.
    const WORTH_A_WORD: f64 = 0.05;
    let lab = prediction.lab;
    let [l_sd, a_sd, b_sd] = prediction.spread();
    writeln!(out, "  comes out       {}  {}", Numbers(lab), Patch(lab))?;
    writeln!(
        out,
        "  ± one sd           {l_sd:5.1}     {a_sd:5.1}     {b_sd:5.1}"
    )?;
    let carried = prediction.carried.map(|carried| carried.by);
    match carried.filter(|by| by.iter().any(|axis| axis.abs() >= WORTH_A_WORD)) {
        Some(by) => writeln!(out, "  {} in it, as castings like it came out", Steps(by)),
        None => Ok(()),
    }
}

/// What comes out of a build.
#[derive(Serialize)]
pub(super) struct Predicted {
    /// L* under the book's light.
    #[serde(rename = "L")]
    l: f64,
    /// a* likewise.
    a: f64,
    /// b* likewise.
    b: f64,
    /// One standard deviation of L*.
    #[serde(rename = "L_sd")]
    l_sd: f64,
    /// One standard deviation of a*.
    a_sd: f64,
    /// One standard deviation of b*.
    b_sd: f64,
    /// What it shows of black and white beneath it, in keys of its own beside the others.
    #[serde(flatten)]
    seen: SeenJson,
    /// ΔL*, Δa*, Δb* by which castings like it were off the physics, which is in its colour; null where none tells.
    left_over: Option<[f64; 3]>,
    /// Reflectance, 0–1, 380–730 nm by 10 nm.
    r: Spectrum,
    /// CIELAB under each light that was asked for, by its name.
    under: Map<String, Value>,
}

impl Predicted {
    /// `prediction` as `observer` sees it, under the book's light and under each of `lights`.
    pub(super) fn new(prediction: &Prediction, observer: Observer, lights: &[Light]) -> Self {
        let Prediction {
            lab,
            translucency,
            reflectance,
            carried,
            ..
        } = *prediction;
        let [l_sd, a_sd, b_sd] = prediction.spread();
        let under = lights.iter().map(|light| {
            (
                light.name().to_owned(),
                triple(prediction.under(light, observer)).into(),
            )
        });
        Self {
            l: lab.l,
            a: lab.a,
            b: lab.b,
            l_sd,
            a_sd,
            b_sd,
            seen: translucency.into(),
            left_over: carried.map(|carried| carried.by),
            r: reflectance,
            under: under.collect(),
        }
    }
}
