//! What a calibration found: chip by chip, material by material.

use std::fmt::{self, Write as _};

use serde::Serialize;

use super::bottles::{Bottles, WeighedRow};
use super::json::document;
use super::terminal::{EDGE_LOSS, HEADING, counted, never, write_doubtful, write_wrapped};
use crate::characterise::{Calibration, Curves, FoamFound, Judged, LEAST_VARIANCE_REMOVED, Lot};
use crate::error::Error;
use crate::materials::{Material, Swatch};

/// What was done to bottles, of a book that has no reading to learn from.
pub fn bottles_json(bottles: &Bottles) -> String {
    #[derive(Serialize)]
    struct Document<'a> {
        new_lots: &'a [String],
        weighed: Vec<WeighedRow<'a>>,
    }
    document(&Document {
        new_lots: &bottles.lots,
        weighed: bottles.rows(),
    })
}

/// The same for a terminal.
pub fn bottles_text(bottles: &Bottles) -> String {
    let mut text = String::new();
    bottles.write(&mut text).unwrap_or_else(never);
    text + "no swatch is logged yet to learn from\n"
}

/// `{"chips": […], "materials": […], "foams": […], "lots": […], "still_first_guess": […], "noise": …, "specular": …, "new_lots": […],
/// "weighed": […], "doubtful": […]}`: ΔE00 of every reading before and after, of every foam its cells and its absorption gain, and of every
/// new lot its strength and its shift of hue; `doubtful` are rows of the log that belie themselves.
pub fn json(
    calibration: &Calibration,
    swatches: &[Swatch],
    bottles: &Bottles,
    doubtful: &[Error],
) -> String {
    #[derive(Serialize)]
    struct Document<'a> {
        chips: Vec<Chip<'a>>,
        materials: Vec<Row<'a>>,
        foams: Vec<FoamRow<'a>>,
        lots: Vec<LotRow<'a>>,
        still_first_guess: Vec<&'a str>,
        noise: f64,
        specular: Option<String>,
        lots_alone: &'a [String],
        new_lots: &'a [String],
        weighed: Vec<WeighedRow<'a>>,
        doubtful: Vec<String>,
    }
    #[derive(Serialize)]
    struct FoamRow<'a> {
        foam: &'a str,
        first_cell_mm: f64,
        cell_mm: f64,
        cell_ln_sd: f64,
        told_of_cells: f64,
        first_absorption_gain: f64,
        absorption_gain: f64,
        absorption_gain_ln_sd: f64,
        told_of_gain: f64,
    }
    #[derive(Serialize)]
    struct LotRow<'a> {
        pigment: &'a str,
        lot_of: &'a str,
        readings: usize,
        strength: f64,
        strength_sd: f64,
        delta_a: f64,
        delta_a_sd: f64,
        delta_b: f64,
        delta_b_sd: f64,
    }
    #[derive(Serialize)]
    struct Chip<'a> {
        swatch: &'a str,
        over: &'a str,
        delta_e_before: f64,
        delta_e_after: f64,
        trust: f64,
        #[serde(skip_serializing_if = "Option::is_none")]
        disagrees: Option<String>,
        #[serde(skip_serializing_if = "std::ops::Not::not")]
        small_aperture: bool,
    }
    #[derive(Serialize)]
    struct Row<'a> {
        material: &'a str,
        told: f64,
        strength: f64,
    }
    let chips = swatches
        .iter()
        .zip(&calibration.judged)
        .map(|(swatch, judged)| Chip {
            swatch: &swatch.id,
            over: swatch.build.beneath.name(),
            delta_e_before: judged.before,
            delta_e_after: judged.after,
            trust: judged.trust,
            disagrees: judged.suspicion.map(|suspicion| suspicion.to_string()),
            small_aperture: swatch.loses_light_at_the_edge(),
        });
    let materials = calibration.curves.iter().map(|curves| Row {
        material: curves.material.name(),
        told: curves.variance_removed,
        strength: curves.strength,
    });
    let foams = foams(calibration).map(|(foam, found)| FoamRow {
        foam,
        first_cell_mm: found.first.cell_mm,
        cell_mm: found.foam.cell_mm,
        cell_ln_sd: found.foam.cell_ln_sd,
        told_of_cells: found.cell_variance_removed,
        first_absorption_gain: found.first.absorption_gain,
        absorption_gain: found.foam.absorption_gain,
        absorption_gain_ln_sd: found.gain_ln_sd,
        told_of_gain: found.gain_variance_removed,
    });
    let lots = calibration.lots.iter().map(|lot| LotRow {
        pigment: &lot.pigment,
        lot_of: &lot.of,
        readings: lot.readings,
        strength: lot.strength.0,
        strength_sd: lot.strength.1,
        delta_a: lot.delta_a.0,
        delta_a_sd: lot.delta_a.1,
        delta_b: lot.delta_b.0,
        delta_b_sd: lot.delta_b.1,
    });
    document(&Document {
        chips: chips.collect(),
        materials: materials.collect(),
        foams: foams.collect(),
        lots: lots.collect(),
        still_first_guess: still_first_guess(calibration).map(Material::name).collect(),
        noise: calibration.noise,
        specular: calibration.specular.map(|specular| specular.to_string()),
        lots_alone: &calibration.lots_alone,
        new_lots: &bottles.lots,
        weighed: bottles.rows(),
        doubtful: doubtful.iter().map(Error::to_string).collect(),
    })
}

