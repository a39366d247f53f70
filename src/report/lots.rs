//! What chips found out of a new bottle beside the old one: its strength, and its shift of hue.
//!
//! A new bottle is taken for the old one, less surely, until a chip sets the two side by side.

use std::fmt::{self, Write as _};

use serde::Serialize;

use super::text::{HEADING, counted, write_wrapped};
use crate::characterise::Lot;

/// Each new lot beside the old one: by what mass it replaces 1 g, and how it differs in hue, both with one standard
/// deviation; and of lots that no chip is of, that one is enough.
pub(super) fn write_lots(out: &mut String, lots: &[Lot]) -> fmt::Result {
    for Lot {
        pigment,
        of,
        readings,
        strength,
        delta_a,
        delta_b,
    } in lots
    {
        writeln!(
            out,
            "\n  {HEADING}{pigment}{HEADING:#} beside {of}, by {}",
            counted(*readings, "reading")
        )?;
        if *readings == 0 {
            let words = "no chip of it is logged: it is taken for the old lot, less surely; one chip is enough";
            write_wrapped(out, "    ", words)?;
            continue;
        }
        let (factor, sd) = strength;
        writeln!(
            out,
            "    strength       × {factor:.2} ± {sd:.2}: for 1 g of the old take {:.2} g",
            1.0 / factor
        )?;
        writeln!(
            out,
            "    shift of hue   Δa* {:+.1} ± {:.1}   Δb* {:+.1} ± {:.1}   in white, both as deep as L* 65",
            delta_a.0, delta_a.1, delta_b.0, delta_b.1
        )?;
    }
    Ok(())
}

/// A new bottle beside the old one, for other programs.
#[derive(Serialize)]
pub(super) struct LotRow<'a> {
    /// The new lot's name in the book.
    pigment: &'a str,
    /// The pigment that it is a lot of.
    lot_of: &'a str,
    /// How many readings tell of it; where 0, all that follows is only what is supposed of a new bottle.
    readings: usize,
    /// Its strength: grams of the old lot that 1 g of it is worth, in a tint of L* 65 in ideal white.
    strength: f64,
    /// One standard deviation of that.
    strength_sd: f64,
    /// Δa* from the old lot, both in white, as deep as L* 65.
    delta_a: f64,
    /// One standard deviation of that.
    delta_a_sd: f64,
    /// Δb* likewise.
    delta_b: f64,
    /// One standard deviation of that.
    delta_b_sd: f64,
}

impl<'a> LotRow<'a> {
    /// A row for each of `lots`.
    pub(super) fn all(lots: &'a [Lot]) -> Vec<Self> {
        let row = |lot: &'a Lot| Self {
            pigment: &lot.pigment,
            lot_of: &lot.of,
            readings: lot.readings,
            strength: lot.strength.0,
            strength_sd: lot.strength.1,
            delta_a: lot.delta_a.0,
            delta_a_sd: lot.delta_a.1,
            delta_b: lot.delta_b.0,
            delta_b_sd: lot.delta_b.1,
        };
        lots.iter().map(row).collect()
    }
}
