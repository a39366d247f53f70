//! Parts that are kept by name: what became of an answer, the list of them, what is taken off; in words and as JSON.
//!
//! What was poured is never replaced silently: where an answer differs from the recipe that is kept, every change stands
//! beside what it was, and whether it took its place is said last, right above the prompt. Mixes are told as a notebook
//! writes them, so that a line can be typed back.

use std::fmt::{self, Write as _};

use serde_json::{Value, json};

use super::colours::{Numbers, Patch};
use super::document::{document, triple};
use super::part_report::PartReport;
use super::text::{HEADING, column, never, write_hanging, write_hanging_at, write_wrapped};
use crate::error::Setting;
use crate::jobs::parts::{Change, Keeping, Listed, Outcome};
use crate::materials::Poured;
use crate::recipe::{BenchCup, BenchFate, Event, KeptCup, Part};

/// What became of the answer: kept, the same as what is kept, in its place, or only compared with it.
pub(super) fn write_keeping(out: &mut String, report: &PartReport<'_>) -> fmt::Result {
    let Some(Keeping {
        part,
        outcome,
        changes,
    }) = report.keeping
    else {
        return Ok(());
    };
    let name = part.name.escape_debug();
    match outcome {
        Outcome::Shown => {
            let Some(cup) = part
                .corrected_cup()
                .filter(|cup| cup.poured != part.recipe.skin.poured)
            else {
                return Ok(());
            };
            let words = format!(
                "The cup corrected on {} holds {}: its casting is logged so.",
                cup.date, cup.poured.mix
            );
            return write_wrapped(out, "", &words);
        }
        Outcome::New => return writeln!(out, "\nKept as part `{name}`."),
        Outcome::Unchanged => {
            return writeln!(out, "\nPart `{name}` pours the same: nothing changes.");
        }
        Outcome::Replaced => writeln!(
            out,
            "\nPart `{name}` now pours this; its history has what it poured before:"
        )?,
        Outcome::NotReplaced => {
            let replace = (report.naming)(Setting::Replace);
            let kept = format!(
                "Part `{name}` is kept as it was. This answer differs in what stands below; {replace} puts it in its place, and \
                 the old recipe into the history."
            );
            writeln!(out)?;
            write_wrapped(out, "", &kept)?;
        }
    }
    changes
        .iter()
        .try_for_each(|change| write_change(out, change))
}

/// What is poured now, and instead of what.
fn write_change(out: &mut String, change: &Change) -> fmt::Result {
    let line = |cup: &Option<KeptCup>| cup.as_ref().map_or("nothing".to_owned(), KeptCup::line);
    let miss = |delta_e: Option<f64>| {
        delta_e.map_or_else(String::new, |miss| format!("   ΔE00 {miss:.2}"))
    };
    let now = change.now.as_ref().and_then(|cup| cup.search);
    let now = miss(now.map(|search| search.delta_e));
    writeln!(out, "  {}", change.layer)?;
    write_hanging_at(out, "    ", &format!("{}{now}", line(&change.now)))?;
    let was = format!(
        "instead of {}{}",
        line(&change.was),
        miss(change.delta_e_was)
    );
    write_hanging_at(out, "    ", &was)
}

