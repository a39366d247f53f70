//! The stocks that a shop should keep: what is weighed, which tones they cover, and which they don't.
//!
//! A share alone would hide whose skin is left out, so that every tone that is missed is told with how it misses, as far as a
//! screen holds them; documents have them all.

use std::fmt::{self, Write as _};

use serde_json::json;

use super::colours::{Numbers, Patch, miss};
use super::document::{document, triple};
use super::text::{HEADING, counted, never, write_mix, write_wrapped};
use crate::jobs::stocks::Planned;
use crate::materials::Stock;
use crate::recipe::PlannedTone;

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
    let covered = plan.tones.iter().filter(|tone| tone.is_covered()).count();
    let doses = plan.tones.iter().map(|tone| tone.doses).max().unwrap_or(0);
    let says = format!(
        "{} and white: on paper {covered} of {} are matched within tolerance, in {} of skin at most.",
        counted(plan.stocks.len(), "stock"),
        counted(tones, "tone"),
        counted(doses, "dose")
    );
    write_wrapped(out, "", &says)?;
    writeln!(out)?;
    for stock in &plan.stocks {
        let name = stock.name.escape_debug();
        writeln!(out, "{HEADING}{name}{HEADING:#}   {} g", stock.mass().0)?;
        write_mix(out, "  of ", &stock.mix())?;
        writeln!(out, "  {}", make(stock))?;
    }
    let missed = missed(&plan.tones);
    if !missed.is_empty() {
        writeln!(out, "\nNot covered, the worst first:")?;
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
pub fn json(planned: &Planned) -> String {
    let stocks = planned.plan.stocks.iter().map(
        |stock| json!({ "name": stock.name, "mix": stock.mix().to_string(), "g": stock.mass().0 }),
    );
    let tones = planned.plan.tones.iter().map(|tone| {
        json!({
            "name": planned.names[tone.index],
            "aim": triple(tone.aim),
            "made": triple(tone.made),
            "delta_e": tone.delta_e,
            "tolerance": tone.tolerance,
            "doses": tone.doses,
        })
    });
    document(&json!({
        "stocks": stocks.collect::<Vec<_>>(),
        "covered": planned.plan.covered(),
        "skins": planned.plan.tones.len(),
        "tones": tones.collect::<Vec<_>>(),
    }))
}
