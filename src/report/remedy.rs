//! What to add to the cup on the bench, and what to mix next.
//!
//! A cup whose pot life is over takes nothing, whatever would bring it nearer; and where the reading is beyond belief, every
//! number that rests on it says so.

use std::fmt::{self, Write as _};

use serde::Serialize;
use serde_json::{Map, Value};

use super::cautions::IN_SHORT;
use super::colours::{Seen, SeenJson};
use super::corrected::RemedyReport;
use super::document::{document, drops, triple};
use super::let_downs::{LetDowns, taken_text, write_let_downs};
use super::swatches::what_to_check;
use super::text::{HEADING, never, write_hanging, write_wrapped};
use crate::batch::CalledFor;
use crate::colour::delta_e_2000;
use crate::error::Setting;
use crate::jobs::correcting::{Corrected, Logging};
use crate::materials::Colorant;

/// A change of the contrast ratio of the next cup that is pointed out. Common practice, no source.
const NOTED_CONTRAST: f64 = 0.1;

/// A correction, for a terminal: what to add now, and what to mix next.
pub fn text(report: &RemedyReport<'_>) -> String {
    let mut text = String::new();
    write(&mut text, report).unwrap_or_else(never);
    text
}

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
    /// Whether that would still not pass, so that the next cup is the answer.
    start_again: bool,
    /// Minutes left, below zero where it is over; `null` where the base's pot life or the time of mixing is unknown.
    pot_life_left_min: Option<f64>,
    /// Whether the casting is within tolerance as it is.
    passes: bool,
    /// `[L*, a*, b*]` that the book predicted of it before it was read.
    predicted: Value,
    /// ΔE00 of the reading from that.
    delta_e_off: f64,
    /// Whether that is too far to be believed, so that every other number here stands or falls with the reading.
    is_doubtful: bool,
    /// What it shows of black and white, as far as the model tells: one reading does not measure it.
    seen_now: SeenJson,
    /// The same once the drops are in.
    seen_after: SeenJson,
    /// The reading's name in the log; `null` where it was not logged.
    logged: Option<&'a str>,
    /// The recipe of the next cup.
    next: Next<'a>,
    /// What is worth a second look, a sentence each.
    notes: Vec<String>,
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
    let added: &[CalledFor] = match report.add() {
        [] => &[],
        _ => &report.corrected.bench.called_for,
    };
    document(&Document {
        add: drops(report.add()),
        add_let_downs: added,
        delta_e_now: remedy.delta_e_now,
        delta_e_after,
        gap: remedy.gap,
        start_again: remedy.start_again,
        pot_life_left_min: report.left_min(),
        passes: remedy.passes,
        predicted: triple(report.corrected.predicted),
        delta_e_off: delta_e_2000(report.corrected.measured, report.corrected.predicted),
        is_doubtful: doubt(report).is_some(),
        seen_now: remedy.seen_now.into(),
        seen_after: seen_after.into(),
        logged: name(&report.corrected.logged),
        next: Next::of(report.corrected),
        notes: notes(report),
    })
}

/// The name under which the reading stands in the log; `None` where it was not to be logged, or the book is the demo.
fn name(logged: &Logging) -> Option<&str> {
    match logged {
        Logging::Now(name) | Logging::Before(name) => Some(name),
        Logging::Demo | Logging::NotAsked => None,
    }
}

/// How the casting stands, the cup on the bench, the next cup, and what became of the reading.
fn write(out: &mut String, report: &RemedyReport<'_>) -> fmt::Result {
    let remedy = &report.corrected.remedy;
    let now = remedy.delta_e_now;
    writeln!(out, "The casting is ΔE00 {now:.2} from its tone.")?;
    writeln!(out, "  as poured: {}", Seen(remedy.seen_now))?;
    for note in notes(report) {
        write_wrapped(out, "  note: ", &note)?;
    }
    writeln!(out)?;
    if remedy.passes {
        let (after, _) = report.after();
        let nearest = after.min(remedy.next.best().delta_e);
        let words = if nearest < now - NEARER {
            "It passes: mix the same again. What would come nearer still:"
        } else {
            "It passes: mix the same again. Nothing found comes nearer."
        };
        write_wrapped(out, "", words)?;
        writeln!(out)?;
    }
    write_bench(out, report)?;
    write_next(out, report)?;
    let words = "What the reading told was shared out over the curves, the drops and the thickness, each as far as it was in \
                 doubt.";
    write_wrapped(out, "", words)?;
    let logged = match &report.corrected.logged {
        Logging::Now(name) => {
            format!(
                "It is logged as {name}; `dropwise calibrate` learns from it for all recipes to come."
            )
        }
        Logging::Before(name) => format!("It stands in the log as {name}."),
        Logging::Demo => "It is not logged: the demo book is never written to.".to_owned(),
        Logging::NotAsked => "It is not logged.".to_owned(),
    };
    write_wrapped(out, "", &logged)?;
    write_wrapped(out, "  ", IN_SHORT)
}

/// What counts as nearer, ΔE00: half of the last figure that is told.
const NEARER: f64 = 0.005;

