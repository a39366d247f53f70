//! Which bottles of a long shelf can matter for a tone.
//!
//! Set-up and proof grow with the bottles at hand, and a cup takes four. Of a long shelf a few are kept, by what a little more
//! of each does to the colour where the tone is, and the rest are passed over:
//!
//! 1. Bottles as unlike each other as can be, by their K under red, green and blue cones' weights and by their S, are brought
//!    near the tone as if drops could be split. What that recipe takes is kept.
//! 2. A little of every bottle is added to that cup, and read. Which way the colour goes (ΔL′, ΔC′, ΔH′ under each light) says
//!    what the bottle is good for; how far by one drop, how well it doses.
//! 3. One bottle after the other joins, a fine one and a strong one in turn: the one whose way lies farthest from those of its
//!    turn before, counted the less the farther its drop is from that of [`GOOD_DROPS`].
//!
//! Bottles that go the same way stand in for each other, and no way is left without one. The rule asks no clock and draws no
//! lots: the same shelf and tone keep the same bottles on any machine. It is no proof: whatever is passed over may be nearer.

use super::candidate::Bench;
use super::in_parallel::in_parallel;
use super::proof::response::Grid;
use super::question::Question;
use crate::colour::DifferenceNear;
use crate::error::Result;
use crate::materials::Colorant;
use crate::optics::Coefficients;

/// How many bottles are kept. Up to so many a search costs a fraction of a second; more bettered few recipes in this project's
/// trials.
pub(crate) const KEPT: usize = 16;

/// How many unlike bottles find the way to the tone.
const UNLIKE: usize = 8;

/// How many bottles that hold several pigments, flesh stocks, are kept whatever they do: one of them may be all that a cup takes.
const STOCKS: usize = 4;

/// How much is added, as a share of what K and S the cup has: small beside it, and large beside rounding.
const A_LITTLE: f64 = 0.02;

/// By how much a drop that doses well moves the colour near the tone, ΔE00: one that is fine enough without a let-down, and one of
/// which a dark tone takes few. This project's own choice.
const GOOD_DROPS: [f64; 2] = [0.3, 1.5];

