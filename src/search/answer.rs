//! The whole-drop search: a quick good answer first, then the proof, which finds what was missed.

use super::candidate::Bench;
use super::doses::Doses;
use super::neighbours::{improve, roundings};
use super::pool::{Kept, Pool};
use super::proof::kernel::Kernel;
use super::proof::prove::Prover;
use super::proof::response::{CELL, CELL_OF_A_LOOK, CELL_OF_A_STACK, Response, Span};
use super::question::{Placement, Question};
use super::relaxed::{Relaxed, relax};
use crate::colour::{Spectrum, TristimulusWeights, delta_e_2000};
use crate::error::{Error, Mend, Result, Setting};
use crate::materials::{Amount, Colorant, Mix};
use crate::optics::Coefficients;

/// What a search found.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Answer {
    /// Recipes, the best first; at least one.
    pub(crate) recipes: Vec<Recipe>,
    /// How far each may be from the best of its rank, in ΔE00.
    pub(crate) gap: f64,
    /// Whether that gap is at most what was asked for.
    pub(crate) proven: bool,
}

/// Drops for one cup.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Recipe {
    /// Whole drops, none of them zero, in the order of the shelf.
    pub(crate) drops: Vec<(Colorant, u32)>,
    /// Mean ΔE00 from the aims.
    pub(crate) delta_e: f64,
}

impl Recipe {
    /// The drops as a mix, after `fixed`.
    ///
    /// # Errors
    /// A drop of what is in `fixed` already.
    pub(crate) fn mix(&self, fixed: &Mix) -> Result<Mix> {
        let drops = self
            .drops
            .iter()
            .map(|(colorant, count)| (colorant.clone(), Amount::Drops((*count).into())));
        Mix::new(drops.chain(fixed.entries().iter().cloned()).collect())
    }
}

/// A drop that moves the colour by more than this (ΔE00) is too coarse to be the finest there is: rounding to the
/// nearest then costs up to half of it, about what the eye lets pass on light skin with a few pigments in the cup.
const COARSE_DROP: f64 = 0.5;

/// The let-downs that join a pigment whose drop is too coarse: the strongest whose drop is fine enough, so that a
/// maker has one to make. Common practice, no source.
const LET_DOWNS: [f64; 3] = [5.0, 10.0, 20.0];

/// How many rounded starts of each number of pigments are improved drop by drop before the proof begins.
const DESCENTS: usize = 3;

