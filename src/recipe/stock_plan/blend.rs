//! How near a tone comes with real-valued amounts of given tints, skin over a foam of the same tints: what a design goes by
//! before any drop is counted.

use nalgebra::{DMatrix, DVector};

use super::super::order::{Order, OrderedCup};
use super::proportion::Proportion;
use crate::colour::{Lab, TristimulusWeights, delta_e_2000};
use crate::error::Result;
use crate::materials::{Amount, Build, Casting, Colorant, Grams, Mix, Poured, Underlay};

/// What a blend is worked out for.
pub(super) struct Blender<'a> {
    pub(super) order: &'a Order<'a>,
    pub(super) foam: &'a OrderedCup,
    /// The white that may go into the skin beside the tints, if the shelf has one.
    pub(super) white: Option<String>,
    /// Between which contrast ratios the skin is to lie.
    pub(super) window: (f64, f64),
    pub(super) weights: TristimulusWeights,
}

/// Real-valued amounts of tints for one tone.
#[derive(Clone, Debug)]
pub(super) struct Blend {
    /// ΔE00 of the skin, and what its contrast ratio lies outside the window, as ΔE00.
    pub(super) miss: f64,
    /// Grams of each tint in the skin, then of white.
    pub(super) grams: Vec<f64>,
    beneath: Underlay,
}

/// How much lighter than the tone the foam is tried, L*: a lighter one leaves the skin room.
const FOAM_LIGHTER: [f64; 2] = [0.0, 8.0];

/// What a contrast ratio outside the window by 1 counts for, as ΔE00: a tenth is as bad as a casting that is seen to be off.
const OUTSIDE: f64 = 20.0;

/// A skin as near as this, ΔE00, needs no lighter foam.
const NEAR: f64 = 0.3;

/// Least and greatest share of a cup that is tried of a tint.
const SHARES: (f64, f64) = (1e-7, 0.03);

impl Blender<'_> {
    /// The nearest blend of `tints` for `aim`.
    pub(super) fn blend(&self, tints: &[&Proportion], aim: Lab) -> Result<Blend> {
        let mut best: Option<Blend> = None;
        for lighter in FOAM_LIGHTER {
            let beneath =
                Underlay::Foam(self.foam(tints, Lab::new(aim.l + lighter, aim.a, aim.b))?);
            let next = self.skin(tints, aim, beneath)?;
            let is_near = next.miss < NEAR;
            if best.as_ref().is_none_or(|known| next.miss < known.miss) {
                best = Some(next);
            }
            if is_near {
                break;
            }
        }
        Ok(best.expect("a foam was tried"))
    }

    /// CIELAB of the skin that `blend` is, with `more` grams of one of its tints.
    pub(super) fn with_more(
        &self,
        tints: &[&Proportion],
        blend: &Blend,
        (index, more): (usize, f64),
    ) -> Result<Lab> {
        let mut grams = blend.grams.clone();
        grams[index] += more;
        let build = self.build(tints, &grams, &blend.beneath)?;
        Ok(self
            .weights
            .lab(&Casting::new(self.order.shelf, &build)?.reading()))
    }

    fn foam(&self, tints: &[&Proportion], aim: Lab) -> Result<Poured> {
        let poured = |grams: &[f64]| -> Result<Poured> {
            Ok(self.foam.with(Mix::new(self.entries(tints, grams))?))
        };
        let residual = |grams: &[f64]| -> Result<DVector<f64>> {
            let bare = Casting::bare_foam(self.order.shelf, &poured(grams)?)?;
            Ok(DVector::from_column_slice(&off(
                aim,
                self.weights.lab(&bare.reading()),
            )))
        };
        poured(&least_squares(
            tints.len(),
            self.foam.base_mass.0,
            residual,
        )?)
    }

    fn skin(&self, tints: &[&Proportion], aim: Lab, beneath: Underlay) -> Result<Blend> {
        let read = |grams: &[f64]| -> Result<(Lab, f64)> {
            let build = self.build(tints, grams, &beneath)?;
            let casting = Casting::new(self.order.shelf, &build)?;
            let ratio = casting.translucency(&self.weights).contrast_ratio;
            let outside = (self.window.0 - ratio).max(ratio - self.window.1).max(0.0);
            Ok((self.weights.lab(&casting.reading()), OUTSIDE * outside))
        };
        let residual = |grams: &[f64]| -> Result<DVector<f64>> {
            let (lab, outside) = read(grams)?;
            let [l, a, b] = off(aim, lab);
            Ok(DVector::from_column_slice(&[l, a, b, outside]))
        };
        let count = tints.len() + usize::from(self.white.is_some());
        let grams = least_squares(count, self.order.skin.base_mass.0, residual)?;
        let (lab, outside) = read(&grams)?;
        Ok(Blend {
            miss: delta_e_2000(aim, lab) + outside,
            grams,
            beneath,
        })
    }

    fn build(&self, tints: &[&Proportion], grams: &[f64], beneath: &Underlay) -> Result<Build> {
        let mut entries = self.entries(tints, grams);
        if let (Some(white), Some(mass)) = (&self.white, grams.get(tints.len())) {
            entries.push((Colorant::neat(white), Amount::Mass(Grams(*mass))));
        }
        entries.extend(self.order.in_the_skin.entries().iter().cloned());
        Ok(Build {
            skin: self.order.skin.with(Mix::new(entries)?),
            ..self.order.unfilled(beneath.clone())
        })
    }

    /// `grams` of `tints`, pigment by pigment.
    fn entries(&self, tints: &[&Proportion], grams: &[f64]) -> Vec<(Colorant, Amount)> {
        let mut of_each: Vec<(&str, f64)> = Vec::new();
        for (tint, mass) in tints.iter().zip(grams) {
            for (name, share) in tint.shares() {
                match of_each.iter_mut().find(|(known, _)| *known == name) {
                    Some((_, known)) => *known += mass * share,
                    None => of_each.push((name, mass * share)),
                }
            }
        }
        let entry = |(name, mass)| (Colorant::neat(name), Amount::Mass(Grams(mass)));
        of_each.into_iter().map(entry).collect()
    }
}