/// The part beside its answer, for other programs.
///
/// - `name`, `target_from`, `target_date`: as its file has them; the day as `2026-03-14`.
/// - `kept`: what became of the answer, one of `new`, `replaced`, `unchanged`, `not replaced` and `shown`.
/// - `changes`: of each cup that differs what it `was` and what it is `now` (base, g of it, pots, mix; `null` where there is no
///   such cup), with ΔE00 from the aim of both; that of the old one is by the book as it is now.
/// - `cup`: the cup that stands on the bench, as [`bench_json`]; `null` where none was corrected.
/// - `castings`: ids of its swatches, the oldest first; `history`: what became of it, as [`event_json`].
pub(super) fn keeping_json(keeping: &Keeping) -> Value {
    let cup = |cup: &Option<KeptCup>| {
        cup.as_ref().map(|cup| {
            json!({
                "base": cup.poured.base,
                "base_g": cup.poured.base_mass.0,
                "pots": cup.pots,
                "mix": cup.poured.mix.to_string(),
            })
        })
    };
    let changes = keeping.changes.iter().map(|change| {
        let now = change.now.as_ref().and_then(|cup| cup.search);
        json!({
            "cup": change.layer.to_string(),
            "was": cup(&change.was),
            "now": cup(&change.now),
            "delta_e_was": change.delta_e_was,
            "delta_e_now": now.map(|search| search.delta_e),
        })
    });
    let kept = match keeping.outcome {
        Outcome::New => "new",
        Outcome::Replaced => "replaced",
        Outcome::Unchanged => "unchanged",
        Outcome::NotReplaced => "not replaced",
        Outcome::Shown => "shown",
    };
    let part = &keeping.part;
    json!({
        "name": part.name,
        "kept": kept,
        "target_from": part.target_from,
        "target_date": part.target_date.to_string(),
        "changes": changes.collect::<Vec<_>>(),
        "cup": part.bench.as_ref().map(bench_json),
        "castings": part.castings,
        "history": part.history.iter().map(event_json).collect::<Vec<_>>(),
    })
}

/// The skin's cup that was last corrected, one pot as it was really poured.
///
/// - `date`, `by`: when it was corrected, and by what kind of reading.
/// - `base`, `base_g`, `mix`, `mix_before`: what is in it with the drops that were added, and what was before; g of mixed base.
/// - `logged`: id of the swatch that was cast of it, `null` until it is; `poured_away`: whether it never will be.
pub(super) fn bench_json(cup: &BenchCup) -> Value {
    let logged = match &cup.fate {
        BenchFate::Logged(swatch) => Some(swatch),
        BenchFate::ToBeLogged | BenchFate::PouredAway => None,
    };
    json!({
        "date": cup.date.to_string(),
        "by": cup.by,
        "base": cup.poured.base,
        "base_g": cup.poured.base_mass.0,
        "mix": cup.poured.mix.to_string(),
        "mix_before": cup.before.mix.to_string(),
        "logged": logged,
        "poured_away": cup.fate == BenchFate::PouredAway,
    })
}

/// One thing that became of a part.
///
/// - `date`, `what`: the day, and a word such as `matched` or `cast`.
/// - `swatch`: id of the casting that it is about, `null` where it is about none; `note`: what the maker wrote.
/// - `was`: the recipe that it took the place of, a line a cup; empty where nothing was replaced.
fn event_json(event: &Event) -> Value {
    json!({
        "date": event.date.to_string(),
        "what": event.what.word(),
        "swatch": event.swatch,
        "note": event.note,
        "was": event.was,
    })
}

/// What became of a part, a line each.
pub fn history_text(part: &Part) -> String {
    let mut text = String::new();
    write_history(&mut text, part).unwrap_or_else(never);
    text
}

/// A line for each event, the oldest first, with what it replaced below it.
fn write_history(out: &mut String, part: &Part) -> fmt::Result {
    writeln!(out, "\n{HEADING}History{HEADING:#}")?;
    for event in &part.history {
        let swatch = event.swatch.iter().map(|swatch| format!(" as {swatch}"));
        let note = Some(&event.note).filter(|note| !note.is_empty());
        let note = note.map(|note| format!(": {note}"));
        let words: String = swatch.chain(note).collect();
        write_hanging(out, &format!("{}  {}{words}", event.date, event.what))?;
        for line in &event.was {
            write_hanging_at(out, "    ", &format!("was {line}"))?;
        }
    }
    if let Some(cup) = &part.bench {
        let fate = match &cup.fate {
            BenchFate::ToBeLogged => "not logged yet".to_owned(),
            BenchFate::Logged(swatch) => format!("logged as {swatch}"),
            BenchFate::PouredAway => "to be poured away".to_owned(),
        };
        let Poured {
            base,
            base_mass,
            mix,
        } = &cup.poured;
        let words = format!(
            "the cup corrected on {}, {fate}: {base_mass} {base}; {mix}",
            cup.date
        );
        write_hanging(out, &words)?;
    }
    Ok(())
}

