//! What a correction comes down to, in sentences: the verdict, and what is worth a second look.
//!
//! A cup with its clock running gets one verdict and no choice: add this, or leave it. Where a reading can't be true, the
//! numbers stay and a condition stands right behind each, since whoever read wrongly will not read a footnote either.

use super::corrected::{RemedyReport, Verdict};
use super::part_report::{no_time_to_learn, passed_over};
use super::swatches::{EDGE_LOSS, what_to_check};
use crate::colour::delta_e_2000;
use crate::error::Setting;
use crate::recipe::{Evidence, Stage};

/// The verdict in a sentence or two, with what it rests on.
pub(crate) fn says(report: &RemedyReport<'_>) -> String {
    let corrected = report.corrected;
    let (now, tolerance) = (corrected.remedy.delta_e_now, corrected.tolerance);
    let subject = match (&corrected.evidence, &corrected.stage) {
        (Evidence::Reading { .. }, Stage::PartB(_)) => "By its part B the cup will be",
        (Evidence::Reading { .. }, _) => "The casting is",
        (Evidence::Looks(_), _) => "By eye and book together the casting is",
        (Evidence::Poured, _) => "With what was poured the cup will be",
    };
    let stands = format!("{subject} ΔE00 {now:.2} from its tone, and {tolerance:.2} passes");
    let (after, _) = report.after();
    let if_right = condition(report);
    match report.verdict() {
        Verdict::Passes => {
            let nearest = after.min(corrected.remedy.next.best().delta_e);
            let nearer = if nearest < now - NEARER {
                "What would come nearer still:"
            } else {
                "Nothing found comes nearer."
            };
            let go_on = match (&corrected.stage, &corrected.evidence) {
                (Stage::PartB(_), _) | (_, Evidence::Poured) => "go on as it is",
                (Stage::TestPiece { .. } | Stage::Part, _) => "mix the same again",
            };
            format!("{stands}. It passes: {go_on}. {nearer}")
        }
        Verdict::Add => format!("{stands}. Add these drops: then ΔE00 {after:.2}{if_right}."),
        Verdict::AddNearer if !report.corrected.starts_again() => format!(
            "{stands}. Add these drops: then ΔE00 {after:.2}{if_right}, nearer, and not there yet. No clock runs: read part B \
             again then, and add what is said of that."
        ),
        Verdict::AddNearer => format!(
            "{stands}. Drops bring it to ΔE00 {after:.2}{if_right}, which still would not pass: start again with the next cup, if \
             you can."
        ),
        Verdict::PotLifeOver => {
            format!("{stands}. Its pot life is over: use or discard it, and add nothing.")
        }
        Verdict::NextCup => {
            let next = corrected.remedy.next.best().delta_e;
            format!("{stands}. The next cup is aimed at ΔE00 {next:.2}{if_right}.")
        }
    }
}

/// What counts as nearer, ΔE00: half of the last figure that is told.
const NEARER: f64 = 0.005;

/// ΔE00 of what was seen from what was predicted of it; `None` where nothing was seen.
pub(super) fn off(report: &RemedyReport<'_>) -> Option<f64> {
    let corrected = report.corrected;
    (corrected.measured).map(|measured| delta_e_2000(measured, corrected.predicted))
}

/// What a number is told with where the reading behind it is beyond belief, to read right behind it; empty where it can be
/// believed.
pub(super) fn condition(report: &RemedyReport<'_>) -> &'static str {
    match doubt(report) {
        Some(_) => ", if that reading is right",
        None => "",
    }
}

/// That the reading is beyond belief, and what to check before it is taken again; `None` where it can be believed.
///
/// A logged reading has its row named too, since a later calibration would learn from it.
pub(super) fn doubt(report: &RemedyReport<'_>) -> Option<String> {
    if let Evidence::Looks(_) | Evidence::Poured = report.corrected.evidence {
        return None;
    }
    let check = what_to_check(report.corrected.measured?, report.corrected.predicted)?;
    let off = off(report)?;
    let mend = match report.corrected.logged.name() {
        Some(name) => format!(", and mend the row of {name} in swatches.csv"),
        None => String::new(),
    };
    Some(format!(
        "the reading lies ΔE00 {off:.1} from what this mix was predicted to give; {check}{mend}. All numbers here rest on \
         that reading: take it again before you add a drop"
    ))
}

/// What holding the contrast ratio costs, where nothing within its window passes: numbers alone, with what lets go of it.
fn window_note(report: &RemedyReport<'_>) -> Option<String> {
    if report.corrected.is_over() {
        return None;
    }
    let remedy = &report.corrected.remedy;
    let (least, most) = remedy.window?;
    let costs: Vec<String> = [
        ("drops to this cup", remedy.unheld_after),
        ("the next cup", remedy.unheld_next),
    ]
    .into_iter()
    .filter_map(|(what, unheld)| {
        let unheld = unheld?;
        Some(format!(
            "{what} would come to ΔE00 {:.2} at {:.2}",
            unheld.delta_e, unheld.contrast_ratio
        ))
    })
    .collect();
    if costs.is_empty() {
        return None;
    }
    Some(format!(
        "the contrast ratio is held within {least:.2} to {:.2}, where nothing passes; let go of by {}, {}",
        most.min(1.0),
        (report.naming)(Setting::FreeContrast),
        costs.join(", ")
    ))
}

/// What is worth a second look, a sentence each.
pub(crate) fn notes(report: &RemedyReport<'_>) -> Vec<String> {
    let edge = (report.corrected.loses_light_at_the_edge).then(|| EDGE_LOSS.to_owned());
    let left_out = report.corrected.passed_over;
    [
        doubt(report),
        window_note(report),
        edge,
        (report.corrected.had_no_time_to_learn).then(|| no_time_to_learn(report.naming)),
        left_out
            .is_any()
            .then(|| passed_over(left_out, report.naming)),
    ]
    .into_iter()
    .flatten()
    .collect()
}
