//! What weighing drops and new bottles did to the shelf.

use std::fmt::{self, Write as _};

use serde::Serialize;

use super::terminal::{HEADING, counted, write_wrapped};
use crate::jobs::calibrating::Bottles;
use crate::materials::{DropMass, Grams, Weighed};

/// A bottle whose drops were weighed, for other programs.
#[derive(Serialize)]
pub(super) struct WeighedRow<'a> {
    pigment: &'a str,
    lot: &'a str,
    runs: usize,
    drop_g_before: Option<Grams>,
    drop_g: Grams,
    drop_g_sd: Option<Grams>,
    notes: Vec<String>,
}

/// Masses between which a drop of a dispersion from a dropper is expected, g: from a fine tip with a wetting liquid to a
/// wide one. Common practice, no source.
const USUAL_DROP_G: (f64, f64) = (0.01, 0.08);

/// The bottles whose drops were weighed, a row each.
pub(super) fn rows(bottles: &Bottles) -> Vec<WeighedRow<'_>> {
    let rows = bottles.weighed.iter().map(|bottle| {
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
    });
    rows.collect()
}

/// What was done to bottles, for a terminal.
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
    for bottle in &bottles.weighed {
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

/// What is worth a second look.
fn notes(bottle: &Weighed) -> Vec<String> {
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
