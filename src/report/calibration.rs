//! What a calibration found: chip by chip, material by material.

use std::fmt::{self, Write as _};

use serde::Serialize;

use super::json::document;
use super::terminal::{HEADING, never, write_wrapped};
use crate::characterise::{Calibration, Curves, Judged, TOLD_NOTHING};
use crate::materials::{Material, Swatch};

/// `{"chips": […], "materials": […], "still_first_guess": […], "noise": …}`: ΔE00 of every reading before and after.
pub fn json(calibration: &Calibration, swatches: &[Swatch]) -> String {
    #[derive(Serialize)]
    struct Document<'a> {
        chips: Vec<Chip<'a>>,
        materials: Vec<Row<'a>>,
        still_first_guess: Vec<&'a str>,
        noise: f64,
        specular: Option<String>,
    }
    #[derive(Serialize)]
    struct Chip<'a> {
        swatch: &'a str,
        delta_e_before: f64,
        delta_e_after: f64,
        trust: f64,
        #[serde(skip_serializing_if = "Option::is_none")]
        disagrees: Option<String>,
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
            delta_e_before: judged.before,
            delta_e_after: judged.after,
            trust: judged.trust,
            disagrees: judged.suspicion.map(|suspicion| suspicion.to_string()),
        });
    let materials = calibration.curves.iter().map(|curves| Row {
        material: curves.material.name(),
        told: curves.told,
        strength: curves.strength,
    });
    document(&Document {
        chips: chips.collect(),
        materials: materials.collect(),
        still_first_guess: still_first_guess(calibration).map(Material::name).collect(),
        noise: calibration.noise,
        specular: calibration.specular.map(|specular| specular.to_string()),
    })
}

/// For a terminal.
pub fn text(calibration: &Calibration, swatches: &[Swatch]) -> String {
    let mut text = String::new();
    write(&mut text, calibration, swatches).unwrap_or_else(never);
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
        "{HEADING}{} readings, {} materials{HEADING:#}: mean ΔE00 {:.2} before, {:.2} after",
        judged.len(),
        curves.len(),
        mean(|judged| judged.before),
        mean(|judged| judged.after)
    )?;
    writeln!(out, "\n  reading       before   after")?;
    for (swatch, judged) in swatches.iter().zip(judged) {
        writeln!(
            out,
            "  {:<12} {:7.2} {:7.2}",
            swatch.id, judged.before, judged.after
        )?;
    }
    writeln!(
        out,
        "\n  material                  told   strength to its first guess"
    )?;
    for Curves {
        material,
        told,
        strength,
        ..
    } in curves
    {
        let name = material.name();
        writeln!(out, "  {name:<24} {:4.0} %  × {strength:.2}", 100.0 * told)?;
    }
    writeln!(out)?;
    for (swatch, judged) in swatches.iter().zip(judged) {
        if let Some(suspicion) = judged.suspicion {
            let words = format!(
                "chip {} disagrees by {:.1} ΔE00: {suspicion}",
                swatch.id, judged.after
            );
            write_wrapped(out, "  ", &words)?;
        }
    }
    let names: Vec<&str> = still_first_guess(calibration).map(Material::name).collect();
    if !names.is_empty() {
        let words = format!(
            "still at their first guess, since no chip tells of them: {}; `dropwise plan` says which chip would",
            names.join(", ")
        );
        write_wrapped(out, "  ", &words)?;
    }
    if let Some(specular) = calibration.specular {
        let words = format!(
            "readings lie below what the surface alone mirrors: they are with specular light {specular}, and book.toml now \
             says so"
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

/// Materials of which the chips tell next to nothing.
fn still_first_guess(calibration: &Calibration) -> impl Iterator<Item = &Material> {
    let hardly_told = calibration
        .curves
        .iter()
        .filter(|curves| curves.told < TOLD_NOTHING);
    hardly_told
        .map(|curves| &curves.material)
        .chain(&calibration.untold)
}
