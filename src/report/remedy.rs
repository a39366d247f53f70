//! What to add to the cup on the bench, and what to mix next.
//!
//! The verdict stands above the drops. A cup whose pot life is over takes nothing, whatever would bring it nearer; and where
//! the reading is beyond belief, every number that rests on it says so.
//!
//! The bench comes before the next cup, since the one waits and the other doesn't. Of either stand the doses, what comes of
//! them and what is drawn from which jar, in the words of the screen that told the first cup, so that nothing is learnt anew
//! with a cup in hand. Notes come last: none of them changes what is dropped.

use std::fmt::{self, Write as _};

use super::cautions::IN_SHORT;
use super::colours::{Patch, hides};
use super::corrected::RemedyReport;
use super::let_downs::{LetDowns, taken_text};
pub use super::remedy_json::json;
use super::remedy_words::{condition, notes, says};
use super::screen::write_entries;
use super::text::{HEADING, never, write_hanging, write_wrapped};
use crate::batch::{CalledFor, JarUse};
use crate::colour::Translucency;
use crate::error::Setting;
use crate::jobs::correcting::{Keeping, Logging, Noted};
use crate::materials::Colorant;
use crate::recipe::{BenchCup, BenchFate, Evidence, Stage, Well};

/// A correction, for a terminal: what to add now, and what to mix next.
pub fn text(report: &RemedyReport<'_>) -> String {
    let mut text = String::new();
    write(&mut text, report).unwrap_or_else(never);
    text
}

/// How the casting stands and what to do, the cup on the bench, the next cup, and what became of the reading.
fn write(out: &mut String, report: &RemedyReport<'_>) -> fmt::Result {
    let corrected = report.corrected;
    let of_part = (corrected.noted.as_ref()).map_or_else(String::new, |noted| {
        let pot = if noted.pots > 1 { "a pot of " } else { "" };
        format!("{}: {pot}", noted.part.escape_debug())
    });
    writeln!(
        out,
        "{HEADING}{of_part}{:.0} of {}{HEADING:#}  tone {} now {}",
        corrected.base_mass,
        corrected.base,
        Patch(corrected.aim),
        Patch(corrected.remedy.now)
    )?;
    write_wrapped(out, "", &says(report))?;
    writeln!(out, "  as poured: {}", seen(corrected.remedy.seen_now))?;
    if let Evidence::Looks(looks) = &corrected.evidence {
        let [l, a, b] = looks.steps();
        let words = format!(
            "`{looks}` is taken for ΔL* {l:+.1}, Δa* {a:+.1}, Δb* {b:+.1}, give or take half of that and at least 1.5 (our own \
             choice)"
        );
        write_wrapped(out, "  ", &words)?;
    }
    for note in notes(report) {
        write_wrapped(out, "  note: ", &note)?;
    }
    writeln!(out)?;
    write_bench(out, report)?;
    write_next(out, report)?;
    if let Some(logged) = logged(report) {
        write_wrapped(out, "", &logged)?;
    }
    if let Some(noted) = corrected.noted.as_ref().and_then(|it| noted(it, report)) {
        write_wrapped(out, "", &noted)?;
    }
    write_wrapped(out, "  ", IN_SHORT)
}

/// What became of the part's recipe; `None` where it was not to be touched.
fn noted(noted: &Noted, report: &RemedyReport<'_>) -> Option<String> {
    let corrected = report.corrected;
    let part = noted.part.escape_debug();
    let name = |setting| (report.naming)(setting);
    let kept = match noted.keeping {
        Keeping::NotAsked => return None,
        Keeping::Noted => {
            let replace = name(Setting::Replace);
            format!(
                "Noted in the history of {part}; {replace} puts the next cup in its recipe's place."
            )
        }
        Keeping::Replaced => {
            format!("The next cup is now the recipe of {part}; the old one stands in its history.")
        }
    };
    let is_poured = |cup: &&BenchCup| {
        cup.fate == BenchFate::ToBeLogged
            && (cup.poured != cup.before || corrected.evidence == Evidence::Poured)
    };
    let logs = noted.cup.as_ref().filter(is_poured).map(|cup| {
        if cup.poured.mix == cup.before.mix {
            return " This cup's casting is logged so.".to_owned();
        }
        let poured = name(Setting::Poured);
        format!(
            " This cup's casting is logged with the drops in; {poured} MIX says what else went in."
        )
    });
    let logs = logs.unwrap_or_default();
    Some(kept + &logs)
}

/// How see-through it is, in short: `hides 29 % (contrast ratio 0.29)`.
fn seen(Translucency { contrast_ratio, .. }: Translucency) -> String {
    format!(
        "{} (contrast ratio {contrast_ratio:.2})",
        hides(contrast_ratio)
    )
}

/// How a well of part B is read.
///
/// Common practice, no source.
fn how_to_read(well: &Well) -> String {
    let fibre = if well.is_fibre_in {
        "with the fibre in"
    } else {
        "before the fibre goes in"
    };
    format!(
        "To read part B, {fibre}: a well of {} on the {}, clear film laid on without bubbles, the instrument on the film.",
        well.depth,
        well.beneath.name()
    )
}