/// What a number is told with where the reading behind it is beyond belief, to read right behind it; empty where it can be
/// believed.
fn condition(report: &RemedyReport<'_>) -> &'static str {
    match doubt(report) {
        Some(_) => ", if that reading is right",
        None => "",
    }
}

/// That the reading is beyond belief, and what to check before it is taken again; `None` where it can be believed.
///
/// A logged reading has its row named too, since a later calibration would learn from it.
fn doubt(report: &RemedyReport<'_>) -> Option<String> {
    let check = what_to_check(report.corrected.measured, report.corrected.predicted)?;
    let off = delta_e_2000(report.corrected.measured, report.corrected.predicted);
    let mend = match &report.corrected.logged {
        Logging::Now(name) | Logging::Before(name) => {
            format!(", and mend the row of {name} in swatches.csv")
        }
        Logging::Demo | Logging::NotAsked => String::new(),
    };
    Some(format!(
        "the reading lies ΔE00 {off:.1} from what this mix was predicted to give; {check}{mend}. All numbers here rest on \
         that reading: take it again before you add a drop"
    ))
}

/// That the next cup shows more or less of what is behind it than this casting, where nobody asked for a window; with the
/// setting, and the bound 0–1 for it, that would hold the contrast ratio.
fn contrast_note(report: &RemedyReport<'_>) -> Option<String> {
    let now = report.corrected.remedy.seen_now.contrast_ratio;
    let next = report
        .corrected
        .remedy
        .next
        .best()
        .prediction
        .contrast_ratio;
    if report.corrected.is_contrast_held || (next - now).abs() <= NOTED_CONTRAST {
        return None;
    }
    let (how, setting, bound) = if next > now {
        ("hides more of", Setting::MaxContrast, now + NOTED_CONTRAST)
    } else {
        ("shows more of", Setting::MinContrast, now - NOTED_CONTRAST)
    };
    Some(format!(
        "the next cup {how} what is behind it: contrast ratio {next:.2}, and {now:.2} as poured; {} {:.2} holds it",
        (report.naming)(setting),
        bound.clamp(0.0, 1.0)
    ))
}

/// What is worth a second look, a sentence each.
fn notes(report: &RemedyReport<'_>) -> Vec<String> {
    doubt(report)
        .into_iter()
        .chain(contrast_note(report))
        .collect()
}

/// What to add to the cup on the bench while its pot life lasts, what it gives then, and which let-downs that takes.
///
/// A cup of unknown age is told until when it takes drops, by its base's pot life where that is known, and else by how it looks
/// and feels; nobody is told to stir into what has begun to set.
fn write_bench(out: &mut String, report: &RemedyReport<'_>) -> fmt::Result {
    if report.corrected.max_add == 0 {
        return writeln!(
            out,
            "The cup on the bench is left as it is ({} 0).\n",
            (report.naming)(Setting::MaxAdd)
        );
    }
    writeln!(out, "{HEADING}The cup on the bench{HEADING:#}")?;
    if report.is_over() {
        let words = "its pot life is over: use or discard it, and add nothing";
        write_wrapped(out, "  ", words)?;
        return writeln!(out);
    }
    let add = report.add();
    if add.is_empty() {
        let within = if report.corrected.is_contrast_held {
            " within the contrast asked for"
        } else {
            ""
        };
        write_wrapped(
            out,
            "  ",
            &format!("nothing that is added brings it nearer{within}"),
        )?;
    } else {
        write_counted(out, add)?;
        let (delta_e, seen) = report.after();
        let condition = condition(report);
        writeln!(out, "  then ΔE00 {delta_e:.2}{condition}; {}", Seen(seen))?;
        let bench = LetDowns::of("cup on the bench", &report.corrected.bench);
        let ready = bench.iter().flat_map(LetDowns::lines_at_hand);
        for line in ready {
            write_hanging(out, &line)?;
        }
    }
    if report.corrected.remedy.start_again {
        write_wrapped(
            out,
            "  ",
            "that would still not pass: start again with the next cup",
        )?;
    } else if !add.is_empty() {
        let words = match (report.left_min(), report.corrected.pot_life_min) {
            (Some(left), _) => format!(
                "{left:.1} minutes of pot life are left: stir the drops in at once, and scrape sides and bottom"
            ),
            (None, Some(whole)) => format!(
                "only within its pot life, {whole} minutes from mixing; a cup that has begun to thicken or warm takes no \
                 more drops"
            ),
            (None, None) => "only while it is liquid; a cup that has begun to thicken or warm takes no more drops".to_owned(),
        };
        write_wrapped(out, "  ", &words)?;
    }
    if !add.is_empty() {
        out.write_str(&taken_text(&report.take_commands))?;
    }
    writeln!(out)
}

/// The recipe of the next cup, what it is aimed at, and its let-downs.
fn write_next(out: &mut String, report: &RemedyReport<'_>) -> fmt::Result {
    let next = report.corrected.remedy.next.best();
    writeln!(out, "{HEADING}The next cup{HEADING:#}")?;
    write_counted(out, &next.drops)?;
    writeln!(
        out,
        "  aimed at ΔE00 {:.2}{}; {}",
        next.delta_e,
        condition(report),
        Seen(next.prediction.translucency)
    )?;
    let words = format!("as a mix: {}", next.poured.mix);
    write_wrapped(out, "  ", &words)?;
    writeln!(out)?;
    write_let_downs(out, LetDowns::of("next cup", &report.corrected.next))
}

/// A line for each colorant.
fn write_counted(out: &mut String, drops: &[(Colorant, u32)]) -> fmt::Result {
    let mut drops = drops.iter();
    drops.try_for_each(|(colorant, count)| writeln!(out, "  {}", counted(colorant, *count)))
}

/// `   7 drops  titanium white`
fn counted(colorant: &Colorant, count: u32) -> String {
    let unit = if count == 1 { "drop " } else { "drops" };
    format!("{count:4} {unit}  {colorant}")
}
