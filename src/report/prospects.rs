//! Other thicknesses of the skin, what foaming costs, and how paint goes on, in words and rows.
//!
//! None of it was matched for: it is what the same recipe gives under other hands and in other moulds.

use std::fmt::{self, Write as _};

use serde_json::{Value, json as object};

use super::document::triple;
use super::numbers::{signed, tenths, two_digits};
use super::text::{HEADING, write_row, write_wrapped};
use crate::colour::{Lab, Translucency};
use crate::forecast::{AtThickness, Spraying, Thinnest};
use crate::jobs::matching::{Layer, Matched};
use crate::recipe::{Foaming, Prospects};

/// The heads of the columns of [`thickness_row`].
pub(super) const THICKNESS_HEADS: [&str; 8] =
    ["mm", "L*", "a*", "b*", "ΔE00", "hides", "TP ab", "TP 00"];

/// A skin of some thickness, in the columns of [`THICKNESS_HEADS`]: what it hides in percent, all other numbers but the
/// thickness to one digit after the point.
pub(super) fn thickness_row(at: &AtThickness) -> [String; 8] {
    let AtThickness {
        thickness,
        lab,
        delta_e,
        translucency,
    } = at;
    let [l, a, b] = [lab.l, lab.a, lab.b].map(|value| format!("{:.1}", tenths(value)));
    [
        thickness.0.to_string(),
        l,
        a,
        b,
        format!("{delta_e:.1}"),
        format!("{:.0} %", 100.0 * translucency.contrast_ratio),
        format!("{:.1}", translucency.tp_ab),
        format!("{:.1}", translucency.tp_00),
    ]
}

/// What the columns are.
pub(super) const THICKNESS_RULE: &str = "ΔE00 is to the skin as thick as ordered. What it hides is its contrast ratio, Y \
                                         over black by Y over white; how see-through it is, TP: ΔE*ab (TP ab) or ΔE00 (TP 00) \
                                         between the two.";

/// The skin at other thicknesses, the thinnest first and the ordered one among them, as a table with a rule under it.
pub(super) fn write_thicknesses(out: &mut String, prospects: &Prospects) -> fmt::Result {
    if prospects.at_thicknesses.is_empty() {
        return Ok(());
    }
    writeln!(
        out,
        "{HEADING}Thicker or thinner{HEADING:#}   the same skin"
    )?;
    write_row(out, 9, THICKNESS_HEADS)?;
    for at in &prospects.at_thicknesses {
        write_row(out, 9, thickness_row(at).iter().map(String::as_str))?;
    }
    write_wrapped(out, "  ", THICKNESS_RULE)?;
    writeln!(out)
}

/// How thin the skin may be before what is `beneath` shows, in tenths of a millimetre.
///
/// It is rounded up, since a skin as thin as a bound that was rounded down would show what the bound says it hides.
pub(super) fn thinnest(thinnest: &Thinnest, beneath: &str) -> String {
    let Thinnest { thickness, within } = thinnest;
    format!(
        "at least {:.1} mm everywhere: where it is thinner, the {beneath} shows, more than ΔE00 {within:.2} off the rest",
        // A minimum is rounded up.
        (thickness.0 * 10.0 - 1e-9).ceil() / 10.0
    )
}

/// What foaming does to colour, a sentence or two; `made` is CIELAB of the risen foam, with the width of cells that the book has.
pub(super) fn foaming(foaming: &Foaming, made: Lab) -> Vec<String> {
    let multiplier = foaming.pigment_multiplier;
    let mut said = vec![format!(
        "foam whitens: the skin's own mix would need {multiplier:.0} times the pigment here"
    )];
    if let Some([fine, coarse]) = foaming.cells_from_half_to_double {
        said.push(format!(
            "nobody has measured its cells (cell_mm in bases.csv): with half or double the width guessed it comes out L* \
             {:.1} or {:.1} ({} or {})",
            fine.l,
            coarse.l,
            signed(fine.l - made.l),
            signed(coarse.l - made.l)
        ));
    }
    said
}

