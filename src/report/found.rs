//! Swatches that were looked for, and the log put right.

use std::fmt::{self, Write as _};

use serde::Serialize;
use serde_json::json;

use super::colours::{Numbers, Patch};
use super::document::{document, triple};
use super::text::{HEADING, counted, never, write_mix, write_some_of};
use crate::jobs::finding::{Findings, Found};
use crate::materials::Mix;

/// The swatches that were found: the nearest, or else the newest, where not all are told; `all_by` would tell of all.
pub fn text(found: &Findings, all_by: &str) -> String {
    let mut text = String::new();
    write(&mut text, found, all_by).unwrap_or_else(never);
    text
}

/// Two lines a swatch, what it read and what it is made of; or that there is none.
fn write(out: &mut String, found: &Findings, all_by: &str) -> fmt::Result {
    let Findings { swatches, all } = found;
    let Some(first) = swatches.first() else {
        return writeln!(out, "no swatch of the log is all of that");
    };
    let which = first.apart.map_or("newest", |_| "nearest");
    write_some_of(
        out,
        (which, swatches.len()),
        (*all, "that were found"),
        all_by,
    )?;
    for Found {
        swatch,
        measured,
        apart,
    } in swatches
    {
        let apart = apart.map_or_else(String::new, |apart| format!("  ΔE00 {apart:.1} away"));
        writeln!(
            out,
            "{HEADING}{}{HEADING:#}  {}  {}  {}{apart}",
            swatch.id,
            swatch.date,
            Numbers(*measured),
            Patch(*measured)
        )?;
        let begin = format!(
            "  {} {}: ",
            swatch.build.skin.base_mass, swatch.build.skin.base
        );
        write_mix(out, &begin, &swatch.build.skin.mix)?;
    }
    Ok(())
}

/// The answer of `swatch find`: an object whose one key `swatches` holds an object a swatch, as the text lists them.
///
/// - `swatch`, `date`, `base`, `base_g`, `mix`: its id, its day, and its skin's cup; g of mixed base.
/// - `measured`: L*, a*, b* as read.
/// - `delta_e`: ΔE00 of that from the colour that was looked for; `null` where none was.
pub fn json(found: &Findings) -> String {
    let rows = found.swatches.iter().map(|found| {
        let skin = &found.swatch.build.skin;
        Row {
            swatch: &found.swatch.id,
            date: found.swatch.date.to_string(),
            base: &skin.base,
            base_g: skin.base_mass.0,
            mix: &skin.mix,
            measured: triple(found.measured),
            delta_e: found.apart,
        }
    });
    #[derive(Serialize)]
    struct Document<'a> {
        swatches: Vec<Row<'a>>,
    }
    document(&Document {
        swatches: rows.collect(),
    })
}

/// A swatch that was found, as [`json`] says.
#[derive(Serialize)]
struct Row<'a> {
    swatch: &'a str,
    date: String,
    base: &'a str,
    base_g: f64,
    mix: &'a Mix,
    measured: [f64; 3],
    delta_e: Option<f64>,
}

/// What was done to `readings` of `swatch`: `did` is `mended` or `removed`.
pub fn changed_text(swatch: &str, readings: usize, did: &str) -> String {
    format!(
        "{did} {swatch}, {}; as it stood: history.csv, and back by `dropwise swatch undo`\n",
        counted(readings, "reading")
    )
}

/// The answer of `swatch mend` and `swatch remove`: `{"swatch", "readings", "changed"}`.
pub fn changed_json(swatch: &str, readings: usize, did: &str) -> String {
    document(&json!({ "swatch": swatch, "readings": readings, "changed": did }))
}

/// What was taken back: `did`, such as `mended`, to `readings` of `swatch`.
pub fn undone_text(swatch: &str, readings: usize, did: &str) -> String {
    let readings = counted(readings, "reading");
    format!("{swatch} stands as before it was {did}, {readings}\n")
}

/// The answer of `swatch undo`: `{"swatch", "readings", "undone"}`.
pub fn undone_json(swatch: &str, readings: usize, did: &str) -> String {
    document(&json!({ "swatch": swatch, "readings": readings, "undone": did }))
}
