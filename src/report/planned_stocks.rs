//! The stocks that a shop should keep: what is weighed, which tones they cover, and which they don't.
//!
//! A share alone would hide whose skin is left out, so that every tone that is missed is told with how it misses, as far as a
//! screen holds them; documents have them all.
//!
//! Dark tones stand apart from those that were measured: hardly one of them was, so that a share which counted both would say
//! more of our own inventions than of people. Last comes the one stock that would help most, with its command, so that a
//! shop sees what a third bottle buys before it weighs two.

use std::fmt::{self, Write as _};

use serde_json::{Value, json};

use super::colours::{Numbers, Patch, miss};
use super::document::{document, triple};
use super::plan::passed_over;
use super::text::{HEADING, counted, never, write_mix, write_wrapped};
use crate::jobs::stocks::Planned;
use crate::materials::Stock;
use crate::recipe::{NextStock, PlannedTone, StockPlan};

/// So many tones that are not covered are told one by one.
const TOLD: usize = 8;

/// A plan, for a terminal; `make` is the command that puts a stock on the shelf once it is weighed.
pub fn text(planned: &Planned, make: impl Fn(&Stock) -> String) -> String {
    let mut text = String::new();
    write(&mut text, planned, make).unwrap_or_else(never);
    text
}

/// How many tones are covered first, since that decides whether to weigh anything; then each stock with its command; then the
/// tones that are missed, the worst first.
fn write(out: &mut String, planned: &Planned, make: impl Fn(&Stock) -> String) -> fmt::Result {
    let plan = &planned.plan;
    let tones = plan.tones.len();
    let covered = |tones: &[PlannedTone]| tones.iter().filter(|tone| tone.is_covered()).count();
    let doses = plan.tones.iter().map(|tone| tone.doses).max().unwrap_or(0);
    let says = format!(
        "{} and white: on paper {} of {} are matched within tolerance, in {} of skin at most.",
        counted(plan.stocks.len(), "stock"),
        covered(&plan.tones),
        counted(tones, "tone"),
        counted(doses, "dose")
    );
    write_wrapped(out, "", &says)?;
    if !plan.apart.is_empty() {
        let matched = match covered(&plan.apart) {
            0 => "none".to_owned(),
            some => format!("{some} of {}", plan.apart.len()),
        };
        let says = format!(
            "Of dark tones, L* 25 to 45, {matched} (these are invented: hardly one was measured)."
        );
        write_wrapped(out, "", &says)?;
    }
    if let Some(passed_over) = passed_over(plan.passed_over) {
        write_wrapped(out, "", &passed_over)?;
    }
    writeln!(out)?;
    for stock in &plan.stocks {
        let name = stock.name.escape_debug();
        writeln!(out, "{HEADING}{name}{HEADING:#}   {} g", stock.mass().0)?;
        write_mix(out, "  of ", &stock.mix())?;
        writeln!(out, "  {}", make(stock))?;
    }
    write_missed(out, planned, &plan.tones, "Not covered, the worst first:")?;
    write_missed(out, planned, &plan.apart, "Of the dark ones:")?;
    if let Some(NextStock { stock, covers }) = &plan.next {
        let says = format!(
            "One stock more would cover {covers} of the {} above:",
            plan.tones.len() - covered(&plan.tones)
        );
        writeln!(out)?;
        write_wrapped(out, "", &says)?;
        writeln!(out, "  {}", make(stock))?;
    }
    Ok(())
}

/// Those of `tones` that are not covered, the worst first, as far as a screen holds them.
fn write_missed(
    out: &mut String,
    planned: &Planned,
    tones: &[PlannedTone],
    heading: &str,
) -> fmt::Result {
    let missed = missed(tones);
    if !missed.is_empty() {
        writeln!(out, "\n{heading}")?;
    }
    for tone in missed.iter().take(TOLD) {
        let name = planned.names[tone.index].escape_debug();
        writeln!(
            out,
            "  {}  {}  ΔE00 {:.1}, {}: {name}",
            Numbers(tone.aim),
            Patch(tone.aim),
            tone.delta_e,
            miss(tone.aim, tone.made)
        )?;
    }
    if missed.len() > TOLD {
        writeln!(out, "  and {} more", missed.len() - TOLD)?;
    }
    Ok(())
}

/// The tones that are not covered, the worst first.
fn missed(tones: &[PlannedTone]) -> Vec<&PlannedTone> {
    let mut missed: Vec<&PlannedTone> = tones.iter().filter(|tone| !tone.is_covered()).collect();
    missed.sort_by(|one, other| other.delta_e.total_cmp(&one.delta_e));
    missed
}

/// A plan, for other programs.
///
/// - `stocks`: of each its `name`, which nothing on the shelf has, the `mix` that is weighed, and what that comes to, `g`.
/// - `covered`: the share of the tones, 0 to 1, that are matched within tolerance; `skins`: how many tones there are.
/// - `tones`: of each its name, L*, a*, b* of what is aimed at and of what comes out, `delta_e` (ΔE00), `tolerance`, and the skin's
///   `doses` without fibre.
/// - `apart`: the same of tones that it was not planned for; `covered_apart`: the share of them that are matched, `null` where there
///   are none.
/// - `next`: the stock that would help tones which are missed, its `mix`, and how many of them it `covers`; `null` where none does.
/// - `passed_over`: how many bottles of a long shelf were.
pub fn json(planned: &Planned) -> String {
    let stocks = planned.plan.stocks.iter().map(
        |stock| json!({ "name": stock.name, "mix": stock.mix().to_string(), "g": stock.mass().0 }),
    );
    let tones = |tones: &[PlannedTone]| -> Vec<Value> {
        let tone = |tone: &PlannedTone| {
            json!({
                "name": planned.names[tone.index],
                "aim": triple(tone.aim),
                "made": triple(tone.made),
                "delta_e": tone.delta_e,
                "tolerance": tone.tolerance,
                "doses": tone.doses,
            })
        };
        tones.iter().map(tone).collect()
    };
    let plan = &planned.plan;
    let next = plan.next.as_ref();
    document(&json!({
        "stocks": stocks.collect::<Vec<_>>(),
        "covered": StockPlan::covered(&plan.tones),
        "skins": plan.tones.len(),
        "tones": tones(&plan.tones),
        "covered_apart": (!plan.apart.is_empty()).then(|| StockPlan::covered(&plan.apart)),
        "apart": tones(&plan.apart),
        "passed_over": plan.passed_over,
        "next": next.map(|next| json!({ "mix": next.stock.mix().to_string(), "covers": next.covers })),
    }))
}
