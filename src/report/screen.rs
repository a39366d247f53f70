//! The answer on one screen: what to pour, in pouring order, under one sentence of how it stands.
//!
//! Nothing stands here that explains: doubts, proof and tables are one word away. A dose is read at arm's length with wet
//! gloves, so that a count never parts from its name; doses stand beside each other where they are short.
//!
//! What comes first is what stops the maker: a tone out of reach, before any dose; then what must be stirred before a clock
//! runs (jars, each once for all cups); then each cup in pouring order, part A last, because it starts the clock. Whether a
//! cup misses is said in its own heading, where it can't be overlooked between doses. Cautions take one line here, since the
//! sheet has them in full. Where a jar must be stirred anew, the bottle that would save it next time is one line below it: what a
//! maker does not want to read twice is said where it costs the work.

use std::fmt::{self, Write as _};

use super::batch::{off_the_recipe, write_unlike};
use super::cautions::in_a_line;
use super::colours::{Numbers, Patch, miss};
use super::one_tint;
use super::part_report::PartReport;
use super::parts::write_keeping;
use super::poured::is_fibre;
use super::reach::first_help;
use super::standing::says;
use super::text::{HEADING, WIDTH, capital, write_hanging, write_wrapped};
use crate::batch::{AtOnce, Dose, JarUse, Measure, Parts, Pour, Stage};
use crate::error::Setting;
use crate::jobs::matching::{Application, FilledCup, Note};
use crate::jobs::stock_instead::StockInstead;
use crate::jobs::verdict::Verdict;
use crate::materials::Grams;

/// A matched part on one screen of 80 columns: at most 26 lines for skin and foam, and six for each further cup, as long as
/// names are of common length.
pub(super) fn write_screen(out: &mut String, report: &PartReport<'_>) -> fmt::Result {
    let matched = report.matched;
    let is_out = matched.verdict() == Verdict::OutOfReach;
    if is_out {
        write_verdict(out, report)?;
    }
    write_title(out, report)?;
    if !is_out {
        write_verdict(out, report)?;
    }
    writeln!(out)?;
    write_jars(out, report)?;
    for (index, cup) in matched.cups().enumerate() {
        write_cup(out, index + 1, cup, matched.is_reached(cup))?;
        writeln!(out)?;
    }
    writeln!(out, "{}", in_a_line(matched.cups().map(|cup| &cup.pour)))?;
    write_next(out, report)?;
    write_keeping(out, report)
}

/// Title and tone on one line, on two where the title is long; and whether the materials are invented, a paint is missing, or
/// a pigment is left out.
fn write_title(out: &mut String, report: &PartReport<'_>) -> fmt::Result {
    /// Columns of a tone and its patch.
    const TONE: usize = 39;
    let matched = report.matched;
    let title: String = report.title.escape_debug().collect();
    let tone = (Numbers(matched.target.lab), Patch(matched.target.lab));
    let gap = if title.chars().count() + TONE > WIDTH {
        "\n  "
    } else {
        "   "
    };
    writeln!(
        out,
        "{HEADING}{title}{HEADING:#}{gap}{}  {}",
        tone.0, tone.1
    )?;
    for note in &matched.notes {
        match note {
            Note::Demo => writeln!(
                out,
                "Invented materials: the built-in demo book (begin yours: `dropwise new DIR`)"
            )?,
            Note::NoPaint
            | Note::PassedOver(_)
            | Note::NoTimeToLearn
            | Note::Unread(_)
            | Note::MadeBefore { .. }
            | Note::LeftPartB(_) => write_wrapped(out, "", &capital(&report.worded(note)))?,
            _ => {}
        }
    }
    Ok(())
}

/// How it stands; of a miss, what would help most.
fn write_verdict(out: &mut String, report: &PartReport<'_>) -> fmt::Result {
    let says = says(report.matched);
    let help = match report.matched.verdict() {
        Verdict::Lands | Verdict::NotKnown => None,
        Verdict::Near | Verdict::OutOfReach => first_help(report),
    };
    write_wrapped(out, "", &format!("{says}{}", help.unwrap_or_default()))
}