/// The parts of a book: each with its tone, its cups and its last casting.
pub fn list_text(listed: &[Listed]) -> String {
    let mut text = String::new();
    write_list(&mut text, listed).unwrap_or_else(never);
    text
}

/// Three lines a part at most, or how one is kept where there is none.
fn write_list(out: &mut String, listed: &[Listed]) -> fmt::Result {
    if listed.is_empty() {
        return writeln!(
            out,
            "no part is kept here yet: a match keeps one by the name that it is given"
        );
    }
    let names = || listed.iter().map(|each| each.part.name.as_str());
    let width = column("part", names());
    for Listed { part, last_casting } in listed {
        let lab = part.target.lab;
        let (numbers, patch) = (Numbers(lab), Patch(lab));
        let cast = match last_casting {
            None => "not cast yet".to_owned(),
            Some((swatch, Some(day))) => format!("last cast {day} as {swatch}"),
            Some((swatch, None)) => format!("last cast as {swatch}"),
        };
        writeln!(
            out,
            "{HEADING}{:width$}{HEADING:#}  {numbers}  {patch}",
            part.name
        )?;
        write_hanging(out, &format!("{}; {cast}", cups_of(part).join(", ")))?;
    }
    Ok(())
}

/// `600 g skin`, `300 g foam`, each with all its pots.
fn cups_of(part: &Part) -> Vec<String> {
    let cups = part.recipe.cups().map(|(layer, cup)| {
        let mass = cup.poured.base_mass * f64::from(cup.pots);
        format!("{mass} {layer}")
    });
    cups.collect()
}

/// The answer of `part list`: an object whose one key `parts` holds an object a part.
///
/// - `name`, `title`; `tone`: L*, a*, b* of the target; `target_from`: where it comes from; `matched`: the day of its recipe.
/// - `cups`: of each its layer (`cup`), base, g of it over all pots, pots, and the mix of one pot.
/// - `castings`: ids of its swatches; `last_cast`: the day of the last, `null` where it was never cast or has no day.
pub fn list_json(listed: &[Listed]) -> String {
    let parts = listed.iter().map(|Listed { part, last_casting }| {
        let cups = part.recipe.cups().map(|(layer, cup)| {
            json!({
                "cup": layer.to_string(),
                "base": cup.poured.base,
                "base_g": cup.poured.base_mass.0,
                "pots": cup.pots,
                "mix": cup.poured.mix.to_string(),
            })
        });
        let day = last_casting.as_ref().and_then(|(_, day)| *day);
        json!({
            "name": part.name,
            "title": part.title,
            "tone": triple(part.target.lab),
            "target_from": part.target_from,
            "matched": part.recipe.date.to_string(),
            "cups": cups.collect::<Vec<_>>(),
            "castings": part.castings,
            "last_cast": day.map(|day| day.to_string()),
        })
    });
    document(&json!({ "parts": parts.collect::<Vec<_>>() }))
}

/// What went with a part that was taken off.
pub fn removed_text(part: &Part) -> String {
    let mut text = String::new();
    write_removed(&mut text, part).unwrap_or_else(never);
    text
}

/// Its recipe in full, since nothing else holds it now; its castings stay where they are.
fn write_removed(out: &mut String, part: &Part) -> fmt::Result {
    writeln!(
        out,
        "part `{}` is taken off the book; with it went:",
        part.name.escape_debug()
    )?;
    for line in part.recipe.lines() {
        write_hanging(out, &line)?;
    }
    let castings = match part.castings.as_slice() {
        [] => "it was never cast".to_owned(),
        castings => format!("its castings stay in the log: {}", castings.join(", ")),
    };
    write_hanging(out, &castings)
}

/// The answer of `part remove`: `{"removed": "forearm", "was": ["skin: …"], "castings": […]}`.
pub fn removed_json(part: &Part) -> String {
    document(&json!({
        "removed": part.name,
        "was": part.recipe.lines(),
        "castings": part.castings,
    }))
}

/// The answer of `part sheet` or `part plot`, of which `what` was written: `{"part": "forearm", "sheet": "forearm.html"}`.
pub fn written_json(part: &Part, what: &str, file: &std::path::Path) -> String {
    document(&json!({ "part": part.name, what: file.display().to_string() }))
}
