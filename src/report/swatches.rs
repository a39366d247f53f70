//! Logged swatches beside their predictions.
//!
//! Nothing is refused here: a row that can be read is shown, and what casts doubt on it stands beside it. A list says what was
//! poured and what was read, row by row as the log has it, so that a log of many years is listed as fast as it is read; what the
//! book would predict of each is put beside it only where that is asked for. Nobody reads a hundred thousand rows: a terminal is told of
//! the newest, other programs of all.

use std::fmt::{self, Write as _};
use std::path::Path;

use serde::Serialize;

use super::colours::{Numbers, Patch, Steps, in_words, steps};
use super::document::{self, document, triple};
use super::text::{HEADING, counted, never, write_mix, write_some_of, write_wrapped};
use crate::colour::{Lab, delta_e_2000};
use crate::error::Error;
use crate::jobs::comparing::{Logged, Read};
use crate::materials::{Build, Mix, Settings, Swatch};

/// Logged swatches beside their predictions, then rows of the log that are `doubtful`.
pub fn text(logged: &[Logged<'_>], doubtful: &[Error]) -> String {
    let mut text = String::new();
    write_swatches(&mut text, logged).unwrap_or_else(never);
    write_doubtful(&mut text, doubtful).unwrap_or_else(never);
    text
}

/// A swatch that is to be logged, as it was read; `settings` are its book's.
pub fn as_read_text(swatch: &Swatch, settings: &Settings) -> String {
    let weights = settings.viewing.weights();
    let mut named = swatch.clone();
    if named.id.is_empty() {
        named.id = "(the next number)".to_owned();
    }
    let mut text = String::new();
    let Some(measured) = swatch.measured(&weights) else {
        return text;
    };
    write_read(&mut text, &named, measured).unwrap_or_else(never);
    if !swatch.note.is_empty() {
        write_wrapped(&mut text, "  note       ", &swatch.note).unwrap_or_else(never);
    }
    text
}

/// A log, or the newest of it, told reading by reading for a terminal.
#[derive(Debug, Default)]
pub struct Listing {
    text: String,
    told: usize,
}

impl Listing {
    /// Tells of one more, as it was read.
    pub fn add(&mut self, Read { swatch, measured }: Read<'_>) {
        self.told += 1;
        write_read(&mut self.text, swatch, measured).unwrap_or_else(never);
        write_edge_loss(&mut self.text, swatch).unwrap_or_else(never);
    }

    /// Tells of one more, beside its prediction.
    pub fn add_predicted(&mut self, logged: &Logged<'_>) {
        self.told += 1;
        write_swatch(&mut self.text, logged).unwrap_or_else(never);
    }

    /// What was told, of a log of so many `readings`, then rows of it that are `doubtful`: of a log that is not told whole the last
    /// of these, as many as readings. `all_by` would tell of all.
    pub fn text(self, readings: usize, doubtful: &[Error], all_by: &str) -> String {
        if readings == 0 {
            return format!("{NONE}\n");
        }
        let told = match self.told {
            all if all == readings => doubtful.len(),
            some => doubtful.len().min(some),
        };
        let mut text = String::new();
        let write = |text: &mut String| {
            write_some_of(text, ("newest", self.told), (readings, "readings"), all_by)?;
            text.push_str(&self.text);
            write_doubtful(text, &doubtful[doubtful.len() - told..])?;
            write_some_of(text, ("last", told), (doubtful.len(), "notes"), all_by)
        };
        write(&mut text).unwrap_or_else(never);
        text
    }
}

/// The same for other programs: as [`json`] without predictions.
#[derive(Debug, Default)]
pub struct ListingJson {
    rows: Vec<u8>,
}

impl ListingJson {
    /// Tells of one more.
    pub fn add(&mut self, Read { swatch, measured }: Read<'_>) {
        if !self.rows.is_empty() {
            self.rows.push(b',');
        }
        document::write(&mut self.rows, &Row::new(swatch, measured, None));
    }

    /// All of them, and rows of the log that are `doubtful`.
    pub fn json(self, doubtful: &[Error]) -> String {
        let doubtful: Vec<String> = doubtful.iter().map(Error::to_string).collect();
        format!(
            "{{\"swatches\":[{}],\"doubtful\":{}}}\n",
            document::text(self.rows),
            document(&doubtful).trim_end()
        )
    }
}

/// The answer of `swatch add`, and of `swatch list` with predictions: `{"swatches": […], "doubtful": […]}`; rows of the log that
/// are `doubtful` are told in words.
pub fn json(logged: &[Logged<'_>], doubtful: &[Error]) -> String {
    let rows = logged.iter().map(|logged| {
        let [delta_l, delta_a, delta_b] = steps(logged.predicted, logged.measured);
        let beside = Beside {
            predicted: triple(logged.predicted),
            delta_e: delta_e_2000(logged.measured, logged.predicted),
            delta_l,
            delta_a,
            delta_b,
        };
        Row::new(logged.swatch, logged.measured, Some(beside))
    });
    #[derive(Serialize)]
    struct Document<'a> {
        /// A swatch each; empty where none is logged yet.
        swatches: Vec<Row<'a>>,
        /// What casts doubt on a row of the log, a sentence each with its mend.
        doubtful: Vec<String>,
    }
    document(&Document {
        swatches: rows.collect(),
        doubtful: doubtful.iter().map(Error::to_string).collect(),
    })
}

/// What `swatch export` has done: how many `readings` stand in `file` now.
pub fn exported_text(file: &Path, readings: usize) -> String {
    let stand = if readings == 1 { "stands" } else { "stand" };
    format!(
        "{} {stand} in {}\n",
        counted(readings, "reading"),
        file.display()
    )
}

/// The answer of `swatch export`: `{"file": …, "readings": …}`, the path as it was given and how many readings stand in it.
pub fn exported_json(file: &Path, readings: usize) -> String {
    document(&serde_json::json!({ "file": file.display().to_string(), "readings": readings }))
}

/// A swatch.
#[derive(Serialize)]
struct Row<'a> {
    /// The swatch's name in the log.
    swatch: &'a str,
    /// The day on which it was cast, `2026-03-14`.
    date: String,
    /// What was stirred into its skin.
    mix: &'a Mix,
    /// CIELAB as read.
    measured: [f64; 3],
    /// Beside its prediction, where that was asked for.
    #[serde(flatten)]
    beside: Option<Beside>,
    /// Whether the instrument counted the light mirrored at the surface, `included`, `excluded` or `45/0`; left out where unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    specular: Option<String>,
    /// Width of the aperture that it was read through, mm, where that is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    aperture_mm: Option<f64>,
}

