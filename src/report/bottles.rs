//! What weighing drops and new bottles did to the shelf.
//!
//! The book itself was changed before anything is worded here: a new lot stands on the shelf, and a mean mass of drops is that
//! of all runs.

use std::fmt::{self, Write as _};

use serde::Serialize;

use super::document::document;
use super::text::{HEADING, counted, never, write_wrapped};
use crate::jobs::calibrating::Bottles;
use crate::materials::{DropMass, Grams, Weighed};

/// What was done to bottles, of a book that has no reading to learn from, for a terminal.
pub(super) fn text(bottles: &Bottles) -> String {
    let mut text = String::new();
    write_bottles(&mut text, bottles).unwrap_or_else(never);
    text + "no swatch is logged yet to learn from\n"
}

/// The same for other programs: `{"new_lots": […], "weighed": [{"pigment": …, "lot": …, "runs": …, "drop_g_before": …,
/// "drop_g": …, "drop_g_sd": …, "notes": […]}]}`, masses in g.
pub(super) fn json(bottles: &Bottles) -> String {
    #[derive(Serialize)]
    struct Document<'a> {
        /// Names of the lots that are new on the shelf; empty where there are none.
        new_lots: &'a [String],
        /// The bottles whose drops were weighed, in the same keys as in a calibration's answer.
        weighed: Vec<WeighedRow<'a>>,
    }
    document(&Document {
        new_lots: &bottles.lots,
        weighed: weighed_rows(bottles),
    })
}

/// A bottle whose drops were weighed, for other programs.
#[derive(Serialize)]
pub(super) struct WeighedRow<'a> {
    /// The pigment's name in the book.
    pigment: &'a str,
    /// The lot by which its runs are told from those of earlier bottles; empty where the book names none.
    lot: &'a str,
    /// How many runs of drops its mean is of.
    runs: usize,
    /// Mean mass of a drop before, g; `null` where the book had none.
    drop_g_before: Option<Grams>,
    /// Mean mass of a drop now, g.
    drop_g: Grams,
    /// Standard deviation from run to run, g; `null` below as many runs as tell it.
    drop_g_sd: Option<Grams>,
    /// What is unusual about the runs or the new mean, a sentence each; empty where nothing is.
    notes: Vec<String>,
}

/// Masses between which a drop of a dispersion from a dropper is expected, g: from a fine tip with a wetting liquid to a
/// wide one. Common practice, no source.
const USUAL_DROP_G: (f64, f64) = (0.01, 0.08);

/// The bottles whose drops were weighed, a row each.
pub(super) fn weighed_rows(bottles: &Bottles) -> Vec<WeighedRow<'_>> {
    weighed_rows_of(&bottles.weighed)
}

/// Bottles whose drops were weighed, a row each.
pub(super) fn weighed_rows_of(weighed: &[Weighed]) -> Vec<WeighedRow<'_>> {
    /// A bottle, and what is worth a second look.
    fn row(bottle: &Weighed) -> WeighedRow<'_> {
        let Weighed {
            pigment,
            lot,
            before,
            now,
            ..
        } = bottle;
        WeighedRow {
            pigment,
            lot,
            runs: now.runs,
            drop_g_before: *before,
            drop_g: now.mean,
            drop_g_sd: now.sd,
            notes: notes(bottle),
        }
    }
    weighed.iter().map(row).collect()
}

/// The new lots, then the bottles whose drops were weighed, each with what is worth a second look.
pub(super) fn write_bottles(out: &mut String, bottles: &Bottles) -> fmt::Result {
    for name in &bottles.lots {
        writeln!(out, "{HEADING}{name}{HEADING:#} stands on the shelf")?;
        let words = if bottles.lots_by_mass.contains(name) {
            "until a chip of it is logged it is taken for the old lot: cast one chip with it over a card, log it, calibrate \
             again"
        } else {
            "until a chip of it is logged it is taken for the old lot, and its drops for as heavy: weigh twenty, cast one \
             chip of it, twenty drops or more, with white or fibre over a card, log it, calibrate again"
        };
        write_wrapped(out, "  note: ", words)?;
    }
    write_weighed(out, &bottles.weighed)
}

/// Bottles whose drops were weighed, each with what is worth a second look.
pub(super) fn write_weighed(out: &mut String, weighed: &[Weighed]) -> fmt::Result {
    for bottle in weighed {
        let Weighed {
            pigment,
            before,
            now,
            ..
        } = bottle;
        write!(
            out,
            "{HEADING}{pigment}{HEADING:#}: a drop weighs {:.4} g",
            now.mean.0
        )?;
        if let Some(sd) = now.sd {
            write!(out, " ± {:.4} g", sd.0)?;
        }
        write!(out, " by {}", counted(now.runs, "run"))?;
        match before {
            Some(before) => writeln!(out, " (the book had {:.4} g)", before.0)?,
            None => writeln!(out)?,
        }
        for note in notes(bottle) {
            write_wrapped(out, "  note: ", &note)?;
        }
    }
    Ok(())
}

/// What is worth a second look, a sentence each: a mass that no usual dropper gives, runs that scatter, too few of them for a
/// standard deviation, and a mean so changed that logged readings may be of another bottle.
fn notes(bottle: &Weighed) -> Vec<String> {
    /// Share by which the mean mass of a drop must change for another bottle to be likely. Common practice, no source.
    const OTHER_BOTTLE: f64 = 0.1;
    let Weighed {
        pigment,
        before,
        now,
        readings,
        ..
    } = bottle;
    let mut notes = Vec::new();
    let (low, high) = USUAL_DROP_G;
    if !(low..=high).contains(&now.mean.0) {
        notes.push(format!(
            "a drop of {:.4} g is unusual (water from a standard dropper: {} g): check the count, the scale's unit, and \
             that the tip lets single drops go",
            now.mean.0,
            DropMass::STANDARD.0
        ));
    }
    if now.farthest > DropMass::STANDARD_SCATTER {
        notes.push(format!(
            "a run lies {:.0} % from the mean of all; three runs of a standard dropper stay within {:.0} %: hold the \
             bottle upright, let the drops fall by themselves, on a scale fine enough",
            100.0 * now.farthest,
            100.0 * DropMass::STANDARD_SCATTER
        ));
    }
    if now.sd.is_none() {
        notes.push(format!(
            "weigh {} runs or more, to know how a drop differs from run to run; until then 5 % is supposed",
            DropMass::ENOUGH_RUNS
        ));
    }
    let other = before.filter(|before| (now.mean.0 / before.0 - 1.0).abs() > OTHER_BOTTLE);
    if *readings > 0 && other.is_some() {
        notes.push(format!(
            "logged readings that count drops of `{pigment}` ({readings}) are now taken at the new mass; if they came from \
             another bottle, give this one a row of its own as a new lot, and write the old drop_g back"
        ));
    }
    notes
}
