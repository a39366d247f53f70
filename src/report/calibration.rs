//! What a calibration found: chip by chip, material by material.
//!
//! A calibration that is kept and a dry run are worded alike: what is found does not depend on whether it is kept. Shares of
//! variance removed compare what is known after the readings with the first guess. What the calibration did to the log itself is
//! told after that: readings of a long log that were not learnt from, and those off photographs that were read again.

use std::fmt::{self, Write as _};

use serde::Serialize;

use super::bottles::{self, WeighedRow};
use super::document::{document, triple};
use super::foams::{FoamRow, foams, write_foam};
use super::lots::{LotRow, write_lots};
use super::numbers::tenths;
use super::swatches::{EDGE_LOSS, write_doubtful};
use super::text::{HEADING, column, counted, never, write_wrapped};
use crate::characterise::{Calibration, Curves, Judged, LEAST_VARIANCE_REMOVED, LeftOverFound};
use crate::colour::{Lab, delta_e_2000};
use crate::error::Error;
use crate::jobs::calibrating::{Bottles, Calibrated};
use crate::jobs::thinning::Thinned;
use crate::materials::{Material, Swatch};

/// Share of its prior variance that chips removed of a material that is called well known: its doubt is a third of what it was.
/// Our own window, no source.
const WELL_KNOWN: f64 = 0.9;

/// What was learnt, for a terminal: first what was done to bottles, then how near the book comes now and what it knows, then what
/// to look at. The tables of readings, materials and foams are left out where they can be asked for by the option `ask`.
pub fn text(calibrated: &Calibrated, ask: Option<&str>) -> String {
    let Calibrated {
        bottles,
        found: Some(calibration),
        learnt_from,
        doubtful,
        read_again,
        ..
    } = calibrated
    else {
        return bottles::text(&calibrated.bottles);
    };
    let mut text = String::new();
    if !bottles.is_empty() {
        bottles::write_bottles(&mut text, bottles).unwrap_or_else(never);
        text.push('\n');
    }
    write(&mut text, calibration, &learnt_from.swatches, ask.is_none()).unwrap_or_else(never);
    write_left_out(&mut text, learnt_from).unwrap_or_else(never);
    write_read_again(&mut text, read_again).unwrap_or_else(never);
    write_doubtful(&mut text, doubtful).unwrap_or_else(never);
    if let Some(ask) = ask {
        let more = format!("({ask} shows every reading, material and foam)");
        write_wrapped(&mut text, "  ", &more).unwrap_or_else(never);
    }
    text
}

/// The same for other programs: what was found, or what was done to bottles where the book has no reading to learn from.
pub fn json(calibrated: &Calibrated) -> String {
    let Calibrated {
        bottles,
        found,
        learnt_from,
        doubtful,
        read_again,
        ..
    } = calibrated;
    match found {
        Some(found) => found_json(found, learnt_from, bottles, read_again, doubtful),
        None => bottles::json(bottles),
    }
}

/// What a calibration found, one object, with what was done to bottles in the keys of [`bottles::json`].
fn found_json(
    calibration: &Calibration,
    learnt_from: &Thinned,
    bottles: &Bottles,
    read_again: &[(Swatch, Lab)],
    doubtful: &[Error],
) -> String {
    #[derive(Serialize)]
    struct Document<'a> {
        /// Of every reading ΔE00 from its prediction before and after, and how much of it was believed.
        chips: Vec<Chip<'a>>,
        /// How many readings of a long log were left out, since newer ones of the same pigments tell enough.
        left_out: usize,
        /// Of every material that a chip holds the share of its prior variance that was removed, and its strength; bases
        /// first, then pigments.
        materials: Vec<Row<'a>>,
        /// Of every foam that chips are of its cells and its absorption gain, each beside its first guess.
        foams: Vec<FoamRow<'a>>,
        /// Of every new lot its strength and its shift of hue beside the old one, with standard deviations.
        lots: Vec<LotRow<'a>>,
        /// Names of materials that the chips tell next to nothing of, among them those that no chip holds.
        still_first_guess: Vec<&'a str>,
        /// By what factor the readings scatter more than a steady instrument's; 1 where they don't.
        noise: f64,
        /// How the readings took specular light, `included`, `excluded` or `45/0`, where that is not what the book says; `null`
        /// where they don't belie it.
        specular: Option<String>,
        /// What the curves leave over and castings like them will show; `null` where it is no more than noise.
        left_over: Option<LeftOverJson>,
        /// Names of new lots that no chip sets beside the old one, so that they were learnt as pigments by themselves.
        lots_alone: &'a [String],
        /// Names of the lots that are new on the shelf.
        new_lots: &'a [String],
        /// The bottles whose drops were weighed, masses in g.
        weighed: Vec<WeighedRow<'a>>,
        /// Readings that were read again off what is kept of their photographs.
        read_again: Vec<ReadAgain<'a>>,
        /// Rows of the log that can be read and belie themselves, in words.
        doubtful: Vec<String>,
    }
    document(&Document {
        chips: (learnt_from.swatches.iter())
            .zip(&calibration.judged)
            .map(Chip::of)
            .collect(),
        left_out: learnt_from.left_out,
        materials: calibration.curves.iter().map(Row::of).collect(),
        foams: FoamRow::all(calibration),
        lots: LotRow::all(&calibration.lots),
        still_first_guess: still_first_guess(calibration).map(Material::name).collect(),
        noise: calibration.noise,
        specular: calibration.specular.map(|specular| specular.to_string()),
        left_over: calibration.left_over.as_ref().map(LeftOverJson::of),
        lots_alone: &calibration.lots_alone,
        new_lots: &bottles.lots,
        weighed: bottles::weighed_rows(bottles),
        read_again: read_again.iter().map(ReadAgain::of).collect(),
        doubtful: doubtful.iter().map(Error::to_string).collect(),
    })
}

