//! The chips to cast next, and what each would tell.

use std::fmt::{self, Write as _};

use serde::Serialize;

use super::json::document;
use super::terminal::{HEADING, never, write_wrapped};
use crate::characterise::Advice;
use crate::materials::Shelf;

/// `{"swatches": [{"base": …, "base_g": …, "mix": …, "thickness_mm": …, "backings": […], "tells": …}]}`.
pub fn json(chips: &[Advice]) -> String {
    #[derive(Serialize)]
    struct Document<'a> {
        swatches: Vec<Chip<'a>>,
    }
    #[derive(Serialize)]
    struct Chip<'a> {
        base: &'a str,
        base_g: f64,
        mix: String,
        thickness_mm: f64,
        backings: &'a [String],
        tells: String,
        spread_before: f64,
        spread_after: f64,
    }
    let swatches = chips.iter().map(|chip| Chip {
        base: &chip.poured.base,
        base_g: chip.poured.base_mass.0,
        mix: chip.poured.mix.to_string(),
        thickness_mm: chip.thickness.0,
        backings: &chip.backings,
        tells: tells(chip),
        spread_before: chip.spread.0,
        spread_after: chip.spread.1,
    });
    document(&Document {
        swatches: swatches.collect(),
    })
}

/// For a terminal.
pub fn text(chips: &[Advice], shelf: &Shelf) -> String {
    let mut text = String::new();
    write(&mut text, chips, shelf).unwrap_or_else(never);
    text
}

fn write(out: &mut String, chips: &[Advice], shelf: &Shelf) -> fmt::Result {
    for (place, chip) in chips.iter().enumerate() {
        let mix = if chip.poured.mix.is_empty() {
            "nothing: the base alone".to_owned()
        } else {
            chip.poured.mix.to_string()
        };
        writeln!(
            out,
            "{HEADING}{}. {} of {}{HEADING:#}, {} thick, over {}",
            place + 1,
            chip.poured.base_mass,
            chip.poured.base,
            chip.thickness,
            chip.backings.join(" and ")
        )?;
        write_wrapped(out, "   mix    ", &mix)?;
        write_wrapped(out, "   tells  ", &tells(chip))?;
    }
    writeln!(out)?;
    let advice = format!(
        "Cast each in one piece, measure its thickness where it is read, and wet it to the card. Log every reading with \
         `dropwise swatch add`, then run `dropwise calibrate`. A chip is taken for good to {} of its mass on this book's \
         scale.",
        shelf.settings.scale_resolution
    );
    write_wrapped(out, "", &advice)
}

fn tells(chip: &Advice) -> String {
    let (material, share) = &chip.tells_of;
    let (before, after) = chip.spread;
    format!(
        "{}: {:.0} % of what is unknown of its part in the tones; their spread falls from {before:.2} to {after:.2}",
        material.name(),
        100.0 * share
    )
}