/// What is stirred, or taken off the shelf, before the clock starts: the one tint, then each jar once; nothing where there
/// is none.
fn write_jars(out: &mut String, report: &PartReport<'_>) -> fmt::Result {
    let matched = report.matched;
    if let Some(one_tint) = &matched.one_tint {
        let (grams, _) = one_tint::stirred(one_tint);
        let stock = capital(&one_tint.stock.name);
        writeln!(
            out,
            "{HEADING}{stock}{HEADING:#}   stir together, by mass or any share of it:"
        )?;
        write_entries(out, &grams)?;
    }
    let jars = JarUse::to_stir(matched.cups().map(|cup| &cup.pour));
    let Some(first) = jars.first() else {
        return if matched.one_tint.is_some() {
            writeln!(out)
        } else {
            Ok(())
        };
    };
    let ratio = first.ratio;
    let mut drawing =
        (matched.cups().map(|cup| &cup.pour)).filter(|pour| !pour.drawn_on().is_empty());
    let rest = if drawing.all(|pour| pour.parts == Parts::Single {}) {
        ""
    } else {
        " (part B)"
    };
    writeln!(
        out,
        "{HEADING}Jars{HEADING:#}   thinned pigment, 1 in {ratio}: one part in {}, rest clear base{rest}",
        in_letters(ratio)
    )?;
    let mut bases: Vec<&str> = jars.iter().map(|jar| jar.base.as_str()).collect();
    bases.dedup();
    for base in bases {
        let of_it: Vec<String> = (jars.iter().filter(|jar| jar.base == base))
            .map(jar_entry)
            .collect();
        write_wrapped(out, &format!("  {base}: "), &held(&of_it).join(", "))?;
    }
    release(out);
    if let Some(instead) = &report.commands.instead_of_jars {
        let words = match matched.stock_instead {
            Some(StockInstead::Planned) => "two bottles that keep would do for most skins",
            Some(StockInstead::Thinned(_)) | None => "thinned in carrier instead, it keeps",
        };
        writeln!(out, "  {words}:\n  {instead}")?;
    }
    writeln!(out)
}

/// `iron oxide red 1:20 (1 + 19 g)`, or that it stands ready.
fn jar_entry(jar: &JarUse) -> String {
    let JarUse {
        pigment,
        ratio,
        pigment_g,
        base_g,
        new,
        ..
    } = jar;
    if *new {
        format!("{pigment} 1:{ratio} ({pigment_g} + {base_g} g)")
    } else {
        format!("{pigment} 1:{ratio} (ready)")
    }
}

/// Ratios that are common, in letters.
fn in_letters(ratio: f64) -> String {
    for (common, letters) in [(5.0, "five"), (10.0, "ten"), (20.0, "twenty")] {
        if ratio == common {
            return letters.to_owned();
        }
    }
    ratio.to_string()
}

/// One cup, in at most six lines where its names are short: heading, part B, doses, part A with its clock.
fn write_cup(out: &mut String, step: usize, cup: &FilledCup, is_reached: bool) -> fmt::Result {
    let pour = &cup.pour;
    let name = capital(&cup.name());
    let use_of_it = put_on(cup);
    let head = match pour.parts {
        Parts::Single {} => use_of_it,
        Parts::Weighed { .. } | Parts::ByVolume { .. } => format!("{}, {use_of_it}", pour.base),
    };
    write!(out, "{HEADING}{step} {name}{HEADING:#}   {head}")?;
    if !is_reached {
        let miss = missed(cup);
        let used = step.to_string().len() + name.chars().count() + head.chars().count() + 4;
        let gap = if used + 2 + miss.chars().count() > WIDTH {
            "\n  "
        } else {
            "  "
        };
        write!(out, "{gap}{HEADING}{miss}{HEADING:#}")?;
    }
    writeln!(out)?;
    if let Some(at_once) = &pour.at_once {
        write_at_once(out, pour, at_once)?;
        return write_off(out, cup);
    }
    if let Some(unlike) = &cup.unlike {
        write_unlike(out, unlike, &pour.warnings)?;
        return match pour.parts {
            Parts::Single {} => Ok(()),
            Parts::Weighed { .. } | Parts::ByVolume { .. } => {
                writeln!(out, "  with part A in, each{}", clock(pour))
            }
        };
    }
    if pour.pots > 1 {
        writeln!(out, "  {} pots, one after the other, each:", pour.pots)?;
    }
    let mut entries = Vec::new();
    match pour.parts {
        Parts::Single {} => entries.push(format!("{} g {}", pour.base_g, pour.base)),
        Parts::Weighed { part_b_g, .. } => writeln!(out, "  {part_b_g} g part B")?,
        Parts::ByVolume { part_b_ml, .. } => writeln!(out, "  {part_b_ml} ml part B")?,
    }
    // Fibre goes in last of what is stirred into part B.
    let (fibre, doses): (Vec<&Dose>, Vec<&Dose>) =
        pour.doses.iter().partition(|dose| is_fibre(dose));
    entries.extend(
        doses
            .into_iter()
            .chain(fibre)
            .map(|dose| entry(dose, pour.pots)),
    );
    write_entries(out, &entries)?;
    match pour.parts {
        Parts::Single {} => {}
        Parts::Weighed { part_a_g, .. } => {
            writeln!(out, "  {part_a_g} g part A, last{}", clock(pour))?;
        }
        Parts::ByVolume { part_a_ml, .. } => {
            writeln!(out, "  {part_a_ml} ml part A, last{}", clock(pour))?;
        }
    }
    (pour.warnings.iter()).try_for_each(|warning| write_wrapped(out, "  note: ", warning))?;
    write_off(out, cup)
}

/// How far what is measured out lies from the recipe, where that is seen.
fn write_off(out: &mut String, cup: &FilledCup) -> fmt::Result {
    off_the_recipe(cup.off_recipe).map_or(Ok(()), |off| write_hanging(out, &off))
}

