//! What chips found out of a foam: its cells, how much they make it absorb, and over how much of a skin it touches.
//!
//! The first two numbers are positive, so their doubts are those of their logarithms, in percent; the last is a share, with its
//! own. Each stands beside its first guess, since a number that no chip moved is that guess still, and the chip that would move
//! it is named below: a slice of the foam for the first two, clear skin over a dark foam for the last.

use std::fmt::{self, Write as _};

use serde::Serialize;

use super::text::{HEADING, write_wrapped};
use crate::characterise::{Calibration, FoamFound, LEAST_VARIANCE_REMOVED};

/// The foams that chips tell of, by their names, in the order of the calibration; a foam that no chip holds is not among them, since
/// all that could be told of it is what it was guessed to be.
pub(super) fn foams(calibration: &Calibration) -> impl Iterator<Item = (&str, &FoamFound)> {
    let curves = calibration.curves.iter();
    curves.filter_map(|curves| Some((curves.material.name(), curves.foam.as_ref()?)))
}

/// What was found out of the foam called `name`: width of its cells and its absorption gain with their standard deviations
/// (of their logarithms, in percent), each beside its first guess and the share of variance removed; and which chip to cast where
/// that is next to nothing.
pub(super) fn write_foam(out: &mut String, name: &str, found: &FoamFound) -> fmt::Result {
    let FoamFound {
        first,
        foam,
        gain_ln_sd,
        cell_variance_removed,
        gain_variance_removed,
        wet_variance_removed,
    } = found;
    writeln!(
        out,
        "\n  {HEADING}{name}{HEADING:#}, risen {} times",
        foam.expansion
    )?;
    let percent = |share: &f64| 100.0 * share;
    writeln!(
        out,
        "    cells             {:.2} mm ± {:.0} %   guessed {:.2} mm, variance removed {:.0} %",
        foam.cell_mm,
        percent(&foam.cell_ln_sd),
        first.cell_mm,
        percent(cell_variance_removed)
    )?;
    writeln!(
        out,
        "    absorption gain   {:.2} ± {:.0} %      guessed {:.2}, variance removed {:.0} %",
        foam.absorption_gain,
        percent(gain_ln_sd),
        first.absorption_gain,
        percent(gain_variance_removed)
    )?;
    writeln!(
        out,
        "    touches a skin over {:.2} ± {:.2} of it      guessed {:.2}, variance removed {:.0} %",
        foam.wet_share,
        foam.wet_sd(),
        first.wet_share,
        percent(wet_variance_removed)
    )?;
    if *wet_variance_removed < LEAST_VARIANCE_REMOVED {
        let words = "how it touches a skin is hardly known yet: cast clear skin 1 to 2 mm thick with this foam, darkly tinted, behind it, \
                     and log one reading of it, and one of the foam's bare face";
        write_wrapped(out, "    ", words)?;
    }
    if cell_variance_removed.max(*gain_variance_removed) < LEAST_VARIANCE_REMOVED {
        let words = "hardly known yet: cast a light tint in it and in clear skin, and log a slice of the foam 2 to 4 mm thick and the \
                     skin, each read over both cards";
        write_wrapped(out, "    ", words)?;
    }
    Ok(())
}

/// A foam that chips are of, for other programs.
#[derive(Serialize)]
pub(super) struct FoamRow<'a> {
    /// The foam's name.
    foam: &'a str,
    /// Width of its cells, mm, as first guessed.
    first_cell_mm: f64,
    /// The same as learnt.
    cell_mm: f64,
    /// Standard deviation of its natural logarithm: 0.1 is about 10 % of the width.
    cell_ln_sd: f64,
    /// Share of the prior variance of that logarithm that the chips removed, 0–1.
    cells_variance_removed: f64,
    /// By how much its cells multiply the absorption of a tint, as first guessed.
    first_absorption_gain: f64,
    /// The same as learnt.
    absorption_gain: f64,
    /// Standard deviation of its natural logarithm.
    absorption_gain_ln_sd: f64,
    /// Share of the prior variance of that logarithm that the chips removed, 0–1.
    gain_variance_removed: f64,
    /// The share of a wall that its solid wets, 0–1, as first guessed.
    first_wet_share: f64,
    /// The same as learnt.
    wet_share: f64,
    /// Standard deviation of the natural logarithm of its odds.
    wet_share_ln_odds_sd: f64,
    /// Share of the prior variance of that logarithm that the chips removed, 0–1.
    wet_share_variance_removed: f64,
}

impl<'a> FoamRow<'a> {
    /// All foams of which `calibration` found anything.
    pub(super) fn all(calibration: &'a Calibration) -> Vec<Self> {
        let row = |(foam, found): (&'a str, &'a FoamFound)| Self {
            foam,
            first_cell_mm: found.first.cell_mm,
            cell_mm: found.foam.cell_mm,
            cell_ln_sd: found.foam.cell_ln_sd,
            cells_variance_removed: found.cell_variance_removed,
            first_absorption_gain: found.first.absorption_gain,
            absorption_gain: found.foam.absorption_gain,
            absorption_gain_ln_sd: found.gain_ln_sd,
            gain_variance_removed: found.gain_variance_removed,
            first_wet_share: found.first.wet_share,
            wet_share: found.foam.wet_share,
            wet_share_ln_odds_sd: found.foam.wet_ln_sd,
            wet_share_variance_removed: found.wet_variance_removed,
        };
        foams(calibration).map(row).collect()
    }
}