impl Question<'_> {
    /// Finds whole-drop recipes.
    ///
    /// # Errors
    /// No colorant at hand; a colorant that is not on the shelf, is not counted in drops, or is named twice.
    pub(crate) fn search(&self) -> Result<Answer> {
        let (bench, kernel, relaxed) = self.set_out(self.cell())?;
        let mut pool = self.warm_pool(&bench, &kernel, &relaxed, self.limits.top.max(1));
        let doses: Vec<Doses> = (0..bench.pigments.len())
            .map(|pigment| Doses::new(&bench, pigment, self))
            .collect();
        let over_cards = self.contrast_kernels(&bench);
        let prover = Prover {
            over_cards: over_cards.as_ref(),
            question: self,
            bench: &bench,
            kernel: &kernel,
            doses: &doses,
        };
        // Half of what is allowed goes to the proof, half to simplicity.
        let spare = self.limits.within / 2.0;
        let floor = prover.prove(&mut pool, spare).max(0.0);
        if pool.best().is_empty() {
            return Err(none_keeps_to_it(floor.is_infinite()));
        }
        Ok(self.answer(&mut pool, floor))
    }

    /// The nearest recipe that is found without a proof, if any keeps to what is asked: a few hundredths from the best,
    /// as a rule. No deadline ends it, so the answer is the same on any machine.
    ///
    /// # Errors
    /// As [`search`](Self::search).
    pub(crate) fn nearest_at_once(&self) -> Result<Option<Recipe>> {
        let (bench, kernel, relaxed) = self.set_out(CELL_OF_A_LOOK)?;
        let pool = self.warm_pool(&bench, &kernel, &relaxed, 1);
        Ok(pool.best().first().map(|kept| recipe_of(&bench, kept)))
    }

    /// The drops at hand with the let-downs that join them, the inner loop on a grid with cells of `cell` e-folds, and
    /// the best real-valued recipes.
    fn set_out(&self, cell: f64) -> Result<(Bench<'_>, Kernel, Vec<Relaxed>)> {
        if self.colorants.is_empty() {
            return Err(
                Error::input("no pigment to choose from").mend("name at least one that is dropped")
            );
        }
        let neat = Bench::new(self, &self.colorants)?;
        let lights = self.aims.iter().map(|aim| &aim.weights);
        let kernel = self.kernel_over(None, &neat, lights, cell);
        let relaxed = relax(self, &neat, &kernel);
        let bench = if self.let_downs {
            Bench::new(self, &self.with_let_downs(&neat, &kernel, &relaxed))?
        } else {
            neat
        };
        Ok((bench, kernel, relaxed))
    }

    /// The best `size` recipes that are found without a proof.
    fn warm_pool<'a>(
        &'a self,
        bench: &'a Bench<'a>,
        kernel: &'a Kernel,
        relaxed: &[Relaxed],
        size: usize,
    ) -> Pool<'a> {
        let mut pool = Pool::new(self, bench, kernel, size);
        pool.offer(&vec![0; bench.drops.len()]);
        self.warm_up(&mut pool, relaxed);
        pool
    }

    /// The recipes of `pool`, where nothing else is below `floor`.
    ///
    /// Of what is allowed beside the best, recipes of fewer drops that hold the same are tried first, then the simplest
    /// goes to the top. The gap is taken from `floor`, so it holds for what was exchanged as well.
    fn answer(&self, pool: &mut Pool<'_>, floor: f64) -> Answer {
        let best = pool
            .best()
            .first()
            .map_or(f64::INFINITY, |best| best.delta_e);
        // As good as the best, and simpler.
        let limit = (floor.min(best) + self.limits.within).min(best + NEARLY_EQUAL);
        if limit > best {
            pool.pour_in_fewer_drops(limit);
        }
        let mut kept: Vec<&Kept> = pool.best().iter().collect();
        if let Some(simplest) = pool.simplest(limit).filter(|_| limit > best) {
            kept.retain(|kept| kept.content != simplest.content);
            kept.insert(0, simplest);
            kept.truncate(self.limits.top.max(1));
        }
        let gap = kept
            .iter()
            .map(|kept| kept.delta_e - floor)
            .fold(0.0, f64::max);
        let recipes = kept.into_iter().map(|kept| recipe_of(pool.bench, kept));
        Answer {
            recipes: recipes.collect(),
            gap,
            // A difference of two sums that are equal by hand.
            proven: gap <= self.limits.within + 1e-12,
        }
    }

    /// The inner loop, ready for the drops of `bench` and their let-downs.
    pub(crate) fn kernel(&self, bench: &Bench<'_>) -> Kernel {
        let lights = self.aims.iter().map(|aim| &aim.weights);
        self.kernel_over(None, bench, lights, self.cell())
    }

    /// The kernels of the film over the black card and over the white one, if its contrast ratio matters.
    pub(crate) fn contrast_kernels(&self, bench: &Bench<'_>) -> Option<[Kernel; 2]> {
        let contrast = self.contrast.as_ref()?;
        let light = || std::iter::once(&contrast.weights);
        let over = |card| self.kernel_over(Some(card), bench, light(), self.cell());
        Some(contrast.cards.each_ref().map(over))
    }

    /// Width of a cell of the grid on which a proof relies, in e-folds of K and S.
    fn cell(&self) -> f64 {
        match &self.placement {
            Placement::Film { over, .. } if !over.is_empty() => CELL_OF_A_STACK,
            _ => CELL,
        }
    }

    /// The kernel of the casting over `card`, or over what lies beneath it where none is given, seen under `lights`.
    ///
    /// Its additions are the dispersion of each pigment of `bench`, then the clear base where any drop may carry some.
    /// Its K and S are those of the liquid; a foam rises within the response. The cost is that of sampling the layer
    /// model, once for each kernel.
    fn kernel_over<'w>(
        &'w self,
        card: Option<&Spectrum>,
        bench: &'w Bench<'_>,
        lights: impl Iterator<Item = &'w TristimulusWeights>,
        cell: f64,
    ) -> Kernel {
        let span = self.span(bench);
        let risen = |liquid: &Coefficients| self.reading_over(card, &bench.base.risen(liquid));
        let response = Response::new(&risen, &span, cell, self.limits.threads);
        let pigments = bench.pigments.iter().map(|pigment| &pigment.coefficients);
        let lets_down = self.let_downs || bench.drops.iter().any(|drop| drop.clear_g() > 0.0);
        let clear = lets_down.then_some(&bench.base.coefficients);
        Kernel::new(
            response,
            (&bench.sum.scaled(1.0 / bench.staying_g), bench.staying_g),
            pigments.chain(clear),
            lights,
        )
    }

    /// The least and greatest K and S of any recipe.
    ///
    /// Both are in mm⁻¹, before a foam rises. The greatest is bounded at each wavelength by itself, with the drops that
    /// are strongest there, and no single recipe need reach it; the least is what is in the cup before, thinned by the
    /// heaviest drops as if they were clear.
    fn span(&self, bench: &Bench<'_>) -> Span {
        let total = f64::from(self.limits.max_total_drops);
        let heaviest =
            |mass: &dyn Fn(usize) -> f64| (0..bench.drops.len()).map(mass).fold(0.0, f64::max);
        let heaviest_g = heaviest(&|index| bench.drops[index].mass_g);
        let clear_g = total * heaviest_g;
        // Drops of each pigment at its strongest, and how many of them.
        let drops: Vec<(f64, f64, &Coefficients)> = bench
            .pigments
            .iter()
            .map(|pigment| {
                let strongest = &bench.drops[pigment.strongest];
                let load_g = pigment.max_fraction * (bench.mass_g + clear_g) - pigment.fixed_g;
                let most = (load_g / strongest.dispersion_g).max(0.0);
                let counted: u32 = (bench.drops.iter())
                    .filter(|drop| bench.pigments[drop.pigment].name == pigment.name)
                    .map(|drop| drop.most)
                    .sum();
                let most = most.min(f64::from(counted)).min(total);
                (most, strongest.dispersion_g, &pigment.coefficients)
            })
            .collect();
        let greatest = |of: fn(&Coefficients) -> &Spectrum| {
            Spectrum::from_fn(|lane| {
                let mut strengths: Vec<(f64, f64)> = (drops.iter())
                    .map(|(most, dispersion_g, unit)| (of(unit)[lane] * dispersion_g, *most))
                    .collect();
                strengths.sort_by(|one, other| other.0.total_cmp(&one.0));
                let mut left = total;
                let mut sum = of(&bench.sum)[lane] + of(&bench.base.coefficients)[lane] * clear_g;
                for (strength, most) in strengths {
                    let count = most.min(left);
                    sum += strength * count;
                    left -= count;
                }
                sum / bench.staying_g
            })
        };
        let diluted = bench.staying_g / (bench.staying_g + total * heaviest_g);
        let least = bench.sum.scaled(diluted / bench.staying_g);
        Span {
            low: least,
            high: Coefficients {
                k: greatest(|unit| &unit.k),
                s: greatest(|unit| &unit.s),
            },
        }
    }

    /// Fills the pool with good recipes: the best real-valued ones of each number of pigments, rounded, and improved
    /// drop by drop.
    ///
    /// Of each number of pigments, up to twelve real-valued recipes are rounded, and the nearest [`DESCENTS`] of all
    /// their roundings are improved.
    fn warm_up(&self, pool: &mut Pool<'_>, relaxed: &[Relaxed]) {
        for pigments in 1..=self.limits.max_pigments {
            let of_so_many = |relaxed: &&Relaxed| relaxed.amounts.len() == pigments;
            let mut starts: Vec<(f64, Vec<u32>)> = (relaxed.iter())
                .filter(of_so_many)
                .take(4 * DESCENTS)
                .flat_map(|start| roundings(pool.bench, start))
                .map(|counts| pool.bench.with_musts(counts, self))
                .filter_map(|counts| Some((pool.offer(&counts)?, counts)))
                .collect();
            starts
                .sort_by(|one, other| one.partial_cmp(other).unwrap_or(std::cmp::Ordering::Equal));
            for (_, counts) in starts.into_iter().take(DESCENTS) {
                improve(pool, counts);
            }
        }
    }

    /// The colorants, and a let-down for each pigment whose drop is too coarse at the best real-valued recipe.
    ///
    /// What a drop does is taken under the first light, by one drop more from the bottle than that recipe has. Where
    /// even the weakest of [`LET_DOWNS`] is too coarse, that one joins.
    fn with_let_downs(
        &self,
        bench: &Bench<'_>,
        kernel: &Kernel,
        relaxed: &[Relaxed],
    ) -> Vec<Colorant> {
        let mut amounts = vec![0.0; bench.drops.len()];
        for (pigment, amount) in relaxed.first().map_or(&[][..], |best| &best.amounts) {
            amounts[bench.pigments[*pigment].strongest] = *amount;
        }
        let lab = |amounts: &[f64]| {
            let reflectance = kernel.reflectance(&bench.grams(amounts.iter().copied()));
            self.aims[0].weights.lab(&reflectance)
        };
        let here = lab(&amounts);
        let mut colorants = self.colorants.clone();
        for (index, drop) in bench.drops.iter().enumerate() {
            let mut more = amounts.clone();
            more[index] += 1.0;
            let step = delta_e_2000(here, lab(&more));
            if drop.colorant.let_down == 1.0 && step > COARSE_DROP {
                let fine = LET_DOWNS
                    .into_iter()
                    .find(|let_down| step / let_down <= COARSE_DROP);
                let let_down = fine.unwrap_or(LET_DOWNS[LET_DOWNS.len() - 1]);
                let proposed = Colorant {
                    let_down,
                    ..drop.colorant.clone()
                };
                let stands_in =
                    |at_hand: &Colorant| self.stands_in(at_hand, &proposed, drop.mass_g);
                if !self.colorants.iter().any(stands_in) {
                    colorants.push(proposed);
                }
            }
        }
        colorants
    }

    /// Whether the let-down `at_hand` saves making the one `proposed`, of drops of `drop_g`: it is as fine, and no more than
    /// [`FINER`] times finer, its drops can make up one from the bottle, and as much of it stands on the shelf. The same
    /// let-down always does: there is nothing else to make.
    fn stands_in(&self, at_hand: &Colorant, proposed: &Colorant, drop_g: f64) -> bool {
        if at_hand == proposed {
            return true;
        }
        let let_down = at_hand.let_down;
        let jars = self
            .shelf
            .let_downs
            .iter()
            .filter(|jar| jar.colorant == *at_hand && jar.base == self.cup.base.name);
        let stands_g: f64 = jars.map(|jar| jar.mass.0).sum();
        at_hand.pigment == proposed.pigment
            && (proposed.let_down..=FINER * proposed.let_down).contains(&let_down)
            && let_down <= f64::from(self.limits.max_drops) + 1.0
            && stands_g >= (let_down - 1.0) * drop_g
    }
}

