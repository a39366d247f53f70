//! The moulds of the shop: what each takes, and the card that is kept with it.
//!
//! Grams come first, as they are what is mixed; by what they are known stands below, so that a guess from an area is not taken for
//! what somebody weighed. Masses are of the book's first skin and first foam: another base of another density takes another mass.

use std::fmt::{self, Write as _};

#[cfg(feature = "page")]
use maud::{DOCTYPE, Markup, PreEscaped, html};
use serde_json::Value;

use super::document::document;
use super::text::{HEADING, never, write_wrapped};
use crate::jobs::moulds::Takes;
use crate::materials::{Grams, Mould};

/// The moulds, for a terminal.
pub fn text(moulds: &[Takes]) -> String {
    if moulds.is_empty() {
        return "no mould stands in the book\n".to_owned();
    }
    let mut text = String::new();
    let written = moulds
        .iter()
        .try_for_each(|each| write_mould(&mut text, each));
    written.unwrap_or_else(never);
    text
}

/// The moulds, for other programs: an object whose one key `moulds` holds an object a mould.
///
/// - `mould`, `note`: its name, and what else is written on it.
/// - `skin_g`, `foam_g`: what it is known to take of mixed skin and foam, `null` where nobody marked it.
/// - `skin_area_cm2`, `thickness_mm`: where skin is brushed, and how thick it is wanted; `null` where that is not written.
/// - `cavity_ml`: the room that risen foam fills, likewise.
/// - `packing`: how many times as much foam is poured as would just fill it.
/// - `waste`: what is mixed above what the measures give, as a share of it.
/// - `takes`: what one piece takes of the book's first skin and first foam, with their names and masses, g; `null` where
///   nothing tells.
pub fn json(moulds: &[Takes]) -> String {
    let moulds: Vec<Value> = moulds.iter().map(value).collect();
    document(&serde_json::json!({ "moulds": moulds }))
}

/// A mould that was taken out, for a terminal.
pub fn removed_text(mould: &Mould) -> String {
    let name = mould.name.escape_debug();
    format!("{HEADING}{name}{HEADING:#} stands in the book no more\n")
}

/// `{"removed": …}`.
pub fn removed_json(mould: &Mould) -> String {
    document(&serde_json::json!({ "removed": mould.name }))
}

/// One mould in the keys of [`json`].
fn value(takes: &Takes) -> Value {
    let Takes {
        mould, skin, foam, ..
    } = takes;
    let grams = |mass: Option<Grams>| mass.map(|mass| mass.0);
    let of = |taken: &Option<(String, Grams)>| {
        let (base, mass) = taken.as_ref()?;
        Some(serde_json::json!({ "base": base, "g": mass.0 }))
    };
    serde_json::json!({
        "mould": mould.name,
        "skin_g": grams(mould.skin_mass),
        "skin_area_cm2": mould.skin_area_cm2,
        "thickness_mm": mould.thickness.map(|thickness| thickness.0),
        "foam_g": grams(mould.foam_mass),
        "cavity_ml": mould.cavity_ml,
        "packing": mould.packing,
        "waste": mould.waste,
        "note": mould.note,
        "takes": { "skin": of(skin), "foam": of(foam) },
    })
}

/// One mould in a few lines: its name and what it takes; by what that is known.
fn write_mould(out: &mut String, takes: &Takes) -> fmt::Result {
    let Takes {
        mould, skin, foam, ..
    } = takes;
    let amounts: Vec<String> = [("skin", skin), ("foam", foam)]
        .into_iter()
        .filter_map(|(kind, taken)| {
            let (_, mass) = taken.as_ref()?;
            Some(format!("{mass} of {kind}"))
        })
        .collect();
    writeln!(
        out,
        "{HEADING}{}{HEADING:#}   takes {}",
        mould.name.escape_debug(),
        amounts.join(", ")
    )?;
    write_wrapped(out, "  ", &format!("by {}", sources(mould).join("; ")))?;
    if mould.note.is_empty() {
        return Ok(());
    }
    write_wrapped(out, "  ", &format!("note: {}", mould.note.escape_debug()))
}

/// By what it is known how much `mould` takes, a phrase each: as marked, or by which measures, and what is mixed above these.
fn sources(mould: &Mould) -> Vec<String> {
    let thick =
        (mould.thickness).map_or_else(String::new, |thickness| format!(", {thickness} thick"));
    let packed = match mould.packing {
        1.0 => String::new(),
        packing => format!(", {packing} times what would just fill it"),
    };
    let skin = match (mould.skin_mass, mould.skin_area_cm2) {
        (Some(_), _) => Some(format!("skin as marked{thick}")),
        (None, Some(area)) => Some(format!("{area} cm² of skin{thick}")),
        (None, None) => None,
    };
    let foam = match (mould.foam_mass, mould.cavity_ml) {
        (Some(_), _) => Some("foam as marked".to_owned()),
        (None, Some(room)) => Some(format!("{room} ml of room for foam{packed}")),
        (None, None) => None,
    };
    let is_measured =
        |known: Option<Grams>, measure: Option<f64>| known.is_none() && measure.is_some();
    let is_wasted = is_measured(mould.skin_mass, mould.skin_area_cm2)
        || is_measured(mould.foam_mass, mould.cavity_ml);
    let waste = (is_wasted && mould.waste > 0.0)
        .then(|| format!("{:.0} % more for cup and brush", 100.0 * mould.waste));
    skin.into_iter().chain(foam).chain(waste).collect()
}

/// Millimetres, so that it prints alike on A4 and Letter: a card of A6 with a frame to cut along.
#[cfg(feature = "page")]
const STYLE: &str = "\
@page { margin: 12mm } \
body { font: 12pt/1.4 system-ui, sans-serif; color: #000; background: #fff; margin: 0 } \
main { box-sizing: border-box; width: 148mm; min-height: 100mm; border: 0.3mm dashed #000; padding: 6mm } \
h1 { font-size: 22pt; margin: 0 0 3mm; overflow-wrap: anywhere } \
table { border-collapse: collapse; width: 100% } caption { text-align: left } \
th, td { text-align: left; padding: 1.5mm 3mm; border: 0.3mm solid #000 } \
td.amount { font-size: 18pt; font-weight: 600 } td.blank { height: 9mm } \
p { margin: 2mm 0 }";

/// A card to print, cut out and keep with the mould: what it takes, and lines for the marker.
#[cfg(feature = "page")]
pub fn card(takes: &Takes) -> String {
    let Takes {
        mould, skin, foam, ..
    } = takes;
    let row = |kind: &str, taken: &Option<(String, Grams)>| -> Option<Markup> {
        let (base, mass) = taken.as_ref()?;
        Some(html! {
            tr { th scope="row" { (kind) } td.amount { (mass) } td { (base) ", A + B" } }
        })
    };
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="generator" content="dropwise";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (mould.name) " – mould card" }
                style { (PreEscaped(STYLE)) }
            }
            body {
                main {
                    h1 { (mould.name) }
                    table {
                        caption { "Takes, for one piece" }
                        @for row in [row("skin", skin), row("foam", foam)].into_iter().flatten() { (row) }
                    }
                    p { "By " (sources(mould).join("; ")) "." }
                    @if !mould.note.is_empty() { p { (mould.note) } }
                    table {
                        caption { "What it took (weigh the cup before and after)" }
                        tr { th scope="col" { "day" } th scope="col" { "skin, g" } th scope="col" { "foam, g" } th scope="col" { "note" } }
                        @for _ in 0..4 { tr { td.blank {} td {} td {} td {} } }
                    }
                }
            }
        }
    }
    .into_string()
}
