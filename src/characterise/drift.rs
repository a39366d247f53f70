//! How a pigment drifts from bottle to bottle: each lot beside the one before it, by the curves that a calibration left.
//!
//! What two lots share of what is not known (the white they were let down with, the base) cancels where they are compared; so the
//! doubt is of their difference, by each [`JointDirection`] taken in both at once, to first order. A lot differs in strength where
//! ln of their ratio lies outside ±1.96 of its standard deviations, and in hue where the step in a* and b* lies outside the
//! ellipse that holds 95 of 100 (χ² of two degrees of freedom, 5.99): what is within is not claimed.

use super::tint::{Compared, compare};
use crate::colour::{Lab, delta_e_2000};
use crate::error::Result;
use crate::materials::{JointDirection, Material, Pigment, Shelf};

/// Standard deviations that hold 95 of 100.
const SURE: f64 = 1.96;
/// The same of two numbers at once: χ² of two degrees of freedom.
const SURE_OF_TWO: f64 = 5.99;

/// One lot of a pigment, beside that before it.
#[derive(Clone, Debug, PartialEq)]
pub struct Drift {
    /// The lot's name on the shelf.
    pub lot: String,
    /// Whether chips have told of it.
    pub is_learnt: bool,
    /// How it differs from the last lot before it that chips have told of; `None` where either has no chip.
    pub beside: Option<Difference>,
}

/// How one lot differs from another.
#[derive(Clone, Debug, PartialEq)]
pub struct Difference {
    /// The other lot, the older.
    pub from: String,
    /// ln of how many grams of the older 1 g of it is worth, in a tint of L* 65, and its standard deviation.
    pub ln_strength: (f64, f64),
    /// ΔE00 of the two where both are let down with white to that depth, and its standard deviation.
    pub delta_e: (f64, f64),
    /// Δa* and Δb* there, this one's less the older one's.
    pub shift: [f64; 2],
    /// How many of its drops do what 1 of the older one's did, by what they weigh and by its strength where that is told;
    /// `None` where either is weighed.
    pub drops: Option<f64>,
    /// Whether it is stronger or weaker beyond the doubt.
    pub is_strength_told: bool,
    /// Whether its hue is another beyond the doubt.
    pub is_hue_told: bool,
}

/// The lots of the pigment called `name` (it or any of its lots), the oldest first, as they stand on `shelf`; `has_chip` says of
/// each whether a chip of it is logged, since a calibration tells of those without one too, by what is supposed of them.
///
/// # Errors
/// No such pigment; the nearest name is suggested.
pub fn drift(shelf: &Shelf, name: &str, has_chip: impl Fn(&str) -> bool) -> Result<Vec<Drift>> {
    let named = shelf.pigment(name)?;
    let first = match named.lot_of.as_str() {
        "" => named,
        first => shelf.pigment(first)?,
    };
    let others = shelf.pigments.iter().filter(|lot| lot.lot_of == first.name);
    let mut last: Option<&Pigment> = None;
    let mut lots = Vec::new();
    for lot in std::iter::once(first).chain(others) {
        let is_learnt =
            has_chip(&lot.name) && shelf.is_calibrated(&Material::Pigment(lot.name.clone()));
        lots.push(Drift {
            lot: lot.name.clone(),
            is_learnt,
            beside: last
                .filter(|_| is_learnt)
                .map(|old| difference(shelf, old, lot)),
        });
        if is_learnt {
            last = Some(lot);
        }
    }
    Ok(lots)
}

fn difference(shelf: &Shelf, old: &Pigment, new: &Pigment) -> Difference {
    let weights = shelf.settings.viewing.weights();
    let of = |each: Option<&JointDirection>| -> Compared {
        let curves = |pigment: &Pigment| {
            let mut steps = each.into_iter().flat_map(|each| &each.steps);
            let is_it = |material: &Material| matches!(material, Material::Pigment(name) if *name == pigment.name);
            let step = steps.find(|step| is_it(&step.material));
            step.map_or(pigment.coefficients, |step| {
                step.taken(&pigment.coefficients, 1.0)
            })
        };
        let is_white = old.is_white();
        compare(
            &curves(old),
            &curves(new),
            is_white,
            &shelf.settings,
            &weights,
        )
    };
    let here = of(None);
    let ln_strength = here.strength.ln();
    let (mut variance, mut aa, mut ab, mut bb) = (0.0, 0.0, 0.0, 0.0);
    for each in &shelf.joint_directions {
        let there = of(Some(each));
        let [a, b] = [0, 1].map(|index| there.shift[index] - here.shift[index]);
        variance += (there.strength.ln() - ln_strength).powi(2);
        (aa, ab, bb) = (aa + a * a, ab + a * b, bb + b * b);
    }
    let [a, b] = here.shift;
    let length = a.hypot(b);
    let toward = if length > 0.0 {
        [a / length, b / length]
    } else {
        [1.0, 0.0]
    };
    let along = toward[0].powi(2) * aa + 2.0 * toward[0] * toward[1] * ab + toward[1].powi(2) * bb;
    let [old_tint, new_tint] = here.tints;
    // How much one unit that way shows.
    let unit = Lab::new(old_tint.l, old_tint.a + toward[0], old_tint.b + toward[1]);
    let shows = delta_e_2000(old_tint, unit);
    let determinant = aa * bb - ab * ab;
    let chi_squared =
        (bb * a * a - 2.0 * ab * a * b + aa * b * b) / determinant.max(f64::MIN_POSITIVE);
    let strength_sd = variance.sqrt();
    let is_strength_told = ln_strength.abs() > SURE * strength_sd;
    let worth = if is_strength_told { here.strength } else { 1.0 };
    let drop = |pigment: &Pigment| pigment.drop_mass.map(|mass| mass.0);
    Difference {
        from: old.name.clone(),
        ln_strength: (ln_strength, strength_sd),
        delta_e: (delta_e_2000(old_tint, new_tint), shows * along.sqrt()),
        shift: here.shift,
        drops: drop(old).zip(drop(new)).map(|(old, new)| old / new / worth),
        is_strength_told,
        is_hue_told: chi_squared > SURE_OF_TWO,
    }
}