/// What was `kept` of the drops of `bench`, named.
fn recipe_of(bench: &Bench<'_>, kept: &Kept) -> Recipe {
    Recipe {
        drops: (bench.drops.iter())
            .zip(&kept.counts)
            .filter(|(_, count)| **count > 0)
            .map(|(drop, count)| (drop.colorant.clone(), *count))
            .collect(),
        delta_e: kept.delta_e,
    }
}

/// That no recipe keeps to what is asked of the cup: none at all where that is `proven`, else none that was found in time.
fn none_keeps_to_it(proven: bool) -> Error {
    const LESS: &str = "ask for less: contrast, drops, or the pigments that must be in";
    if proven {
        Error::out_of_reach("no recipe of these pigments keeps to what is asked of the cup")
            .mend(LESS)
    } else {
        Error::out_of_reach(
            "no recipe that keeps to what is asked of the cup was found in the time",
        )
        .mend(
            Mend::from("give it longer with ")
                .set(Setting::TimeLimit)
                .and(format!(", or {LESS}")),
        )
    }
}

/// A let-down that is finer than the one wanted by up to this takes its place: up to so many times the drops to count.
const FINER: f64 = 5.0;

/// Recipes nearer to each other than this (ΔE00) are as good as equal, if the search may take them so.
const NEARLY_EQUAL: f64 = 0.1;