/// What the curves leave over of the readings.
#[derive(Serialize)]
struct LeftOverJson {
    /// How many readings tell of it.
    readings: usize,
    /// How many of them the book keeps.
    kept: usize,
    /// Its standard deviations of L*, a* and b*.
    sd: [f64; 3],
}

impl LeftOverJson {
    /// The law, by how far it reaches and how much it carries, and what it was learnt from.
    fn of(found: &LeftOverFound) -> Self {
        Self {
            readings: found.readings,
            kept: found.castings.len(),
            sd: found.law.sd,
        }
    }
}

/// A reading, and ΔE00 from its prediction before and after.
#[derive(Serialize)]
struct Chip<'a> {
    /// The chip's name in the log.
    swatch: &'a str,
    /// What it was read over.
    over: &'a str,
    /// ΔE00 of the reading from its prediction by the first guesses, whatever was learnt in earlier calibrations.
    delta_e_before: f64,
    /// The same with the curves as learnt.
    delta_e_after: f64,
    /// How much of it was believed, 0–1: less than 1 where it lies farther off than can be trusted.
    trust: f64,
    /// What is likely to be wrong with it, in words, where it disagrees with the others.
    /// What would explain that it disagrees with the others, in words.
    #[serde(skip_serializing_if = "Option::is_none")]
    disagrees: Option<String>,
    /// Whether it was read through an aperture that loses light at its edge.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    small_aperture: bool,
}

impl<'a> Chip<'a> {
    /// A swatch and how its reading was judged.
    fn of((swatch, judged): (&'a Swatch, &Judged)) -> Self {
        Self {
            swatch: &swatch.id,
            over: swatch.build.beneath.name(),
            delta_e_before: judged.before,
            delta_e_after: judged.after,
            trust: judged.trust,
            disagrees: judged.suspicion.map(|suspicion| suspicion.to_string()),
            small_aperture: swatch.loses_light_at_the_edge(),
        }
    }
}

/// A reading off a photograph, as it stood and as it was read again.
#[derive(Serialize)]
struct ReadAgain<'a> {
    /// The chip's name in the log.
    swatch: &'a str,
    /// What it was read over.
    over: &'a str,
    /// The photograph.
    photo: &'a str,
    /// L*, a*, b* as they stood.
    stood: Option<[f64; 3]>,
    /// L*, a*, b* as read again.
    measured: [f64; 3],
}

impl<'a> ReadAgain<'a> {
    /// A reading as it stood, and the colour that it has now.
    fn of((swatch, lab): &'a (Swatch, Lab)) -> Self {
        Self {
            swatch: &swatch.id,
            over: swatch.build.beneath.name(),
            photo: &swatch.photo,
            stood: swatch.lab.map(triple),
            measured: triple(*lab),
        }
    }
}

/// A material, the share of its prior variance that the chips removed (0–1), and its strength to its first guess.
#[derive(Serialize)]
struct Row<'a> {
    /// Its name.
    material: &'a str,
    /// Share of the prior variance of its curves that the chips removed, 0–1.
    variance_removed: f64,
    /// Its strength in that of its first guess.
    strength: f64,
}

impl<'a> Row<'a> {
    /// What was learnt of one material.
    fn of(curves: &'a Curves) -> Self {
        Self {
            material: curves.material.name(),
            variance_removed: curves.variance_removed,
            strength: curves.strength,
        }
    }
}

