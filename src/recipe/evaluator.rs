//! Many recipes of one cup, one after the other: what a search, a slider or a benchmark asks.

use super::order::Order;
use crate::error::Result;
use crate::forecast::Aim;
use crate::materials::Colorant;
use crate::search::Bench;
use crate::search::Instructions;
use crate::search::Kernel;
use crate::tone::Target;

/// The skin of an order, ready to tell the colour difference of any number of recipes without allocating.
///
/// It reads the layer model's response off a spline, as the search does: to a few thousandths of ΔE00 of what
/// [`Casting`](crate::materials::Casting) predicts.
#[derive(Clone, Debug)]
pub struct Evaluator {
    kernel: Kernel,
    aims: Vec<Aim>,
    colorants: Vec<Colorant>,
    /// Each drop's pigment, its dispersion and what stays of its clear base, g.
    drops: Vec<(usize, f64, f64)>,
}

/// The most pigments that an [`Evaluator`] takes.
const MOST_ADDITIONS: usize = 64;

impl Evaluator {
    /// The evaluator of `order`'s skin for `target`; over foam, of a skin over untinted foam.
    ///
    /// # Errors
    /// As [`Order::search`].
    ///
    /// # Panics
    /// More than 63 pigments.
    pub fn new(order: &Order<'_>, target: &Target) -> Result<Self> {
        order.with_skin_question(target, |question| {
            let bench = Bench::new(question, &question.colorants)?;
            let kernel = question.kernel(&bench);
            assert!(
                kernel.additions.len() <= MOST_ADDITIONS,
                "at most {MOST_ADDITIONS} additions"
            );
            let drops = bench.drops.iter();
            Ok(Self {
                kernel,
                aims: question.aims.clone(),
                colorants: drops.clone().map(|drop| drop.colorant.clone()).collect(),
                drops: drops
                    .map(|drop| (drop.pigment, drop.dispersion_g, drop.clear_g()))
                    .collect(),
            })
        })
    }

    /// What may be dropped in.
    pub fn colorants(&self) -> &[Colorant] {
        &self.colorants
    }

    /// The same, in the code that every machine runs, and not in the fastest that this one does.
    #[must_use]
    pub fn portable(mut self) -> Self {
        self.kernel.instructions = Instructions::PORTABLE;
        self
    }

    /// Mean ΔE00 from the aims with so many drops of each of [`colorants`](Self::colorants).
    pub fn delta_e(&self, drops: &[f64]) -> f64 {
        let mut grams = [0.0; MOST_ADDITIONS];
        let last = self.kernel.additions.len() - 1;
        for ((pigment, dispersion_g, clear_g), count) in self.drops.iter().zip(drops) {
            grams[*pigment] += dispersion_g * count;
            if *clear_g > 0.0 {
                grams[last] += clear_g * count;
            }
        }
        self.kernel.delta_e(&self.aims, &grams[..=last])
    }
}
