//! Other thicknesses of the skin, what foaming costs, and how paint goes on, in words and rows.

use super::part::{signed, tenths};
use crate::colour::Lab;
use crate::forecast::{AtThickness, Spraying, Thinnest};
use crate::recipe::Foaming;

/// The heads of the columns of [`thickness_row`].
pub(super) const THICKNESS_HEADS: [&str; 8] =
    ["mm", "L*", "a*", "b*", "ΔE00", "contrast", "TP ab", "TP 00"];

/// A skin of some thickness, in the columns of [`THICKNESS_HEADS`].
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
        format!("{:.2}", translucency.contrast_ratio),
        format!("{:.1}", translucency.tp_ab),
        format!("{:.1}", translucency.tp_00),
    ]
}

/// What the columns are.
pub(super) const THICKNESS_RULE: &str = "ΔE00 is to the skin as thick as ordered. Contrast is Y over black by Y over \
                                         white; TP is ΔE*ab (TP ab) or ΔE00 (TP 00) between the two.";

/// How thin the skin may be.
pub(super) fn thinnest(thinnest: &Thinnest, beneath: &str) -> String {
    let Thinnest { thickness, within } = thinnest;
    format!(
        "at least {:.1} mm everywhere: where it is thinner, the {beneath} shows, more than ΔE00 {within:.2} off the rest",
        // A minimum is rounded up.
        (thickness.0 * 10.0 - 1e-9).ceil() / 10.0
    )
}

/// What foaming does to colour, a sentence or two.
pub(super) fn foaming(foaming: &Foaming, made: Lab) -> Vec<String> {
    let multiplier = foaming.pigment_multiplier;
    let mut said = vec![format!(
        "the skin's own mix would need {multiplier:.1} times its pigment to keep its colour as this foam: its cells are white"
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

/// `value` to two digits.
fn two_digits(value: f64) -> f64 {
    if value <= 0.0 {
        return 0.0;
    }
    let unit = 10.0_f64.powf(value.log10().floor() - 1.0);
    (value / unit).round() * unit
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

    #[test]
    fn an_area_has_two_digits() {
        assert_eq!(two_digits(7368.4), 7400.0, "cm²");
        assert_eq!(two_digits(0.0), 0.0, "none");
    }
}
