//! A matched part: its target, every cup, what to expect, and what to do next.
//!
//! Text, JSON and mix sheet say the same of a part, and take it from the same sentences: `remarks`, and the verdict of how
//! it stands against its tolerance.

use std::fmt::{self, Write as _};

use serde::Serialize;
use serde_json::Value;

use super::cautions::write_care;
use super::cup::{CupJson, write_cup};
use super::document::document;
use super::let_downs::{LetDowns, taken_text, write_let_downs};
use super::one_tint::{self, AT_ANOTHER_SIZE, write_one_tint};
use super::part_report::PartReport;
use super::parts::keeping_json;
use super::poured::{PouredCup, SCHEMA};
use super::prospects::{self, write_thicknesses};
use super::reach::{OutOfReach, missed, verdict};
use super::screen::write_screen;
use super::standing::says;
use super::target::write_target;
use super::text::{never, write_notes, write_wrapped};
use crate::batch::JarUse;
use crate::error::Result;
use crate::jobs::matching::{FilledCup, Layer};
use crate::jobs::verdict::Verdict;
use crate::tone::{TargetDocument, ToneRole};

/// A matched part on one screen: how it stands, what to pour in pouring order, and what to do next.
pub fn text(report: &PartReport<'_>) -> String {
    let mut text = String::new();
    write_screen(&mut text, report).unwrap_or_else(never);
    text
}

/// The reasons for it: what was aimed at and read, doubts, proof, other thicknesses, how let-downs are made and kept, and the
/// commands that log what comes out and make it at another size.
pub fn why(report: &PartReport<'_>) -> String {
    let mut text = String::new();
    write_why(&mut text, report).unwrap_or_else(never);
    text
}

/// The answer of `match`, for other programs: the keys of the skin's cup stand at the top, those of the foam and of the paints
/// under `foam`, `paint` (the flush), `shadow_paint` and `base_paint`, where there are any.
///
/// Colours are CIELAB under the book's viewing, and once more under each light that was matched under; `elapsed_s` are the
/// seconds that the search took.
///
/// # Errors
/// A mix that can't be told in the book's pigments alone: see [`Matched::spelled_out`](crate::jobs::matching::Matched::spelled_out).
pub fn json(report: &PartReport<'_>, elapsed_s: f64) -> Result<String> {
    // Long by its keys alone, which stand where they are filled.
    /// The keys of a part, in the order in which they are written; a cup that was not ordered has none.
    #[derive(Serialize)]
    struct Document<'a> {
        /// Version of this shape.
        schema: u32,
        /// What the part is called.
        title: &'a str,
        /// The day on which it is cast, `2026-03-14`.
        date: String,
        /// Seconds that the search took: the one number that differs from run to run.
        elapsed_s: f64,
        /// ΔE00 up to which a cup passes.
        tolerance: f64,
        /// How the skin stands against it.
        verdict: Verdict,
        /// The same in a sentence or two.
        says: String,
        /// What is poured, a cup each, in the order of the work.
        cups: Vec<PouredCup<'a>>,
        /// The let-downs that they draw on, each once.
        jars: Vec<JarUse>,
        /// What would help, where the skin does not pass.
        #[serde(skip_serializing_if = "Option::is_none")]
        out_of_reach: Option<OutOfReach<'a>>,
        /// Its keys stand at the top, since most parts have no other cup.
        #[serde(flatten)]
        skin: CupJson<'a>,
        /// What is poured behind the skin.
        #[serde(skip_serializing_if = "Option::is_none")]
        foam: Option<CupJson<'a>>,
        /// The paint of the flush tone.
        #[serde(skip_serializing_if = "Option::is_none")]
        paint: Option<CupJson<'a>>,
        /// The paint of the shadow tone.
        #[serde(skip_serializing_if = "Option::is_none")]
        shadow_paint: Option<CupJson<'a>>,
        /// The paint of the base tone.
        #[serde(skip_serializing_if = "Option::is_none")]
        base_paint: Option<CupJson<'a>>,
        /// The one stock that tints skin and foam, and what it costs.
        #[serde(skip_serializing_if = "Option::is_none")]
        one_tint: Option<Value>,
        /// The command that saves the new jars.
        instead_of_jars: Option<&'a str>,
        /// Other thicknesses, foaming and spraying.
        prospects: Value,
        /// What was aimed at, with all that was read of it.
        target: TargetDocument,
        /// What else the maker should know, a sentence each.
        notes: Vec<String>,
        /// The part that keeps it, or is compared with it.
        #[serde(skip_serializing_if = "Option::is_none")]
        part: Option<Value>,
    }
    let matched = report.matched;
    let cup = |cup| CupJson::new(matched, cup);
    let paint = |role| {
        let mut paints = matched.paints.iter();
        let found = paints.find(|paint| paint.layer == Layer::Paint(role));
        found.map(cup).transpose()
    };
    Ok(document(&Document {
        schema: SCHEMA,
        title: report.title,
        date: matched.day.to_string(),
        elapsed_s,
        tolerance: matched.tolerance,
        verdict: matched.verdict(),
        says: says(matched),
        cups: PouredCup::all_of(matched),
        jars: JarUse::of(matched.cups().map(|cup| &cup.pour)),
        out_of_reach: (!matched.passes()).then(|| OutOfReach::new(matched)),
        skin: cup(&matched.skin)?,
        foam: matched.foam.as_ref().map(cup).transpose()?,
        paint: paint(ToneRole::Flush)?,
        shadow_paint: paint(ToneRole::Shadow)?,
        base_paint: paint(ToneRole::Base)?,
        one_tint: matched.one_tint.as_ref().map(one_tint::json),
        instead_of_jars: report.commands.instead_of_jars.as_deref(),
        prospects: prospects::json(matched),
        target: TargetDocument::new(&matched.target, &matched.lights),
        notes: report.notes(),
        part: report.keeping.map(keeping_json),
    }))
}