/// A reading beside its prediction.
#[derive(Serialize)]
struct Beside {
    /// CIELAB as predicted.
    predicted: [f64; 3],
    /// ΔE00 between the two.
    delta_e: f64,
    /// The reading less the prediction.
    #[serde(rename = "delta_L")]
    delta_l: f64,
    /// Δa* likewise.
    delta_a: f64,
    /// Δb* likewise.
    delta_b: f64,
}

impl<'a> Row<'a> {
    /// `swatch` as it was read, with what is predicted `beside` it where that was asked for.
    fn new(swatch: &'a Swatch, measured: Lab, beside: Option<Beside>) -> Self {
        let geometry = swatch.geometry;
        Self {
            swatch: &swatch.id,
            date: swatch.date.to_string(),
            mix: &swatch.build.skin.mix,
            measured: triple(measured),
            beside,
            specular: geometry.specular.map(|specular| specular.to_string()),
            aperture_mm: geometry.aperture_mm,
        }
    }
}

/// What is told of a log without readings.
const NONE: &str = "no swatch is logged yet";

/// A swatch each, beside its prediction.
pub(super) fn write_swatches(out: &mut String, logged: &[Logged<'_>]) -> fmt::Result {
    if logged.is_empty() {
        return writeln!(out, "{NONE}");
    }
    logged
        .iter()
        .try_for_each(|logged| write_swatch(out, logged))
}

/// What a swatch is, as read and as predicted, how the two differ, and what casts doubt on the reading.
fn write_swatch(out: &mut String, logged: &Logged<'_>) -> fmt::Result {
    let Logged {
        swatch,
        measured,
        predicted,
    } = *logged;
    write_read(out, swatch, measured)?;
    writeln!(
        out,
        "  predicted  {}  {}",
        Numbers(predicted),
        Patch(predicted)
    )?;
    let steps = steps(predicted, measured);
    writeln!(
        out,
        "  off by ΔE00 {:.2}   {}: it reads {}",
        delta_e_2000(measured, predicted),
        Steps(steps),
        in_words(steps)
    )?;
    if let Some(check) = what_to_check(measured, predicted) {
        let check = format!("{check}, and mend the row in swatches.csv");
        write_wrapped(out, "  note: ", &check)?;
    }
    write_edge_loss(out, swatch)
}

/// What `swatch` is, and as it was read.
fn write_read(out: &mut String, swatch: &Swatch, measured: Lab) -> fmt::Result {
    let Build {
        skin,
        thickness,
        beneath,
        paint,
    } = &swatch.build;
    let under = beneath.name();
    let painted = if paint.is_some() { ", painted" } else { "" };
    writeln!(
        out,
        "{HEADING}{}{HEADING:#}  {}  {}, {thickness} over {under}{painted}",
        swatch.id, swatch.date, skin.base
    )?;
    write_mix(out, "  ", &skin.mix)?;
    let (numbers, patch) = (Numbers(measured), Patch(measured));
    writeln!(out, "  read       {numbers}  {patch}")?;
    if !swatch.geometry.is_unknown() {
        writeln!(out, "  taken with {}", swatch.geometry)?;
    }
    if !swatch.photo.is_empty() {
        let photo = swatch.photo.escape_debug();
        writeln!(out, "  read off   {photo}")?;
    }
    Ok(())
}

/// That a thin, clear chip may have lost light at the edge of what the instrument sees.
fn write_edge_loss(out: &mut String, swatch: &Swatch) -> fmt::Result {
    if swatch.loses_light_at_the_edge() {
        write_wrapped(out, "  note: ", EDGE_LOSS)?;
    }
    Ok(())
}

/// Rows of the log that can be read and are not to be trusted.
pub(super) fn write_doubtful(out: &mut String, doubtful: &[Error]) -> fmt::Result {
    doubtful
        .iter()
        .try_for_each(|doubt| write_wrapped(out, "  note: ", &doubt.to_string()))
}

/// What a small aperture does to a translucent casting.
pub(super) const EDGE_LOSS: &str = "an aperture of less than three thicknesses loses light that leaves a translucent \
    casting beside it: it reads darker than it looks, most where it lets most light through (red); read it through a wider one";

/// ΔE00 between reading and prediction from which a mistake in writing is likelier than an error of the model.
const IMPLAUSIBLE: f64 = 12.0;

/// What to check where a reading lies so far from its prediction that a mistake in writing is likelier than an error of the model;
/// `None` where it does not. The words name no file, since a reading may not be logged.
pub(super) fn what_to_check(measured: Lab, predicted: Lab) -> Option<&'static str> {
    (delta_e_2000(measured, predicted) > IMPLAUSIBLE).then_some(
        "that is far: check the order of L*, a*, b*, the base, the mix and the thickness",
    )
}