/// How a paint, mixed in so many `pots`, goes on: a sentence each.
///
/// The first counts coats and what a pot covers, cm² to two digits; the second is what to compare on the white card before
/// the part is sprayed.
pub(super) fn spraying(spraying: &Spraying, pots: u32) -> Vec<String> {
    let Spraying {
        covers_cm2,
        one_coat,
        coats,
        reaches_at,
        on_the_card,
        ..
    } = spraying;
    let count = coats.len();
    let cup = if pots > 1 { "each pot" } else { "the cup" };
    let word = if count == 1 { "coat" } else { "coats" };
    let reached = match reaches_at {
        Some(at) if *at < count => format!("; the tone is near enough after {at}"),
        _ => String::new(),
    };
    let [l, a, b] = [on_the_card.l, on_the_card.a, on_the_card.b].map(tenths);
    vec![
        format!(
            "{count} {word} of {:.3} mm dry{reached}; {cup} covers {} cm², less what blows past",
            one_coat.0,
            two_digits(*covers_cm2)
        ),
        format!("on the white card first: all coats look L* {l:.1}, a* {a:.1}, b* {b:.1} there"),
    ]
}

/// What else is to be expected of a part, for other programs.
///
/// - `at_thicknesses`: the same skin thicker and thinner, with ΔE00 from it as ordered, the thinnest first.
/// - `thinnest`: the least thickness, mm, down to which the skin hides spots of what is behind it, within so many ΔE00; not
///   rounded up as in text, and `null` where there is no such bound.
/// - `foaming`: how many times the skin's pigment this foam would need, and CIELAB with cells half and double as wide, which is
///   `null` where the cells were measured; all of it is `null` where there is no foam.
/// - `spraying`: of each paint its mass on the part, what a cup covers, and CIELAB after every coat. `reaches_at` counts coats
///   from 1 and is `null` where the tone is missed with all on; `more_coats` is `null` where more would not help.
pub(super) fn json(matched: &Matched) -> Value {
    let prospects = &matched.prospects;
    let at = prospects.at_thicknesses.iter().map(|at| {
        let AtThickness {
            thickness,
            lab,
            delta_e,
            translucency:
                Translucency {
                    contrast_ratio,
                    tp_ab,
                    tp_00,
                },
        } = *at;
        object!({
            "thickness_mm": thickness.0, "L": lab.l, "a": lab.a, "b": lab.b, "delta_e": delta_e,
            "contrast_ratio": contrast_ratio, "tp_ab": tp_ab, "tp_00": tp_00
        })
    });
    let spraying = matched.paints.iter().zip(&prospects.spraying);
    let spraying = spraying.map(|(paint, spraying)| {
        let tone = match paint.layer {
            Layer::Paint(tone) => Some(tone),
            Layer::Skin | Layer::Foam { .. } => None,
        };
        let Spraying {
            wet_g_per_100_cm2,
            covers_cm2,
            one_coat,
            coats,
            reaches_at,
            more_coats,
            on_the_card,
        } = spraying;
        object!({
            "tone": tone, "wet_g_per_100_cm2": wet_g_per_100_cm2, "covers_cm2": covers_cm2,
            "one_coat_mm": one_coat.0,
            "after_each_coat": coats.iter().copied().map(triple).collect::<Vec<_>>(),
            "reaches_at": reaches_at, "on_the_card": triple(*on_the_card),
            "more_coats": more_coats.map(|more| object!({
                "count": more.count, "paint_mm": more.dry_thickness.0, "delta_e": more.delta_e,
            }))
        })
    });
    object!({
        "at_thicknesses": at.collect::<Vec<_>>(),
        "thinnest": prospects.thinnest.map(|thinnest| {
            object!({ "thickness_mm": thinnest.thickness.0, "within": thinnest.within })
        }),
        "foaming": prospects.foaming.map(|foaming| object!({
            "pigment_multiplier": foaming.pigment_multiplier,
            "cells_from_half_to_double":
                foaming.cells_from_half_to_double.map(|labs| labs.map(triple)),
        })),
        "more_fibre": prospects.more_fibre.map(|more| object!({
            "more_g": more.more.0, "lab": triple(more.lab), "delta_e": more.delta_e,
        })),
        "spraying": spraying.collect::<Vec<_>>(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::materials::Millimetres;

    #[test]
    fn a_minimum_is_rounded_up() {
        let at_least = |mm| {
            let bound = Thinnest {
                thickness: Millimetres(mm),
                within: 0.5,
            };
            thinnest(&bound, "foam")
        };
        assert!(at_least(0.91).starts_with("at least 1.0 mm"), "up");
        assert!(
            at_least(0.9).starts_with("at least 0.9 mm"),
            "and no further"
        );
    }
}
