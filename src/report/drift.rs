//! How a pigment drifts from bottle to bottle, in a maker's words; what lies within the doubt is not told.
//!
//! A maker asks two things of a new bottle: whether the old recipe still lands, and how many drops make up for it where it
//! doesn't. So strength is told in percent and in drops, hue in words and as the ΔE00 of two let-downs with white; where chips
//! can't tell two bottles apart, that is said, with what would have shown. For other programs both numbers stand with their
//! standard deviations, whether they are told or not.

use std::fmt::{self, Write as _};

use serde::Serialize;

use super::document::document;
use super::text::{HEADING, never, write_wrapped};
use crate::characterise::{Difference, Drift};

/// Each lot beside the one before it, for a terminal.
pub fn text(lots: &[Drift]) -> String {
    let mut text = String::new();
    write(&mut text, lots).unwrap_or_else(never);
    text
}

/// The same onto `out`; of a single bottle, how a second comes to stand beside it.
fn write(out: &mut String, lots: &[Drift]) -> fmt::Result {
    let (Some(first), [_, _, ..]) = (lots.first(), lots) else {
        let words = "one bottle alone: a new one is put beside it by what its label names, and a chip of each tells them apart \
                     (`dropwise help lots`)";
        return write_wrapped(out, "", words);
    };
    if !first.is_learnt {
        write_unlearnt(out, first)?;
    }
    for lot in &lots[1..] {
        match &lot.beside {
            Some(difference) => write_difference(out, &lot.lot, difference)?,
            None if lot.is_learnt => {
                writeln!(out, "{HEADING}{}{HEADING:#}", lot.lot)?;
                let words = "the first that chips have told of: nothing to hold it against";
                write_wrapped(out, "  ", words)?;
            }
            None => write_unlearnt(out, lot)?,
        }
    }
    let told = "± is one standard deviation; what lies within two of them is not told.";
    write_wrapped(out, "", told)
}

/// A lot that no chip has told of, and which chip would.
fn write_unlearnt(out: &mut String, lot: &Drift) -> fmt::Result {
    writeln!(out, "{HEADING}{}{HEADING:#}", lot.lot)?;
    let words = "no chip of it has been learnt from yet: one with white or fibre, logged, and `dropwise calibrate`";
    write_wrapped(out, "  ", words)
}

/// A lot beside the older one that it is held against: strength, hue, and drops where it is dropped.
fn write_difference(out: &mut String, lot: &str, difference: &Difference) -> fmt::Result {
    writeln!(out, "{HEADING}{lot}{HEADING:#} beside {}", difference.from)?;
    write_wrapped(out, "  strength  ", &strength(difference))?;
    write_wrapped(out, "  hue       ", &hue(difference))?;
    if let Some(drops) = difference.drops {
        write_wrapped(out, "  drops     ", &in_drops(drops))?;
    }
    Ok(())
}

/// `8 % stronger (± 2 %)`.
fn strength(difference: &Difference) -> String {
    let (ln, sd) = difference.ln_strength;
    let per_cent = |ln: f64| 100.0 * ln.exp_m1().abs();
    if !difference.is_strength_told {
        return format!(
            "no other, as far as its chips tell ({:.0} % would show)",
            per_cent(2.0 * sd)
        );
    }
    let way = if ln > 0.0 { "stronger" } else { "weaker" };
    format!("{:.0} % {way} (± {:.0} %)", per_cent(ln), per_cent(sd))
}

/// `redder: ΔE00 0.6 ± 0.2, both let down with white to L* 65`.
fn hue(difference: &Difference) -> String {
    let (delta_e, sd) = difference.delta_e;
    if !difference.is_hue_told {
        return format!(
            "no other, as far as its chips tell (ΔE00 {:.1} would show)",
            delta_e + 2.0 * sd
        );
    }
    let [a, b] = difference.shift;
    let most = a.abs().max(b.abs());
    let ways = [(a, "redder", "less red"), (b, "yellower", "less yellow")];
    let ways: Vec<&str> = (ways.into_iter())
        .filter(|(step, ..)| step.abs() > most / 2.0)
        .map(|(step, more, less)| if step > 0.0 { more } else { less })
        .collect();
    format!(
        "{}: ΔE00 {delta_e:.1} ± {sd:.1}, both let down with white to one depth",
        ways.join(" and ")
    )
}

/// `9.3 drops do what 10 of the older one did`.
fn in_drops(drops: f64) -> String {
    let for_ten = 10.0 * drops;
    if (for_ten - 10.0).abs() < 0.05 {
        return "drop for drop".to_owned();
    }
    format!(
        "{for_ten:.1} do what 10 of the older one did; recipes that are kept are for the bottle that they name"
    )
}

/// The answer of `pigment lots`: an object whose one key `lots` holds an object a lot, the oldest first.
pub fn json(lots: &[Drift]) -> String {
    #[derive(Serialize)]
    struct Document<'a> {
        lots: Vec<Row<'a>>,
    }
    document(&Document {
        lots: lots.iter().map(Row::of).collect(),
    })
}

/// A lot.
#[derive(Serialize)]
struct Row<'a> {
    /// Its name on the shelf.
    lot: &'a str,
    /// Whether a calibration has learnt from a chip of it.
    learnt: bool,
    /// Beside the last lot before it that is learnt; `null` where there is none.
    beside: Option<Beside<'a>>,
}

impl<'a> Row<'a> {
    /// Its numbers as they are, whether they are told in words or not.
    fn of(lot: &'a Drift) -> Self {
        let beside = lot.beside.as_ref().map(|difference| Beside {
            from: &difference.from,
            strength: difference.ln_strength.0.exp(),
            ln_strength_sd: difference.ln_strength.1,
            strength_told: difference.is_strength_told,
            delta_e: difference.delta_e.0,
            delta_e_sd: difference.delta_e.1,
            delta_a: difference.shift[0],
            delta_b: difference.shift[1],
            hue_told: difference.is_hue_told,
            drops: difference.drops,
        });
        Self {
            lot: &lot.lot,
            learnt: lot.is_learnt,
            beside,
        }
    }
}

/// A lot beside an older one.
#[derive(Serialize)]
struct Beside<'a> {
    /// The older one.
    from: &'a str,
    /// Grams of the older one that 1 g of it is worth.
    strength: f64,
    /// One standard deviation of ln of that.
    ln_strength_sd: f64,
    /// Whether that is more than the doubt.
    strength_told: bool,
    /// ΔE00 of the two, both let down with white to one depth.
    delta_e: f64,
    /// One standard deviation of that.
    delta_e_sd: f64,
    /// Δa* there.
    delta_a: f64,
    /// Δb* there.
    delta_b: f64,
    /// Whether the hue differs by more than the doubt.
    hue_told: bool,
    /// Drops of it that do what one of the older did; `null` for what is weighed.
    drops: Option<f64>,
}
