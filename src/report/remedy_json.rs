//! A correction for other programs.

use serde::Serialize;
use serde_json::{Map, Value};

use super::colours::SeenJson;
use super::corrected::RemedyReport;
use super::document::{document, drops, triple};
use super::parts::bench_json;
use super::remedy_words::{doubt, notes, off, says};
use crate::batch::CalledFor;
use crate::jobs::correcting::{Corrected, Keeping, Noted};
use crate::recipe::{Evidence, Stage, Unheld};

/// The keys of a correction, in the order in which they are written.
#[derive(Serialize)]
struct Document<'a> {
    /// Whole drops to add to the cup on the bench, by colorant; none once its pot life is over, or where nothing helps.
    add: Map<String, Value>,
    /// The let-downs among them; empty where nothing is added.
    add_let_downs: &'a [CalledFor],
    /// ΔE00 of the casting, as it read, from its target.
    delta_e_now: f64,
    /// ΔE00 predicted of a casting once the drops are in; `delta_e_now` where nothing is added.
    delta_e_after: f64,
    /// ΔE00 by which other drops to add may bring it nearer at most.
    gap: f64,
    /// Whether that would still not pass while the cup's time runs, so that the next cup is the answer.
    start_again: bool,
    /// Minutes left, below zero where it is over; `null` where the base's pot life or the time of mixing is unknown.
    pot_life_left_min: Option<f64>,
    /// Whether the casting is within tolerance as it is.
    passes: bool,
    /// How far the work has come: `part-b`, `test` or `part`.
    stage: &'static str,
    /// What tells of how it came out: `reading`, `looks` or `poured`.
    evidence: &'static str,
    /// What is to be done: `passes`, `add`, `add nearer`, `next cup` or `pot life over`.
    verdict: &'static str,
    /// The same in a sentence.
    says: String,
    /// `[L*, a*, b*]` of the finished casting as far as it is known, read as the book reads.
    now: [f64; 3],
    /// `[L*, a*, b*]` that was seen, by instrument or eye, of the casting or of part B; `null` where nothing was.
    measured: Option<[f64; 3]>,
    /// `[L*, a*, b*]` that the book predicted of that before it was seen; where nothing was, of what was poured.
    predicted: [f64; 3],
    /// ΔE00 of what was seen from that; `null` where nothing was.
    delta_e_off: Option<f64>,
    /// Whether that is too far to be believed, so that every other number here stands or falls with the reading.
    is_doubtful: bool,
    /// What it shows of black and white, as far as the model tells: one reading does not measure it.
    seen_now: SeenJson,
    /// The same once the drops are in.
    seen_after: SeenJson,
    /// The reading's name in the log; `null` where it was not logged.
    logged: Option<&'a str>,
    /// Least and greatest contrast ratio that both cups were held to; `null` where it was let go.
    contrast_window: Option<[f64; 2]>,
    /// What drops to add would come to without that, where none within it pass; `null` elsewhere.
    unheld_after: Option<UnheldJson>,
    /// The same of the next cup.
    unheld_next: Option<UnheldJson>,
    /// The part whose cup it is; `null` where it is no part's.
    part: Option<PartJson<'a>>,
    /// The recipe of the next cup.
    next: Next<'a>,
    /// What is worth a second look, a sentence each.
    notes: Vec<String>,
}

/// The part whose cup was corrected.
#[derive(Serialize)]
struct PartJson<'a> {
    /// What it is called.
    name: &'a str,
    /// How many pots its skin is poured in: the answers are for one.
    pots: u32,
    /// What became of its recipe: `not asked`, `noted` in its history, or `replaced` by the next cup's.
    keeping: &'static str,
    /// The skin's cup as its casting will be logged; `null` where the book is as it was.
    cup: Option<Value>,
}

impl<'a> From<&'a Noted> for PartJson<'a> {
    fn from(noted: &'a Noted) -> Self {
        Self {
            name: &noted.part,
            pots: noted.pots,
            keeping: match noted.keeping {
                Keeping::NotAsked => "not asked",
                Keeping::Noted => "noted",
                Keeping::Replaced => "replaced",
            },
            cup: noted.cup.as_ref().map(bench_json),
        }
    }
}