/// For a terminal.
pub fn text(
    calibration: &Calibration,
    swatches: &[Swatch],
    bottles: &Bottles,
    doubtful: &[Error],
) -> String {
    let mut text = String::new();
    if !bottles.is_empty() {
        bottles.write(&mut text).unwrap_or_else(never);
        text.push('\n');
    }
    write(&mut text, calibration, swatches).unwrap_or_else(never);
    write_doubtful(&mut text, doubtful).unwrap_or_else(never);
    text
}

fn write(out: &mut String, calibration: &Calibration, swatches: &[Swatch]) -> fmt::Result {
    let Calibration {
        curves,
        judged,
        noise,
        ..
    } = calibration;
    let mean =
        |of: fn(&Judged) -> f64| judged.iter().map(of).sum::<f64>() / judged.len().max(1) as f64;
    writeln!(
        out,
        "{HEADING}{}, {}{HEADING:#}: mean ΔE00 {:.2} before, {:.2} after",
        counted(judged.len(), "reading"),
        counted(curves.len(), "material"),
        mean(|judged| judged.before),
        mean(|judged| judged.after)
    )?;
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
    let names = column(
        "material",
        curves.iter().map(|curves| curves.material.name()),
    );
    writeln!(
        out,
        "\n  {:<names$}    told   strength to its first guess",
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
            "  {name:<names$}  {:4.0} %   × {strength:.2}",
            100.0 * variance_removed
        )?;
    }
    for (foam, found) in foams(calibration) {
        write_foam(out, foam, found)?;
    }
    write_lots(out, &calibration.lots)?;
    writeln!(out)?;
    if !calibration.lots_alone.is_empty() {
        let words = format!(
            "lots that cannot be set beside the old one, since no chip tells of that: {}",
            calibration.lots_alone.join(", ")
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
    if mean(|judged| judged.after) > mean(|judged| judged.before) {
        let words = "the readings fit worse than before: they contradict each other, and what was learnt is not to be trusted; \
                     look at the rows that are farthest off";
        write_wrapped(out, "  ", words)?;
    }
    let untold: Vec<&Material> = still_first_guess(calibration).collect();
    if !untold.is_empty() {
        let names: Vec<&str> = untold.iter().map(|material| material.name()).collect();
        let is_pigment = |material: &&Material| matches!(material, Material::Pigment(_));
        let advice = if untold.iter().any(is_pigment) {
            "; `dropwise plan` says which chip would tell"
        } else {
            ""
        };
        let words = format!(
            "the chips tell less than {:.0} % of these, which stay near their first guess: {}{advice}",
            100.0 * LEAST_VARIANCE_REMOVED,
            names.join(", ")
        );
        write_wrapped(out, "  ", &words)?;
    }
    if let Some(specular) = calibration.specular {
        let words = format!(
            "readings lie below what the surface alone mirrors: they are with specular light {specular}, as book.toml should \
             say (a calibration that is kept writes it there)"
        );
        write_wrapped(out, "  ", &words)?;
    }
    if *noise > 3.0 {
        let words = format!(
            "readings scatter {noise:.1} times as much as a steady instrument does: uneven chips, another instrument, or \
             a setting in book.toml (specular, observer) that is not the instrument's"
        );
        write_wrapped(out, "  ", &words)?;
    }
    Ok(())
}

/// The width of a column under `head` that holds all `cells`.
fn column<'a>(head: &str, cells: impl Iterator<Item = &'a str>) -> usize {
    let widths = cells.map(|cell| cell.chars().count());
    widths.max().unwrap_or(0).max(head.len())
}

