//! One cup as it is poured: parts, doses and moments, in the order of the work.
//!
//! The order is that of the bench: part B takes the doses, and part A comes last, since it starts the clock. A mix sheet has
//! the same rows with boxes to tick.
//!
//! Several pots are tinted at once unless that is asked for otherwise, and then told pot by pot: alike ones in one entry, unlike
//! ones each with its own masses, since a hand that reads the wrong row spoils a pot. By how much the worst two of them differ
//! stands beside them as a colour difference; a share of a drop tells a maker nothing.

use std::fmt::{self, Write as _};

use serde::Serialize;

use super::cautions::write_care;
use super::document::document;
use super::let_downs::{LetDowns, write_let_downs};
use super::poured::{PouredCup, SCHEMA, UnlikeJson, is_fibre};
use super::text::{HEADING, capital, never, write_hanging, write_notes};
use crate::batch::{AtOnce, Dose, InAll, JarUse, Measure, Parts, Pour, Unlike};
use crate::jobs::batching::Batched;
use crate::materials::Grams;

/// One cup, scaled, in the order of the work: what is tinted, how it is divided into pots, what each pot takes, and what the pots
/// differ by where they are not alike.
pub fn text(batched: &Batched) -> String {
    let mut text = String::new();
    write_batch(&mut text, batched).unwrap_or_else(never);
    text
}

/// The answer of `batch`: the [`Pour`] with its own keys. Masses are in g, volumes in ml, moments in minutes from when A meets B;
/// all but `in_all` and `let_downs` is for one pot. Beside them stand `cups`, with this one, and `jars`, as every answer has
/// what is poured.
pub fn json(batched: &Batched) -> String {
    let Batched { pour, unlike, .. } = batched;
    #[derive(Serialize)]
    struct Document<'a> {
        /// Version of this shape.
        schema: u32,
        /// The cup, all its pots together and one of them.
        cups: [PouredCup<'a>; 1],
        /// The let-downs that it draws on.
        jars: Vec<JarUse>,
        /// One pot, and its clock.
        #[serde(flatten)]
        pour: &'a Pour,
        /// Pots of unlike size in whole drops, where pots alike take none.
        #[serde(skip_serializing_if = "Option::is_none")]
        unlike: Option<UnlikeJson>,
    }
    document(&Document {
        schema: SCHEMA,
        cups: [PouredCup::of_batch(batched)],
        jars: JarUse::of([pour]),
        pour,
        unlike: unlike.as_ref().map(UnlikeJson::of),
    })
}

/// A cup in the order of the work: let-downs to have ready, the pour, the clock, the cautions.
fn write_batch(out: &mut String, batched: &Batched) -> fmt::Result {
    let Batched {
        pour,
        off_recipe,
        unlike,
        ..
    } = batched;
    let kind = pour.kind.to_string();
    write_let_downs(out, LetDowns::of_pour(&kind, pour))?;
    let kind = capital(&kind);
    writeln!(out, "{HEADING}{kind}{HEADING:#}   {}", pour.base)?;
    match unlike {
        Some(unlike) => write_unlike(out, unlike, &pour.warnings)?,
        None => {
            write_pour(out, pour)?;
            if let Some(off) = off_the_recipe(*off_recipe) {
                write_hanging(out, &format!("{off}, seen thick"))?;
            }
        }
    }
    for moment in &pour.timeline {
        writeln!(out, "  {:>6} min  {}", moment.minutes, moment.what)?;
    }
    write_care(out, [pour])
}

/// Pots that are tinted each for itself; those that are alike and follow each other share a line.
pub(super) fn write_unlike(out: &mut String, unlike: &Unlike, warnings: &[String]) -> fmt::Result {
    let (count, apart) = (unlike.pots.len(), unlike.apart);
    let are_alike = unlike.pots.windows(2).all(|pots| pots[0] == pots[1]);
    match are_alike {
        true => writeln!(out, "  {count} pots alike, in whole drops:")?,
        false => writeln!(
            out,
            "  {count} pots of unlike size, in whole drops, at most ΔE00 {apart:.1} apart:"
        )?,
    }
    let mut told = 0;
    for pots in unlike.pots.chunk_by(|one, next| one == next) {
        let pot = &pots[0];
        let base = &pot.poured.base_mass;
        let (first, last) = match pot.parts {
            Parts::Single {} => (base.to_string(), String::new()),
            Parts::Weighed { part_a_g, part_b_g } => (
                format!("{} part B", Grams(part_b_g)),
                format!("; {} part A, last", Grams(part_a_g)),
            ),
            Parts::ByVolume {
                part_a_ml,
                part_b_ml,
            } => (
                format!("{part_b_ml} ml part B"),
                format!("; {part_a_ml} ml part A, last"),
            ),
        };
        let which = match pots.len() {
            1 => format!("pot {}", told + 1),
            2 => format!("pots {} and {}, each", told + 1, told + 2),
            more => format!("pots {} to {}, each", told + 1, told + more),
        };
        told += pots.len();
        let mix = &pot.poured.mix;
        write_hanging(out, &format!("{which}: {first}; {mix}{last}"))?;
    }
    write_notes(out, warnings)
}