/// What `made` differs from `aim` by, in steps that look about alike: chroma counts less the more there is of it, as in ΔE00.
fn off(aim: Lab, made: Lab) -> [f64; 3] {
    let chroma = 1.0 + 0.045 * aim.a.hypot(aim.b);
    [
        made.l - aim.l,
        (made.a - aim.a) / chroma,
        (made.b - aim.b) / chroma,
    ]
}

/// The `count` amounts, g, that leave least of `residual` in a cup of `cup_g`: by Levenberg's and Marquardt's steps in their
/// logarithms, so that none is below zero.
///
/// Source: D. W. Marquardt (1963), Journal of the Society for Industrial and Applied Mathematics 11, 431–441.
fn least_squares(
    count: usize,
    cup_g: f64,
    residual: impl Fn(&[f64]) -> Result<DVector<f64>>,
) -> Result<Vec<f64>> {
    /// Steps at most, and the change of the sum of squares below which it stands still.
    const STEPS: usize = 14;
    const STILL: f64 = 1e-4;
    /// Where it begins: about what a light skin takes of a tint.
    const BEGIN: f64 = 3e-4;
    /// A change of the logarithm by which slopes are taken.
    const NUDGE: f64 = 0.02;
    let (low, high) = ((SHARES.0 * cup_g).ln(), (SHARES.1 * cup_g).ln());
    let grams = |logs: &DVector<f64>| logs.iter().map(|log| log.exp()).collect::<Vec<f64>>();
    let mut logs = DVector::from_element(count, (BEGIN * cup_g).ln());
    let mut left = residual(&grams(&logs))?;
    let mut damping = 0.1;
    for _ in 0..STEPS {
        let mut slopes = DMatrix::zeros(left.len(), count);
        for index in 0..count {
            let mut nudged = logs.clone();
            nudged[index] += NUDGE;
            slopes.set_column(index, &((residual(&grams(&nudged))? - &left) / NUDGE));
        }
        let normal = slopes.transpose() * &slopes;
        let downhill = slopes.transpose() * &left;
        let damped = &normal + DMatrix::from_diagonal_element(count, count, damping);
        let Some(step) = damped.cholesky().map(|factor| factor.solve(&downhill)) else {
            break;
        };
        let next = (&logs - step).map(|log| log.clamp(low, high));
        let next_left = residual(&grams(&next))?;
        let gain = left.norm_squared() - next_left.norm_squared();
        if gain > 0.0 {
            (logs, left) = (next, next_left);
            damping = (damping / 4.0).max(1e-4);
            if gain < STILL {
                break;
            }
        } else {
            damping *= 6.0;
        }
    }
    Ok(grams(&logs))
}