impl Question<'_> {
    /// Names of the [`KEPT`] pigments that can matter most, those that must go in among them; none where no more than so many
    /// are at hand.
    ///
    /// # Errors
    /// As [`search`](Self::search).
    pub(crate) fn short_list(&self) -> Result<Vec<String>> {
        let bench = Bench::new(self, &self.colorants)?;
        if bench.pigments.len() <= KEPT {
            return Ok(Vec::new());
        }
        let is_stock = |name: &str| {
            let pigment = self.shelf.pigment(name);
            pigment.is_ok_and(|pigment| !pigment.ingredients.is_empty())
        };
        let all = || bench.pigments.iter().enumerate();
        let musts = all().filter(|(_, pigment)| self.must.contains(&pigment.name));
        let stocks = all().filter(|(_, pigment)| is_stock(&pigment.name));
        let mut kept: Vec<usize> = musts.map(|(index, _)| index).collect();
        for (index, _) in stocks.take(STOCKS) {
            keep(&mut kept, index);
        }
        let characters: Vec<Vec<f64>> = all()
            .map(|(_, pigment)| self.character(&pigment.coefficients))
            .collect();
        let mut unlike = kept.clone();
        farthest_first(&mut unlike, &characters, |_| 1.0, kept.len() + UNLIKE);
        let (near_the_tone, taken) = self.near_the_tone(&bench, &unlike)?;
        for index in taken {
            keep(&mut kept, index);
        }
        let ways = self.ways(&bench, &near_the_tone);
        let doses_well = |index: usize, good: f64| {
            let strongest = &bench.drops[bench.pigments[index].strongest];
            let by_a_drop = length(&ways[index]) * strongest.dispersion_g / bench.staying_g;
            1.0 / (1.0 + (by_a_drop / good).ln().abs())
        };
        // In turn, each by itself: what a fine drop can't do within the limits, a strong one can.
        let mut lists = GOOD_DROPS.map(|good| (good, Vec::new()));
        for turn in (0..lists.len()).cycle().take(lists.len() * KEPT) {
            let (good, list) = &mut lists[turn];
            let so_far = list.len();
            farthest_first(list, &ways, |index| doses_well(index, *good), so_far + 1);
            if let Some(index) = list.get(so_far).filter(|_| kept.len() < KEPT) {
                keep(&mut kept, *index);
            }
        }
        Ok(kept
            .into_iter()
            .map(|index| bench.pigments[index].name.clone())
            .collect())
    }

    /// What a pigment is like: its K weighted for X, Y and Z, and its S for Y, under the first light.
    fn character(&self, coefficients: &Coefficients) -> Vec<f64> {
        let weights = &self.aims[0].weights;
        let k = weights.xyz(&coefficients.k);
        vec![k.x, k.y, k.z, weights.xyz(&coefficients.s).y]
    }

    /// K and S (mm⁻¹, before a foam rises) of the cup that the `unlike` pigments of `bench` bring nearest to the aims, and which
    /// of them the best cups take.
    fn near_the_tone(
        &self,
        bench: &Bench<'_>,
        unlike: &[usize],
    ) -> Result<(Coefficients, Vec<usize>)> {
        let name = |index: &usize| &bench.pigments[*index].name;
        let colorants = unlike.iter().map(|index| Colorant::neat(name(index)));
        let question = Question {
            colorants: colorants.collect(),
            ..self.clone()
        };
        let few = Bench::new(&question, &question.colorants)?;
        let kernel = question.kernel_of(&few, Grid::OF_A_LOOK);
        let relaxed = question.relaxed(&few, &kernel);
        let amounts = relaxed.first().map_or(&[][..], |best| &best.amounts);
        let mut sum = few.sum;
        let mut staying_g = few.staying_g;
        for (pigment, amount) in amounts {
            let dispersion_g = amount * few.drops[few.pigments[*pigment].strongest].dispersion_g;
            sum.add_scaled(dispersion_g, &few.pigments[*pigment].coefficients);
            staying_g += dispersion_g;
        }
        let taken = amounts.iter().map(|(pigment, _)| unlike[*pigment]);
        Ok((sum.scaled(1.0 / staying_g), taken.collect()))
    }

    /// Which way, and how far by unit mass fraction, each pigment of `bench` moves the colour of a cup of K and S `at` (mm⁻¹):
    /// three weighted steps under each light.
    fn ways(&self, bench: &Bench<'_>, at: &Coefficients) -> Vec<Vec<f64>> {
        let near: Vec<DifferenceNear> = (self.aims.iter())
            .map(|aim| DifferenceNear::new(aim.lab))
            .collect();
        let steps = |coefficients: &Coefficients| -> Vec<f64> {
            let reading = self.reading(&bench.base.risen(coefficients));
            let lights = near.iter().zip(&self.aims);
            lights
                .flat_map(|(near, aim)| near.steps(aim.weights.lab(&reading)))
                .collect()
        };
        let here = steps(at);
        let strength = |of: &Coefficients| self.character(of).iter().sum::<f64>();
        let way = |pigment: &Coefficients| -> Vec<f64> {
            let fraction = A_LITTLE * strength(at) / strength(pigment);
            if !fraction.is_finite() {
                // What neither absorbs nor scatters moves nothing.
                return vec![0.0; here.len()];
            }
            let mut more = *at;
            more.add_scaled(fraction, pigment);
            let there = steps(&more);
            let moved = there.iter().zip(&here);
            moved
                .map(|(there, here)| (there - here) / fraction)
                .collect()
        };
        let pigments: Vec<Coefficients> = (bench.pigments.iter())
            .map(|pigment| pigment.coefficients)
            .collect();
        in_parallel((self.limits.threads, 64), &pigments, way)
    }
}

fn keep(kept: &mut Vec<usize>, index: usize) {
    if !kept.contains(&index) {
        kept.push(index);
    }
}

/// Adds to `kept` one of `vectors` after the other until there are `size`: the one whose way lies farthest from those that are
/// kept, counted by its `worth` (0–1); of equals the first. Vectors without length are never added.
fn farthest_first(
    kept: &mut Vec<usize>,
    vectors: &[Vec<f64>],
    worth: impl Fn(usize) -> f64,
    size: usize,
) {
    let unit = |vector: &Vec<f64>| -> Vec<f64> {
        let length = length(vector);
        vector.iter().map(|each| each / length).collect()
    };
    let units: Vec<Vec<f64>> = vectors.iter().map(unit).collect();
    let apart = |one: &[f64], other: &[f64]| {
        let cosine: f64 = one.iter().zip(other).map(|(one, other)| one * other).sum();
        cosine.clamp(-1.0, 1.0).acos()
    };
    let farthest = std::f64::consts::PI;
    let mut to_the_kept: Vec<f64> = (units.iter())
        .map(|unit| {
            let all = kept.iter().map(|index| apart(unit, &units[*index]));
            all.filter(|angle| angle.is_finite())
                .fold(farthest, f64::min)
        })
        .collect();
    while kept.len() < size {
        let mut next: Option<(usize, f64)> = None;
        for (index, unit) in units.iter().enumerate() {
            let score = to_the_kept[index] * worth(index);
            let is_a_way = unit.iter().all(|each| each.is_finite());
            if is_a_way && !kept.contains(&index) && next.is_none_or(|(_, best)| score > best) {
                next = Some((index, score));
            }
        }
        let Some((next, _)) = next else { return };
        kept.push(next);
        for (angle, unit) in to_the_kept.iter_mut().zip(&units) {
            *angle = angle.min(apart(unit, &units[next]));
        }
    }
}

fn length(vector: &[f64]) -> f64 {
    vector.iter().map(|each| each * each).sum::<f64>().sqrt()
}