/// What rounding makes of a recipe, `measured so, it comes out ΔE00 0.2 off the recipe`; `None` where nobody would see it.
pub(super) fn off_the_recipe(delta_e: f64) -> Option<String> {
    /// Less is not worth a line, ΔE00.
    const WORTH_A_LINE: f64 = 0.2;
    (delta_e >= WORTH_A_LINE)
        .then(|| format!("measured so, it comes out ΔE00 {delta_e:.1} off the recipe"))
}

/// What goes into one pot, in the order that it goes in: part B (or the base that comes as one part), the doses, part A
/// last, since it starts the clock. Doses that rounding to whole drops changes by 0.5 % or more say by how much.
pub(super) fn write_pour(out: &mut String, pour: &Pour) -> fmt::Result {
    if let Some(at_once) = &pour.at_once {
        return write_at_once(out, pour, at_once);
    }
    if pour.pots > 1 {
        writeln!(out, "  {} pots, one after the other, each:", pour.pots)?;
    }
    let (first, last) = match pour.parts {
        Parts::Single {} => ((pour.base_g, "g ", pour.base.as_str()), None),
        Parts::Weighed { part_a_g, part_b_g } => ((part_b_g, "g ", PART_B), Some((part_a_g, "g "))),
        Parts::ByVolume {
            part_a_ml,
            part_b_ml,
        } => ((part_b_ml, "ml", PART_B), Some((part_a_ml, "ml"))),
    };
    let (amount, unit, what) = first;
    writeln!(out, "  {amount:>9} {unit} {what}")?;
    write_doses(out, &pour.doses)?;
    if let Some((amount, unit)) = last {
        writeln!(out, "  {amount:>9} {unit} part A, last: the clock starts")?;
    }
    if let Some(in_all) = &pour.in_all {
        write_hanging(out, &all_pots(in_all))?;
    }
    write_notes(out, &pour.warnings)
}

/// A line for each dose; those that rounding changes by 0.5 % or more say by how much.
fn write_doses<'a>(out: &mut String, doses: impl IntoIterator<Item = &'a Dose>) -> fmt::Result {
    for Dose {
        colorant,
        measure,
        rounding,
        ..
    } in doses
    {
        let off = match rounding.abs() {
            small if small < 0.005 => String::new(),
            _ => format!("  ({:+.0} % by rounding)", 100.0 * rounding),
        };
        match measure {
            Measure::Drops(1) => writeln!(out, "  {:>9}    {colorant}{off}", "1 drop")?,
            Measure::Drops(count) => {
                writeln!(out, "  {:>9}    {colorant}{off}", format!("{count} drops"))?;
            }
            Measure::MassG(mass) => writeln!(out, "  {mass:>9} g  {colorant}{off}")?,
        }
    }
    Ok(())
}

/// Several pots whose part B is tinted at once: what goes into all of it, and what is then mixed pot by pot.
fn write_at_once(out: &mut String, pour: &Pour, at_once: &AtOnce) -> fmt::Result {
    let pots = pour.pots;
    writeln!(
        out,
        "  tint part B of all {pots} pots at once, read it and put it right:"
    )?;
    writeln!(out, "  {:>9} g  part B", at_once.part_b_g)?;
    write_doses(out, &at_once.doses)?;
    writeln!(out, "  {pots} pots, one after the other, each:")?;
    writeln!(out, "  {:>9} g  of that", at_once.share_g)?;
    write_doses(out, pour.doses.iter().filter(|dose| is_fibre(dose)))?;
    writeln!(
        out,
        "  {:>9} g  part A, last: the clock starts",
        at_once.part_a_g
    )?;
    write_notes(out, &pour.warnings)
}

/// What whole drops and the scale's step change of a pour, dose by dose and in all (ΔE00), and what all pots take together.
pub(super) fn write_measured(out: &mut String, pour: &Pour, off_recipe: f64) -> fmt::Result {
    for dose in &pour.doses {
        let Dose {
            colorant, rounding, ..
        } = dose;
        if rounding.abs() >= 0.005 {
            let percent = 100.0 * rounding;
            writeln!(out, "  {colorant}: {percent:+.0} % by rounding")?;
        }
    }
    if let Some(off) = off_the_recipe(off_recipe) {
        write_hanging(out, &off)?;
    }
    if let Some(in_all) = &pour.in_all {
        let pots = pour.pots;
        let in_all = all_pots(in_all);
        write_hanging(out, &format!("{pots} pots, one after the other; {in_all}"))?;
    }
    Ok(())
}

/// What part B is called on a line of a pour: the doses go into it, so it is poured before them.
const PART_B: &str = "part B, first";

/// What all pots of a batch take together, as a sentence without capital and full stop:
/// `in all 1200 g of base; titanium white 48`.
pub(super) fn all_pots(in_all: &InAll) -> String {
    let InAll { base_g, mix } = in_all;
    let besides = if mix.is_empty() { "no pigment" } else { mix };
    format!("in all {base_g} g of base; {besides}")
}