/// What became of the reading, or how to take the next one; `None` where there was none.
fn logged(report: &RemedyReport<'_>) -> Option<String> {
    let corrected = report.corrected;
    let next_time = format!(
        "Next time read part B before part A goes in ({} part-b).",
        (report.naming)(Setting::Stage)
    );
    Some(match (&corrected.logged, &corrected.stage) {
        (Logging::Now(name), _) => {
            format!("Logged as {name}; `dropwise calibrate` learns from it. {next_time}")
        }
        (Logging::Before(name), _) => format!("It stands in the log as {name}. {next_time}"),
        (Logging::Demo, _) => {
            format!("It is not logged: the demo book is never written to. {next_time}")
        }
        (Logging::NotAsked, _) => "It is not logged.".to_owned(),
        (Logging::NoCasting, Stage::PartB(well)) => how_to_read(well),
        (Logging::NoCasting, _) => return None,
    })
}

/// What to add to the cup on the bench while it takes drops, what it gives then, and which let-downs that takes.
///
/// A cup of unknown age is told until when it takes drops, by its base's pot life where that is known, and else by how it looks
/// and feels; nobody is told to stir into what has begun to set.
fn write_bench(out: &mut String, report: &RemedyReport<'_>) -> fmt::Result {
    let corrected = report.corrected;
    if let Stage::Part = corrected.stage {
        return Ok(());
    }
    if corrected.max_add == 0 {
        return writeln!(
            out,
            "The cup on the bench is left as it is ({} 0).\n",
            (report.naming)(Setting::MaxAdd)
        );
    }
    if report.corrected.is_over() {
        return Ok(());
    }
    writeln!(out, "{HEADING}The cup on the bench{HEADING:#}")?;
    let add = report.corrected.add();
    if add.is_empty() {
        let within = match corrected.remedy.window {
            Some((least, most)) => {
                format!(
                    " with a contrast ratio of {least:.2} to {:.2}",
                    most.min(1.0)
                )
            }
            None => String::new(),
        };
        let words = format!("nothing that is added brings it nearer{within}");
        write_wrapped(out, "  ", &words)?;
        return writeln!(out);
    }
    write_counted(out, add)?;
    let (delta_e, shown) = report.after();
    let condition = condition(report);
    let words = format!("then ΔE00 {delta_e:.2}{condition}; {}", seen(shown));
    write_wrapped(out, "  ", &words)?;
    let bench = LetDowns::of("cup on the bench", &corrected.bench);
    let ready = bench.iter().flat_map(LetDowns::lines_at_hand);
    for line in ready {
        write_hanging(out, &line)?;
    }
    write_wrapped(out, "  ", &until_when(report))?;
    out.write_str(&taken_text(&report.take_commands))?;
    writeln!(out)
}

/// Until when the cup takes drops.
fn until_when(report: &RemedyReport<'_>) -> String {
    let whole = report.corrected.pot_life_min;
    match (&report.corrected.stage, report.corrected.left_min(), whole) {
        (_, Some(left), _) => format!(
            "{left:.1} minutes of pot life are left: stir the drops in at once, and scrape sides and bottom"
        ),
        (Stage::PartB(_), None, _) => {
            "into part B: no clock runs until part A goes in. Stir, scrape sides and bottom, read again".to_owned()
        }
        (_, None, Some(whole)) => format!(
            "into part B that waits; with part A in, only within its pot life, {whole} minutes from mixing: a cup that has begun to \
             thicken or warm takes no more drops"
        ),
        (_, None, None) => "only while it is liquid; a cup that has begun to thicken or warm takes no more drops".to_owned(),
    }
}

/// The recipe of the next cup, what it is aimed at, and its let-downs.
fn write_next(out: &mut String, report: &RemedyReport<'_>) -> fmt::Result {
    let next = report.corrected.remedy.next.best();
    writeln!(out, "{HEADING}The next cup{HEADING:#}")?;
    write_counted(out, &next.drops)?;
    let words = format!(
        "aimed at ΔE00 {:.2}{}; {}",
        next.delta_e,
        condition(report),
        seen(next.prediction.translucency)
    );
    write_wrapped(out, "  ", &words)?;
    let called_for = &report.corrected.next.called_for;
    if !called_for.is_empty() {
        let jars: Vec<String> = called_for.iter().map(jar).collect();
        let rest = if report.corrected.next.is_single {
            "clear base"
        } else {
            "part B"
        };
        let words = format!("jars (rest {rest}): {}", jars.join("; "));
        write_wrapped(out, "  ", &words)?;
    }
    // A part's is put in its place by name.
    if report.corrected.noted.is_none() {
        let words = format!("as a mix: {}", next.poured.mix);
        write_wrapped(out, "  ", &words)?;
    }
    writeln!(out)
}

/// How many of each colorant, beside each other where they are short.
fn write_counted(out: &mut String, drops: &[(Colorant, u32)]) -> fmt::Result {
    let entries: Vec<String> = (drops.iter())
        .map(|(colorant, count)| counted(colorant, *count))
        .collect();
    write_entries(out, &entries)
}

/// ` 7 drops titanium white`
fn counted(colorant: &Colorant, count: u32) -> String {
    let unit = if count == 1 { "drop" } else { "drops" };
    format!("{count:2} {unit} {colorant}")
}

/// `iron oxide red 1:20 (1 + 19 g)`, or that it stands ready.
fn jar(called_for: &CalledFor) -> String {
    let let_down = &called_for.let_down;
    if called_for.is_ready() {
        format!("{let_down} (ready)")
    } else {
        let pigment_g = JarUse::pigment_to_stir_g(called_for.uses_g, let_down.let_down);
        let base_g = pigment_g * (let_down.let_down - 1.0);
        format!("{let_down} ({pigment_g} + {base_g} g)")
    }
}