/// How near the book comes, what it knows how well, and what to look at; between them all tables where it `is_exact`.
fn write(
    out: &mut String,
    calibration: &Calibration,
    swatches: &[Swatch],
    is_exact: bool,
) -> fmt::Result {
    write_nearness(out, &calibration.judged)?;
    if is_exact {
        write_readings(out, calibration, swatches)?;
        write_materials(out, &calibration.curves)?;
        for (foam, found) in foams(calibration) {
            write_foam(out, foam, found)?;
        }
    }
    write_lots(out, &calibration.lots)?;
    if is_exact || !calibration.lots.is_empty() {
        writeln!(out)?;
    }
    write_known(out, calibration)?;
    write_suspicions(out, calibration, swatches)?;
    if is_exact {
        write_left_over(out, calibration)?;
    }
    write_instrument(out, calibration)
}

/// That readings of a long log were left out, and which.
fn write_left_out(out: &mut String, learnt_from: &Thinned) -> fmt::Result {
    let Thinned { swatches, left_out } = learnt_from;
    if *left_out == 0 {
        return Ok(());
    }
    let note = format!(
        "{} of {} were learnt from, the newest of each set of pigments and bases in turn; the rest are older castings, and stay \
         in the log",
        swatches.len(),
        counted(swatches.len() + left_out, "reading")
    );
    write_wrapped(out, "  note: ", &note)
}

/// How far readings off photographs moved when they were read again.
fn write_read_again(out: &mut String, read_again: &[(Swatch, Lab)]) -> fmt::Result {
    let mut photos: Vec<&str> = (read_again.iter())
        .map(|(swatch, _)| swatch.photo.as_str())
        .collect();
    photos.sort_unstable();
    photos.dedup();
    for photo in photos {
        let off_it = read_again
            .iter()
            .filter(|(swatch, _)| swatch.photo == photo);
        let moved = off_it.filter_map(|(swatch, lab)| Some(delta_e_2000(swatch.lab?, *lab)));
        let moved: Vec<f64> = moved.collect();
        let words = format!(
            "{} off {} read again, by what their mixes can make as it is known now: moved by ΔE00 {:.1} in the mean, {:.1} \
             at most",
            counted(moved.len(), "reading"),
            photo.escape_debug(),
            moved.iter().sum::<f64>() / moved.len().max(1) as f64,
            moved.iter().copied().fold(0.0, f64::max)
        );
        write_wrapped(out, "  ", &words)?;
    }
    Ok(())
}

/// Mean of a number of all readings; 0 where there is none.
fn mean(judged: &[Judged], of: fn(&Judged) -> f64) -> f64 {
    judged.iter().map(of).sum::<f64>() / judged.len().max(1) as f64
}

/// By how much first guesses missed the readings, and what is learnt from them does.
fn write_nearness(out: &mut String, judged: &[Judged]) -> fmt::Result {
    writeln!(
        out,
        "{HEADING}Learnt from {}{HEADING:#}: first guesses missed them by ΔE00 {:.1}, now by {:.1}",
        counted(judged.len(), "reading"),
        mean(judged, |judged| judged.before),
        mean(judged, |judged| judged.after)
    )
}

/// ΔE00 of every reading from its prediction, before and after learning from it: a row each.
fn write_readings(out: &mut String, calibration: &Calibration, swatches: &[Swatch]) -> fmt::Result {
    let Calibration { judged, .. } = calibration;
    let ids = column("reading", swatches.iter().map(|swatch| swatch.id.as_str()));
    let over = column(
        "over",
        swatches.iter().map(|swatch| swatch.build.beneath.name()),
    );
    writeln!(
        out,
        "\n  {:<ids$}  {:<over$}  before   after",
        "reading", "over"
    )?;
    for (swatch, judged) in swatches.iter().zip(judged) {
        writeln!(
            out,
            "  {:<ids$}  {:<over$} {:7.2} {:7.2}",
            swatch.id,
            swatch.build.beneath.name(),
            judged.before,
            judged.after
        )?;
    }
    Ok(())
}

/// What was learnt of every material: the share of its prior variance that the chips removed, and its strength.
fn write_materials(out: &mut String, curves: &[Curves]) -> fmt::Result {
    let names = column(
        "material",
        curves.iter().map(|curves| curves.material.name()),
    );
    writeln!(
        out,
        "\n  {:<names$}  variance removed   strength to its first guess",
        "material"
    )?;
    for Curves {
        material,
        variance_removed,
        strength,
        ..
    } in curves
    {
        let name = material.name();
        writeln!(
            out,
            "  {name:<names$}  {:14.0} %   × {strength:.2}",
            100.0 * variance_removed
        )?;
    }
    Ok(())
}