/// How it stands, with what is doubted; the target; each cup; other thicknesses; how let-downs are made; cautions; commands.
fn write_why(out: &mut String, report: &PartReport<'_>) -> fmt::Result {
    let matched = report.matched;
    write_wrapped(out, "", &verdict(report))?;
    write_notes(out, &report.notes())?;
    writeln!(out)?;
    write_target(out, &matched.target, &[])?;
    writeln!(out)?;
    for (index, (cup, remarks)) in remarks(report).into_iter().enumerate() {
        write_cup(out, index + 1, cup, &remarks)?;
        writeln!(out)?;
    }
    write_thicknesses(out, &matched.prospects)?;
    if let Some(one_tint) = &matched.one_tint {
        write_one_tint(out, one_tint)?;
    }
    write_let_downs(
        out,
        matched
            .cups()
            .filter_map(|cup| LetDowns::of_pour(&cup.name(), &cup.pour)),
    )?;
    write_care(out, matched.cups().map(|cup| &cup.pour))?;
    out.write_str(&taken_text(&report.commands.take))?;
    writeln!(
        out,
        "\nWhen it is out of the mould, read it and log it:\n  {}",
        report.commands.log
    )?;
    if let Some(make) = &report.commands.make {
        writeln!(
            out,
            "\nOnce the stock is made, the book keeps it under its name by:\n  {make}"
        )?;
    }
    if !report.commands.repeat.is_empty() {
        writeln!(out)?;
        write_wrapped(out, "", AT_ANOTHER_SIZE)?;
    }
    (report.commands.repeat.iter()).try_for_each(|command| writeln!(out, "  {command}"))
}

/// The cups in the order of the work, each with what else there is to say of it, a sentence each (no capital, no full stop).
///
/// The skin is told how thin it may be, the foam what foaming does to colour, a paint how it misses its tone and goes on.
pub(super) fn remarks<'a>(report: &PartReport<'a>) -> Vec<(&'a FilledCup, Vec<String>)> {
    let matched = report.matched;
    let foaming = matched.prospects.foaming.as_ref();
    let foam = matched.foam.iter().map(|foam| {
        let made = foam.recipe.best().prediction.lab;
        let remarks = foaming.map(|foaming| prospects::foaming(foaming, made));
        (foam, remarks.unwrap_or_default())
    });
    let paints = matched.paints.iter().zip(&matched.prospects.spraying);
    let paints = paints.map(|(paint, spraying)| {
        let missed = (!matched.is_reached(paint)).then(|| missed(report, paint, spraying));
        let remarks = prospects::spraying(spraying, paint.pour.pots);
        (paint, missed.into_iter().chain(remarks).collect())
    });
    let beneath = if foaming.is_some() { "foam" } else { "backing" };
    let thinnest = matched.prospects.thinnest.iter();
    let thinnest = thinnest.map(|thinnest| prospects::thinnest(thinnest, beneath));
    std::iter::once((&matched.skin, thinnest.collect()))
        .chain(foam)
        .chain(paints)
        .collect()
}