fn write_foam(out: &mut String, name: &str, found: &FoamFound) -> fmt::Result {
    let FoamFound {
        first,
        foam,
        gain_ln_sd,
        cell_variance_removed,
        gain_variance_removed,
    } = found;
    writeln!(
        out,
        "\n  {HEADING}{name}{HEADING:#}, risen {} times",
        foam.expansion
    )?;
    let percent = |share: &f64| 100.0 * share;
    writeln!(
        out,
        "    cells             {:.2} mm ± {:.0} %   first guess {:.2} mm, {:.0} % told",
        foam.cell_mm,
        percent(&foam.cell_ln_sd),
        first.cell_mm,
        percent(cell_variance_removed)
    )?;
    writeln!(
        out,
        "    absorption gain   {:.2} ± {:.0} %      first guess {:.2}, {:.0} % told",
        foam.absorption_gain,
        percent(gain_ln_sd),
        first.absorption_gain,
        percent(gain_variance_removed)
    )?;
    if cell_variance_removed.max(*gain_variance_removed) < LEAST_VARIANCE_REMOVED {
        let words = "hardly told yet: cast a light tint in it and in clear skin, and log a slice of the foam 2 to 4 mm thick and the \
                     skin, each read over both cards";
        write_wrapped(out, "    ", words)?;
    }
    Ok(())
}

/// The foams that chips tell of, by their names.
fn foams(calibration: &Calibration) -> impl Iterator<Item = (&str, &FoamFound)> {
    let curves = calibration.curves.iter();
    curves.filter_map(|curves| Some((curves.material.name(), curves.foam.as_ref()?)))
}

fn write_lots(out: &mut String, lots: &[Lot]) -> fmt::Result {
    for Lot {
        pigment,
        of,
        readings,
        strength,
        delta_a,
        delta_b,
    } in lots
    {
        writeln!(
            out,
            "\n  {HEADING}{pigment}{HEADING:#} beside {of}, by {}",
            counted(*readings, "reading")
        )?;
        if *readings == 0 {
            let words = "no chip of it is logged: it is taken for the old lot, less surely; one chip is enough";
            write_wrapped(out, "    ", words)?;
            continue;
        }
        let (factor, sd) = strength;
        writeln!(
            out,
            "    strength       × {factor:.2} ± {sd:.2}: for 1 g of the old take {:.2} g",
            1.0 / factor
        )?;
        writeln!(
            out,
            "    shift of hue   Δa* {:+.1} ± {:.1}   Δb* {:+.1} ± {:.1}   in white, both as deep as L* 65",
            delta_a.0, delta_a.1, delta_b.0, delta_b.1
        )?;
    }
    Ok(())
}

/// Materials of which the chips tell next to nothing.
fn still_first_guess(calibration: &Calibration) -> impl Iterator<Item = &Material> {
    let hardly_told = calibration
        .curves
        .iter()
        .filter(|curves| curves.variance_removed < LEAST_VARIANCE_REMOVED);
    hardly_told
        .map(|curves| &curves.material)
        .chain(&calibration.without_chip)
}