/// Which readings are to be looked at again: lots without a chip of the old one, small apertures, chips that disagree
/// with the others, and all of them where learning made the fit worse.
fn write_suspicions(
    out: &mut String,
    calibration: &Calibration,
    swatches: &[Swatch],
) -> fmt::Result {
    let Calibration {
        judged, lots_alone, ..
    } = calibration;
    if !lots_alone.is_empty() {
        let words = format!(
            "lots that cannot be set beside the old one, since no chip tells of that: {}",
            lots_alone.join(", ")
        );
        write_wrapped(out, "  ", &words)?;
    }
    let small: Vec<&str> = swatches
        .iter()
        .filter(|swatch| swatch.loses_light_at_the_edge())
        .map(|swatch| swatch.id.as_str())
        .collect();
    if !small.is_empty() {
        let words = format!(
            "read through a small aperture: {}; {EDGE_LOSS}",
            small.join(", ")
        );
        write_wrapped(out, "  ", &words)?;
    }
    for (swatch, judged) in swatches.iter().zip(judged) {
        if let Some(suspicion) = judged.suspicion {
            let words = format!(
                "chip {} disagrees by {:.1} ΔE00 over {}: {suspicion}",
                swatch.id,
                judged.after,
                swatch.build.beneath.name()
            );
            write_wrapped(out, "  ", &words)?;
        }
    }
    if mean(judged, |judged| judged.after) > mean(judged, |judged| judged.before) {
        let words = "the readings fit worse than before: they contradict each other, and what was learnt is not to be trusted; \
                     look at the rows that are farthest off";
        write_wrapped(out, "  ", words)?;
    }
    Ok(())
}

/// Which materials are known how well, and, where a chip would tell of one that hardly is, who chooses it.
fn write_known(out: &mut String, calibration: &Calibration) -> fmt::Result {
    let named = |least: f64, most: f64| -> Vec<&str> {
        let within = (calibration.curves.iter())
            .filter(|curves| (least..most).contains(&curves.variance_removed));
        within.map(|curves| curves.material.name()).collect()
    };
    let well = named(WELL_KNOWN, f64::INFINITY);
    let partly = named(LEAST_VARIANCE_REMOVED, WELL_KNOWN);
    for (how, names) in [("known well     ", well), ("known in part  ", partly)] {
        if !names.is_empty() {
            write_wrapped(out, &format!("  {how}"), &names.join(", "))?;
        }
    }
    let hardly: Vec<&Material> = still_first_guess(calibration).collect();
    if hardly.is_empty() {
        return Ok(());
    }
    let names: Vec<&str> = hardly.iter().map(|material| material.name()).collect();
    let is_pigment = |material: &&Material| matches!(material, Material::Pigment(_));
    let advice = if hardly.iter().any(is_pigment) {
        " (`dropwise plan` says which chip would tell)"
    } else {
        ""
    };
    let words = format!("{}{advice}", names.join(", "));
    write_wrapped(out, "  hardly known   ", &words)
}

/// What the curves leave over and predictions carry on, with how many readings of it are kept where they are too many.
fn write_left_over(out: &mut String, calibration: &Calibration) -> fmt::Result {
    let Some(found) = &calibration.left_over else {
        return Ok(());
    };
    let [l, a, b] = found.law.sd.map(tenths);
    let kept = found.castings.len();
    let thinned = if kept < found.readings {
        format!(
            "; of {} readings the {kept} are kept that lie farthest apart",
            found.readings
        )
    } else {
        String::new()
    };
    let words = format!(
        "what the physics leaves over is alike where castings are (one sd: L* {l:.1}, a* {a:.1}, b* {b:.1}), and is carried \
         to castings like them{thinned}"
    );
    write_wrapped(out, "  ", &words)
}

/// What the readings give away of the instrument: that it takes specular light otherwise than the book says, or scatters.
fn write_instrument(out: &mut String, calibration: &Calibration) -> fmt::Result {
    /// Scatter, in that of a steady instrument, from which it is pointed out. Common practice, no source.
    const UNSTEADY: f64 = 3.0;
    let Calibration {
        noise, specular, ..
    } = calibration;
    if let Some(specular) = specular {
        let words = format!(
            "readings lie below what the surface alone mirrors: they are with specular light {specular}, as book.toml should \
             say (a calibration that is kept writes it there)"
        );
        write_wrapped(out, "  ", &words)?;
    }
    if *noise > UNSTEADY {
        let words = format!(
            "readings scatter {noise:.1} times as much as a steady instrument does: uneven chips, another instrument, or \
             a setting in book.toml (specular, observer) that is not the instrument's"
        );
        write_wrapped(out, "  ", &words)?;
    }
    Ok(())
}

/// Materials of which the chips tell next to nothing: those that they removed less than [`LEAST_VARIANCE_REMOVED`] of the prior
/// variance of, then those that no chip holds.
fn still_first_guess(calibration: &Calibration) -> impl Iterator<Item = &Material> {
    let hardly_known = calibration
        .curves
        .iter()
        .filter(|curves| curves.variance_removed < LEAST_VARIANCE_REMOVED);
    hardly_known
        .map(|curves| &curves.material)
        .chain(&calibration.without_chip)
}