/// Several pots of one cup, whose part B is tinted at once: what goes into all of it, and what is then mixed pot by pot.
fn write_at_once(out: &mut String, pour: &Pour, at_once: &AtOnce) -> fmt::Result {
    let AtOnce {
        part_b_g,
        doses,
        share_g,
        part_a_g,
        let_downs: _,
    } = at_once;
    let pots = pour.pots;
    writeln!(
        out,
        "  tint part B of all {pots} pots at once; no clock runs, so read it and put it right:"
    )?;
    writeln!(out, "  {part_b_g} g part B")?;
    let doses: Vec<String> = doses.iter().map(|dose| entry(dose, 1)).collect();
    write_entries(out, &doses)?;
    write!(
        out,
        "  {pots} pots, one after the other, each: {share_g} g of that"
    )?;
    for fibre in pour.doses.iter().filter(|dose| is_fibre(dose)) {
        write!(out, ", {}", entry(fibre, 1))?;
    }
    writeln!(out)?;
    writeln!(out, "  {part_a_g} g part A, last{}", clock(pour))?;
    (pour.warnings.iter()).try_for_each(|warning| write_wrapped(out, "  note: ", warning))
}

/// How a cup is put on, in a few words.
pub(crate) fn put_on(cup: &FilledCup) -> String {
    match cup.application {
        Application::Brushed { thickness } => format!("brushed {thickness} thick"),
        Application::Risen { thickness, .. } => format!("risen {thickness} thick"),
        Application::PouredBehind { .. } => "poured behind the skin".to_owned(),
        Application::Sprayed { dry_thickness, .. } => {
            format!("thin coats, {dry_thickness} dry in all")
        }
    }
}

/// `misses: too dark, ΔE00 2.3`: how a cup misses its aim most.
pub(crate) fn missed(cup: &FilledCup) -> String {
    let best = cup.recipe.best();
    let miss = miss(cup.recipe.aim, best.prediction.lab);
    let most = miss.split(", ").next().unwrap_or(&miss);
    format!("misses: {most}, ΔE00 {:.1}", best.delta_e)
}

/// `  6 drops iron oxide red 1:20`; with their mass where they go into several `pots`, since counting them again and again
/// goes wrong.
pub(super) fn entry(dose: &Dose, pots: u32) -> String {
    let Dose {
        colorant, measure, ..
    } = dose;
    match measure {
        Measure::Drops(count) => {
            let drops = if *count == 1 { "drop" } else { "drops" };
            let mass = if pots > 1 {
                format!(" ({:.2} g)", dose.weighs_g)
            } else {
                String::new()
            };
            format!("{count:>2} {drops}{mass} {colorant}")
        }
        Measure::MassG(mass) => format!("{} {colorant}", Grams(*mass)),
    }
}

/// When the pot is to be used up, when it gels and when the mould may be opened, as far as the book says.
pub(super) fn clock(pour: &Pour) -> String {
    let stages = [
        (Stage::UsedUp, "use by"),
        (Stage::Gelled, "gels"),
        (Stage::Open, "open the mould"),
    ];
    let said: Vec<String> = (stages.into_iter())
        .filter_map(|(stage, word)| Some(format!("{word} {} min", pour.minutes_until(stage)?)))
        .collect();
    if said.is_empty() {
        String::new()
    } else {
        format!(": {}", said.join(", "))
    }
}

/// `entries` in as many columns as the widest allows, read line by line.
pub(super) fn write_entries(out: &mut String, entries: &[String]) -> fmt::Result {
    /// Blanks between columns.
    const GAP: usize = 2;
    let widest = entries.iter().map(|entry| entry.chars().count()).max();
    let width = widest.unwrap_or(0) + GAP;
    for line in entries.chunks((WIDTH / width).max(1)) {
        for entry in line {
            write!(out, "  {entry:<0$}", width - GAP)?;
        }
        // What pads the last column is no part of the line.
        out.truncate(out.trim_end_matches(' ').len());
        writeln!(out)?;
    }
    Ok(())
}

/// A space that no line breaks at.
const HELD: char = '\u{a0}';

/// `entries` with spaces that no line breaks at.
fn held(entries: &[String]) -> Vec<String> {
    let entries = entries.iter();
    entries
        .map(|entry| entry.replace(' ', &HELD.to_string()))
        .collect()
}

/// Takes those spaces out again.
fn release(out: &mut String) {
    *out = out.replace(HELD, " ");
}

/// What is typed next: what keeps the answer by a name; of a part that is kept, what logs it and makes more of it.
fn write_next(out: &mut String, report: &PartReport<'_>) -> fmt::Result {
    let commands = &report.commands;
    let why = (report.naming)(Setting::Why);
    if let Some(keep) = &commands.keep {
        let next = format!(
            "Next: add {keep} to keep this by a name; then it is logged, corrected and poured again by that name alone ({why} \
             says more).",
        );
        return write_wrapped(out, "", &next);
    }
    if !commands.log.is_empty() {
        writeln!(
            out,
            "Next: cast it, read it and log it:\n  {}",
            commands.log
        )?;
    }
    if let Some(again) = &commands.again {
        writeln!(out, "Ten times as much:\n  {again}")?;
    }
    Ok(())
}