/// What a cup would come to with its contrast ratio let go.
#[derive(Serialize)]
struct UnheldJson {
    /// ΔE00 from the target.
    delta_e: f64,
    /// Its contrast ratio, 0 (clear) to 1 (hides).
    contrast_ratio: f64,
}

impl From<Unheld> for UnheldJson {
    fn from(unheld: Unheld) -> Self {
        Self {
            delta_e: unheld.delta_e,
            contrast_ratio: unheld.contrast_ratio,
        }
    }
}

/// The recipe of the next cup, worked out with what the reading told of this one.
#[derive(Serialize)]
struct Next<'a> {
    /// Whole drops by colorant.
    drops: Map<String, Value>,
    /// ΔE00 predicted of it from the target.
    delta_e: f64,
    /// What it is predicted to show of black and white beneath it, in keys of its own beside the others.
    #[serde(flatten)]
    seen: SeenJson,
    /// The recipe as a notebook has it.
    mix: String,
    /// ΔE00 by which another recipe within the limits may be nearer at most.
    gap: f64,
    /// Whether the search ended with a proof.
    proven: bool,
    /// The let-downs among its drops; may be empty.
    let_downs: &'a [CalledFor],
}

impl<'a> Next<'a> {
    /// The best recipe of the next cup.
    fn of(corrected: &'a Corrected) -> Self {
        let recipe = &corrected.remedy.next;
        let best = recipe.best();
        Self {
            drops: drops(&best.drops),
            delta_e: best.delta_e,
            seen: best.prediction.translucency.into(),
            mix: best.poured.mix.to_string(),
            gap: recipe.gap,
            proven: recipe.proven,
            let_downs: &corrected.next.called_for,
        }
    }
}

/// The same for other programs: `{"add": {…}, "delta_e_now": …, "delta_e_after": …, "next": {"drops": {…}, "delta_e": …}, …}`.
///
/// Differences are ΔE00 from the target; `gap` is by how much another answer may be nearer at most; `seen_now` and `seen_after`
/// are what the cup on the bench shows of black and white; `delta_e_off` is how far the reading lies from what was predicted of it.
pub fn json(report: &RemedyReport<'_>) -> String {
    let remedy = &report.corrected.remedy;
    let (delta_e_after, seen_after) = report.after();
    let added: &[CalledFor] = match report.corrected.add() {
        [] => &[],
        _ => &report.corrected.bench.called_for,
    };
    document(&Document {
        add: drops(report.corrected.add()),
        add_let_downs: added,
        delta_e_now: remedy.delta_e_now,
        delta_e_after,
        gap: remedy.gap,
        start_again: report.corrected.starts_again(),
        pot_life_left_min: report.corrected.left_min(),
        passes: remedy.passes,
        stage: stage(&report.corrected.stage),
        evidence: evidence(&report.corrected.evidence),
        verdict: report.verdict().key(),
        says: says(report),
        now: triple(remedy.now),
        measured: report.corrected.measured.map(triple),
        predicted: triple(report.corrected.predicted),
        delta_e_off: off(report),
        is_doubtful: doubt(report).is_some(),
        seen_now: remedy.seen_now.into(),
        seen_after: seen_after.into(),
        logged: report.corrected.logged.name(),
        contrast_window: remedy.window.map(|(least, most)| [least, most.min(1.0)]),
        unheld_after: remedy.unheld_after.map(UnheldJson::from),
        unheld_next: remedy.unheld_next.map(UnheldJson::from),
        part: report.corrected.noted.as_ref().map(PartJson::from),
        next: Next::of(report.corrected),
        notes: notes(report),
    })
}

/// The word for what was read, as it is typed: `part-b`, `test` or `part`.
fn stage(stage: &Stage) -> &'static str {
    match stage {
        Stage::PartB(_) => "part-b",
        Stage::TestPiece { .. } => "test",
        Stage::Part => "part",
    }
}

/// The word for how it was judged: `reading`, `looks` or `poured`.
fn evidence(evidence: &Evidence) -> &'static str {
    match evidence {
        Evidence::Reading { .. } => "reading",
        Evidence::Looks(_) => "looks",
        Evidence::Poured => "poured",
    }
}
